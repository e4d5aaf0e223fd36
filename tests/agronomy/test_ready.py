"""On the day: every limit of the rules that ship, from both sides."""

from datetime import date

import pytest

from vrp.agronomy.ready import Day, Forecast, judge
from vrp.agronomy.water import GENERAL, rule_set
from vrp.agronomy.water_bearing import Spread

ERIE = rule_set("ohio-western-lake-erie")
SURFACE = {"form": "granular", "method": "broadcast", "growing_crop": False}
FERTILIZER = Spread(material="fertilizer", **SURFACE)
MANURE = Spread(material="manure", method="broadcast", growing_crop=False)
DRY = {"frozen": False, "snow": False, "saturated": False}
NO_RAIN = (Forecast(rain=0.0, hours=24.0, chance=0.0),)


def outcomes(rules, spread, day, *, system="us"):
    """Return the outcomes of the rules that are for the material."""
    found = judge([rules], spread, day, system=system)
    return [one.outcome for one in found if spread.material in one.text]


def rained(spread, rain, hours, chance, *, system="us"):
    """Return what Lake Erie's rule on the forecast says of one."""
    forecast = (Forecast(rain=rain, hours=hours, chance=chance),)
    found = judge([ERIE], spread, Day(forecast=forecast, **DRY), system=system)
    (one,) = (
        one for one in found if "forecast" in one.text and spread.material in one.text
    )
    return one.outcome


@pytest.mark.parametrize(
    ("rain", "chance", "outcome"),
    [
        (1.2, 60.0, "forbids"),
        (1.2, 50.0, "does not bind"),  # must be more than 50 percent
        (1.2, 50.1, "forbids"),
        (1.0, 60.0, "does not bind"),  # must exceed 1 inch
        (1.01, 60.0, "forbids"),
        (0.0, 0.0, "does not bind"),
    ],
)
def test_forecast_for_granular_fertilizer(rain, chance, outcome):
    """ANR-0156: more than 50 percent of more than 1 in within 12 hours."""
    assert rained(FERTILIZER, rain, 12.0, chance) == outcome


@pytest.mark.parametrize(
    ("rain", "chance", "outcome"),
    [
        (0.6, 60.0, "forbids"),
        (0.5, 60.0, "does not bind"),
        (0.51, 60.0, "forbids"),
        (0.6, 50.0, "does not bind"),
        (0.6, 50.1, "forbids"),
    ],
)
def test_forecast_for_manure(rain, chance, outcome):
    """ANR-0156: more than 50 percent of more than 0.5 in within 24 hours."""
    assert rained(MANURE, rain, 24.0, chance) == outcome


@pytest.mark.parametrize(
    ("rain", "hours", "outcome"),
    [
        (1.2, 6.0, "forbids"),  # what falls in 6 hours falls within 12
        (0.8, 6.0, "not enough was told"),  # the next 6 are not told
        (1.2, 24.0, "not enough was told"),  # it may all fall in 12, or not
        (0.8, 24.0, "does not bind"),  # so in 12 hours no more than that
        (1.2, 12.0, "forbids"),
    ],
)
def test_a_forecast_for_another_window(rain, hours, outcome):
    """A window that is not the rule's decides only where it must."""
    assert rained(FERTILIZER, rain, hours, 60.0) == outcome


def test_of_several_forecasts_one_is_enough_to_forbid():
    """A dry window does not undo a wet one."""
    wet = Forecast(rain=1.2, hours=12.0, chance=60.0)
    found = judge([ERIE], FERTILIZER, Day(forecast=(*NO_RAIN, wet), **DRY), system="us")
    assert "forbids" in [one.outcome for one in found]


@pytest.mark.parametrize(
    ("millimetres", "outcome"), [(25.4, "does not bind"), (25.5, "forbids")]
)
def test_an_inch_is_25_4_millimetres(millimetres, outcome):
    """A metric record tells rain in millimetres."""
    assert rained(FERTILIZER, millimetres, 12.0, 60.0, system="metric") == outcome


@pytest.mark.parametrize("state", ["frozen", "snow", "saturated"])
def test_ground_that_lake_erie_forbids(state):
    """ANR-0156: frozen, snow-covered, or the top 2 in saturated."""
    for spread in (FERTILIZER, MANURE):
        told = Day(forecast=NO_RAIN, **{**DRY, state: True})
        found = outcomes(ERIE, spread, told)
        assert found.count("forbids") == 1
        assert "not enough was told" not in found
        untold = Day(forecast=NO_RAIN, **{**DRY, state: None})
        assert outcomes(ERIE, spread, untold).count("not enough was told") == 1


def test_dry_ground_and_no_rain():
    """With every question answered no rule of Lake Erie binds."""
    found = outcomes(ERIE, FERTILIZER, Day(forecast=NO_RAIN, **DRY))
    assert set(found) == {"does not bind"}


@pytest.mark.parametrize(
    "told",
    [
        {"method": "incorporated", "worked_in": 24.0},
        {"method": "deep-band"},
        {"growing_crop": True},
    ],
)
def test_the_exempt_on_frozen_soil(told):
    """ANR-0156: frozen soil, worked in within 24 hours: exempt."""
    spread = Spread(material="fertilizer", **{**SURFACE, **told})
    day = Day(frozen=True, snow=True, saturated=True)
    assert set(outcomes(ERIE, spread, day)) == {"does not bind"}


def test_what_was_not_told_does_not_free():
    """Frozen, and nobody told of a crop: forbidden, unless one grows."""
    spread = Spread(material="fertilizer", form="granular", method="broadcast")
    found = judge([ERIE], spread, Day(frozen=True), system="us")
    (one,) = (one for one in found if one.outcome == "forbids")
    assert one.why.endswith("unless it goes onto a growing crop, which was not told")


def test_a_liquid_is_free_of_the_forecast():
    """The rule on the forecast is for the granular form."""
    liquid = Spread(material="fertilizer", **{**SURFACE, "form": "liquid"})
    assert rained(liquid, 3.0, 12.0, 90.0) == "does not bind"


def test_general_practice_asks_and_never_forbids():
    """NRCS 590, from memory: wait on frozen, snow-covered or saturated ground."""
    general = rule_set(GENERAL)
    for state in DRY:
        (one,) = judge([general], FERTILIZER, Day(**{**DRY, state: True}), system="us")
        assert one.outcome == "asks to wait"
        assert one.source.status == "from-memory"
    (dry,) = judge([general], FERTILIZER, Day(**DRY), system="us")
    assert dry.outcome == "does not bind"


@pytest.mark.parametrize(
    ("day", "outcome"),
    [
        (date(2026, 12, 14), "does not bind"),
        (date(2026, 12, 15), "forbids"),
        (date(2027, 3, 1), "forbids"),
        (date(2027, 3, 2), "does not bind"),
        (None, "not enough was told"),
    ],
)
def test_grand_lake_is_closed_to_manure(day, outcome):
    """Ohio Department of Agriculture, 2017: December 15 to March 1."""
    rules = rule_set("ohio-grand-lake-manure")
    found = judge([rules], MANURE, Day(day=day, **DRY), system="us")
    (season,) = (one for one in found if "December" in one.text)
    assert season.outcome == outcome


@pytest.mark.parametrize("state", ["frozen", "snow"])
def test_frozen_ground_asks_for_more_distance(state):
    """Ohio 590, retold: 200 ft on frozen or snow-covered soil, 100 ft else."""
    rules = rule_set("ohio-590-manure")
    there = Day(**{**DRY, state: True})
    usual = {"stream": 100.0, "ditch": 200.0}
    (one,) = judge([rules], MANURE, there, system="us", kept=usual)
    assert one.outcome == "forbids"
    assert "nearer than 200 ft" in one.why
    assert "keeps 100 ft from stream, 200 ft from ditch" in one.why
    enough = dict.fromkeys(("stream", "ditch", "tile-inlet"), 200.0)
    (one,) = judge([rules], MANURE, there, system="us", kept=enough)
    assert one.outcome == "does not bind"
    (one,) = judge([rules], MANURE, there, system="us", kept=enough | {"ditch": 199.0})
    assert one.outcome == "forbids"
    (one,) = judge([rules], MANURE, there, system="metric")
    assert "nearer than 60.96 m" in one.why
    assert "the map keeps no such distance" in one.why
    (thawed,) = judge([rules], MANURE, Day(**DRY), system="us")
    assert thawed.outcome == "does not bind"
    (untold,) = judge([rules], MANURE, Day(), system="us")
    assert untold.outcome == "not enough was told"
    (other,) = judge([rules], FERTILIZER, Day(frozen=True), system="us")
    assert (other.outcome, other.why) == ("does not bind", "it is for manure")


def test_ulster_forbids_on_wet_frozen_and_white_ground():
    """S.R. 2019 No. 81, regulation 8(2): waterlogged, frozen, snow covered."""
    rules = rule_set("northern-ireland-2019")
    june = date(2027, 6, 1)
    for state in DRY:
        found = judge(
            [rules], FERTILIZER, Day(day=june, **{**DRY, state: True}), system="metric"
        )
        assert [one.outcome for one in found].count("forbids") == 1
    found = judge([rules], FERTILIZER, Day(day=june, **DRY), system="metric")
    assert {one.outcome for one in found} == {"does not bind"}


def test_manure_that_lies_too_long():
    """Maryland: manure on tilled ground is worked in within 48 hours."""
    rules = rule_set("maryland-2012")

    def told(**placed):
        spread = Spread(material="manure", tillage="tilled", **placed)
        (one,) = judge([rules], spread, Day(), system="us")
        return one.outcome

    assert told(method="broadcast") == "forbids"
    assert told(method="incorporated", worked_in=48.0) == "does not bind"
    assert told(method="incorporated", worked_in=48.1) == "forbids"
    assert told(method="incorporated") == "not enough was told"


@pytest.mark.parametrize(
    ("placed", "outcome"),
    [
        ({"method": "incorporated", "worked_in": 24.0}, None),
        ({"method": "incorporated", "worked_in": 24.1}, "forbids"),
        ({"method": "broadcast"}, "forbids"),
        ({"method": "deep-band"}, None),
    ],
)
def test_what_is_placed_otherwise_than_planned_keeps_its_own_distance(placed, outcome):
    """Chapter 7020, retold: 25 ft worked in within 24 hours, 300 ft on the surface."""
    rules = [rule_set("minnesota-7020-manure")]
    planned = Spread(material="manure", method="incorporated", worked_in=24.0)
    now = Spread(material="manure", **placed)
    kept = {"lake": 25.0}
    found = judge(rules, now, Day(), system="us", kept=kept, planned=planned)
    assert [one.outcome for one in found] == ([] if outcome is None else [outcome])
    if found:
        assert "nearer than 300 ft; the map keeps 25 ft from lake" in found[0].why
    far = judge(rules, now, Day(), system="us", kept={"lake": 300.0}, planned=planned)
    assert far == ()
    as_planned = judge(rules, now, Day(), system="us", kept=kept, planned=now)
    assert as_planned == ()


@pytest.mark.parametrize(
    ("placed", "outcome"),
    [
        ({"method": "broadcast"}, "asks to wait"),
        ({"method": "incorporated"}, "not enough was told"),
        ({"method": "incorporated", "worked_in": 24.0}, "asks to wait"),
        ({"method": "incorporated", "worked_in": 1.0}, "does not bind"),
        ({"method": "band"}, "does not bind"),
    ],
)
def test_the_option_of_25_ft_is_not_for_what_stays_on_the_surface(placed, outcome):
    """NR 243.14(4)(a): 25 ft, and injected or worked in at once elsewhere."""
    rules = [rule_set("wisconsin-nr-243-manure")]
    (one,) = judge(rules, Spread(material="manure", **placed), Day(), system="us")
    assert one.outcome == outcome
    (other,) = judge(rules, FERTILIZER, Day(), system="us")
    assert other.outcome == "does not bind"


@pytest.mark.parametrize(
    ("rules", "outcome"),
    [("ohio-grand-lake-manure", "forbids"), (GENERAL, "asks to wait")],
)
def test_what_is_worked_in_days_later_lies_on_frozen_ground(rules, outcome):
    """A surface application stays one where the tool comes days after it."""

    def told(hours):
        spread = Spread(material="manure", method="incorporated", worked_in=hours)
        found = judge([rule_set(rules)], spread, Day(frozen=True), system="us")
        return next(one for one in found if "frozen" in one.text).outcome

    assert told(24.0) == "does not bind"
    assert told(24.1) == told(500.0) == told(None) == outcome
