"""Findings on what the crops leave."""

from math import inf

import pytest

from vrp.agronomy import balance_checks as doubts


def below(soil_test, *middles, critical=20.0):
    seasons = [(f"crop {number}", one) for number, one in enumerate(middles, start=1)]
    return doubts.runs_below(soil_test, seasons, critical=critical, unit="ppm", zone=3)


def test_runs_below_critical():
    """From 21 to 20.4, then 19.8 ppm: below the critical 20 after the second season."""
    (found,) = below(21.0, 20.4, 19.8)
    assert (found.code, found.severity, found.zone) == (
        "runs-below-critical",
        "warn",
        3,
    )
    assert (found.value, found.bound) == (19.8, 20.0)
    assert "after season 2, crop 2" in found.message


@pytest.mark.parametrize(
    "case", [(21.0, 20.0), (19.0, 18.0), (30.0, 25.0), (21.0, None)]
)
def test_stays(case):
    """At critical, poor already, rich enough or without a forecast: no finding."""
    assert below(*case) == ()


@pytest.mark.parametrize(
    ("soil_test", "balance", "count"),
    [(19.9, -0.1, 1), (19.9, 0.0, 0), (20.0, -50.0, 0), (10.0, None, 0)],
)
def test_draws_down(soil_test, balance, count):
    """Only a poor zone that gives more than it gets is noted."""
    found = doubts.draws_down(soil_test, balance, critical=20.0, unit="lb/ac", zone=1)
    assert len(found) == count


def test_missing_removal_names_sets():
    """Where nothing is printed, the sets that have the crop are named."""
    found = doubts.no_removal("corn-grain", season=2, guideline="ontario-811")
    assert "season[2]: ontario-811 prints no removal for corn-grain" in found.message
    assert "illinois-2019" in found.message
    unknown = doubts.no_removal("teff", season=1, guideline="own")
    assert unknown.message.endswith("none that ships")


def test_history():
    """Own figures are said with their ends; a slope of the wrong sign is said too."""
    used = doubts.own_history(
        "build-up", 2, (33.3, 20.0, inf), unit="lb/ac", test="ppm"
    )
    assert (
        "by 2 changes of the field's own test 33 lb/ac of P2O5 raise it by 1 ppm"
        in (used.message)
    )
    assert "(20 to no amount)" in used.message
    aside = doubts.own_history("build-up", 1, None, unit="lb/ac", test="ppm")
    assert (aside.code, aside.severity) == ("history-set-aside", "note")
    assert "shows no build-up" in aside.message
