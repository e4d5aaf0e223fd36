"""Whether a rule on water bears on an application."""

from dataclasses import replace

import pytest

from vrp.agronomy.water import rule_set
from vrp.agronomy.water_bearing import Bearing, Spread, bearing

ERIE = rule_set("ohio-western-lake-erie")
FROZEN, SATURATED = (one for one in ERIE.ground if "fertilizer" in one.materials)
(FORECAST,) = (one for one in ERIE.rain if "fertilizer" in one.materials)
(TILLED,) = rule_set("maryland-2012").placement


def spread(**told):
    """Return granular fertilizer, broadcast on bare ground, but for what is told."""
    base = {"form": "granular", "method": "broadcast", "growing_crop": False}
    return Spread(**{"material": "fertilizer", **base, **told})


def test_broadcast_on_bare_ground_is_bound():
    """ANR-0156: fertilizer may not be surface-applied on frozen soil."""
    assert bearing(FROZEN, spread()) == Bearing(True)


@pytest.mark.parametrize(
    ("told", "why"),
    [
        ({"material": "manure"}, "it is for fertilizer"),
        ({"method": "deep-band"}, "it is placed in the soil"),
        (
            {"method": "incorporated", "worked_in": 24.0},
            "it is worked in within 24 hours",
        ),
        ({"growing_crop": True}, "it goes onto a growing crop"),
    ],
)
def test_exemptions_of_lake_erie(told, why):
    """ANR-0156 exempts the injected, worked in within 24 hours, or on a crop."""
    for rule in (FROZEN, SATURATED, FORECAST):
        assert bearing(rule, spread(**told)) == Bearing(False, why)


def test_a_liquid_is_free_of_the_forecast_alone():
    """The forecast is for the granular form; frozen soil is for any form."""
    assert bearing(FORECAST, spread(form="liquid")).why == (
        "it is for granular fertilizer"
    )
    assert bearing(FROZEN, spread(form="liquid")).binds


def test_later_than_24_hours_is_bound():
    """Worked in after 24.1 hours is not within 24 hours."""
    late = spread(method="incorporated", worked_in=24.1)
    assert bearing(FROZEN, late) == Bearing(True)


def test_what_was_not_told_binds_and_is_named():
    """Nobody told the hours or whether a crop grows: bound, unless either frees it."""
    open_case = spread(method="incorporated", growing_crop=None)
    assert bearing(FROZEN, open_case) == Bearing(
        True,
        "",
        ("it is worked in within 24 hours", "it goes onto a growing crop"),
    )
    untold = spread(method=None, form=None)
    assert bearing(FORECAST, untold).unless == (
        "it is not granular",
        "it is worked in within 24 hours",
        "it is placed in the soil",
    )


def test_a_rule_on_tilled_ground_leaves_no_till_free():
    """Maryland's 48 hours are for those who till their soil."""
    manure = spread(material="manure")
    assert bearing(TILLED, spread(material="manure", tillage="tilled")).binds
    free = bearing(TILLED, spread(material="manure", tillage="no-till"))
    assert free == Bearing(False, "the ground is in no-till")
    assert bearing(TILLED, manure).unless == ("the ground is not tilled",)


def test_a_rule_for_what_is_injected_frees_what_is_worked_in_untold_when():
    """Worked in soon or late, it is not placed in the soil: both are named."""
    rule = replace(FROZEN, lies=("in-soil",))
    held = bearing(rule, spread(method="incorporated"))
    assert held.why == "it is worked in within 24 hours or it is spread on the surface"
    assert not held.binds
