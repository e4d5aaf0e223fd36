"""What matters for water in each zone, from the field file to record and terminal."""

import io
import json

import numpy as np
import pytest
import rasterio
import shapely
from rasterio import Affine

from vrp import job
from vrp.errors import InputError
from vrp.report.details import details

GRADE = 'grade = "11-52-0"'
# Of the ground's samples.
PLANE = "+proj=tmerc +lat_0=40.6 +lon_0=-84.3 +k=1 +datum=WGS84 +units=m"


def test_facts_of_every_zone(ground):
    """Each zone has its facts; what the plan does not tell stands as not known."""
    prescription, out = job.run(ground.write())

    found = prescription.water_zones
    assert {one.zone for one in found} == {one.number for one in prescription.zones}
    assert [one.place for one in found] == list(range(1, len(found) + 1))
    for one in found:
        stands = {fact.name: fact.stands for fact in one.facts}
        assert stands["storm-reach"] == stands["slope"] == "not known"
        assert one.against == list(stands.values()).count("against")
    record = json.loads((out / "record.json").read_text("utf-8"))
    assert [one["zone"] for one in record["water_zones"]] == [one.zone for one in found]


def test_rich_zones_tell_how_long_they_take(ground):
    """A zone above the no-need limit tells how many seasons it takes to come down."""
    prescription, _ = job.run(ground.write())
    limit = prescription.guideline.no_need_above
    tests = {one.number: one.soil_test for one in prescription.zones}

    rich = [one for one in prescription.water_zones if tests[one.zone] > limit]
    assert rich
    for one in prescription.water_zones:
        assert (one.seasons is not None) == (one in rich)
    for one in rich:
        assert one.seasons.low <= one.seasons.middle
        stands = {fact.name: fact.stands for fact in one.facts}
        assert (stands["over-need"], stands["on-top"]) == ("against", "for")


def test_by_hand_over_the_limit(ground):
    """A need set by hand above the no-need limit is followed, and warned of."""
    plain, _ = job.run(ground.write())
    limit = plain.guideline.no_need_above
    rich = next(one for one in plain.zones if one.soil_test > limit)
    inside = rich.geometry.representative_point()
    ground.change(
        (
            "[need]",
            f"[[override]]\npoint = [{inside.x}, {inside.y}]\np2o5 = 30\n"
            'reason = "mine"\n\n[need]',
        )
    )

    prescription, _ = job.run(ground.write())

    found = [one for one in prescription.findings if one.code == "rate-over-no-need"]
    assert [(one.zone, one.severity, one.bound) for one in found] == [
        (rich.number, "warn", limit)
    ]
    (facts,) = [one for one in prescription.water_zones if one.zone == rich.number]
    assert [one.action for one in facts.advice] == ["do-not-apply"]


@pytest.mark.parametrize("told", ["", '\n[application]\nmethod = "broadcast"'])
def test_terminal_is_silent_without_water(told, ground):
    """Where neither water nor heights were given the summary has no table of them."""
    ground.change((GRADE, f"{GRADE}{told}"))
    prescription, _ = job.run(ground.write())
    file = io.StringIO()

    details(prescription, file=file)

    assert "What matters for water" not in file.getvalue()


def heights(ground, *, rise, name="heights.tif", unit="m"):
    """Write heights that rise to the east on all of the ground."""
    west, east, north = -200.0, 1000.0, 1000.0
    columns = np.arange(west, east, 10.0) + 5.0
    with rasterio.open(
        ground.folder / name,
        "w",
        driver="GTiff",
        width=120,
        height=120,
        count=1,
        dtype="float64",
        crs=PLANE,
        transform=Affine(10.0, 0.0, west, 0.0, -10.0, north),
    ) as to:
        to.write(np.tile(300.0 + rise * columns, (120, 1)), 1)
        to.set_band_unit(1, unit)


@pytest.mark.parametrize(("rise", "stands"), [(0.06, "against"), (0.04, "for")])
def test_slope_from_heights(rise, stands, ground):
    """Ground that rises 6 m in 100 stands against every zone, 4 m for it."""
    heights(ground, rise=rise)
    ground.change(("[machine]", '[water]\nelevation = "heights.tif"\n[machine]'))

    prescription, out = job.run(ground.write())

    for one in prescription.water_zones:
        (slope,) = [fact for fact in one.facts if fact.name == "slope"]
        assert (slope.stands, slope.limit) == (stands, 5.0)
        assert slope.value == pytest.approx(100.0 * rise, abs=0.02)
    (read,) = [one for one in prescription.findings if one.code == "slope-as-read"]
    assert read.message == (
        "heights.tif: slope over cells of 33 ft, heights in m, as the file says"
    )
    record = json.loads((out / "record.json").read_text("utf-8"))
    assert "heights.tif" in [one["name"] for one in record["inputs"]]
    file = io.StringIO()
    details(prescription, file=file)
    assert "What matters for water" in file.getvalue()


def test_index_that_was_computed_elsewhere(ground):
    """An index of 5.0 is medium by Iowa's classes, and changes no rate."""
    plain, _ = job.run(ground.write())
    ground.change(
        ("[machine]", '[water]\np_index = { set = "iowa", value = 5 }\n[machine]')
    )

    prescription, _ = job.run(ground.write())

    (found,) = [one for one in prescription.findings if one.code == "p-index"]
    assert found.message.startswith("field: Phosphorus index, Iowa: 5 is medium (read)")
    assert [one.rate for one in prescription.zones] == [one.rate for one in plain.zones]


def test_index_by_polygons(ground):
    """Each zone is told the greatest index on it; 6 is high and warns, 2.5 does not."""
    corners = [(x, y) for y in (240, 0) for x in (0, 240)]
    ground.write_polygons(
        "zones.geojson", [shapely.box(x, y, x + 240, y + 240) for x, y in corners]
    )
    ground.write_polygons(
        "index.geojson",
        [shapely.box(0, 0, 480, 200), shapely.box(0, 200, 240, 480)],
        [{"PI": 2.5}, {"PI": 6.0}],
    )
    value = '{ file = "index.geojson", column = "PI" }'
    ground.change(
        ("[machine]", '[zones]\nby = "file"\nfile = "zones.geojson"\n\n[machine]'),
        (
            "[machine]",
            f'[water]\np_index = {{ set = "iowa", value = {value} }}\n[machine]',
        ),
    )

    prescription, out = job.run(ground.write())

    found = {
        one.zone: (one.value, one.severity)
        for one in prescription.findings
        if one.code == "p-index"
    }
    # Squares of 240 m: north-west and north-east, then south-west and south-east.
    assert found == {
        1: (6.0, "warn"),
        2: (None, "note"),
        3: (6.0, "warn"),
        4: (2.5, "note"),
    }
    record = json.loads((out / "record.json").read_text("utf-8"))
    assert "index.geojson" in [one["name"] for one in record["inputs"]]


def test_an_index_below_nothing(ground):
    """A polygon with an index below 0 is refused with its place."""
    ground.write_polygons("index.geojson", [ground.outline], [{"PI": -1.0}])
    value = '{ file = "index.geojson", column = "PI" }'
    ground.change(
        (
            "[machine]",
            f'[water]\np_index = {{ set = "iowa", value = {value} }}\n[machine]',
        )
    )

    with pytest.raises(
        InputError, match=r"^index\.geojson feature 1: PI is -1; an index must be 0"
    ):
        job.run(ground.write())


def water(ground, shapes, *, kind="stream", tables=""):
    """Name lines, points or polygons of the plane as water, kept off by 20 ft."""
    ground.write_polygons("water.geojson", shapes)
    feature = f'{{ file = "water.geojson", kind = "{kind}", distance = 20 }}'
    ground.change(
        ("[machine]", f"[water]\nfeatures = [{feature}]\n{tables}\n[machine]")
    )


def by_name(zone):
    return {fact.name: fact for fact in zone.facts}


@pytest.mark.parametrize(
    ("west", "storm", "side"),
    # The field ends 480 m east: a stream there, 59, 61, 149 and 151 m beyond it.
    [
        (539.0, "against", "against"),
        (541.0, "against", "for"),
        (629.0, "against", "for"),
        (631.0, "for", "for"),
    ],
)
def test_distance_from_the_edge(west, storm, side, ground):
    """A stream beside a field that is one zone stands against it by its distance."""
    ground.change(
        ("[machine]", '[zones]\nby = "file"\nfile = "zones.geojson"\n\n[machine]')
    )
    ground.write_polygons("zones.geojson", [ground.outline])
    water(ground, [shapely.LineString([(west, 0.0), (west, 480.0)])])

    prescription, _ = job.run(ground.write())

    (zone,) = prescription.water_zones
    found = by_name(zone)
    assert (found["storm-reach"].stands, found["stream-side"].stands) == (storm, side)
    assert found["storm-reach"].value == pytest.approx((west - 480.0) / 0.3048, abs=0.1)
    assert "from a stream" in found["storm-reach"].said


def test_kept_ground_is_no_zone_of_it(ground):
    """Ground that is kept out has no facts; a treated zone's edge is the setback."""
    water(ground, [shapely.LineString([(-10.0, 240.0), (490.0, 240.0)])])

    prescription, _ = job.run(ground.write())

    kept = {one.number for one in prescription.zones if one.excluded is not None}
    assert kept
    told = {one.zone for one in prescription.water_zones}
    assert told == {one.number for one in prescription.zones} - kept
    nearest = min(by_name(one)["storm-reach"].value for one in prescription.water_zones)
    assert nearest == pytest.approx(20.0, abs=0.2)


def test_the_distance_is_to_where_product_lies(ground):
    """Thrown 30 ft over ground that is not driven, it lies 20 ft from the stream."""
    ground.change(
        ("max_rate = 400", "max_rate = 400\nswath = 60"),
        (GRADE, f'{GRADE}\n[application]\nmethod = "broadcast"'),
    )
    water(ground, [shapely.LineString([(-10.0, 240.0), (490.0, 240.0)])])

    prescription, _ = job.run(ground.write())

    rates = {one.number: one.rate for one in prescription.zones}
    told = {
        one.zone: by_name(one)["storm-reach"].value for one in prescription.water_zones
    }
    nearest = min(far for zone, far in told.items() if rates[zone] > 0.0)
    assert nearest == pytest.approx(20.0, abs=0.2)


def test_a_well_is_no_way_for_runoff(ground):
    """A well keeps its distance, and does not stand against a zone for storms."""
    water(ground, [shapely.Point(600.0, 240.0)], kind="well")

    prescription, _ = job.run(ground.write())

    for one in prescription.water_zones:
        assert by_name(one)["storm-reach"].stands == "not known"


def test_broadcast_near_water_is_said(ground):
    """What is broadcast within the reach of storms is said with the placement."""
    ground.change((GRADE, f'{GRADE}\n[application]\nmethod = "broadcast"'))
    water(ground, [shapely.LineString([(500.0, 0.0), (500.0, 480.0)])])

    prescription, _ = job.run(ground.write())

    found = [one for one in prescription.findings if one.code == "on-top-near-water"]
    assert found
    rates = {one.number: one.rate for one in prescription.zones}
    for one in found:
        assert rates[one.zone] > 0.0
        assert one.value <= one.bound
        assert one.message.endswith("work it in within a day")


@pytest.mark.parametrize(
    ("units", "erosion"),
    # 3 ton/ac are 3 x 907.185 kg on 0.404686 ha, 6.725 t/ha.
    [("us", 3.0), ("metric", 6.725)],
)
def test_manure_screen(units, erosion, ground):
    """Poor zones by a stream, Bray P1 to 21 ppm: manure by the need of nitrogen."""
    ground.change(
        ('method = "mehlich-3-icp"', 'method = "bray-p1"'),
        ('guideline = "tri-state-2020"', 'guideline = "tri-state-1995"'),
        (
            "[machine]",
            '[accept]\nguideline-superseded = "a test"\n\n[machine]',
        ),
    )
    if units == "metric":
        ground.change(
            ('units = "us"', 'units = "metric"'),
            ("depth = 8", "depth = 20.32"),
            ("yield_goal = 200", "yield_goal = 12"),
            ("yield_goal = 60", "yield_goal = 4"),
        )
    screen = f"manure_screen = {{ erosion = {erosion}, filter_strip = false }}"
    water(ground, [shapely.LineString([(500.0, 0.0), (500.0, 480.0)])], tables=screen)

    prescription, _ = job.run(ground.write())

    found = {
        one.zone: one.message.partition(": ")[2]
        for one in prescription.findings
        if one.code == "manure-screen"
    }
    told = {one.zone: by_name(one) for one in prescription.water_zones}
    assert set(found) == set(told)
    feet = 1.0 if units == "us" else 0.3048
    for number, facts in told.items():
        near = facts["storm-reach"].value < 300.0 * feet
        test = facts["over-need"].value
        if test <= 21.0 or not near:
            assert found[number] == "manure by the crop's need of nitrogen (read)"
        else:
            assert found[number] == "manure by what the crop removes of P2O5 (read)"
    assert len(set(found.values())) == 2


def test_manure_screen_needs_water(ground):
    """Without surface water there is no distance to screen by."""
    ground.change(
        (
            "[machine]",
            "[water]\nmanure_screen = { erosion = 1, filter_strip = true }\n[machine]",
        )
    )

    with pytest.raises(InputError, match=r"^water\.manure_screen: needs a distance"):
        job.run(ground.write())


def test_heights_that_end_in_the_field(ground):
    """A zone that the raster covers by less than half has no slope, and says so."""
    heights(ground, rise=0.06)
    with rasterio.open(ground.folder / "heights.tif", "r+") as to:
        values = to.read(1)
        values[:, 30:] = np.nan  # from 100 m east on
        to.write(values, 1)
    ground.change(
        ("[machine]", '[zones]\nby = "grid"\nside = 787.4\n\n[machine]'),
        ("[machine]", '[water]\nelevation = "heights.tif"\n[machine]'),
    )

    prescription, _ = job.run(ground.write())

    missing = {
        one.zone for one in prescription.findings if one.code == "slope-not-covered"
    }
    assert missing
    for one in prescription.water_zones:
        slope = by_name(one)["slope"]
        assert (slope.stands == "not known") == (one.zone in missing)
