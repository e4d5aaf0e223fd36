"""Checks of a guideline's use and of zones, on both sides of each limit."""

from dataclasses import astuple, replace

import pytest

from vrp.agronomy.guidelines import shipped
from vrp.agronomy.need import Season, figures
from vrp.agronomy.plan_checks import (
    figures_status,
    map_mean,
    mixed_classes,
    own_laboratory,
    ph_rules,
    superseded,
    yield_goal,
)

TRI_STATE, ONTARIO = shipped()["tri-state-2020"], shipped()["ontario-811"]
IRELAND, OKLAHOMA = shipped()["ireland-2016"], shipped()["oklahoma-pss-2225"]
CORN = Season("corn-grain", 200.0, "bu/ac")
NAN = float("nan")


def whole(found):
    """Return all of a finding but its remedy, which is its code's."""
    return [astuple(one)[:8] for one in found]


@pytest.mark.parametrize(
    ("goal", "unit", "bound", "severity"),
    [
        (59.9, "bu/ac", 60.0, "warn"),
        (60.0, "bu/ac", None, None),
        (320.0, "bu/ac", None, None),
        (320.1, "bu/ac", 320.0, "warn"),
        # 1.5 × 320.
        (480.0, "bu/ac", 320.0, "warn"),
        (480.1, "bu/ac", 320.0, "stop"),
        (12.5, "t/ha", None, None),
        (125.0, "t/ha", 320.0, "stop"),
    ],
)
def test_yield_goal(goal, unit, bound, severity):
    """A goal outside the plausible range warns; far above it stops."""
    found = yield_goal(TRI_STATE, Season("corn-grain", goal, unit), place="season 1")

    assert [one.bound for one in found] == ([] if bound is None else [bound])
    assert all(one.severity == severity and one.unit == "bu/ac" for one in found)


def test_figures_status():
    """Figures from memory and figures that only agree are counted and named."""
    used = figures(TRI_STATE, [CORN])

    (found,) = figures_status(used, guideline="tri-state-2020", confirmed=False)

    assert found.message == (
        "tri-state-2020: of 5 figures used, 1 from memory (depth) and 3 that only "
        "agree with something printed (limit; build-up; corn-grain, removal) were not "
        "read in print"
    )
    assert (found.severity, found.value) == ("warn", 4.0)


def test_figures_status_is_cleared():
    """A person's comparison with print clears it; so does having read everything."""
    used = figures(TRI_STATE, [CORN])
    read = [one for one in used if one.source.status == "read"]

    assert figures_status(used, guideline="tri-state-2020", confirmed=True) == ()
    assert figures_status(read, guideline="tri-state-2020", confirmed=False) == ()


def test_our_choices_need_no_print():
    """Our own choices are not in print and raise nothing here."""
    used = figures(ONTARIO, [CORN])
    chosen = [one for one in used if one.source.status == "our-choice"]

    assert chosen
    assert figures_status(chosen, guideline="ontario-811", confirmed=False) == ()


def test_superseded():
    """A superseded guideline stops, a current one does not."""
    old = replace(TRI_STATE, state="superseded")

    assert superseded(TRI_STATE, place="tri-state-2020") == ()
    (found,) = superseded(old, place="mine.toml")
    assert (found.severity, found.code) == ("stop", "guideline-superseded")


@pytest.mark.parametrize(
    ("samples", "expected"),
    [
        ([], []),
        (["low", "low"], []),
        (["low", "low", "low", "high"], []),
        (["low", "low", "high"], ["note"]),
        (["low", "high"], ["warn"]),
        (["high", "high", "low"], ["warn"]),
    ],
)
def test_mixed_classes(samples, expected):
    """More than a quarter of another class is noted; from half on it warns."""
    found = mixed_classes(samples, "low", zone=4)

    assert [one.severity for one in found] == expected
    assert all((one.zone, one.place) == (4, "zone 4") for one in found)


@pytest.mark.parametrize(
    ("surface", "expected"), [(22.0, 0), (22.01, 1), (18.0, 0), (17.99, 1), (20.0, 0)]
)
def test_map_mean(surface, expected):
    """A map whose mean is more than 10 % off the samples' warns."""
    found = map_mean(surface, 20.0, unit="ppm", place="samples.csv")

    assert len(found) == expected
    assert all((one.value, one.bound) == (surface, 20.0) for one in found)


@pytest.mark.parametrize(
    ("goal", "severity", "value", "bound", "said"),
    [
        ((59.98765, "bu/ac"), "warn", 59.988, 60.0, "59.988"),
        ((400.0, "bu/ac"), "warn", 400.0, 320.0, "400"),
        # 125,000 kg / (56 × 0.45359237 kg) × 0.40468564 ha = 1991.471 bu/ac.
        ((125.0, "t/ha"), "stop", 1991.471, 320.0, "1991.5"),
    ],
)
def test_yield_goal_is_told(goal, severity, value, bound, said):
    """The goal and the plausible range stand in the guideline's unit."""
    found = yield_goal(TRI_STATE, Season("corn-grain", *goal), place="season[1]")

    assert whole(found) == [
        (
            "yield-goal-unusual",
            severity,
            "season[1]",
            None,
            value,
            "bu/ac",
            bound,
            f"season[1]: yield goal of {said} bu/ac for corn-grain is outside the "
            "plausible 60 to 320 bu/ac",
        )
    ]


@pytest.mark.parametrize(
    ("statuses", "many", "said"),
    [
        (
            {"from-memory", "read"},
            1.0,
            "of 2 figures used, 1 from memory (depth) was not read in print",
        ),
        (
            {"agrees", "read"},
            3.0,
            "of 4 figures used, 3 that only agree with something printed (limit; "
            "build-up; corn-grain, removal) were not read in print",
        ),
    ],
)
def test_figures_status_is_told(statuses, many, said):
    """Either kind alone is named alone, and counted among all that are used."""
    used = [one for one in figures(TRI_STATE, [CORN]) if one.source.status in statuses]

    found = figures_status(used, guideline="tri-state-2020", confirmed=False)

    assert whole(found) == [
        (
            "guideline-unconfirmed",
            "warn",
            "tri-state-2020",
            None,
            many,
            "figures",
            0.0,
            f"tri-state-2020: {said}",
        )
    ]


def test_superseded_is_told():
    """Title and year of the edition stand in the message."""
    found = superseded(shipped()["tri-state-1995"], place="tri-state-1995")

    assert whole(found) == [
        (
            "guideline-superseded",
            "stop",
            "tri-state-1995",
            None,
            None,
            "",
            None,
            "tri-state-1995: 'Tri-State Fertilizer Recommendations for Corn, Soybeans, "
            "Wheat and Alfalfa', 1995, was superseded",
        )
    ]


def test_own_laboratory_is_told():
    """Oklahoma's tables are for the university's own laboratory (PSS-2225)."""
    assert own_laboratory(TRI_STATE, place="tri-state-2020") == ()
    assert whole(own_laboratory(OKLAHOMA, place="oklahoma-pss-2225")) == [
        (
            "guideline-own-laboratory",
            "warn",
            "oklahoma-pss-2225",
            None,
            None,
            "",
            None,
            "oklahoma-pss-2225: the tables are for results of the university's own "
            "laboratory only (PSS-2225, "
            "https://extension.okstate.edu/fact-sheets/osu-soil-test-interpretations"
            ".html)",
        )
    ]


@pytest.mark.parametrize(
    ("guideline", "crop", "ph", "value", "bound", "said"),
    [
        (
            OKLAHOMA,
            "wheat",
            [5.4, 5.5, NAN, 5.1],
            5.1,
            5.5,
            "2 of 4 samples have a pH below 5.5: the guideline gives wheat 30 lb "
            "P2O5/ac "
            "more, banded with the seed, where lime is not applied",
        ),
        (
            IRELAND,
            "winter-barley",
            [6.9, 7.0, 7.6],
            7.6,
            7.0,
            "2 of 3 samples have a pH of 7.0 or more: the guideline gives "
            "winter-barley "
            "20 kg P/ha, although the Index asks for none",
        ),
    ],
)
def test_ph_rule_is_told(guideline, crop, *, ph, value, bound, said):
    """A rule by pH is told with the samples that bring it in, the furthest first."""
    assert whole(ph_rules(guideline, crop, ph, word="Index 4", zone=2)) == [
        (
            "guideline-ph-rule",
            "note",
            "zone 2",
            2,
            value,
            "pH",
            bound,
            f"zone 2: {said}; no rate here holds it",
        )
    ]


@pytest.mark.parametrize(
    ("guideline", "crop", "ph", "word"),
    [
        (OKLAHOMA, "wheat", [5.5, 7.0], "0 to 10 lb/ac"),
        (OKLAHOMA, "wheat", [NAN], "0 to 10 lb/ac"),
        (OKLAHOMA, "wheat", [], "0 to 10 lb/ac"),
        (IRELAND, "winter-wheat", [6.99], "Index 4"),
        (IRELAND, "winter-wheat", [7.6], "Index 3"),
        (IRELAND, "potatoes", [7.6], "Index 4"),
        (TRI_STATE, "wheat", [5.0, 8.0], "below critical"),
    ],
)
def test_no_ph_rule(guideline, crop, ph, word):
    """Another pH, class, crop or guideline brings no rule in."""
    assert ph_rules(guideline, crop, ph, word=word, zone=1) == ()


def test_each_ph_rule_is_told():
    """A rule that does not hold hides none behind it."""
    (rule,) = IRELAND.ph_rule
    other = replace(rule, crops=("winter-barley",))
    both = replace(IRELAND, ph_rule=(other, rule))

    found = ph_rules(both, "winter-wheat", [7.0], word="Index 4", zone=1)

    assert [one.value for one in found] == [7.0]


@pytest.mark.parametrize(
    ("samples", "severity", "value", "said"),
    [
        # 1 / 3 = 33.3 %
        (["low", "low", "high"], "note", 33.3, "1 of 3 samples (33 %)"),
        (["low", "high"], "warn", 50.0, "1 of 2 samples (50 %)"),
        (["high", "optimum", "low"], "warn", 66.7, "2 of 3 samples (67 %)"),
        (["high"], "warn", 100.0, "1 of 1 samples (100 %)"),
    ],
)
def test_mixed_classes_are_told(samples, severity, value, said):
    """How many samples are of another class, and of which the zone is."""
    assert whole(mixed_classes(samples, "low", zone=4)) == [
        (
            "zone-of-mixed-classes",
            severity,
            "zone 4",
            4,
            value,
            "%",
            50.0,
            f"zone 4: {said} are not 'low' as the zone is",
        )
    ]


@pytest.mark.parametrize(
    ("surface", "samples", "value", "bound", "said"),
    [
        (
            25.4567,
            20.1234,
            25.46,
            20.12,
            "25.5 ppm is more than 10 % from the samples' mean of 20.1 ppm",
        ),
        # 10 % of 25.5 are 2.55, and 2.6 is more.
        (
            28.1,
            25.5,
            28.1,
            25.5,
            "28.1 ppm is more than 10 % from the samples' mean of 25.5 ppm",
        ),
        (
            15.0,
            20.0,
            15.0,
            20.0,
            "15 ppm is more than 10 % from the samples' mean of 20 ppm",
        ),
    ],
)
def test_map_mean_is_told(surface, samples, value, bound, said):
    """Both means and the limit stand in the message."""
    found = map_mean(surface, samples, unit="ppm", place="samples.csv")

    assert whole(found) == [
        (
            "map-mean",
            "warn",
            "samples.csv",
            None,
            value,
            "ppm",
            bound,
            f"samples.csv: the map's mean of {said}",
        )
    ]
