"""Findings on what the crops leave."""

from dataclasses import astuple
from math import inf

import pytest

from vrp.agronomy import balance_checks as doubts


def whole(*found):
    """Return all of a finding but its remedy, which is its code's."""
    return [astuple(one)[:8] for one in found]


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
    short = soil_test < 20.0
    found = doubts.draws_down(
        "below target", balance, short=short, unit="lb/ac", zone=1
    )
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


def test_runs_below_critical_is_told():
    """Test now, the middle then, season, crop and critical level; the first alone."""
    found = below(21.5, None, 19.84, 18.0)

    assert whole(*found) == [
        (
            "runs-below-critical",
            "warn",
            "zone 3",
            3,
            19.84,
            "ppm",
            20.0,
            "zone 3: forecast to fall from 21.5 to 19.84 ppm after season 2, crop 2: "
            "below the critical 20",
        )
    ]


def test_rich_from_the_critical_level_on():
    """A test at critical itself is not poor yet, so its fall is told."""
    assert [one.value for one in below(20.0, 19.9)] == [19.9]


def test_draws_down_is_told():
    """By how much the crops take more than is given stands without a sign."""
    found = doubts.draws_down("below target", -35.5, short=True, unit="kg/ha", zone=2)

    assert whole(*found) == [
        (
            "draws-down",
            "note",
            "zone 2",
            2,
            -35.5,
            "kg/ha",
            0.0,
            "zone 2: below target, and the plan's crops take 35.5 kg/ha of P2O5 more "
            "than it gives",
        )
    ]


@pytest.mark.parametrize(
    ("doubt", "asked", "code", "said"),
    [
        (
            doubts.no_removal,
            {"crop": "teff", "guideline": "own"},
            "balance-absent",
            "own prints no removal for teff, so there is no balance from there on; "
            "sets "
            "that have it: none that ships",
        ),
        (
            doubts.other_removal,
            {"crop": "teff", "chosen": "illinois-2019", "guideline": "own"},
            "removal-not-in-set",
            "illinois-2019 has no removal for teff, so own's stands; sets that have "
            "it: "
            "none that ships",
        ),
        (
            doubts.no_straw,
            {"crop": "wheat"},
            "straw-not-counted",
            "residue of wheat is removed, and the balance counts none of it",
        ),
    ],
)
def test_what_a_season_lacks_is_told(doubt, asked, code, said):
    """Removal, the chosen set's removal, or straw: what is missing and what stands."""
    place = "season[2]"
    assert whole(doubt(season=2, **asked)) == [
        (code, "note", place, None, None, "", None, f"{place}: {said}")
    ]


def test_sets_that_have_the_crop_are_named():
    """Lentils stand in one set, sunflowers in two: those are named with a comma."""
    lentil = doubts.no_removal("lentil", season=1, guideline="own")
    both = doubts.no_removal("sunflower", season=1, guideline="own")
    sunflower = doubts.other_removal(
        "sunflower", season=1, chosen="iowa-stover", guideline="own"
    )

    assert both.message.rpartition("it: ")[2] == sunflower.message.rpartition("it: ")[2]
    assert lentil.message.endswith("; sets that have it: western-canada-2001")
    assert sunflower.message.endswith(
        "; sets that have it: ipni-north-central, western-canada-2001"
    )


def test_no_forecast_is_told():
    """Method and unit without published figures are named."""
    assert whole(doubts.no_forecast("morgan", "mg/L")) == [
        (
            "forecast-absent",
            "note",
            "field",
            None,
            None,
            "",
            None,
            "field: no published figures say how morgan in mg/L moves with the balance",
        )
    ]


@pytest.mark.parametrize(("least", "unit"), [(20.2, "lb/ac"), (22.4, "kg/ha")])
def test_too_little_history_is_told(least, unit):
    """The balance that would speak stands in the message, to the whole pound."""
    place = "balance.history"
    assert whole(doubts.too_little_history(least, unit=unit)) == [
        (
            "history-set-aside",
            "note",
            place,
            None,
            None,
            "",
            None,
            f"{place}: no balance between two tests reaches {least:.0f} {unit} of P2O5 "
            "on either side of 0, so it says nothing of what moves the test",
        )
    ]


@pytest.mark.parametrize(
    ("side", "changes", "amounts", "code", "said"),
    [
        (
            "build-up",
            2,
            (33.3, 20.0, inf),
            "history-used",
            "by 2 changes of the field's own test 33 lb/ac of P2O5 raise it by 1 ppm "
            "(20 to no amount); used for build-up in place of the published figures",
        ),
        (
            "drawdown",
            1,
            (18.6, 12.0, 40.0),
            "history-used",
            "by 1 change of the field's own test 19 lb/ac of P2O5 taken beyond what "
            "was "
            "spread lower it by 1 ppm (12 to 40); used for drawdown in place of the "
            "published figures",
        ),
        (
            "build-up",
            1,
            None,
            "history-set-aside",
            "by 1 change the test fell or stayed though more was spread than taken: "
            "the "
            "field's history shows no build-up",
        ),
        (
            "drawdown",
            3,
            None,
            "history-set-aside",
            "by 3 changes the test rose or stayed though less was spread than taken: "
            "the field's history shows no drawdown",
        ),
    ],
)
def test_history_is_told(side, changes, amounts, code, said):
    """How many changes speak, what they say with both ends, and what becomes of it."""
    found = doubts.own_history(side, changes, amounts, unit="lb/ac", test="ppm")

    place = "balance.history"
    assert whole(found) == [
        (code, "note", place, None, None, "", None, f"{place}: {said}")
    ]
