"""Barriers: lines from files that another library wrote, to a built field."""

import json
import shutil

import geopandas
import numpy as np
import pytest
import shapely

from vrp import job
from vrp.errors import InputError
from vrp.io.vector import read_boundary, read_lines


def _write(path, shapes, *, crs="EPSG:4326", moved=None):
    frame = geopandas.GeoDataFrame(geometry=list(shapes), crs=crs)
    (frame if moved is None else frame.to_crs(moved)).to_file(path)
    return path


@pytest.fixture
def field(sample_fields):
    return read_boundary(sample_fields / "us" / "boundary.geojson")


@pytest.fixture
def lane(field):
    """Draw a line from north to south through the field, and beyond it."""
    west, south, east, north = field.lonlat.bounds
    middle = (west + east) / 2.0
    return shapely.LineString([(middle, south - 0.001), (middle, north + 0.001)])


@pytest.mark.parametrize(
    ("name", "moved"),
    [
        ("lane.geojson", None),
        ("lane.gpkg", "EPSG:32616"),
        ("lane.shp", "EPSG:3857"),
        ("lane.gpkg", "EPSG:4267"),
    ],
)
def test_lines_in_any_crs(tmp_path, field, lane, name, moved):
    """A line comes to lie in the field's own CRS, whichever the file is in."""
    path = _write(tmp_path / name, [lane], moved=moved)

    found = read_lines(path, field=field)

    there = geopandas.GeoSeries([lane], crs="EPSG:4326").to_crs(field.crs)
    # A straight line elsewhere has the same ends here; a datum may differ by metres,
    # as far as the transformation that is at hand tells.
    near = 30.0 if moved == "EPSG:4267" else 1e-3
    expected = shapely.get_coordinates(there.iloc[0])
    given = shapely.get_coordinates(found.shapes[0])
    np.testing.assert_allclose(given, expected, atol=near)
    assert found.names() == [f"{name}, feature 1"]


@pytest.mark.parametrize(
    ("geometry", "complaint"),
    [
        (shapely.box(-84.36, 40.61, -84.35, 40.62), "is a Polygon, not a line: draw"),
        (shapely.Point(-84.35, 40.62), "is a Point, not a line: draw it as a line"),
        (
            shapely.LineString([(-84.35, 40.62), (-84.35, 40.62)]),
            "is a line without length",
        ),
    ],
)
def test_what_is_no_line(tmp_path, field, geometry, complaint):
    """Polygons, points and lines without length are refused by feature."""
    path = _write(tmp_path / "lane.geojson", [geometry])

    with pytest.raises(InputError, match=rf"^lane\.geojson, feature 1: {complaint}"):
        read_lines(path, field=field)


def _with_barriers(tmp_path, sample_fields, lines, *, kind=None, crs="EPSG:32616"):
    there = tmp_path / "field"
    shutil.copytree(
        sample_fields / "us", there, ignore=shutil.ignore_patterns("out", "expected")
    )
    _write(there / "lane.gpkg", lines, moved=crs)
    file = there / "field.toml"
    text = file.read_text("utf-8")
    key = '[samples]\nbarriers = "lane.gpkg"\n'
    if kind is not None:
        key += f'kind = "{kind}"\n'
    file.write_text(text.replace("[samples]\n", key, 1), "utf-8")
    return file


def test_a_field_with_a_lane(tmp_path, sample_fields, lane):
    """Record, ledger and findings say that parts are apart; the file is an input."""
    file = _with_barriers(tmp_path, sample_fields, [lane])

    built, out = job.run(file)

    assert "2 parts on different sides of barriers" in built.surface.reason
    (note,) = [one for one in built.findings if one.code == "parts-interpolated-apart"]
    assert note.message.startswith("field: its 2 parts on different sides of barriers")
    rules = [line.rule for zone in built.zones for line in zone.ledger]
    assert any("barriers are interpolated apart" in rule for rule in rules)
    record = json.loads((out / "record.json").read_text("utf-8"))
    assert "lane.gpkg" in json.dumps(record["inputs"])
    assert "interpolated apart" in record["surface"]["reason"]


def test_a_corner_with_few_samples(tmp_path, sample_fields, field):
    """A fenced part without a sample takes the field's surface, and that is said."""
    middle = field.lonlat.representative_point()
    fence = shapely.LineString(
        middle.buffer(2e-5).exterior.coords
    )  # a yard of about 4 m across

    built, _ = job.run(_with_barriers(tmp_path, sample_fields, [fence]))

    (found,) = [one for one in built.findings if one.code == "part-with-few-samples"]
    assert found.message == (
        "field: a part behind a barrier has no samples, so it is estimated from those "
        "of the whole field"
    )


def test_refused_lines(tmp_path, sample_fields, lane):
    """A lane that ends in the field is refused by file and feature."""
    (west, south), (_, north) = lane.coords
    half = shapely.LineString([(west, south), (west, (south + north) / 2.0)])

    with pytest.raises(InputError, match=r"^lane\.gpkg, feature 1: \d+ m of it inside"):
        job.run(_with_barriers(tmp_path, sample_fields, [half]))


def test_composites_have_no_barriers(tmp_path, sample_fields, lane):
    """Barriers need a surface, so that composites are refused."""
    with pytest.raises(InputError, match="barriers end a surface, and composites have"):
        job.run(_with_barriers(tmp_path, sample_fields, [lane], kind="cell"))
