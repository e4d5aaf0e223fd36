"""Task data as it is written: by hand arithmetic, and by other readers."""

import json
import os
import shutil
import subprocess
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree as ET

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from isoxml.util.isoxml_io import isoxml_from_path
from pyproj import Geod

from vrp import job
from vrp.errors import InputError
from vrp.io import taskdata
from vrp.io.taskdata import designator
from vrp.io.taskdata_compare import compare

WGS84 = Geod(ellps="WGS84")
# Degrees of 10 m at 40 N: a degree of latitude is 111,034.6 m, of longitude 85,393.5 m.
NORTH, EAST = 10.0 / 111_034.6, 10.0 / 85_393.5
METRIC = {"units": "metric", "product": {"grade": "0-46-0"}}
LIQUID = {"grade": "10-34-0", "form": "liquid", "density": 11.65}  # [lb/gal]
LIQUID_METRIC = LIQUID | {"density": 1.4}  # [kg/L]


def box(west, south, east, north):
    """Return a rectangle, from the south-west corner in steps of 10 m about 40 N."""
    corners = [(west, south), (east, south), (east, north), (west, north)]
    return shapely.Polygon(
        [(round(-84 + x * EAST, 7), round(40 + y * NORTH, 7)) for x, y in corners]
    )


def squares(rows, columns, *, side=1.0):
    """Return squares of some 10 m, in the order of the cells of a grid."""
    return [
        box(column * side, row * side, (column + 1) * side, (row + 1) * side)
        for row in range(rows)
        for column in range(columns)
    ]


def written(folder, *prescriptions, version="3.3"):
    """Write task data; return how far it errs, and its parsed root."""
    folder.mkdir()
    said = taskdata.write(folder, prescriptions, version=version)
    return said, ET.parse(folder / "TASKDATA" / "TASKDATA.XML").getroot()


@pytest.mark.parametrize(
    ("rate", "tables", "value"),
    [
        # ISO 11783-10:2015 as a public summary prints it, D.41: 150 kg/ha is 15000.
        (150.0, METRIC, ("0006", "15000")),
        # 0.45359237 kg on 4046.8564224 m² is 112.0851 mg/m²: 11,208.5 for 100 lb/ac.
        (100.0, {}, ("0006", "11209")),
        (200.0, {}, ("0006", "22417")),
        # 1 L/ha is 100 mm³/m², a raw value 0.01 mm³/m².
        (120.5, METRIC | {"product": LIQUID_METRIC}, ("0001", "1205000")),
        # 3.785411784 L on 4046.8564224 m² is 935.3956 mm³/m².
        (1.0, {"product": LIQUID}, ("0001", "93540")),
        (20.0, {"product": LIQUID}, ("0001", "1870791")),
    ],
)
def test_raw_values(rate, tables, value, prescribed, tmp_path):
    """A rate is a whole number of the data dictionary's units, in its definition."""
    _, root = written(
        tmp_path / "a", prescribed(squares(1, 1, side=9), [rate], **tables)
    )

    (found,) = root.findall("TSK/TZN[@A='1']/PDV")
    assert (found.get("A"), found.get("B")) == value


@pytest.mark.parametrize(
    ("rates", "tables", "expected"),
    [
        # 1 lb/ac is 112.0851 raw values, 1 gal/ac 93,539.562.
        ([100.0, 150.0], {}, (1 / 112.0851, "0", "lb/ac")),
        ([100.0, 150.5], METRIC, (0.01, "1", "kg/ha")),
        ([10.25], {"product": LIQUID}, (1 / 93_539.562, "2", "gal/ac")),
        ([5.0], METRIC | {"product": LIQUID_METRIC}, (1e-4, "0", "L/ha")),
    ],
)
def test_driver_sees_the_plans_unit(rates, tables, expected, prescribed, tmp_path):
    """Raw values are shown in the user's unit, with as many decimals as rates have."""
    shapes = squares(1, len(rates), side=9)
    _, root = written(tmp_path / "a", prescribed(shapes, rates, **tables))

    (shown,) = root.findall("VPN")
    scale, decimals, unit = expected
    assert (shown.get("B"), shown.get("D"), shown.get("E")) == ("0", decimals, unit)
    assert float(shown.get("C")) == pytest.approx(scale, rel=1e-6)
    for zone, rate in zip(root.findall("TSK/TZN")[1:-1], rates, strict=True):
        raw = int(zone.find("PDV").get("B"))
        assert round(raw * float(shown.get("C")), int(decimals)) == rate


def test_rows_go_from_south_to_north(prescribed, tmp_path):
    """The file begins at the south-west and goes east; a zone's code is its number."""
    shapes = squares(2, 3)
    machine = {"swath": 10.0}
    one = prescribed(shapes, [10.0] * 6, **METRIC, machine=machine)

    (said,), root = written(tmp_path / "a", one)

    grid = root.find("TSK/GRD")
    assert [float(grid.get(key)) for key in "AB"] == [40.0, -84.0]
    assert float(grid.get("C")) == pytest.approx(NORTH, rel=1e-5)
    assert float(grid.get("D")) == pytest.approx(EAST, rel=1e-5)
    assert [grid.get(key) for key in "EFGHI"] == ["3", "2", "GRD00001", "6", "1"]
    assert (tmp_path / "a" / "TASKDATA" / "GRD00001.bin").read_bytes() == bytes(
        [1, 2, 3, 4, 5, 6]
    )
    assert (said.cell, said.rows, said.columns) == (10.0, 2, 3)


def test_cell_is_the_largest_part_of_the_swath(prescribed, tmp_path):
    """
    A field 1.7 swaths wide takes cells of a tenth of the swath.

    Centres of columns of 1/k inside it, against 1.7 k: 2 for 1.7, 3 for 3.4, 5 for 5.1,
    7 for 6.8, 8 or 9 for 8.5, 10 for 10.2, 12 for 11.9, 14 for 13.6, 15 for 15.3 err by
    0.8 % at least; 17 of 17 is the first that fits.
    """
    # A swath tall: the height is whole in any part of it.
    whole = shapely.union_all(squares(10, 17))
    one = prescribed([whole], [200.0], **METRIC, machine={"swath": 100.0})

    (said,), _ = written(tmp_path / "a", one)

    assert said.cell == 10.0
    assert abs(said.total_error) < 1e-4


def test_cells_without_a_swath(prescribed, tmp_path):
    """Where no swath is stated, cells begin at 10 m or 30 ft."""
    shapes = squares(9, 9)
    metric = prescribed([shapely.union_all(shapes)], [50.0], **METRIC)
    us = prescribed([shapely.union_all(squares(9, 9, side=0.9144))], [50.0])

    assert written(tmp_path / "a", metric)[0][0].cell == 10.0
    assert written(tmp_path / "b", us)[0][0].cell == 30.0


def test_errors_are_stated(prescribed, tmp_path):
    """The worst zone is named with the share of its area that the grid adds."""
    # Centres at 5, 15 and 25 m: the first zone, 14 m wide, has one cell of three.
    shapes = [box(0, 0, 1.4, 1), box(1.4, 0, 3, 1)]
    one = prescribed(shapes, [50.0, 50.0], **METRIC)

    (said,), _ = written(tmp_path / "a", one)

    assert said.cell == 10.0
    assert abs(said.total_error) < 1e-3
    assert said.worst_zone == 1
    assert said.worst_error == pytest.approx(1 / 1.4 - 1.0, abs=1e-3)


def test_special_zones(prescribed, tmp_path):
    """Nothing outside; at the start and where position is lost, the plan's rate."""
    machine = {"swath": 10.0, "default_rate": 60.0}
    one = prescribed(squares(1, 2), [40.0, 80.0], **METRIC, machine=machine)
    plain = prescribed(squares(1, 2), [40.0, 80.0], **METRIC)

    (said,), root = written(tmp_path / "a", one)
    (unsaid,), bare = written(tmp_path / "b", plain)

    def rate(task, key):
        (zone,) = task.findall(f"TZN[@A='{task.get(key)}']/PDV")
        return int(zone.get("B"))

    task = root.find("TSK")
    assert [rate(task, key) for key in "HIJ"] == [6000, 6000, 0]
    assert [rate(bare.find("TSK"), key) for key in "HIJ"] == [0, 0, 0]
    assert (said.default_rate, unsaid.default_rate) == (60.0, 0.0)
    codes = [int(zone.get("A")) for zone in task.findall("TZN")]
    assert len(set(codes)) == len(codes) == 4


def holed():
    """Return two parts, the first with a hole, as one shape."""
    ring = shapely.difference(box(0, 0, 20, 20), box(5, 5, 9, 9))
    return shapely.MultiPolygon([ring, box(30, 0, 40, 20)])


@pytest.mark.parametrize(
    ("version", "polygons"), [("3.3", [["1", "1", "2"]]), ("4.3", [["1", "2"], ["1"]])]
)
def test_boundary_of_parts_and_holes(version, polygons, prescribed, tmp_path):
    """Version 4 has a polygon a part, version 3 one a field; holes are inner rings."""
    shape = holed()
    one = prescribed([shape], [100.0], **METRIC)

    _, root = written(tmp_path / "a", one, version=version)

    assert [root.get(f"Version{part}") for part in ("Major", "Minor")] == version.split(
        "."
    )
    found = root.findall("PFD/PLN")
    kinds = [[line.get("A") for line in each.findall("LSG")] for each in found]
    assert sorted(kinds) == sorted(polygons)
    rings = []
    for line in root.findall("PFD/PLN/LSG"):
        points = line.findall("PNT")
        ring = [(float(each.get("D")), float(each.get("C"))) for each in points]
        assert ring[0] == ring[-1]
        rings.append(shapely.Polygon(ring))
    outer = shapely.union_all([ring for ring in rings if ring.area > 1e-6])
    inner = [ring for ring in rings if ring.area <= 1e-6]
    assert len(inner) == 1
    assert shapely.equals(shapely.difference(outer, inner[0]), shape)
    # 20 × 20 − 4 × 4 + 10 × 20 squares of 100 m².
    assert int(root.find("PFD").get("D")) == pytest.approx(58_400, rel=1e-4)


def test_names(prescribed, tmp_path):
    """Field, farm and client are named; what is absent is said to be."""
    field = {"name": "Long Meadow", "farm": "Invented Farm", "client": "A & <B>"}
    known = prescribed(squares(3, 3), [9.0] * 9, field=field | {"year": 2027})
    bare = prescribed(squares(3, 3), [9.0] * 9)

    _, root = written(tmp_path / "a", known)
    _, plain = written(tmp_path / "b", bare)

    assert root.find("CTR").get("B") == "A & <B>"
    assert root.find("FRM").get("B") == "Invented Farm"
    assert root.find("PFD").get("C") == "Long Meadow"
    assert root.find("PDT").get("B") == "11-52-0"
    assert root.find("TSK").get("B") == "Long Meadow 2027 11-52-0"
    assert plain.find("CTR").get("B") == plain.find("FRM").get("B") == "not stated"
    task = root.find("TSK")
    refers = [task.get(key) for key in "CDE"]
    assert refers == ["CTR1", "FRM1", "PFD1"]
    assert root.find("PFD").get("F") == root.find("FRM").get("A")


@pytest.mark.parametrize(
    ("product", "name"),
    [
        ({"grade": "12-40-0", "s": 10}, "12-40-0 10S"),
        (LIQUID, "10-34-0 liquid"),
    ],
)
def test_names_of_products(product, name, prescribed, tmp_path):
    """A product is called by its grade, its S and its form."""
    _, root = written(
        tmp_path / "a", prescribed(squares(3, 3), [9.0] * 9, product=product)
    )

    assert root.find("PDT").get("B") == name


@pytest.mark.parametrize(
    ("text", "tail", "expected"),
    [
        ("x" * 32, "", "x" * 32),
        ("x" * 33, "", "x" * 32),
        ("x" * 40, " 2027 11-52-0", "x" * 19 + " 2027 11-52-0"),
        ("x" * 31 + " y", "", "x" * 31),
        # A letter and the accent upon it stay together where no one letter is both.
        ("x" * 31 + "q\u0301y", "", "x" * 31),
        # So does what a joiner of no width joins.
        ("x" * 30 + "麦\u200d麦y", "", "x" * 30),
        ("麦" * 40, "", "麦" * 32),
        ("a\tb\nc\x01\ufffe\x85d", "", "a b cd"),
        ("\x00", "", "not stated"),
        ("e\u0301", "", "é"),
    ],
)
def test_designators(text, tail, expected):
    """A designator has 32 characters at most, none of them torn or unfit for XML."""
    assert designator(text, tail=tail) == expected


def test_designators_are_unique():
    """What is cut to the same text is told apart by a number, within the length."""
    taken = []
    for _ in range(12):
        taken.append(designator("x" * 50, taken=taken))

    assert len(set(taken)) == 12
    assert max(len(one) for one in taken) == 32
    assert taken[1] == "x" * 30 + " 2"
    assert taken[11] == "x" * 29 + " 12"


def test_as_many_zones_as_codes(prescribed, tmp_path):
    """Codes go from 0 to 254: 253 zones with outside and default, and no more."""
    shapes = squares(17, 15)
    at_most = prescribed(shapes[:253], [float(n) for n in range(253)], **METRIC)
    over = prescribed(shapes[:254], [1.0] * 254, field={"name": "Patchwork"})

    _, root = written(tmp_path / "a", at_most)

    codes = [int(zone.get("A")) for zone in root.findall("TSK/TZN")]
    assert sorted(codes) == list(range(255))
    message = (
        r"^Patchwork: 254 zones, and task data can tell 253 apart: make fewer zones, "
        r'or take "task-data" out of files.machine'
    )
    with pytest.raises(InputError, match=message):
        written(tmp_path / "b", over)
    assert not (tmp_path / "b" / "TASKDATA").exists()


def test_field_that_no_grid_fits(prescribed, tmp_path):
    """Parts that lie 40 km apart make too many cells; the size tried is not hidden."""
    one = prescribed(
        [box(0, 0, 9, 9), box(3400, 3400, 3409, 3409)],
        [50.0, 60.0],
        field={"name": "Two Ends"},
    )

    message = (
        r"^Two Ends: no grid of up to 1,000,000 cells carries the field's product "
        r"within 0.5 %: make larger zones, build parts that lie far apart as fields"
    )
    with pytest.raises(InputError, match=message):
        written(tmp_path / "a", one)


def test_rate_beyond_the_number(prescribed, tmp_path):
    """A raw value has 31 bits: above 22,958 gal/ac is refused."""
    # 2,147,483,647 / 93,539.562 is 22,958.0.
    one = prescribed(squares(3, 3), [22_959.0] * 9, product=LIQUID)

    message = "^rate 22959 gal/ac is more than task data holds, 22,958 gal/ac$"
    with pytest.raises(InputError, match=message):
        written(tmp_path / "a", one)


def test_bytes(prescribed, tmp_path):
    """The same prescription gives the same bytes: UTF-8 with no mark, LF alone."""
    field = {"name": "Größe 麦"}
    for name in ("a", "b"):
        written(tmp_path / name, prescribed(squares(3, 3), [9.0] * 9, field=field))

    xml, again = (
        (tmp_path / name / "TASKDATA" / "TASKDATA.XML").read_bytes() for name in "ab"
    )
    assert xml == again
    assert xml.startswith(
        b'<?xml version="1.0" encoding="UTF-8"?>\n<ISO11783_TaskData '
    )
    assert 'C="Größe 麦"'.encode() in xml
    assert b"\r" not in xml
    names = sorted(path.name for path in (tmp_path / "a" / "TASKDATA").iterdir())
    assert names == ["GRD00001.bin", "TASKDATA.XML"]


def test_fields_of_a_farm(prescribed, tmp_path):
    """Two fields share client, farm, product and unit; each has its task and grid."""
    field = {"name": "Same Name", "farm": "Invented Farm"}
    one = prescribed(squares(3, 3), [9.0] * 9, field=field)
    two = prescribed(squares(2, 4), [7.0] * 8, field=field)

    said, root = written(tmp_path / "a", one, two)

    kinds = [element.tag for element in root]
    assert kinds == ["CTR", "FRM", "PFD", "PFD", "PDT", "VPN", "TSK", "TSK"]
    names = [each.get("C") for each in root.findall("PFD")]
    assert names == ["Same Name", "Same Name 2"]
    assert [each.get("G") for each in root.findall("TSK/GRD")] == [
        "GRD00001",
        "GRD00002",
    ]
    for element, grid in zip(root.findall("TSK/GRD"), said, strict=True):
        path = tmp_path / "a" / "TASKDATA" / f"{element.get('G')}.bin"
        assert path.stat().st_size == grid.rows * grid.columns
    ids = [element.get("A") for element in root]
    assert len(set(ids)) == len(ids)


@st.composite
def fields_with_zones(draw):
    """Return a star-shaped field of up to 1 km about 50 N, cut by up to two lines."""
    corners = draw(st.integers(5, 12))
    radii = draw(st.lists(st.floats(0.0012, 0.005), min_size=corners, max_size=corners))
    angles = np.linspace(0.0, 2.0 * np.pi, corners, endpoint=False)
    east = 9.0 + 1.55 * np.array(radii) * np.cos(angles)
    north = 50.0 + np.array(radii) * np.sin(angles)
    field = shapely.set_precision(shapely.Polygon(np.column_stack([east, north])), 1e-7)
    cuts = sorted(draw(st.lists(st.floats(-0.001, 0.001), max_size=2, unique=True)))
    edges = [8.9, *(round(9.0 + cut, 7) for cut in cuts), 9.1]
    strips = [
        shapely.intersection(
            field, shapely.box(left, 49.0, right, 51.0), grid_size=1e-7
        )
        for left, right in pairwise(edges)
    ]
    shapes = [strip for strip in strips if strip.area > 1e-9]
    rates = draw(
        st.lists(
            st.integers(0, 80).map(lambda step: 5.0 * step),
            min_size=len(shapes),
            max_size=len(shapes),
        )
    )
    return shapes, rates


@settings(max_examples=40, deadline=None)
@given(
    drawn=fields_with_zones(),
    swath=st.floats(5.0, 36.0),
    version=st.sampled_from(["3.3", "4.3"]),
)
def test_total_within_half_a_per_cent(
    drawn, swath, version, prescribed, tmp_path_factory
):
    """By another library's reading the cells' product is the field's, within 0.5 %."""
    shapes, rates = drawn
    folder = tmp_path_factory.mktemp("field") / "a"
    one = prescribed(shapes, rates, **METRIC, machine={"swath": swath})

    (said,), _ = written(folder, one, version=version)

    data, files = isoxml_from_path(folder / "TASKDATA")
    (task,) = data.tasks
    (grid,) = task.grids
    raw = {
        zone.code: zone.process_data_variables[0].process_data_value
        for zone in task.treatment_zones
    }
    codes = np.frombuffer(files[grid.filename], np.uint8)
    codes = codes.reshape(grid.maximum_row, grid.maximum_column)
    carried = 0.0
    for row, line in enumerate(codes):
        low = float(grid.minimum_north_position) + row * grid.cell_north_size
        high, wide = low + grid.cell_north_size, grid.cell_east_size
        area, _ = WGS84.polygon_area_perimeter(
            [0, wide, wide, 0], [low, low, high, high]
        )
        carried += area / 10_000.0 * sum(raw[int(code)] / 100.0 for code in line)
    product = sum(
        rate * abs(WGS84.geometry_area_perimeter(shape)[0]) / 10_000.0
        for shape, rate in zip(shapes, rates, strict=True)
    )
    assert carried == pytest.approx(product, rel=0.00501, abs=0.02)
    if product > 100.0:
        assert said.total_error == pytest.approx(carried / product - 1.0, abs=2e-4)
    part = swath / said.cell
    assert part == pytest.approx(round(part), rel=0.02)
    assert compare(folder, [one]) == []


TOOLS = next(
    Path(__file__).parents[3].glob("*/tools/check_isoxml.py"), Path("none")
).parent
HOME = Path(os.environ.get("VRP_CHECK_HOME", Path.home() / ".cache" / "vrp-check"))
READERS = (
    ("node", TOOLS / "check_isoxml.mjs"),
    (HOME / "venv" / "bin" / "python", TOOLS / "check_isoxml.py"),
)


def checked(folder):
    """Return what two foreign readers make of a folder, each with its warnings."""
    for program, script in READERS:
        report = folder / "report.json"
        with report.open("wb") as file:  # through a pipe a long one may be cut short
            subprocess.run([program, script, folder], stdout=file, check=False)
        yield json.loads(report.read_text("utf-8"))


CASES = {
    "parts and a hole": ([holed()], [120.0], METRIC, "3.3"),
    "parts and a hole, 4.3": ([holed()], [120.0], METRIC, "4.3"),
    "liquid": (
        squares(6, 6, side=3),
        [5.0 + n for n in range(36)],
        {"product": LIQUID},
        "3.3",
    ),
    "250 zones": (squares(10, 25, side=2), [float(n) for n in range(250)], {}, "4.3"),
}


foreign = pytest.mark.skipif(
    not all(script.exists() for _, script in READERS)
    or not (HOME / "node_modules" / "isoxml").exists()
    or shutil.which("node") is None,
    reason="the two foreign checkers of task data are not installed here",
)


def agree(folder, prescription):
    """Assert that foreign readers find no fault, and the field's product."""
    unit = {"lb": 0.45359237, "kg": 1.0, "gal": 3.785411784}[prescription.plan.measure]
    for found in checked(folder):
        assert found["warnings"] == []
        assert found["library_warnings"] == []
        (task,) = found["tasks"]
        total = prescription.totals.zones.product * unit
        assert task["stats"]["total"] == pytest.approx(total, rel=0.005)
        assert task["stats"]["grid_cover_of_field"] == pytest.approx(1.0, abs=0.03)


@foreign
@pytest.mark.parametrize("case", CASES)
def test_foreign_checkers(case, prescribed, tmp_path):
    """Two checkers on two other libraries find no fault, and the field's total."""
    shapes, rates, tables, version = CASES[case]
    one = prescribed(shapes, rates, **tables)
    written(tmp_path / "a", one, version=version)

    agree(tmp_path / "a", one)


@foreign
@pytest.mark.parametrize("version", ["3.3", "4.3"])
@pytest.mark.parametrize("name", ["us", "metric", "creek"])
def test_foreign_checkers_of_sample_fields(name, version, sample_fields, tmp_path):
    """The sample fields' task data is without fault for two other libraries."""
    prescription, _ = job.run(sample_fields / name, out=tmp_path / "out")
    written(tmp_path / "a", prescription, version=version)

    agree(tmp_path / "a", prescription)
