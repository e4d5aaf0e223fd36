"""Cautions of a built field: in the prescription, the record and the terminal."""

import io
import json

import jsonschema

from vrp import job
from vrp.io import record
from vrp.report.summary import summary


def test_record_and_terminal_hold_them(ground):
    """The record has text and source of each; the terminal its few words."""
    prescription, out = job.run(ground.write())
    kept = json.loads((out / "record.json").read_text("utf-8"))
    jsonschema.validate(kept, record.schema())
    found = prescription.cautions
    assert [one["text"] for one in kept["cautions"]] == [one.text for one in found]
    assert all(one["source"]["where"] for one in kept["cautions"])
    file = io.StringIO()
    summary(prescription, file=file)
    text = " ".join(file.getvalue().split())
    for one in found:
        if one.code != "draft":
            assert " ".join(one.short.split()[:3]) in text
    assert "A draft for a qualified person to check." in text


def test_triggers_come_from_the_plan(ground):
    """11-52-0 broadcast on sand, with a spreader and no rules, in several zones."""
    ground.change(
        ("year = 2027", 'year = 2027\ntexture = "sandy"'),
        ("[machine]", '[application]\nmethod = "broadcast"\n[machine]'),
    )
    prescription, _ = job.run(ground.write())
    codes = {one.code for one in prescription.cautions}
    assert codes >= {
        "carried-nitrogen",
        "on-the-surface",
        "light-soil",
        "calibrate",
        "rate-change",
        "rules-not-named",
        "over-limit",
        "response",
        "forecast-band",
    }
    assert not codes & {"placement-not-told", "manure", "liquid-safety", "unit"}
    most = max(zone.nitrogen for zone in prescription.zones)
    (nitrogen,) = (
        one for one in prescription.cautions if one.code == "carried-nitrogen"
    )
    assert f"{most:.0f} lb/ac of N" in nitrogen.text


def test_rules_that_are_named_are_not_asked_for(ground):
    """With rules under [water] nobody is told to look for them."""
    ground.change(("[machine]", '[water]\nrules = "maryland-2012"\n[machine]'))
    prescription, _ = job.run(ground.write())
    assert "rules-not-named" not in {one.code for one in prescription.cautions}
