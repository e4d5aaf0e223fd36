"""Water near a field, from its file to every file that comes out."""

import json

import numpy as np
import pyogrio
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pyproj import Transformer

from vrp import job
from vrp.errors import InputError
from vrp.io import verify
from vrp.io.taskdata_read import read as read_task_data
from vrp.units import ACRE, FOOT

# As the fixture draws.
PLANE = "+proj=tmerc +lat_0=40.6 +lon_0=-84.3 +k=1 +datum=WGS84 +units=m"
WEST, EAST = -100.0, 580.0
# Along the south side of the square field of 480 m, on its very edge.
CREEK = shapely.LineString([(WEST, 0.0), (EAST, 0.0)])
WATER = """
[water]
features = [{ file = "water.geojson", kind = "stream" }]
distance = { stream = 35 }
"""
SWATH = "step = 5\nswath = 60"
# What Maryland's summary asks of fertilizer that is spread.
MARYLAND = 'features = ["water.geojson"]\nrules = "maryland-2012"\n'


def with_water(ground, *shapes, text=WATER, kinds=None):
    """Give a field water, and a spreader that throws 30 ft to its side."""
    ground.write_polygons(
        "water.geojson", shapes, [{"kind": one} for one in kinds] if kinds else None
    )
    ground.text += text
    ground.change(("step = 5", SWATH))
    return ground


def built(ground):
    """Build a field with the files that take least time."""
    if "[files]" not in ground.text:
        few = 'map = ["geojson"]\nmachine = ["shapefile"]\nreport = false'
        ground.text += f"\n[files]\n{few}\n"
    return job.run(ground.write(), overwrite=True)[0]


def codes(prescription):
    return {one.code for one in prescription.findings}


def in_metres(geometry):
    """Return a geometry in longitude, latitude on the plane that tests draw on."""
    transform = Transformer.from_crs("EPSG:4326", PLANE, always_xy=True).transform
    return shapely.transform(geometry, transform, interleaved=False)


def rated(prescription):
    zones = [one.geometry for one in prescription.zones if one.rate > 0.0]
    return in_metres(shapely.union_all(zones))


def test_a_creek_along_the_field(ground):
    """35 ft of 480 m get nothing, 30 ft more are not driven; the ledger says why."""
    prescription = built(with_water(ground, CREEK))

    (kept,) = (one for one in prescription.zones if "within" in (one.excluded or ""))
    (strip,) = (one for one in prescription.zones if "driven" in (one.excluded or ""))
    assert kept.area == pytest.approx(480.0 * 35.0 * FOOT / ACRE, rel=0.002)
    assert strip.area == pytest.approx(480.0 * 30.0 * FOOT / ACRE, rel=0.002)
    assert (kept.need, kept.rate, kept.total, kept.note) == (0.0, 0.0, 0.0, "setback")
    assert kept.excluded == "within 35 ft of stream (water.geojson, feature 1)"
    line = next(one for one in kept.ledger if one.step == "setback")
    before = next(one for one in kept.ledger if one.step == "need of the zone")
    assert line.arithmetic == f"{kept.excluded}; in place of {before.value:g}: 0"
    assert line.source.where == "field file: water.distance.stream"
    assert rated(prescription).distance(CREEK) == pytest.approx(65.0 * FOOT, abs=0.02)


def test_totals_leave_excluded_ground_out(ground):
    """The field is whole, one rate is for its treated ground, and water's facts add."""
    prescription = built(with_water(ground, CREEK))

    totals, water = prescription.totals, prescription.water
    out = [one.area for one in prescription.zones if one.excluded]
    assert totals.area == pytest.approx(480.0**2 / ACRE, rel=0.001)
    assert totals.excluded_area == pytest.approx(sum(out))
    assert water.kept_area + water.strip_area == pytest.approx(sum(out))
    even = totals.uniform_rate * (totals.area - sum(out))
    assert totals.uniform.product == pytest.approx(even, abs=0.01)
    (setback,) = water.setbacks
    assert (setback.distance, setback.no_drive, setback.features) == (35.0, 65.0, (1,))
    assert setback.area == pytest.approx(water.kept_area, rel=0.001)
    assert water.throw == 30.0
    lengths = (water.lines.no_apply, water.lines.no_drive)
    for line, far in zip(lengths, (35.0, 65.0), strict=True):
        xy = shapely.get_coordinates(in_metres(line))
        assert xy[:, 1] == pytest.approx(far * FOOT, abs=0.02)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (SWATH, f"{SWATH}\nborder = true"),
        ("[machine]", '[application]\nmethod = "band"\n\n[machine]'),
    ],
    ids=["border spreading", "a band"],
)
def test_what_is_not_thrown_needs_no_strip(ground, old, new):
    """With border spreading, or a band, ground may be driven up to the distance."""
    with_water(ground, CREEK).change((old, new))

    prescription = built(ground)

    assert prescription.water.strip_area == 0.0
    assert rated(prescription).distance(CREEK) == pytest.approx(35.0 * FOOT, abs=0.02)


def test_throw_that_nobody_knows(ground):
    """Without a swath a warning says that the throw is not counted."""
    with_water(ground, CREEK).change((SWATH, "step = 5"))

    prescription = built(ground)

    assert prescription.water.throw is None
    assert "setback-throw-unknown" in codes(prescription)


def test_every_file_sends_nothing_there(ground):
    """No rate above 0 lies within 65 ft in any vector file, nor in a cell's corner."""
    ground.outline = shapely.Polygon([(0, 0), (480, 40), (480, 480), (0, 480)])
    _, out = job.run(with_water(ground, CREEK).write())
    far, machine = 65.0 * FOOT - 0.02, out / "machine"

    for path in (out / "map/rates.geojson", *machine.glob("*.shp")):
        _, _, shapes, values = pyogrio.raw.read(path)
        fields = list(pyogrio.read_info(path)["fields"])
        rate = values[[one.lower() for one in fields].index("rate_lb_ac")]
        shapes = in_metres(shapely.from_wkb(shapes))
        assert shapely.distance(shapes[rate > 0.0], CREEK).min() > far
        # The setback, the strip and rich ground.
        assert (rate == 0.0).sum() == 3
    _, _, shapes, values = pyogrio.raw.read(out / "map/rates.gpkg", layer="excluded")
    assert shapely.distance(in_metres(shapely.from_wkb(shapes)), CREEK).max() < far
    (task,) = read_task_data(machine).tasks
    grid, rates = task.grid, {code: one.rate for code, one in task.treatments.items()}
    row, column = np.nonzero(np.vectorize(rates.get)(grid.codes) > 0.0)
    cells = shapely.box(
        grid.west + column * grid.east_side,
        grid.south + row * grid.north_side,
        grid.west + (column + 1) * grid.east_side,
        grid.south + (row + 1) * grid.north_side,
    )
    # Beyond its edge the field has no excluded ground that a cell could touch.
    inside = shapely.intersection(in_metres(cells), ground.outline)
    assert shapely.distance(inside[~shapely.is_empty(inside)], CREEK).min() > far
    assert not verify.verify(out).faults


def test_distance_by_rule(ground):
    """Maryland's 35 ft for broadcast fertilizer, with its citation in the ledger."""
    text = f"\n[water]\n{MARYLAND}"
    with_water(ground, CREEK, kinds=["stream"], text=text)
    ground.change(("[machine]", '[application]\nmethod = "broadcast"\n\n[machine]'))

    prescription = built(ground)

    (setback,) = prescription.water.setbacks
    assert setback.distance == 35.0
    assert setback.source.status == "read"
    assert "Maryland's new nutrient management regulations" in setback.source.where


def test_less_than_a_rule_asks(ground):
    """The plan's own 10 ft stand, and a stop names Maryland's 35."""
    text = f"\n[water]\n{MARYLAND}distance = {{ stream = 10 }}\n"
    prescription = built(with_water(ground, CREEK, kinds=["stream"], text=text))

    assert prescription.water.setbacks[0].distance == 10.0
    (warned,) = (
        one for one in prescription.findings if one.code == "setback-below-rule"
    )
    assert (warned.value, warned.bound, warned.severity) == (10.0, 35.0, "stop")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (
            WATER.replace("stream = 35", "ditch = 35"),
            r"water.geojson has a stream, and no distance is given for it: write "
            r"stream = a number of feet under \[water.distance\]",
        ),
        (
            '\n[water]\nfeatures = ["water.geojson"]\nrules = ["ohio-590-manure"]\n',
            "the rules ohio-590-manure keep none for fertilizer placed so",
        ),
        (
            WATER.replace("stream = 35", "stream = 3500"),
            "whole field lies within the distances from the stream of water.geojson",
        ),
    ],
)
def test_refused(ground, text, said):
    """A kind without a distance, and distances that leave nothing, are refused."""
    with_water(ground, CREEK, text=text, kinds=["stream"])

    with pytest.raises(InputError, match=said):
        built(ground)


def test_a_distance_of_nothing_keeps_the_throw_off(ground):
    """Written as 0, a stream is not thrown into: half a swath beside it has rate 0."""
    text = WATER.replace("stream = 35", "stream = 0")
    prescription = built(with_water(ground, CREEK, text=text))

    assert prescription.water.kept_area == 0.0
    assert prescription.water.strip_area == pytest.approx(
        480.0 * 30.0 * FOOT / ACRE, rel=0.002
    )
    assert rated(prescription).distance(CREEK) == pytest.approx(30.0 * FOOT, abs=0.02)

    ground.change((SWATH, f"{SWATH}\nborder = true"))
    beside = built(ground)
    assert beside.totals.excluded_area == 0.0
    assert beside.water.setbacks[0].distance == 0.0


def test_water_far_away(ground):
    """A creek 2 km off cuts nothing, and a note tells how far it is."""
    far = shapely.LineString([(0.0, -2000.0), (400.0, -2000.0)])
    prescription = built(with_water(ground, far))

    (note,) = (one for one in prescription.findings if one.code == "water-far")
    assert note.value == pytest.approx(2000.0 / FOOT, abs=1.0)
    assert prescription.totals.excluded_area == 0.0
    assert "no-water-features" not in codes(prescription)


def test_boundary_that_was_set_back(ground):
    """Where the field file says so nothing is cut, and a note tells how near it is."""
    text = WATER.replace('"stream" }', '"stream", already_set_back = true }')
    text = text.replace("distance = { stream = 35 }\n", "")
    prescription = built(with_water(ground, CREEK, text=text))

    assert prescription.totals.excluded_area == 0.0
    assert "boundary-set-back" in codes(prescription)


def test_boundary_set_back_less_than_a_rule(ground):
    """On the bank Maryland's 35 ft are not kept, whatever the field file says."""
    file = '{ file = "water.geojson", kind = "stream", already_set_back = true }'
    text = f'\n[water]\nfeatures = [{file}]\nrules = "maryland-2012"\n'
    prescription = built(with_water(ground, CREEK, text=text))

    (told,) = (one for one in prescription.findings if one.code == "setback-below-rule")
    assert (told.bound, told.severity) == (35.0, "stop")
    assert told.value == pytest.approx(0.0, abs=0.1)


def test_a_need_by_point_stays_that_of_its_zone(ground):
    """Set to 0 by a point that water excludes later, no ground of it gets more."""
    point = list(ground.to_lonlat(shapely.Point(50.0, 3.0)).coords[0])
    ground.text += f"""
[[override]]
point = {json.dumps(point)}
p2o5 = 0
reason = "an invented corner"
"""
    dry = built(ground)
    wet = built(with_water(ground, CREEK))

    assert wet.totals.zones.product <= dry.totals.zones.product
    (one,) = (
        zone
        for zone in dry.zones
        if any(line.step == "override" for line in zone.ledger)
    )
    inside = in_metres(one.geometry).buffer(-1.0)
    assert rated(wet).intersection(inside).area == pytest.approx(0.0, abs=1.0)


def test_excluded_ground_wins_over_a_need_by_hand(ground):
    """An override's polygon is cut as well; one by point is of the rest of its zone."""
    ground.write_polygons("yard.geojson", [shapely.box(200.0, -5.0, 300.0, 60.0)])
    point = list(ground.to_lonlat(shapely.Point(50.0, 3.0)).coords[0])
    text = f"""
[[override]]
file = "yard.geojson"
p2o5 = 90
reason = "an invented yard"

[[override]]
point = {json.dumps(point)}
p2o5 = 80
reason = "an invented corner"
{WATER}"""
    prescription = built(with_water(ground, CREEK, text=text))

    by_hand = [
        one
        for one in prescription.zones
        if any(line.step == "override" for line in one.ledger)
    ]
    # The need by point is of the zone around the setback that it lies in.
    assert sorted(one.need for one in by_hand) == [80.0, 90.0]
    by_hand.sort(key=lambda one: one.need, reverse=True)
    assert in_metres(by_hand[0].geometry).distance(CREEK) > 65.0 * FOOT - 0.02
    said = [
        one.message
        for one in prescription.findings
        if one.code == "override-in-setback"
    ]
    # 100 m by 65 ft are 0.4896 ac.
    assert said[0].startswith("override 1: 0.49 ac of it") or "0.489 ac" in said[0]
    assert said[1].startswith("override 2: its point lies on excluded ground")


def test_a_sample_in_a_setback_still_counts(ground):
    """The surface of a field with water is that without: no sample is lost."""
    bare = built(ground)
    wet = built(with_water(ground, shapely.Point(30.0, 30.0)))

    assert wet.surface.samples == bare.surface.samples
    np.testing.assert_array_equal(
        wet.soil_test_map.estimate, bare.soil_test_map.estimate
    )


place = st.tuples(st.integers(-30, 510), st.integers(-30, 510))
shape = st.one_of(
    place.map(shapely.Point),
    st.lists(place, min_size=2, max_size=4, unique=True).map(shapely.LineString),
    st.tuples(place, st.integers(5, 90)).map(
        lambda pond: shapely.Point(pond[0]).buffer(pond[1], quad_segs=4)
    ),
)


def composites(ground):
    """Give a field 16 composites, of cells of 120 m, which need no surface."""
    sides = [
        (x, y)
        for x in np.arange(0.0, 480.0, 120.0).tolist()
        for y in np.arange(0.0, 480.0, 120.0).tolist()
    ]
    ground.write_polygons(
        "cells.geojson",
        [shapely.box(x, y, x + 120.0, y + 120.0) for x, y in sides],
        [{"P": 6.0 + (7 * n) % 41} for n in range(16)],
    )
    ground.change(
        ('file = "samples.csv"\nx = "x"\ny = "y"\n', 'file = "cells.geojson"\n'),
        ("[samples]", '[samples]\nkind = "cell"'),
    )
    start = ground.text.index("crs = ")
    ground.text = ground.text[:start] + ground.text[ground.text.index("soil_test =") :]
    return ground


@settings(
    max_examples=8,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(st.lists(shape, min_size=1, max_size=4), st.integers(0, 120))
def test_water_never_adds_product(ground, shapes, distance):
    """Every place has the rate that it had, or none; the zones still tile the field."""
    ground.text = type(ground)(ground.folder).text
    composites(ground)
    bare = built(ground)
    text = WATER.replace("35", str(distance))
    wet = built(with_water(ground, *shapes, text=text))

    assert wet.totals.area == pytest.approx(bare.totals.area, abs=2e-4)
    assert sum(one.area for one in wet.zones) == pytest.approx(wet.totals.area)
    assert wet.totals.zones.product <= bare.totals.zones.product
    total = sum(one.total for one in wet.zones if one.excluded is None)
    assert total == pytest.approx(wet.totals.zones.product)
    for zone in wet.zones:
        inside = shapely.point_on_surface(zone.geometry)
        (was,) = (one for one in bare.zones if one.geometry.contains(inside))
        assert zone.rate == (was.rate if zone.excluded is None else 0.0)
