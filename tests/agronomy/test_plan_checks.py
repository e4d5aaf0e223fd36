"""Checks of a guideline's use and of zones, on both sides of each limit."""

from dataclasses import replace

import pytest

from vrp.agronomy.guidelines import shipped
from vrp.agronomy.need import Season, figures
from vrp.agronomy.plan_checks import (
    figures_status,
    map_mean,
    mixed_classes,
    superseded,
    yield_goal,
)

TRI_STATE, ONTARIO = shipped()["tri-state-2020"], shipped()["ontario-811"]
CORN = Season("corn-grain", 200.0, "bu/ac")


@pytest.mark.parametrize(
    ("goal", "unit", "bound"),
    [
        (59.9, "bu/ac", 60.0),
        (60.0, "bu/ac", None),
        (320.0, "bu/ac", None),
        (320.1, "bu/ac", 320.0),
        (12.5, "t/ha", None),
        (125.0, "t/ha", 320.0),
    ],
)
def test_yield_goal(goal, unit, bound):
    """A goal outside the crop's plausible range warns, in the guideline's unit."""
    found = yield_goal(TRI_STATE, Season("corn-grain", goal, unit), place="season 1")

    assert [one.bound for one in found] == ([] if bound is None else [bound])
    assert all(one.severity == "warn" and one.unit == "bu/ac" for one in found)


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
