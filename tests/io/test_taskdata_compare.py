"""Planted faults of task data: each is found and named."""

import re
from itertools import pairwise

import pytest
import shapely

from vrp.errors import VrpError
from vrp.io import taskdata
from vrp.io.taskdata_compare import compare
from vrp.io.taskdata_read import read
from vrp.spatial.degree_grid import cover

METRIC = {"units": "metric", "product": {"grade": "0-46-0"}}
LIQUID = {"grade": "10-34-0", "form": "liquid", "density": 11.65}


def boxes(number):
    """Return boxes of 0.002 degree of longitude by 0.003 of latitude each."""
    edges = [round(9.0 + 0.002 * n, 7) for n in range(number + 1)]
    return [shapely.box(west, 50.0, east, 50.003) for west, east in pairwise(edges)]


@pytest.fixture
def one(prescribed):
    """Return three zones, the last not as high as the others."""
    low = shapely.box(9.004, 50.0, 9.006, 50.0012)
    west, middle = boxes(2)
    # A corner of the last is one of the middle's as well.
    noded = shapely.Polygon(
        [*middle.exterior.coords[:1], (9.004, 50.0012), *middle.exterior.coords[1:]]
    )
    return prescribed([west, noded, low], [150.0, 0.0, 212.5], **METRIC)


class Stick:
    """A folder of task data, as it was written and what became of it."""

    def __init__(self, folder, prescription, version):
        taskdata.write(folder, [prescription], version=version)
        self.folder, self.prescription = folder, prescription
        self.xml = folder / "TASKDATA" / "TASKDATA.XML"
        self.grid = folder / "TASKDATA" / "GRD00001.bin"

    def change(self, old, new, count=1):
        """Change the first place that fits a pattern."""
        text, changed = re.subn(old, new, self.xml.read_text("utf-8"), count=count)
        assert changed
        self.xml.write_text(text, "utf-8", newline="\n")

    def faults(self):
        """Return what the comparison finds."""
        return compare(self.folder, [self.prescription])


@pytest.fixture(params=["3.3", "4.3"])
def stick(one, request, tmp_path):
    """Return task data of either version."""
    return Stick(tmp_path, one, request.param)


def test_what_was_written_agrees(stick):
    """Nothing is found where nothing was changed, and the figures read as meant."""
    assert stick.faults() == []

    data = read(stick.folder)
    (task,) = data.tasks
    assert task.name == "Test 0-46-0"
    rates = [task.treatments[number].rate for number in (1, 2, 3)]
    assert rates == pytest.approx([150.0, 0.0, 212.5])
    assert {each.measure for each in task.treatments.values()} == {"kg"}
    # 0.003 degree by 0.002 at 50 N is 333.66 m by 143.4 m; 0.0012 degree 133.47 m.
    by_hand = (150.0 * 333.66 + 212.5 * 133.47) * 143.4 / 10_000.0
    assert task.product == pytest.approx(by_hand, rel=0.006)
    # South of the north edge all three zones stand, in the north the first two.
    codes = task.grid.codes
    assert set(codes[1].tolist()) - {0} == {1, 2, 3}
    assert set(codes[-2].tolist()) - {0} == {1, 2}


@pytest.mark.parametrize(
    ("units", "product", "si"),
    [
        # 0.45359237 kg on 4046.8564224 m²; 3.785411784 L on the same.
        ("us", {"grade": "11-52-0"}, ("kg", 1.1208511)),
        ("us", LIQUID, ("L", 9.3539562)),
        ("metric", LIQUID | {"density": 1.4}, ("L", 1.0)),
    ],
)
def test_units(units, product, si, prescribed, tmp_path):
    """A rate in the plan's unit comes back in SI, within half a raw value."""
    one = prescribed(boxes(1), [37.5], units=units, product=product)
    stick = Stick(tmp_path, one, "3.3")

    (task,) = read(tmp_path).tasks
    measure, factor = si
    assert task.treatments[1].measure == measure
    assert task.treatments[1].rate == pytest.approx(37.5 * factor, abs=0.0051)
    assert stick.faults() == []


def turn_rows(stick):
    text = stick.xml.read_text("utf-8")
    columns, rows = map(int, re.search(r'E="(\d+)" F="(\d+)"', text).groups())
    content = stick.grid.read_bytes()
    assert len(content) == rows * columns
    lines = [content[row * columns : (row + 1) * columns] for row in range(rows)]
    stick.grid.write_bytes(b"".join(reversed(lines)))


def change_cell(stick, code, place=0.5):
    content = bytearray(stick.grid.read_bytes())
    content[int(place * len(content))] = code
    stick.grid.write_bytes(content)


FAULTS = {
    "grid too short": (
        lambda stick: stick.grid.write_bytes(stick.grid.read_bytes()[:-1]),
        r"^GRD00001.bin holds \d+ bytes, not \d+ × \d+$",
    ),
    "length misstated": (
        lambda stick: stick.change(r' H="\d+" I="1"', ' H="7" I="1"'),
        r"^GRD00001.bin holds \d+ bytes, not the 7 that its grid states$",
    ),
    "undefined code": (
        lambda stick: change_cell(stick, 99),
        "^task Test 0-46-0: cells hold code 99, which is not defined$",
    ),
    "code of another zone": (
        lambda stick: change_cell(stick, 3, 0.01),
        "^task Test 0-46-0: 1 cells of zone 1 hold another code$",
    ),
    "rate outside": (
        lambda stick: change_cell(stick, 1, 0.999),
        "^task Test 0-46-0: 1 cells outside the field hold another code$",
    ),
    "rows from the north": (
        turn_rows,
        "^task Test 0-46-0: the rows of the grid run from north to south$",
    ),
    "coordinates swapped": (
        lambda stick: stick.change(
            r'C="(5\d\.\d+)" D="(9\.\d+)"', r'C="\2" D="\1"', count=0
        ),
        "^task Test 0-46-0: north and east of the boundary are swapped$",
    ),
    "grid swapped": (
        lambda stick: stick.change(r'GRD A="(.*?)" B="(.*?)"', r'GRD A="\2" B="\1"'),
        "^task Test 0-46-0: north and east of the grid are swapped$",
    ),
    "grid moved": (
        lambda stick: stick.change(r'GRD A="50.0000', 'GRD A="50.0006'),
        r"^task Test 0-46-0: \d+ cells outside the field hold another code$",
    ),
    "grid begun too far north": (
        lambda stick: stick.change(r'GRD A="50.0000', 'GRD A="50.0006'),
        "^task Test 0-46-0: the grid ends short of the field$",
    ),
    "grid in another country": (
        lambda stick: stick.change(r'GRD A="50.0', 'GRD A="53.0'),
        "^task Test 0-46-0: the grid begins at 53.0 north, 9.0 east, off the field$",
    ),
    "wrong factor": (
        lambda stick: stick.change('B="15000"', 'B="150"'),
        "^task Test 0-46-0: zone 1: rate reads 1.5 kg/ha, not 150, 0.01 of it$",
    ),
    "lb/ac taken for kg/ha": (
        lambda stick: stick.change('B="21250"', 'B="23818"'),
        "^task Test 0-46-0: zone 3: rate reads 238.18 kg/ha, not 212.5, 1.12 of it$",
    ),
    "total": (
        lambda stick: stick.change('B="15000"', 'B="15200"'),
        r"^task Test 0-46-0: the grid carries \d+.\d kg, not \d+.\d$",
    ),
    "mass as volume": (
        lambda stick: stick.change('A="0006" B="15000"', 'A="0001" B="15000"'),
        "^task Test 0-46-0: zone 1: DDI 0001 sets L, and the product is in kg$",
    ),
    "other DDI": (
        lambda stick: stick.change('A="0006" B="15000"', 'A="0007" B="15000"'),
        "^code 1: DDI 0007 is no setpoint of mass or volume$",
    ),
    "DDI of one digit": (
        lambda stick: stick.change('A="0006" B="15000"', 'A="6" B="15000"'),
        "^code 1: DDI '6' is not four hexadecimal digits$",
    ),
    "raw value no number": (
        lambda stick: stick.change('B="15000"', 'B="many"'),
        "^PDV: B is 'many', no number$",
    ),
    "raw value with a point": (
        lambda stick: stick.change('B="15000"', 'B="15000.5"'),
        "^PDV: B is 15000.5, no whole number$",
    ),
    "coordinate no number": (
        lambda stick: stick.change('C="50.0030000"', 'C="nan"'),
        "^PNT: C is 'nan', no number$",
    ),
    "ring that is a track": (
        lambda stick: stick.change('<LSG A="1">', '<LSG A="5">'),
        "^field Test: a ring of polygon 1 is of type 5, not 1 or 2$",
    ),
    "shown in another unit": (
        lambda stick: stick.change('E="kg/ha"', 'E="lb/ac"'),
        "zone 1: the driver sees 150 lb/ac, not 150 kg/ha$",
    ),
    "shown a hundredth": (
        lambda stick: stick.change('C="0.010000000000"', 'C="0.0001"'),
        "zone 1: the driver sees 1.5 kg/ha, not 150 kg/ha$",
    ),
    "open ring": (
        lambda stick: stick.change(r"(?s)<PNT[^>]*>\s*</LSG>", "</LSG>"),
        "^field Test: a ring of polygon 1 is open, its first point is not its last$",
    ),
    "ring of two points": (
        lambda stick: stick.change(
            r'(?s)(<LSG A="1">\s*(<PNT[^>]*>)\s*<PNT[^>]*>).*?</LSG>', r"\1\2</LSG>"
        ),
        "^field Test: a ring of polygon 1 is open, its first point is not its last$",
    ),
    "farm missing": (
        lambda stick: stick.change(' D="FRM1"', ' D="FRM9"'),
        "^TSK refers to FRM9, which is no FRM$",
    ),
    "client missing": (
        lambda stick: stick.change(' C="CTR1"', ' C="FRM1"'),
        "^TSK refers to FRM1, which is no CTR$",
    ),
    "grid beyond the pole": (
        lambda stick: stick.change(r'GRD A="50.0', 'GRD A="100.0'),
        "^grid GRD00001 begins at 100.0 north, 9.0 east: north and east are swapped$",
    ),
    "corner moved": (
        lambda stick: stick.change(
            'C="50.0030000" D="9.0000000"', 'C="50.0030001" D="9.0000000"', 0
        ),
        "^task Test 0-46-0: the boundary is not that of the zones$",
    ),
    "field's area": (
        lambda stick: stick.change(r'C="Test" D="\d+"', 'C="Test" D="5"'),
        r"^task Test 0-46-0: the field's area reads 5 m², not \d+$",
    ),
    "grid missing": (
        lambda stick: stick.grid.unlink(),
        "^GRD00001.bin is missing$",
    ),
    "grid by another case": (
        lambda stick: stick.grid.rename(stick.grid.with_name("GRD00001.BIN")),
        "^GRD00001.bin is missing$",
    ),
    "main file missing": (
        lambda stick: stick.xml.rename(stick.xml.with_name("taskdata.xml")),
        "^TASKDATA.XML is missing$",
    ),
    "folder missing": (
        lambda stick: stick.xml.parent.rename(stick.folder / "taskdata"),
        "^the folder TASKDATA is missing$",
    ),
    "mark before the first character": (
        lambda stick: stick.xml.write_bytes(b"\xef\xbb\xbf" + stick.xml.read_bytes()),
        "^TASKDATA.XML does not begin as XML in UTF-8 without a mark$",
    ),
    "cut short": (
        lambda stick: stick.xml.write_bytes(stick.xml.read_bytes()[:-9]),
        "^TASKDATA.XML is no XML: ",
    ),
    "another root": (
        lambda stick: stick.change("ISO11783_TaskData", "ISO11783_LinkList", 0),
        "^TASKDATA.XML holds ISO11783_LinkList, not ISO11783_TaskData$",
    ),
    "another version": (
        lambda stick: stick.change(r'Major="\d"', 'Major="2"'),
        "^version is 2.3, not 3.3 or 4.3$",
    ),
    "from a machine": (
        lambda stick: stick.change('Origin="1"', 'Origin="2"'),
        "^origin is 2, not 1, an office's software$",
    ),
    "no default zone": (
        lambda stick: stick.change(' H="254"', ""),
        "^task Test 0-46-0: states no default zone$",
    ),
    "position-lost zone undefined": (
        lambda stick: stick.change(' I="254"', ' I="77"'),
        "^task Test 0-46-0: position-lost zone 77 is not defined$",
    ),
    "a rate outside the field": (
        lambda stick: stick.change('A="0006" B="0"', 'A="0006" B="15000"'),
        "out-of-field zone: rate reads 150 kg/ha, not 0$",
    ),
    "code twice": (
        lambda stick: stick.change('TZN A="2"', 'TZN A="1"'),
        "^task Test 0-46-0: code 1 stands for two zones$",
    ),
    "code beyond a byte": (
        lambda stick: stick.change('TZN A="2"', 'TZN A="255"'),
        "^code 255 of a zone is not within 0 and 254$",
    ),
    "product missing": (
        lambda stick: stick.change(r"<PDT[^>]*>", ""),
        "^PDV refers to PDT1, which is no PDT$",
    ),
    "another product": (
        lambda stick: stick.change('B="0-46-0"', 'B="11-52-0"'),
        "zone 1: product is called '11-52-0', not 0-46-0$",
    ),
    "id twice": (
        lambda stick: stick.change(r"(<CTR[^>]*>)", r"\1\1"),
        "^id CTR1 stands twice$",
    ),
    "id with a zero": (
        lambda stick: stick.change("VPN1", "VPN01", 0),
        "^id 'VPN01' does not fit an element VPN$",
    ),
    "done already": (
        lambda stick: stick.change(' G="1" H="254"', ' G="4" H="254"'),
        "^task Test 0-46-0: status is 4, not 1, planned$",
    ),
    "grid of values": (
        lambda stick: stick.change(' I="1" />', ' I="2" />'),
        "^grid GRD00001: type is 2, not 1, codes$",
    ),
    "two values": (
        lambda stick: stick.change(r'(<PDV A="0006" B="15000"[^>]*>)', r"\1\1"),
        "^code 1: holds 2 values, not one$",
    ),
    "no grid": (
        lambda stick: stick.change(r"<GRD[^>]*>", ""),
        "^task Test 0-46-0: holds 0 grids, not one$",
    ),
    "no task": (
        lambda stick: stick.change(r"(?s)<TSK.*</TSK>", ""),
        "^TASKDATA.XML holds no task$",
    ),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_faults(fault, stick):
    """A planted fault is named in a sentence."""
    change, sentence = FAULTS[fault]
    change(stick)

    found = stick.faults()
    assert any(re.search(sentence, each) for each in found), found


def test_two_zones_under_one_code(prescribed, tmp_path):
    """Zones whose cells hold the same code are named, even at the same rate."""
    one = prescribed(boxes(2), [90.0, 90.0], **METRIC)
    stick = Stick(tmp_path, one, "3.3")
    stick.grid.write_bytes(stick.grid.read_bytes().replace(b"\x02", b"\x01"))

    assert stick.faults() == ["task Test 0-46-0: zones 1 and 2 share code 1"]


@pytest.mark.parametrize("code", [1, 2])
def test_cell_on_a_border(code, prescribed, tmp_path):
    """A cell whose centre lies on the border of two zones may hold either code."""
    # Four cells of 10 m, parted at 15 m: on the second's centre.
    (grown,) = boxes(1)
    grid = cover(grown, side=10.0)
    edges = [0.0, round(1.5 * grid.east_side, 7), round(4 * grid.east_side, 7)]
    shapes = [
        shapely.box(round(9 + west, 7), 50.0, round(9 + east, 7), 50.0027)
        for west, east in pairwise(edges)
    ]
    one = prescribed(shapes, [90.0, 90.0], **METRIC)
    stick = Stick(tmp_path, one, "3.3")
    codes = read(tmp_path).tasks[0].grid.codes.copy()
    assert set(codes[1:-1, 1].tolist()) <= {1, 2}
    assert set(codes[1:-1, (0, 2)].ravel().tolist()) == {1, 2}
    codes[codes[:, 1] > 0, 1] = code
    stick.grid.write_bytes(codes.tobytes())

    assert stick.faults() == []


@pytest.mark.parametrize("version", ["3.3", "4.3"])
def test_parts_and_holes(version, prescribed, tmp_path):
    """Each hole is taken out of the part that it lies in, and of no other."""
    hole = shapely.box(9.0005, 50.0005, 9.001, 50.001)
    apart = shapely.box(9.004, 50.0, 9.006, 50.003)
    shape = shapely.union(shapely.difference(boxes(1)[0], hole), apart)
    stick = Stick(tmp_path, prescribed([shape], [90.0], **METRIC), version)

    assert stick.faults() == []
    assert shapely.equals(read(tmp_path).tasks[0].boundary, shape)


def test_two_outer_rings(prescribed, tmp_path):
    """What version 3 may do, an outer ring a part in one polygon, version 4 may not."""
    parts = shapely.union_all([boxes(1)[0], boxes(3)[2]])
    stick = Stick(tmp_path, prescribed([parts], [90.0], **METRIC), "3.3")
    stick.change('VersionMajor="3"', 'VersionMajor="4"')

    assert stick.faults() == ["field Test: polygon 1 has 2 outer rings, not one"]


def test_fine_fault_of_a_liquid(prescribed, tmp_path):
    """Four thousandths of a litre are seen: a raw value is a ten-thousandth."""
    tables = {"units": "metric", "product": LIQUID | {"density": 1.4}}
    stick = Stick(tmp_path, prescribed(boxes(1), [37.5], **tables), "3.3")
    stick.change('B="375000"', 'B="375040"')

    sentence = "zone 1: rate reads 37.504 L/ha, not 37.5"
    assert stick.faults() == [f"task Test 10-34-0: {sentence}"]


def test_default_rate(prescribed, tmp_path):
    """A default other than the plan's is named for both zones that use it."""
    machine = {"default_rate": 55.0}
    one = prescribed(boxes(1), [90.0], **METRIC, machine=machine)
    stick = Stick(tmp_path, one, "3.3")
    assert stick.faults() == []
    stick.change('B="5500"', 'B="5000"')

    found = stick.faults()
    for word in ("default", "position-lost"):
        sentence = f"{word} zone: rate reads 50 kg/ha, not 55, 0.909 of it"
        assert f"task Test 0-46-0: {sentence}" in found


def test_number_of_tasks(one, prescribed, tmp_path):
    """A task too few for the fields is named."""
    taskdata.write(tmp_path, [one], version="3.3")

    assert compare(tmp_path, [one, one]) == ["1 tasks stand for 2 fields"]


def test_read_raises(tmp_path):
    """What cannot be read is refused with the same sentence."""
    for folder in (tmp_path, tmp_path / "machine"):
        with pytest.raises(VrpError, match=r"^the folder TASKDATA is missing$"):
            read(folder)
