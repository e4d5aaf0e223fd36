"""What matters for water in each zone, from the field file to record and terminal."""

import io
import json

import pytest

from vrp import job
from vrp.report import terminal

GRADE = 'grade = "11-52-0"'


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
