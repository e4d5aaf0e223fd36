"""Rows that are layers of one core, from files."""

import json

import numpy as np
import pytest
import shapely

from vrp.errors import InputError
from vrp.io.samples import read_samples
from vrp.io.vector import read_boundary
from vrp.plan import SampleTable

WEST, SOUTH, EAST, NORTH = -84.0, 40.0, -83.995, 40.004
KEYS = {"x": "lon", "y": "lat", "crs": "EPSG:4326", "id": "core"}
LAYERS = {"depth_from": "from", "depth_to": "to"}
HEAD = "core,lon,lat,from,to,P"
# A, B and C at three places; by hand: (2 × 60 + 4 × 30) / 6 = 40 and so on.
A = ["A,-83.9995,40.001,0,2,60", "A,-83.9995,40.001,2,6,30"]
B = ["B,-83.998,40.001,0,2,20", "B,-83.998,40.001,2,6,23"]
C = ["C,-83.997,40.001,0,6,17"]


@pytest.fixture
def field(tmp_path):
    ring = [[WEST, SOUTH], [EAST, SOUTH], [EAST, NORTH], [WEST, NORTH], [WEST, SOUTH]]
    path = tmp_path / "boundary.geojson"
    path.write_text(json.dumps({"type": "Polygon", "coordinates": [ring]}))
    return read_boundary(path)


@pytest.fixture
def read(tmp_path, field):
    def _read(rows, *, head=HEAD, metric=False, name="s.csv", **keys):
        (tmp_path / name).write_text("\n".join([head, *rows, ""]), "utf-8")
        table = SampleTable(
            file=tmp_path / name,
            **{
                "soil_test": "P",
                "method": "bray-p1",
                "unit": "ppm",
                "depth": 15.0 if metric else 6.0,
                **KEYS,
                **LAYERS,
                **keys,
            },
        )
        return read_samples(table, field, metres_per_length=1.0 if metric else 0.3048)

    return _read


def test_mean_of_layers(read):
    """60 ppm in 0 to 2 in and 30 in 2 to 6 in are 40 ppm; a whole core is as it is."""
    found = read([*A, *B, *C])

    samples = found.samples
    assert samples.value.tolist() == [40.0, 22.0, 17.0]
    assert samples.ids == ("A", "B", "C")
    assert samples.rows == (2, 4, 6)
    assert samples.columns["stratification"][:2] == pytest.approx([1.5, 20 / 22])
    assert np.isnan(samples.columns["stratification"][2])
    assert samples.columns["top_layer"][:2].tolist() == [60.0, 20.0]
    assert samples.columns["top_layer_depth"][:2] == pytest.approx([5.08, 5.08])
    assert [one.arithmetic for one in found.layers] == [
        "(2 × 60 + 4 × 30) / 6",
        "(2 × 20 + 4 × 23) / 6",
        "17",
    ]
    assert found.notes == (
        "s.csv: 5 rows are layers of 3 samples, joined by core; their means are "
        "weighted by thickness; 1 of them is not cut",
    )


def test_order_of_rows_is_no_matter(read):
    """Layers may stand apart in the file and bottom first; a core has its first row."""
    found = read([B[1], A[1], C[0], A[0], B[0]])

    assert found.samples.ids == ("B", "A", "C")
    assert found.samples.value.tolist() == [22.0, 40.0, 17.0]
    assert found.samples.rows == (2, 3, 4)
    assert found.layers[1].row == (5, 3)


def test_centimetres(read):
    """5 cm of 60 and 10 cm of 30 are 40; depths are in the plan's centimetres."""
    rows = ["A,-83.9995,40.001,0,5,60", "A,-83.9995,40.001,5,15,30", *C]
    rows[-1] = rows[-1].replace(",0,6,", ",0,15,")

    found = read(rows, metric=True)

    assert found.samples.value.tolist() == [40.0, 17.0]
    assert found.samples.columns["top_layer_depth"][0] == 5.0


def test_semicolons_and_decimal_commas(read):
    """A spreadsheet of another country holds the same layers; blank lines are none."""
    rows = [
        "A;-83,9995;40,001;0;2,5;60,5",
        ";;;;;",
        "",
        "A;-83,9995;40,001;2,5;6;30",
        "B;-83,998;40,001;0;6;17",
    ]

    found = read(rows, head=HEAD.replace(",", ";"))

    # (2.5 × 60.5 + 3.5 × 30) / 6 = 42.708
    assert found.samples.value.tolist() == [42.71, 17.0]
    assert found.layers[0].row == (2, 5)


def test_further_columns(read):
    """
    Organic matter and strong Bray are weighted, and blank where a layer's is.

    By hand: (2 × 4 + 4 × 2.5) / 6 = 3; (2 × 90 + 4 × 60) / 6 = 70; pH of B is that of
    its one layer that has one, of A (2 × 6.2 + 4 × 6.8) / 6 = 6.6.
    """
    rows = [f"{A[0]},6.2,4.0,90", f"{A[1]},6.8,2.5,60"]
    rows += [f"{B[0]},6.1,3.0,40", f"{B[1]},,,"]
    keys = {"ph": "pH", "organic_matter": "OM", "bray_p2": "P2"}

    columns = read(rows, head=f"{HEAD},pH,OM,P2", **keys).samples.columns

    assert columns["ph"] == pytest.approx([6.6, 6.1])
    assert columns["organic_matter"] == pytest.approx([3.0, np.nan], nan_ok=True)
    assert columns["bray_p2"] == pytest.approx([70.0, np.nan], nan_ok=True)


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        (",2,6,30", ",3,6,30", r"^s.csv row 3: the layer of 3 to 6 in leaves a gap"),
        (",2,6,30", ",1,6,30", r"^s.csv row 3: the layer of 1 to 6 in overlaps that"),
        (",2,6,30", ",2,8,30", r"^s.csv row 3: .* end at 8 in, but depth is 6 in"),
        (",2,6,30", ",,6,30", r"^s.csv, row 3: from is blank: give the depth of the l"),
        (",2,6,30", ",2,,30", r"^s.csv, row 3: to is blank"),
        (",2,6,30", ",2,6,", r"^s.csv, row 3: P is blank: .* remove every row of the"),
        (",2,6,30", ",2,6,-1", r"^s.csv, row 3: P is -1, below 0"),
        (",2,6,30", ",top,6,30", r"^s.csv, row 3: from is 'top', not a number"),
        ("A,-83.9995,40.001,2", ",-83.9995,40.001,2", r"row 3: core is blank: give"),
        ("A,-83.9995,40.001,2", "D,-83.9995,40.001,2", r"row 2: .* end at 2 in"),
        ("A,-83.9995,40.001,2", "A,-83.998,40.001,2", r"row 3: .* 128 m from it: give"),
    ],
)
def test_rows_that_are_no_core(read, old, new, message):
    """What does not make up a core is refused with its row."""
    rows = [row.replace(old, new) for row in A]
    assert rows != A

    with pytest.raises(InputError, match=message):
        read([*rows, *B, *C])


def test_repeated_id_without_layers(read):
    """An id that stands twice is refused, and layers are named as a way out."""
    with pytest.raises(InputError, match=r"row 3: core 'A' .* name depth_from and dep"):
        read([*A, *B], depth_from=None, depth_to=None)


def test_positions_in_another_file(read, tmp_path):
    """Layers are joined to one position by the id of their core."""
    (tmp_path / "p.csv").write_text(
        "core,lon,lat\nB,-83.998,40.001\nC,-83.997,40.001\nA,-83.9995,40.001\n"
    )
    rows = [",".join(np.array(row.split(","))[[0, 3, 4, 5]]) for row in (*A, *B, *C)]

    found = read(rows, head="core,from,to,P", points=tmp_path / "p.csv")

    assert found.samples.value.tolist() == [40.0, 22.0, 17.0]
    # A degree of longitude at 40.001° N is 85,393 m.
    x = found.samples.xy[:, 0] - found.samples.xy[0, 0]
    assert x == pytest.approx([0.0, 0.0015 * 85_393, 0.0025 * 85_393], abs=0.1)


def test_layers_of_a_core_outside(read):
    """A core outside the field is left out with its layers, and named by its row."""
    away = ["X,-83.9,40.001,0,2,9", "X,-83.9,40.001,2,6,9"]

    found = read([*A, *away, *B])

    assert found.samples.ids == ("A", "B")
    assert found.dropped == (4,)
    assert len(found.layers) == 2
    assert found.layers[1].soil_test == (20.0, 23.0)


def test_composites_of_cells(read, tmp_path):
    """Composites may have layers too: each cell's polygon holds both."""
    half = (WEST + EAST) / 2
    cells = {
        "A": shapely.box(WEST, SOUTH, half, NORTH),
        "B": shapely.box(half, SOUTH, EAST, NORTH),
    }
    features = [
        {
            "type": "Feature",
            "properties": {"core": name},
            "geometry": json.loads(shapely.to_geojson(shape)),
        }
        for name, shape in cells.items()
    ]
    collection = {"type": "FeatureCollection", "features": features}
    (tmp_path / "cells.geojson").write_text(json.dumps(collection))
    rows = [",".join(np.array(row.split(","))[[0, 3, 4, 5]]) for row in (*A, *B)]

    found = read(
        rows,
        head="core,from,to,P",
        points=tmp_path / "cells.geojson",
        kind="cell",
        x=None,
        y=None,
        crs=None,
    )

    assert found.samples.value.tolist() == [40.0, 22.0]
    assert found.samples.shape[0].geom_type in {"Polygon", "MultiPolygon"}


@pytest.mark.parametrize("value", ["-1", "20000", "many"])
def test_strong_bray_is_a_soil_test(read, value):
    """Strong Bray that no soil has is refused with its row."""
    with pytest.raises(InputError, match=r"^s.csv, row 3: P2 is "):
        read(
            [f"{A[0]},50", f"{A[1]},{value}"],
            head=f"{HEAD},P2",
            bray_p2="P2",
        )


def test_nothing_in_the_core(read):
    """A core without any phosphorus has no ratio, and no division by 0."""
    found = read([row[: row.rindex(",")] + ",0" for row in A])

    assert found.samples.value.tolist() == [0.0]
    assert np.isnan(found.samples.columns["stratification"]).all()
