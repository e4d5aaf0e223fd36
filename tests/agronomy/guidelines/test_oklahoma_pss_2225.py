"""
Its points for small grains against the one example that was read.

"OSU Soil Test Interpretations", PSS-2225, Oklahoma State University Extension,
https://extension.okstate.edu/fact-sheets/osu-soil-test-interpretations.html, and fact
sheet PSS-2281 of the same publisher.
"""

import pytest

from vrp.agronomy.guidelines import settled, shipped
from vrp.agronomy.need import Season, figures, ledger, need_curve
from vrp.agronomy.plan_checks import own_laboratory, ph_rules
from vrp.errors import GuidelineError

PRINTED = settled(shipped()["oklahoma-pss-2225"], method="mehlich-3-icp")
WHEAT = Season("wheat", 60.0, "bu/ac")


def need(goal=60.0):
    season = Season("wheat", goal, "bu/ac")
    return need_curve(PRINTED, [season], pool=False, build_up=True)


def test_index_of_30():
    """An index of 30 lb/ac, 15 ppm, asks for 30 lb (PSS-2281, read)."""
    assert need().in_unit(30.0) == pytest.approx(30.0)
    assert need().soil_test_unit == "lb/ac"


@pytest.mark.parametrize(
    ("soil_test", "pounds"),
    [(0, 80), (5, 70), (10, 60), (15, 50), (20, 40), (40, 20), (52.5, 10), (65, 0)],
)
def test_points(soil_test, pounds):
    """From memory: 80, 60, 40, 20 and 0 lb at 0, 10, 20, 40 and 65 lb/ac."""
    assert need().in_unit(float(soil_test)) == pytest.approx(pounds)


def test_critical():
    """From 65 lb/ac on nothing is needed, and a place is not short (read)."""
    assert (need().critical, need().no_need_above) == (65.0, 65.0)
    assert need().critical_source.status == "read"
    assert need().in_unit([65.0, 200.0]).tolist() == [0.0, 0.0]


def test_whatever_the_yield():
    """Sufficiency: the yield goal changes nothing."""
    assert need(goal=100.0).in_unit(12.0) == need().in_unit(12.0)


def test_ledger():
    """The points on both sides and the line between them."""
    lines = ledger(PRINTED, [WHEAT, WHEAT], 30.0, pool=True, build_up=True)
    rich = ledger(PRINTED, [WHEAT], 70.0, pool=False, build_up=True)

    assert [(line.step, line.arithmetic) for line in lines] == [
        ("printed points", "soil test 20: 40; soil test 40: 20"),
        ("later season", "wheat: not added"),
        ("need at the zone's test", "40 − (30 − 20) × (40 − 20) / (40 − 20) = 30.0"),
    ]
    assert [line.arithmetic for line in rich] == ["70 ≥ 65", "0"]


def test_not_parted():
    """A printed rate has no build-up to leave out."""
    with pytest.raises(GuidelineError, match="does not call build-up optional"):
        need_curve(PRINTED, [WHEAT], pool=False, build_up=False)


def test_own_laboratory():
    """The tables are for the publisher's own laboratory's results only (read)."""
    (found,) = own_laboratory(PRINTED, place="oklahoma-pss-2225")

    assert (found.severity, found.code) == ("warn", "guideline-own-laboratory")
    assert "own laboratory only" in found.message


@pytest.mark.parametrize(("ph", "many"), [([5.5, 7.0], 0), ([5.49, 5.6, 5.0], 2)])
def test_low_ph(ph, many):
    """Wheat below pH 5.5: 30 lb more, banded, where lime is not applied (read)."""
    found = ph_rules(PRINTED, "wheat", ph, word="any", zone=3)

    assert [one.value for one in found] == ([5.0] if many else [])
    for one in found:
        assert one.message == (
            "zone 3: 2 of 3 samples have a pH below 5.5: the guideline gives wheat 30 "
            "lb P2O5/ac more, banded with the seed, where lime is not applied; no rate "
            "here holds it"
        )


def test_status():
    """The row is from memory; depth and critical level were read."""
    assert {one.name: one.source.status for one in figures(PRINTED, [WHEAT])} == {
        "critical level": "read",
        "wheat, points": "from-memory",
        "between points": "agrees",
        "depth": "read",
    }
    assert (PRINTED.state, str(PRINTED.soil_test.depth)) == ("current", "6 in")
