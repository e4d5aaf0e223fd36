"""Excluded ground in every file, and what becomes of files that someone changed."""

import json
import shutil
from xml.etree import ElementTree

import numpy as np
import pyogrio
import pytest
import shapely

from vrp import job
from vrp.io import geopackage, record, style
from vrp.io.recall import recalled
from vrp.io.taskdata_read import read as read_task_data
from vrp.io.verify import verify
from vrp.report import zone_map
from vrp.report.setback_view import kept_out

SE, OGC = "{http://www.opengis.net/se}", "{http://www.opengis.net/ogc}"


@pytest.fixture(scope="module")
def creek(sample_fields, tmp_path_factory):
    """Build the field by the creek once."""
    return job.run(sample_fields / "creek", out=tmp_path_factory.mktemp("c") / "out")


@pytest.fixture
def copy(creek, tmp_path):
    """Return the prescription, and a copy of its folder that may be changed."""
    return creek[0], shutil.copytree(creek[1], tmp_path / "out")


def excluded(prescription):
    return [one for one in prescription.zones if one.excluded is not None]


def test_layer_of_excluded_ground(creek):
    """Its features are the excluded zones, each with its reason, hatched in QGIS."""
    prescription, out = creek
    path = out / "map" / "rates.gpkg"

    meta, _, shapes, values = pyogrio.raw.read(path, layer="excluded")

    wanted = excluded(prescription)
    assert meta["fields"].tolist() == ["zone", "area_ac", "reason"]
    assert values[0].tolist() == [one.number for one in wanted]
    assert values[2].tolist() == [one.excluded for one in wanted]
    for shape, zone in zip(shapely.from_wkb(shapes), wanted, strict=True):
        assert shapely.equals(shape, zone.geometry)
    with geopackage.opened(path) as base:
        ((qml,),) = base.execute(
            "SELECT styleQML FROM layer_styles WHERE f_table_name = 'excluded'"
        )
    drawn = ElementTree.fromstring(qml).iter("layer")
    assert [one.get("class") for one in drawn] == ["LinePatternFill"]


def test_no_layer_without_water(ground):
    """A field without excluded ground has the three layers that it had."""
    _, out = job.run(ground.write())

    names = pyogrio.list_layers(out / "map" / "rates.gpkg")[:, 0].tolist()
    assert sorted(names) == ["boundary", "layer_styles", "samples", "zones"]


def test_styles_mark_it(creek):
    """A rule of its own hatches it, in the SLD crosses; classes of rates stay whole."""
    prescription, out = creek
    qml, sld = ((out / "map" / name).read_text() for name in (style.QML, style.SLD))

    (rule,) = (
        one
        for one in ElementTree.fromstring(qml).iter("rule")
        if "note" in one.get("filter", "")
    )
    assert rule.get("filter") == "\"note\" LIKE '%setback%'"
    like = next(ElementTree.fromstring(sld).iter(f"{OGC}PropertyIsLike"))
    assert like.findtext(f"{OGC}Literal") == "*setback*"
    marks = [one.text for one in ElementTree.fromstring(sld).iter(f"{SE}WellKnownName")]
    assert marks == ["x"]
    assert style.classes(qml) == style.classes(sld)
    for zone in prescription.zones:
        assert ("setback" in zone.note) == (zone.excluded is not None)


def test_boundary_is_the_whole_field(creek):
    """Excluded ground lies inside the boundary, whose area is all zones'."""
    prescription, out = creek

    _, _, shapes, values = pyogrio.raw.read(out / "map/rates.gpkg", layer="boundary")

    (boundary,) = shapely.from_wkb(shapes)
    assert all(boundary.covers(one.geometry) for one in prescription.zones)
    assert values[4][0] == pytest.approx(sum(one.area for one in prescription.zones))


def test_recalled_from_the_folder(creek):
    """Reasons, water's figures and the excluded area come back from the record."""
    prescription, out = creek

    found = recalled(record.read(out), out, changed=())

    assert [one.excluded for one in found.zones] == [
        one.excluded for one in prescription.zones
    ]
    assert found.water.setbacks == prescription.water.setbacks
    assert found.water.strip_product == prescription.water.strip_product
    assert found.totals == prescription.totals


def test_a_rate_in_a_cell_beside_the_water(copy):
    """A cell that touches excluded ground and has a rate is found by verify."""
    prescription, out = copy
    grid = read_task_data(out / "machine").tasks[0].grid
    numbered = list(enumerate(prescription.zones, 1))
    rated = [code for code, one in numbered if one.rate > 0.0]
    ground = shapely.union_all([one.geometry for _, one in numbered if one.rate > 0.0])
    codes = grid.codes.copy()
    row, column = np.nonzero(~np.isin(codes, rated))
    east = grid.west + (column + 0.5) * grid.east_side
    north = grid.south + (row + 0.5) * grid.north_side
    beside = np.flatnonzero(shapely.contains_xy(ground, east, north))
    assert len(beside) > 100
    codes[row[beside[0]], column[beside[0]]] = rated[0]
    path = out / "machine" / "TASKDATA" / "GRD00001.bin"
    path.write_bytes(codes.tobytes())

    faults = verify(out).faults

    assert any(
        "1 cells that touch excluded ground have a rate" in one for one in faults
    )


def test_a_rate_edited_onto_excluded_ground(copy):
    """No override is offered for it: the way is to mend the water."""
    prescription, out = copy
    number = excluded(prescription)[0].number
    path = out / "map" / "rates.geojson"
    collection = json.loads(path.read_text())
    for one in collection["features"]:
        if one["properties"]["zone"] == number:
            one["properties"]["rate_lb_ac"] = 100.0
    path.write_text(json.dumps(collection))

    adoption = verify(out).adoption

    assert adoption.lines == ""
    assert any(f"Zone {number} is excluded" in one for one in adoption.sentences)


def test_drawing(creek):
    """Excluded zones are hatched, and both lines and the water are drawn and named."""
    prescription, _ = creek

    svg = zone_map.rate_map(prescription)

    parts = [one.get("data-part") for one in ElementTree.fromstring(svg).iter()]
    assert parts.count("excluded") == len(excluded(prescription)) + 1  # and the key
    assert {"no-apply", "no-drive", "water"} <= set(parts)
    assert "to here nothing is driven: 30 ft of throw" in svg


def test_sentences(creek):
    """The summary tells distances, ground and product, as the record has them."""
    prescription, _ = creek
    water = prescription.water

    first, kept, strip = kept_out(prescription)

    assert first == (
        "Kept from water: 35 ft from stream, 35 ft from ditch, 50 ft from well."
    )
    assert f"Nothing is spread on {water.kept_area:.2f} ac" in kept
    assert f"throws about {water.strip_product:,.0f} lb there" in strip
