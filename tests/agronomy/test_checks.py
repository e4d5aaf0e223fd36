"""The register of findings."""

from typing import get_args

import pytest

from vrp.agronomy.checks import checks, finding
from vrp.errors import GuidelineError
from vrp.evidence import Severity

STOPS = {
    "need-beyond-sense",
    "soil-test-method",
    "soil-test-column-name",
    "soil-test-column-contradicts",
    "looks-like-p-index",
    "guideline-superseded",
    "seed-row-limit",
}


def test_every_check_is_explained():
    """Each code has a severity, a source, a meaning and a remedy of its own."""
    found = checks()

    assert all(code == one.code for code, one in found.items())
    assert {one.severity for one in found.values()} == set(get_args(Severity))
    assert all(
        one.source.where and one.meaning and one.remedy for one in found.values()
    )
    assert len({one.meaning for one in found.values()}) == len(found)


def test_stops_are_rare():
    """Only what would be wrong to spread holds the machine files back."""
    always = {code for code, one in checks().items() if one.severity == "stop"}
    beyond = {
        code
        for code, one in checks().items()
        if one.beyond is not None and one.beyond.severity == "stop"
    }

    assert always == STOPS
    assert beyond == {
        "bray-p1-high-ph",
        "repeated-positions",
        "rule-most-p2o5",
        "rule-placement",
        "rule-season",
        "rule-soil-test",
        "sampling-depth",
        "setback-below-rule",
        "soil-test-converted",
        "soil-test-outlier",
        "yield-goal-unusual",
    }


def test_finding():
    """A finding takes severity and remedy from its code, unless told otherwise."""
    found = finding("zone-narrow", place="zone 2", message="zone 2: narrow", zone=2)

    assert (found.code, found.severity, found.zone) == ("zone-narrow", "note", 2)
    assert found.remedy == checks()["zone-narrow"].remedy
    assert found.accepted is None
    worse = finding("zone-narrow", place="zone 2", message="", severity="warn")
    assert worse.severity == "warn"


def test_unknown_code():
    """A code that is not in the register is a defect of ours."""
    with pytest.raises(KeyError, match="zone-thin"):
        finding("zone-thin", place="field", message="")


def test_limits():
    """A limit is in the plan's units where it differs by them."""
    sparse = checks()["samples-sparse"]

    assert (sparse.at("us").value, sparse.at("us").unit) == (3.0, "ac")
    assert (sparse.at("metric").value, sparse.at("metric").unit) == (1.2, "ha")
    assert checks()["samples-old"].at("metric").value == 4.0
    with pytest.raises(GuidelineError, match=r"^checks.toml: zone-narrow: a limit is"):
        checks()["zone-narrow"].at("us")


def test_greater_severity():
    """Where nothing is beyond, the greater severity is the code's own."""
    assert checks()["zone-narrow"].worse() == "note"
    assert checks()["sampling-depth"].worse() == "stop"
    with pytest.raises(GuidelineError) as missing:
        checks()["zone-narrow"].far("us")
    assert str(missing.value) == "checks.toml: zone-narrow: a limit is missing"
