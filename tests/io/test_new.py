"""Drafts of a field file."""

import tomllib
from pathlib import Path

import geopandas
import pytest
import shapely

from vrp.errors import InputError
from vrp.io.field_file import read_field_file
from vrp.io.new import draft

FIELDS = Path(__file__).parents[2] / "sample_fields"
US, METRIC = FIELDS / "us", FIELDS / "metric"


def test_guesses_from_a_table(tmp_path):
    """Columns, units and CRS are guessed and marked; paths belong to the folder."""
    (tmp_path / "data").mkdir()
    for name in ("boundary.geojson", "samples.csv"):
        (tmp_path / "data" / name).write_bytes((US / name).read_bytes())
    paths = {
        "boundary": tmp_path / "data" / "boundary.geojson",
        "samples": tmp_path / "data" / "samples.csv",
    }

    text = draft(tmp_path / "my field", **paths).read_text("utf-8")

    asked = tomllib.loads(text)
    assert asked["units"] == "us"
    assert asked["boundary"] == "../data/boundary.geojson"
    assert asked["field"] == {"name": "my field"}
    assert asked["samples"] == {
        "file": "../data/samples.csv",
        "x": "lon",
        "y": "lat",
        "crs": "EPSG:4326",
        "id": "sample",
        "soil_test": "P",
        "ph": "pH",
        "organic_matter": "OM",
    }
    marked = {line.split(" =")[0] for line in text.splitlines() if "# guessed" in line}
    assert marked == {"units", "name", *asked["samples"]} - {"file"}


def test_draft_becomes_a_plan(tmp_path):
    """Once what it leaves open is typed, the draft is a field file."""
    paths = {"boundary": US / "boundary.geojson", "samples": US / "samples.csv"}
    path = draft(tmp_path, **paths)
    typed = {
        '# method = "…"': 'method = "mehlich-3-icp"',
        '# unit = "…"': 'unit = "ppm"',
        "# depth": "depth",
        "# sampled": "sampled",
        "# crop": "crop",
        "# yield_goal": "yield_goal",
        '# guideline = "…"': 'guideline = "tri-state-2020"',
        "# grade": "grade",
        "# step": "step",
    }
    with pytest.raises(InputError, match=r"^field.toml: "):
        read_field_file(path)

    text = path.read_text("utf-8")
    for left, right in typed.items():
        assert left in text
        text = text.replace(left, right)
    path.write_text(text, "utf-8")

    plan = read_field_file(path).plan
    assert plan.samples.file.samefile(US / "samples.csv")
    assert (plan.samples.method, plan.samples.depth) == ("mehlich-3-icp", 8.0)
    assert plan.season[0].crop == "corn-grain"


def test_results_without_positions(tmp_path):
    """What joins them is left to type; a unit in the heading is taken from there."""
    paths = {"boundary": METRIC / "boundary.geojson", "samples": METRIC / "results.csv"}

    text = draft(tmp_path, **paths).read_text("utf-8")

    asked = tomllib.loads(text)
    assert asked["units"] == "metric"
    assert asked["samples"]["soil_test"] == "Olsen P mg/L"
    assert asked["samples"]["unit"] == "mg/L"
    assert '# points = "points.shp"' in text


def test_crs_of_the_boundary(tmp_path):
    """Eastings and northings are tried in the boundary's CRS; others stay open."""
    ground = geopandas.GeoSeries([shapely.box(500_000, 4_400_000, 500_400, 4_400_400)])
    ground.set_crs(32616).to_file(tmp_path / "b.gpkg")
    paths = {"boundary": tmp_path / "b.gpkg", "samples": tmp_path / "s.csv"}
    paths["samples"].write_text(
        "No;E;Easting;Northing;P1\n1;2;500100;4400100;<3\n2;2;500200;4400100;9\n3;2;500300;4400100;9\n"
    )
    inside = draft(tmp_path / "inside", **paths)
    paths["samples"].write_text("x,y,K_ppm,M3_P_ppm\n100,200,9,8\n")
    elsewhere = draft(tmp_path / "elsewhere", **paths)

    assert tomllib.loads(inside.read_text("utf-8"))["samples"] == {
        "file": "../s.csv",
        "x": "Easting",
        "y": "Northing",
        "crs": "EPSG:32616",
        "soil_test": "P1",
    }
    left = tomllib.loads(elsewhere.read_text("utf-8"))["samples"]
    assert (left["soil_test"], left["unit"]) == ("M3_P_ppm", "ppm")
    assert "crs" not in left
    assert '# crs = "EPSG:4326"' in elsewhere.read_text("utf-8")


def test_layers_and_strong_bray(tmp_path):
    """Depths, both Brays and the id that joins layers are guessed from headings."""
    paths = {"boundary": US / "boundary.geojson", "samples": tmp_path / "s.csv"}
    paths["samples"].write_text(
        "Core,From (in),To (in),Strong Bray,Weak Bray,Soil pH\n"
        "1,0,2,90,30,6.1\n1,2,8,60,20,6.4\n2,0,2,70,25,6.0\n"
    )

    text = draft(tmp_path / "field", **paths).read_text("utf-8")

    samples = tomllib.loads(text)["samples"]
    assert samples == {
        "file": "../s.csv",
        "id": "Core",
        "soil_test": "Weak Bray",
        "depth_from": "From (in)",
        "depth_to": "To (in)",
        "ph": "Soil pH",
        "bray_p2": "Strong Bray",
    }
    assert "guessed: check; rows that share an id are layers of a core" in text


LAYERS = [
    "-84.352157,40.622501,A,0,2,90,30",
    "-84.352157,40.622501,A,2,8,60,20",
    "-84.351377,40.622496,B,0,2,70,25",
    "-84.351377,40.622496,B,2,8,50,15",
]


@pytest.mark.parametrize(
    ("top", "bottom"),
    [
        ("Top (in)", "Bottom (in)"),
        ("Depth from", "Depth to"),
        ("upper", "lower"),
        ("Upper depth cm", "Lower depth cm"),
    ],
)
def test_layers_at_one_position(tmp_path, top, bottom):
    """An id that repeats where the position does joins layers, by whatever name."""
    paths = {"boundary": US / "boundary.geojson", "samples": tmp_path / "s.csv"}
    head = f"lon,lat,Station,{top},{bottom},Strong Bray (P2) ppm,Weak Bray (P1) ppm"
    paths["samples"].write_text("\n".join([head, *LAYERS, ""]))

    text = draft(tmp_path / "field", **paths).read_text("utf-8")

    samples = tomllib.loads(text)["samples"]
    assert samples == {
        "file": "../s.csv",
        "x": "lon",
        "y": "lat",
        "crs": "EPSG:4326",
        "id": "Station",
        "soil_test": "Weak Bray (P1) ppm",
        "unit": "ppm",
        "depth_from": top,
        "depth_to": bottom,
        "bray_p2": "Strong Bray (P2) ppm",
    }
    marked = {line.split(" =")[0] for line in text.splitlines() if "# guessed" in line}
    assert set(samples) - {"file"} <= marked


def test_layers_without_their_depths(tmp_path):
    """Rows that share positions leave id and depths to type, where none are found."""
    paths = {"boundary": US / "boundary.geojson", "samples": tmp_path / "s.csv"}
    rows = [f"{row},{n}" for n, row in enumerate(LAYERS)]
    rows = [",".join(row.split(",")[:2] + row.split(",")[6:]) for row in rows]
    paths["samples"].write_text("\n".join(["lon,lat,P lbs/acre,id", *rows, ""]))

    text = draft(tmp_path / "field", **paths).read_text("utf-8")

    samples = tomllib.loads(text)["samples"]
    assert (samples["soil_test"], samples["unit"]) == ("P lbs/acre", "lb/ac")
    assert not {"id", "depth_from", "depth_to"} & set(samples)
    for key in ("id", "depth_from", "depth_to"):
        assert f'\n# {key} = "…"' in text


@pytest.mark.parametrize(
    ("head", "expected"),
    [
        ("id,P2", {"id": "id", "soil_test": "P2"}),
        ("id,from,P", {"id": "id", "soil_test": "P"}),
        ("id,P2O5 ppm", {"id": "id", "soil_test": "P2O5 ppm", "unit": "ppm"}),
    ],
)
def test_headings_that_say_less(tmp_path, head, expected):
    """Strong Bray alone is the soil test, half a layer is none, and P2O5 is said."""
    paths = {"boundary": US / "boundary.geojson", "samples": tmp_path / "s.csv"}
    blanks = ",0" * (head.count(",") - 1)
    paths["samples"].write_text(f"{head}\n1{blanks},9\n2{blanks},8\n")

    text = draft(tmp_path / "field", **paths).read_text("utf-8")

    p2o5 = {"expressed_as": "P2O5"} if "P2O5" in head else {}
    samples = tomllib.loads(text)["samples"]
    assert samples == {"file": "../s.csv", **expected, **p2o5}


def test_polygons_are_composites(tmp_path):
    """A polygon layer is guessed to hold composites of cells."""
    boundary = geopandas.read_file(US / "boundary.geojson")
    boundary.assign(P=12.0).to_file(tmp_path / "cells.gpkg")
    paths = {"boundary": US / "boundary.geojson", "samples": tmp_path / "cells.gpkg"}

    asked = tomllib.loads(draft(tmp_path, **paths).read_text("utf-8"))

    assert asked["samples"] == {"file": "cells.gpkg", "kind": "cell", "soil_test": "P"}


def test_nothing_is_overwritten(tmp_path):
    """A field file that is there stays as it is; a bad boundary leaves no folder."""
    paths = {"boundary": US / "boundary.geojson", "samples": US / "samples.csv"}
    (tmp_path / "field.toml").write_text("mine")

    with pytest.raises(
        InputError, match=r"field.toml: is there already: remove it, or "
    ):
        draft(tmp_path, **paths)
    assert (tmp_path / "field.toml").read_text() == "mine"
    with pytest.raises(InputError, match=r"^none.shp: there is no such file"):
        draft(tmp_path / "new", **{**paths, "boundary": tmp_path / "none.shp"})
    assert not (tmp_path / "new").exists()
