"""What rules on water forbid when a map is planned, on both sides of each limit."""

from datetime import date

import pytest

from vrp.agronomy import water_checks
from vrp.agronomy.water import rule_set
from vrp.agronomy.water_bearing import Spread

OHIO = (rule_set("ohio-soil-test-risk"),)
WISCONSIN = (rule_set("wisconsin-atcp-51"),)
ULSTER = (rule_set("northern-ireland-2019"),)
MARYLAND = (rule_set("maryland-2012"),)
FERTILIZER = Spread(material="fertilizer", form="granular", method="broadcast")
MANURE = Spread(material="manure", method="broadcast")


def limits_of(rules, value, *, method="mehlich-3-icp", unit="ppm", applied=40.0):
    """Return severity and bound of what a zone's soil test brings up."""
    found = water_checks.soil_test(
        rules,
        FERTILIZER,
        method=method,
        value=value,
        unit=unit,
        applied=applied,
        zone=3,
    )
    return [(one.severity, one.bound) for one in found]


@pytest.mark.parametrize(
    ("value", "found"),
    [
        (50.0, []),
        (50.1, [("warn", 50.0)]),
        (120.0, [("warn", 50.0)]),
        (120.1, [("stop", 120.0), ("warn", 50.0)]),
    ],
)
def test_ohio_limits_of_the_soil_test(value, found):
    """Ohio State University: no need above 50 ppm, no more P above 120 ppm."""
    assert limits_of(OHIO, value) == found


def test_limits_hold_for_their_method():
    """150 ppm is Bray P1's limit; Olsen has none among Ohio's."""
    assert limits_of(OHIO, 150.0, method="bray-p1") == []
    assert limits_of(OHIO, 150.1, method="bray-p1") == [("stop", 150.0)]
    assert limits_of(OHIO, 500.0, method="olsen") == []


def test_pounds_are_half_as_many_ppm():
    """240 lb/ac is 120 ppm, so 241 lb/ac is above the limit and 240 is not."""
    assert limits_of(OHIO, 240.0, unit="lb/ac") == [("warn", 50.0)]
    assert ("stop", 120.0) in limits_of(OHIO, 241.0, unit="lb/ac")


def test_by_volume_is_not_by_mass():
    """A test in mg/L is not held against a limit in ppm."""
    assert limits_of(OHIO, 500.0, unit="mg/L") == []


def test_nothing_is_forbidden_where_nothing_is_spread():
    """A rich zone with a rate of 0 breaks no rule."""
    assert limits_of(OHIO, 500.0, applied=0.0) == []


def test_wisconsin_asks_not_to_build_past_50_ppm():
    """ATCP 51: avoid to build past 30 to 50 ppm by Bray P1; a warning, no stop."""
    assert limits_of(WISCONSIN, 50.0, method="bray-p1") == []
    assert limits_of(WISCONSIN, 50.5, method="bray-p1") == [("warn", 50.0)]


def capped(value, applied, *, crop="grass-establishment", rate_unit="kg/ha"):
    """Return bound of what the Northern Irish cap brings up."""
    found = water_checks.most_p2o5(
        ULSTER,
        FERTILIZER,
        crop=crop,
        method="olsen",
        value=value,
        unit="mg/L",
        applied=applied,
        rate_unit=rate_unit,
        zone=1,
    )
    assert all(one.severity == "stop" for one in found)
    return [one.bound for one in found]


@pytest.mark.parametrize(
    ("value", "most"),
    [(9, 120), (10, 80), (15, 80), (16, 65), (20, 65), (21, 50), (25, 50), (26, 30)],
)
def test_northern_ireland_caps_grass_at_its_establishment(value, most):
    """S.R. 2019 No. 81, Schedule 3, Table 1; the classes of Schedule 5."""
    assert capped(value, float(most)) == []
    assert capped(value, most + 0.1) == [most]


@pytest.mark.parametrize(
    ("crop", "caps"),
    [
        ("grass-establishment", [120, 80, 65, 50, 30, 0]),
        ("grass-extensive-grazed", [50, 35, 20, 0, 0, 0]),
        ("grass-extensive-first-cut", [70, 55, 40, 0, 0, 0]),
        ("grass-extensive-establishment", [80, 65, 50, 30, 0, 0]),
        ("grass-low-nitrogen-first-cut", [100, 70, 55, 40, 0, 0]),
    ],
)
def test_northern_ireland_prints_five_rows(crop, caps):
    """Schedule 3, Tables 1, 2a and 2b: Index 0, 1, 2-, 2+, 3, 4."""
    tests = (5.0, 12.0, 18.0, 23.0, 40.0, 50.0)
    assert [capped(value, 500.0, crop=crop)[0] for value in tests] == caps


def test_a_cap_in_pounds():
    """120 kg/ha is 120 / 1.12085 = 107.06 lb/ac."""
    assert capped(5.0, 107.0, rate_unit="lb/ac") == []
    assert capped(5.0, 107.2, rate_unit="lb/ac") == [107.1]


def test_a_cap_leaves_other_crops_and_manure_alone():
    """The cap is for grass and for chemical fertilizer."""
    assert capped(5.0, 500.0, crop="winter-wheat") == []
    case = {"crop": "grass-establishment", "method": "olsen", "value": 5.0}
    case |= {"unit": "mg/L", "applied": 500.0, "rate_unit": "kg/ha", "zone": 1}
    assert water_checks.most_p2o5(ULSTER, MANURE, **case) == ()


@pytest.mark.parametrize(
    ("day", "stops"),
    [
        (date(2026, 9, 14), 0),
        (date(2026, 9, 15), 1),
        (date(2027, 1, 31), 1),
        (date(2027, 2, 1), 0),
    ],
)
def test_closed_season(day, stops):
    """Northern Ireland, regulation 7(1): September 15 to January 31."""
    found = water_checks.season(ULSTER, FERTILIZER, day=day)
    assert [one.severity for one in found] == ["stop"] * stops


@pytest.mark.parametrize(
    ("day", "stops"),
    [
        (date(2026, 10, 14), 0),
        (date(2026, 10, 15), 1),
        (date(2027, 1, 31), 1),
        (date(2027, 2, 1), 0),
    ],
)
def test_closed_season_of_manure(day, stops):
    """Northern Ireland, regulation 7(3): October 15 to January 31."""
    assert len(water_checks.season(ULSTER, MANURE, day=day)) == stops


def test_no_day_is_no_finding_of_the_season():
    """Without a day the season is not judged, and that is said."""
    assert water_checks.season(ULSTER, FERTILIZER, day=None) == ()
    told = water_checks.not_judged(
        ULSTER, FERTILIZER, crop="winter-wheat", method="olsen", unit="mg/L", day=None
    )
    (note,) = told
    assert note.severity == "note"
    assert "no day was told" in note.message
    assert "for other crops than winter-wheat" in note.message


@pytest.mark.parametrize(
    ("told", "stops"),
    [
        ({"method": "broadcast"}, 1),
        ({"method": "incorporated", "worked_in": 48.0}, 0),
        ({"method": "incorporated", "worked_in": 48.5}, 1),
        ({"method": "deep-band"}, 0),
    ],
)
def test_maryland_has_manure_worked_in_within_48_hours(told, stops):
    """Maryland Department of Agriculture, 2021: within 48 hours on tilled land."""
    spread = Spread(material="manure", tillage="tilled", **told)
    assert len(water_checks.placement(MARYLAND, spread)) == stops


def test_too_little_told_of_placement_is_a_note():
    """Where nobody told whether the ground is tilled, the rule is not judged."""
    assert water_checks.placement(MARYLAND, MANURE) == ()
    case = {"crop": "corn", "method": "olsen", "unit": "ppm", "day": None}
    (note,) = water_checks.not_judged(MARYLAND, MANURE, **case)
    assert "unless the ground is not tilled" in note.message


def test_a_method_without_a_limit_is_a_note():
    """Ohio's limits are for Mehlich-3 and Bray P1, not for Olsen."""
    case = {"crop": "corn", "unit": "ppm", "day": None}
    (note,) = water_checks.not_judged(OHIO, FERTILIZER, method="olsen", **case)
    assert "no limit is for soil tests by Olsen" in note.message
    assert water_checks.not_judged(OHIO, FERTILIZER, method="bray-p1", **case) == ()


def test_distances_without_water_are_not_judged():
    """Maryland's 35 ft bind fertilizer; where no water was given nobody kept them."""
    case = {"crop": "corn-grain", "method": "bray-p1", "unit": "ppm", "day": None}
    (note,) = water_checks.not_judged(MARYLAND, FERTILIZER, features=False, **case)
    assert note.message == (
        "maryland-2012: no water was given to keep its distances from"
    )
    assert water_checks.not_judged(MARYLAND, FERTILIZER, **case) == ()
    # A distance for manure does not bind fertilizer.
    manure = (rule_set("us-large-cafo-manure"),)
    assert water_checks.not_judged(manure, FERTILIZER, features=False, **case) == ()
    assert len(water_checks.not_judged(manure, MANURE, features=False, **case)) == 1
