"""Rules on water from the field file to findings, machine files and record."""

import pytest

from vrp import job
from vrp.errors import InputError
from vrp.io import record
from vrp.io.verify import verify

LIMIT = """
id = "mine"
title = "An invented code"
publisher = "Nobody"
read_on = 2026-11-25
standing = "law"
place = "nowhere"

[[soil_test]]
text = "nothing from 30 ppm on"
materials = ["fertilizer"]
does = "forbids"
methods = ["mehlich-3-icp"]
limit = { at_least = 30, unit = "ppm" }
source = { status = "read", where = "page 3" }

[[cap]]
text = "no more than 60 in a year"
materials = ["fertilizer"]
does = "asks"
crops = ["corn-grain"]
methods = ["mehlich-3-icp"]
test_unit = "ppm"
words = ["all"]
uppers = []
values = [60]
unit = "lb P2O5/ac"
source = { status = "read", where = "page 4" }
"""


def build(ground, rules, *, accept=""):
    """Build with rules of the test's own."""
    (ground.folder / "mine.toml").write_text(rules, "utf-8")
    table = f'[water]\nrules = "mine.toml"\n{accept}[machine]'
    ground.change(("[machine]", table))
    return job.run(ground.write())


def test_a_limit_holds_the_machine_files_back(ground):
    """Each zone with product at 30 ppm or more is a stop, and no other."""
    prescription, out = build(ground, LIMIT)
    rich = {
        zone.number
        for zone in prescription.zones
        if zone.soil_test >= 30.0 and zone.rate > 0.0
    }
    found = [one for one in prescription.findings if one.code == "rule-soil-test"]
    assert rich
    assert {one.zone for one in found} == rich
    assert {(one.severity, one.bound, one.unit) for one in found} == {
        ("stop", 30.0, "ppm")
    }
    assert prescription.held_back
    assert not (out / "machine").exists()
    for zone in prescription.zones:
        assert ("rule-soil-test" in zone.note.split()) == (zone.number in rich)


def test_a_person_may_take_it_on(ground):
    """With a reason under [accept] the machine files are written."""
    accept = '[accept]\nrule-soil-test = "the district agreed"\n'
    prescription, out = build(ground, LIMIT, accept=accept)
    found = [one for one in prescription.findings if one.code == "rule-soil-test"]
    assert {one.accepted for one in found} == {"the district agreed"}
    assert (out / "machine").exists()


def test_a_cap_makes_no_rate(ground):
    """A cap warns where more is spread; the rates are those without it."""
    plain, _ = job.run(ground.write())
    prescription, _ = build(ground, LIMIT)
    assert [one.rate for one in prescription.zones] == [one.rate for one in plain.zones]
    found = [one for one in prescription.findings if one.code == "rule-most-p2o5"]
    assert {one.severity for one in found} == {"warn"}
    assert {one.zone for one in found} == {
        zone.number for zone in plain.zones if zone.applied > 60.0
    }


def test_rules_for_manure_do_not_bind_fertilizer(ground):
    """The same limit for manure says nothing of fertilizer."""
    rules = LIMIT.replace('materials = ["fertilizer"]', 'materials = ["manure"]')
    prescription, _ = build(ground, rules)
    assert not [one for one in prescription.findings if one.code.startswith("rule-")]


def test_rules_that_are_named_twice_are_refused(ground):
    """The same set twice would say everything twice."""
    named = '[water]\nrules = ["maryland-2012", "maryland-2012"]\n[machine]'
    ground.change(("[machine]", named))
    with pytest.raises(InputError, match="maryland-2012 stands twice"):
        job.run(ground.write())


def test_rules_that_do_not_ship_are_refused(ground):
    """A slip in the id is answered with the nearest."""
    ground.change(("[machine]", '[water]\nrules = "maryland-2021"\n[machine]'))
    with pytest.raises(InputError, match="did you mean 'maryland-2012'"):
        job.run(ground.write())


def test_rules_and_cautions_read_back_as_they_were(ground):
    """The record gives the same rules and cautions again, and verify agrees."""
    table = '[water]\nrules = ["northern-ireland-2019", "maryland-2012"]\n[machine]'
    ground.change(("[machine]", table))
    prescription, out = job.run(ground.write())
    kept = record.read(out)
    assert [one.id for one in kept.rules] == ["northern-ireland-2019", "maryland-2012"]
    assert kept.rules == prescription.rules
    assert kept.cautions == prescription.cautions
    assert not verify(out).faults
