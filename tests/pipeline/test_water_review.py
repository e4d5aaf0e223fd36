"""What matters for water in each zone, from the field file to record and terminal."""

import io
import json

import numpy as np
import pytest
import rasterio
from rasterio import Affine

from vrp import job
from vrp.report import terminal

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

    terminal.summary(prescription, file=file)

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
    terminal.summary(prescription, file=file)
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
