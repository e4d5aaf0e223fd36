"""The forecast against what long trials measured."""

from itertools import pairwise
from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from vrp.agronomy.forecast import Change, Fall, forecast, optimism, published, refit
from vrp.agronomy.forecast_figures import Drawdown, figures
from vrp.evidence import Source
from vrp.units import LB_AC

BRAY = published("bray-p1", "ppm")

# "Long-term P and K applications I", Minnesota, 20 years: site, start [ppm], yearly
# change [ppm] at 50 and 100 lb P2O5/ac, and the rate at which the test would stand
# still, by division.
MINNESOTA = {
    "Webster": (22.0, {50: 0.42, 100: 1.92}, 36.0),
    "Aastad": (10.0, {50: 0.69, 100: 2.49}, 30.83),
}

amounts = st.floats(0.0, 300.0)
tests = st.floats(0.1, 300.0)
plans = st.lists(st.tuples(amounts, st.floats(1.0, 200.0)), min_size=1, max_size=6)


def after(start, applied, removed, *, years, model=BRAY):
    """Return the band after years of the same, amounts in lb/ac."""
    season = (applied * LB_AC, removed * LB_AC)
    return forecast(model, start, [season] * years)[-1]


@pytest.mark.parametrize("site", MINNESOTA)
@pytest.mark.parametrize("rate", [50, 100])
@pytest.mark.parametrize("years", [1, 6, 12])
def test_minnesota_lies_in_the_band(site, rate, years):
    """Both sites' measured build-up lies in the band, for both rates."""
    start, slopes, still = MINNESOTA[site]
    band = after(start, rate, still, years=years)
    assert band.low <= start + slopes[rate] * years <= band.high


@pytest.mark.parametrize("site", MINNESOTA)
@pytest.mark.parametrize("rate", [50, 100])
def test_middle_is_near_minnesota(site, rate):
    """The middle misses 12 years of build-up by at most an eighth, or half a ppm."""
    start, slopes, still = MINNESOTA[site]
    gain = after(start, rate, still, years=12).middle - start
    assert gain == pytest.approx(12 * slopes[rate], rel=0.125, abs=0.5)


@pytest.mark.parametrize("site", MINNESOTA)
def test_straight_budget_is_optimistic(site):
    """A straight 20 lb a ppm promises 1.4 to 1.9 times what Minnesota measured."""
    start, slopes, still = MINNESOTA[site]
    band = after(start, 100, still, years=12)
    times = (band.straight - start) / (12 * slopes[100])
    assert 1.38 < times < 1.9
    assert band.straight > band.middle


def test_optimism_is_said():
    """The middle takes 30.6 lb a ppm, so 20 lb promise 1.53 times as much."""
    assert optimism(BRAY) == pytest.approx(30.6 / 20)


def test_straight_budget_of_a_harvest():
    """55 lb without replacement are 2.75 ppm by the straight rule (Ohio, 2012)."""
    assert after(30, 0, 55, years=1).straight == pytest.approx(30 - 2.75)


@pytest.mark.parametrize("start", [100.0, 40.0, 20.0, 10.0, 4.0])
def test_halving_times_lie_in_the_band(start):
    """From high and low starts the band halves between 8.4 and 15.9 years or sooner.

    Agricultural & Environmental Letters 10(1), 2025: 56 fields. A whole number of
    seasons: after 9 the low end is at half or below, after 15 the high end is above it.
    """
    assert after(start, 0, 50, years=8).high > start / 2
    assert after(start, 0, 50, years=9).low <= start / 2
    assert after(start, 0, 50, years=15).high > start / 2


def test_minnesota_declines():
    """Without P the middle falls 3.3 ppm a year at 40 ppm, 0.4 at 10 and below."""
    fall = Fall(True, levels=(10.0, 40.0), falls=(0.4, 3.3))
    assert fall.after(40.0, 1e-6) == pytest.approx(40.0 - 3.3e-6)
    assert fall.after(10.0, 1e-6) == pytest.approx(10.0 - 0.4e-6)
    # Above 40 it stays 3.3 a year: three years from 60.
    assert fall.after(60.0, 3.0) == pytest.approx(60.0 - 9.9)
    # Between: half way the fall is half way, 1.85 at 25.
    assert fall.after(25.0, 1e-6) == pytest.approx(25.0 - 1.85e-6)
    # Below 10 it goes with the test: 4 % a year.
    assert fall.after(5.0, 1e-6) == pytest.approx(5.0 - 0.2e-6)


def test_fall_across_a_level():
    """From 43.3 ppm a year leads to 40; what remains of two goes on from there."""
    fall = Fall(True, levels=(10.0, 40.0), falls=(0.4, 3.3))
    assert fall.after(43.3, 2.0) == pytest.approx(fall.after(40.0, 1.0))


def test_fall_through_two_levels():
    """From 12 at 1 ppm two seasons lead to 10, a third at a tenth to 10 / e^0.1."""
    fall = Fall(True, levels=(10.0, 20.0), falls=(1.0, 1.0))
    assert fall.after(12.0, 1.5) == pytest.approx(10.5)
    assert fall.after(12.0, 3.0) == pytest.approx(9.0484, abs=1e-4)


def test_ohio_high_testing_fields():
    """Above 120 ppm Ohio fields fell 2 to 4 ppm a year; the middle says 3.3."""
    start = 130.0
    assert 2.0 <= start - after(start, 0, 55, years=1).middle <= 4.0


def test_pampas_slopes():
    """11 and 8 kg P/ha a ppm, and falls of 0.2 and 0.02 ppm a kg, lie in the band."""
    p = 2.2914
    rise = forecast(BRAY, 20.0, [(110 * p, 0.0)])[0]  # no removal: all is surplus
    assert rise.low <= 20 + 110 / 11 <= rise.high
    assert rise.high == pytest.approx(20 + 110 / 8, rel=1e-4)
    rich = forecast(BRAY, 60.0, [(0.0, 10 * p)])[0]
    assert rich.low <= 60 - 10 * 0.2 <= rich.high
    poor = forecast(BRAY, 12.5, [(0.0, 10 * p)])[0]
    assert poor.low <= 12.5 - 10 * 0.02 <= poor.high


def test_indiana():
    """17 kg of P beyond removal raised Bray P1 by 1 ppm in 25 years of five rates.

    Communications in Soil Science and Plant Analysis 10(11):1459, 1979. The middle,
    which is made of other trials, is within a seventh; a straight budget is not.
    """
    net = 10 * 17 * 2.2914
    band = forecast(BRAY, 20.0, [(net + 50.0, 50.0)])[0]
    assert band.low <= 30.0 <= band.high
    assert band.middle - 20.0 == pytest.approx(10.0, rel=1 / 7)
    assert band.straight - 20.0 > 1.7 * 10.0


def test_continuous_corn_in_minnesota():
    """50 lb held 20 ppm for 12 years of 150-bu corn; 30 lb more gave 1 ppm a year.

    "Managing P soil test values", Minnesota. 150 bu take 52.5 lb at 0.35 lb a bushel.
    The middle, made of other plots, is within a tenth of a ppm a year.
    """
    held, raised = (after(20.0, rate, 52.5, years=12) for rate in (50, 80))
    assert held.low <= 20.0 <= held.high
    assert held.middle == pytest.approx(20.0, abs=12 * 0.11)
    assert raised.low <= 32.0 <= raised.high
    assert raised.middle == pytest.approx(32.0, abs=12 * 0.11)


def test_half_of_removal_may_hold():
    """Half of removal held the test for 8 years (Minnesota), twice failed to build."""
    half = after(25.0, 30, 60, years=8)
    assert half.low < 25.0 <= half.high
    whole = after(25.0, 60, 60, years=9)
    # Iowa held it, Ohio's fell at two of three sites.
    assert whole.low < 25.0 == whole.middle <= whole.high


@given(tests, plans)
def test_band_is_ordered_and_never_negative(start, seasons):
    """Low, middle and high stand in order, none of them below 0."""
    for band in forecast(BRAY, start, seasons):
        assert 0.0 <= band.low <= band.middle <= band.high
        assert band.straight >= 0.0


@given(tests, st.floats(1.0, 200.0), st.integers(1, 6))
def test_zero_balance_keeps_the_test(start, removed, years):
    """Where all that is removed is replaced, the band holds the test of today."""
    for band in forecast(BRAY, start, [(removed, removed)] * years):
        assert band.low <= start <= band.high
        assert band.middle == pytest.approx(start, abs=0.006 * years)
        assert band.straight == pytest.approx(start)


@given(tests, plans, st.floats(0.0, 100.0), st.integers(0, 5))
def test_more_applied_never_less(start, seasons, more, which):
    """More P2O5 in any season never lowers any end of the band afterwards."""
    richer = list(seasons)
    at = which % len(seasons)
    richer[at] = (richer[at][0] + more, richer[at][1])
    one, two = forecast(BRAY, start, seasons)[-1], forecast(BRAY, start, richer)[-1]
    # The middle is rounded to 0.01 each season.
    for end in ("low", "middle", "high"):
        assert getattr(two, end) >= getattr(one, end) - 0.011 * len(seasons)


@given(tests, tests, plans)
def test_richer_ground_stays_richer(one, two, seasons):
    """Of two tests under the same plan the higher one ends no lower."""
    low, high = sorted((one, two))
    poor, rich = forecast(BRAY, low, seasons)[-1], forecast(BRAY, high, seasons)[-1]
    assert poor.low <= rich.low + 0.011 * len(seasons)
    assert poor.high <= rich.high + 0.011 * len(seasons)


@given(tests, plans)
def test_an_uncertain_start_widens(start, seasons):
    """With an interval about the start the band holds that of the start alone."""
    sure = forecast(BRAY, start, seasons)
    unsure = forecast(BRAY, start, seasons, low=0.8 * start, high=1.2 * start)
    for end in (0.8 * start, 1.2 * start):
        kept = forecast(BRAY, start, [(50.0, 50.0)], low=0.8 * start, high=1.2 * start)
        assert kept[0].low <= end <= kept[0].high
    for one, two in zip(sure, unsure, strict=True):
        assert two.low <= one.low + 1e-9
        assert two.high >= one.high - 1e-9


def test_lb_ac_is_twice_ppm():
    """A test that is reported as lb/ac, twice the ppm, goes twice as far."""
    seasons = [(100.0, 80.0), (0.0, 60.0)]
    ppm = forecast(BRAY, 18.0, seasons)
    doubled = forecast(published("bray-p1", "lb/ac"), 36.0, seasons)
    for one, two in zip(ppm, doubled, strict=True):
        assert two.low == pytest.approx(2 * one.low, abs=0.02)
        assert two.high == pytest.approx(2 * one.high, abs=0.02)
        assert two.straight == pytest.approx(2 * one.straight)


def test_rb209_build_up():
    """200 to 300 kg raise Olsen by 10 mg/L (RB209); 640 kg by 16 on medium soil."""
    olsen = published("olsen", "mg/L")
    band = forecast(olsen, 10.0, [(300.0, 0.0)])[0]
    assert band.low <= 20.0 <= band.high
    assert forecast(olsen, 10.0, [(200.0, 0.0)])[0].high == pytest.approx(20.0)
    medium = forecast(olsen, 4.5, [(640.0, 0.0)])[0]
    assert medium.low == pytest.approx(20.5)
    assert medium.straight is None


def test_prairie_build_up():
    """12 to 40 lb raise Olsen by 1 ppm on the Prairies (Canola Council, 2016)."""
    olsen = published("olsen", "ppm")
    band = forecast(olsen, 10.0, [(120 * LB_AC, 0.0)])[0]
    assert (band.low, band.high) == (pytest.approx(13.0), pytest.approx(20.0))


@pytest.mark.parametrize(
    ("method", "unit"),
    [
        ("morgan", "ppm"),
        ("modified-morgan", "lb/ac"),
        ("bray-p2", "ppm"),
        ("mehlich-3-icp", "mg/L"),
        ("morgan", "mg/L"),
    ],
)
def test_other_tests_have_no_figures(method, unit):
    """What no figure was made for is not forecast."""
    assert published(method, unit) is None


def test_history_by_hand():
    """
    Two changes of 120 lb for +4 ppm and 60 lb for +1: slope (480 + 60) / 18,000.

    That is 0.03 ppm a lb, 33.3 lb a ppm.
    """
    changes = [Change(20.0, 24.0, 120 * LB_AC), Change(24.0, 25.0, 60 * LB_AC)]

    model, (fit,) = refit(BRAY, changes)

    assert (fit.side, fit.changes, fit.holds) == ("build-up", 2, True)
    assert fit.slope * LB_AC == pytest.approx(0.03)
    grown = forecast(model, 25.0, [(100 * LB_AC, 40 * LB_AC)])[0]
    assert grown.middle == pytest.approx(25.0 + 60 / 33.333, abs=0.01)
    # The published falls stay.
    assert model.falls == BRAY.falls


def test_history_of_a_drawdown():
    """60 lb short for −3 ppm about a mean of 30.5: 0.05 ppm a lb there."""
    model, (fit,) = refit(BRAY, [Change(32.0, 29.0, -60 * LB_AC)])

    assert (fit.side, fit.holds) == ("drawdown", True)
    assert fit.slope * LB_AC == pytest.approx(0.05)
    # 10 % of 32 and of 29 are 4.3 ppm, more than the 3: perhaps it did not fall at all.
    assert fit.low == 0.0 < fit.slope < fit.high
    fallen = forecast(model, 40.0, [(0.0, 40 * LB_AC)])[0]
    assert fallen.middle == pytest.approx(38.0, abs=0.01)
    assert model.builds == BRAY.builds


@pytest.mark.parametrize(("after_", "balance"), [(18.0, 100.0), (22.0, -100.0)])
def test_history_that_makes_no_sense(after_, balance):
    """A test that moves against the balance widens the band and moves no middle."""
    model, (fit,) = refit(BRAY, [Change(20.0, after_, balance)])

    assert not fit.holds
    seasons = [(balance + 50.0, 50.0)] if balance > 0 else [(0.0, 50.0)]
    own, others = forecast(model, 20.0, seasons)[0], forecast(BRAY, 20.0, seasons)[0]
    assert own.middle == others.middle
    assert own.low <= others.low
    assert own.high >= others.high
    assert own.low <= 20.0 <= own.high


@given(st.lists(st.tuples(tests, tests, st.floats(-200, 200)), min_size=1, max_size=4))
def test_history_never_breaks_the_band(changes):
    """Whatever the history, the band is ordered and holds no test below 0."""
    model, _ = refit(BRAY, [Change(*one) for one in changes])
    for seasons in ([(90.0, 40.0), (0.0, 60.0)], [(10.0, 60.0), (60.0, 60.0)]):
        for band in forecast(model, 20.0, seasons):
            assert 0.0 <= band.low <= band.middle <= band.high


def test_small_balances_say_nothing():
    """Two tests with next to nothing spread or taken in between are left out."""
    model, fits = refit(BRAY, [Change(20.0, 24.0, 5.0), Change(24.0, 20.0, -24.9)])
    assert (model, fits) == (BRAY, ())


def test_every_figure_has_a_source():
    """Each build-up and drawdown says where it stands; levels rise."""
    for family in figures().family.values():
        for one in (*family.build.values(), *family.drawdown.values()):
            assert one.source.where
        assert family.middle.drawdown in family.drawdown
        for one in family.drawdown.values():
            assert all(low < high for low, high in pairwise(one.levels))
            assert all(low < high for low, high in pairwise(one.falls))


TABLE = {"levels": (20.0,), "falls": (0.5,), "unit": "ppm"}


@pytest.mark.parametrize(
    "given_",
    [
        {},
        {"halving": 9.0, "per": "season", **TABLE},
        {"per": "season", **TABLE, "falls": (0.5, 1.0)},
        TABLE,
    ],
)
def test_neither_halving_nor_falls(given_):
    """A drawdown is a halving time or a table of falls, one of the two, and whole."""
    with pytest.raises(ValidationError) as refused:
        Drawdown(**given_, source=Source("our-choice", "test"))

    assert [one["msg"] for one in refused.value.errors()] == [
        "Value error, give halving, or levels, falls, per and unit"
    ]


def test_halving_or_falls():
    """Either alone is a drawdown."""
    ours = Source("our-choice", "test")

    assert Drawdown(halving=9.0, source=ours).levels == ()
    assert Drawdown(per="season", **TABLE, source=ours).halving is None


def near(*figures_):
    return pytest.approx(figures_, rel=1e-4)


def test_history_of_a_build_up_by_hand():
    """
    +6 ppm by 150 kg/ha and +2 by 50 are 1000 / 25,000 = 0.04 ppm a kg.

    With 10 % in each mean its standard error is the root of 225 × (20² + 26²) + 25 ×
    (26² + 28²) = 278,600, which is 527.83, over 25,000; × 1.28 that is 0.027025.
    """
    model, (fit,) = refit(BRAY, [Change(20.0, 26.0, 150.0), Change(26.0, 28.0, 50.0)])

    assert (fit.side, fit.changes, fit.holds) == ("build-up", 2, True)
    assert (fit.slope, fit.low, fit.high) == near(0.04, 0.012975, 0.067025)
    # One over each of them.
    assert model.builds == near(77.07, 14.92, 25.0)
    assert model.falls == BRAY.falls
    # All of removal is counted in such balances.
    assert model.holding == (1.0,)


def test_history_of_a_drawdown_by_hand():
    """
    −4 ppm by −100 kg/ha and −1 by −30 are 430 / 10,900 = 0.039450 ppm a kg.

    The root of 100 × (30² + 26²) + 9 × (26² + 25²) = 169,309 is 411.47; × 1.28 / 10,900
    it is 0.048320. The mean of the four tests is 26.75 ppm.
    """
    model, (fit,) = refit(BRAY, [Change(30.0, 26.0, -100.0), Change(26.0, 25.0, -30.0)])

    assert (fit.side, fit.changes, fit.holds) == ("drawdown", 2, True)
    assert (fit.slope, fit.low, fit.high) == near(0.039450, 0.0, 0.087770)
    assert [(one.of_season, one.halving, one.levels) for one in model.falls] == [
        (False, inf, (26.75,))
    ] * 3
    assert tuple(one.falls[0] for one in model.falls) == near(0.0, 0.087770, 0.039450)
    assert (model.builds, model.holding) == (BRAY.builds, (1.0,))


def test_history_of_no_sense_by_hand():
    """What moved against its balance adds a member without movement, and no more."""
    up, (lost,) = refit(BRAY, [Change(20.0, 18.0, 100.0)])
    down, (risen,) = refit(BRAY, [Change(20.0, 22.0, -100.0)])
    both, fits = refit(BRAY, [Change(20.0, 24.0, 100.0), Change(24.0, 26.0, -100.0)])

    assert (lost.holds, risen.holds) == (False, False)
    assert (up.builds, up.falls) == ((inf, *BRAY.builds), BRAY.falls)
    still = Fall(False, inf, (21.0,), (0.0,))
    assert (down.builds, down.falls) == (BRAY.builds, (still, *BRAY.falls))
    # One side alone that holds leaves the shares of removal as published.
    assert [fit.holds for fit in fits] == [True, False]
    assert up.holding == down.holding == both.holding == BRAY.holding


def test_history_in_pounds():
    """A test in lb/ac is twice the ppm: 40 to 48 is 20 to 24."""
    changes = [Change(40.0, 52.0, 150.0), Change(52.0, 56.0, 50.0)]
    _, (fit,) = refit(published("bray-p1", "lb/ac"), changes)

    assert (fit.slope, fit.low, fit.high) == near(0.04, 0.012975, 0.067025)


@pytest.mark.parametrize(
    ("balance", "said"), [(24.9, 0), (25.0, 1), (-24.9, 0), (-25.0, 1)]
)
def test_least_balance(balance, said):
    """From 25 kg/ha on, to either side, a balance speaks (our choice)."""
    _, fits = refit(BRAY, [Change(20.0, 21.0, balance)])

    assert len(fits) == said


def test_published_falls():
    """Seasons, kg of P turned into P2O5 by 2.2913, and halving times, as printed."""
    seasons, halving = Fall(True, inf, (10.0, 40.0), (0.4, 3.3)), Fall(True, 8.4)
    (shortfall,) = (one for one in BRAY.falls if not one.of_season)

    assert BRAY.falls[-1] == seasons
    assert halving in BRAY.falls
    assert (shortfall.halving, shortfall.levels) == (inf, (12.5, 56.5))
    assert shortfall.falls == near(0.0087286, 0.087286)


def test_no_straight_budget():
    """Without one there is nothing to compare; Bray P1's promises 30.6 / 20 = 1.53."""
    assert optimism(published("olsen", "ppm")) is None
    assert optimism(BRAY) == pytest.approx(1.53)


# 0.4 a season at 10 ppm and 3.3 at 40, as in Minnesota, and one with a level stretch.
SLOPING = Fall(True, inf, (10.0, 40.0), (0.4, 3.3))
LEVEL = Fall(False, inf, (10.0, 20.0), (0.5, 0.5))


@pytest.mark.parametrize(
    ("fall", "test", "amount", "ends"),
    [
        (Fall(True, 8.4), 20.0, 8.4, 10.0),
        (Fall(True, 8.4), 20.0, 4.2, 14.142136),
        (SLOPING, 30.0, 0.0, 30.0),
        # Above the last level the fall stays: 50 − 2 × 3.3.
        (SLOPING, 50.0, 2.0, 43.4),
        (SLOPING, 50.0, 10.0 / 3.3, 40.0),
        # 10 / 3.3 seasons to 40, then 10 + (3.3 e^(−s t) − 0.4) / s with s = 2.9 / 30.
        (SLOPING, 50.0, 4.0, 36.945401),
        (SLOPING, 40.0, 1.0, 36.854482),
        # From 25 it falls by 0.4 + 15 s = 1.85 at first.
        (SLOPING, 25.0, 1.0, 23.236604),
        # Below 10 in proportion to the test: 5 e^(−0.04).
        (SLOPING, 5.0, 1.0, 4.803947),
        # ln(1.85 / 0.4) / s = 15.842859 seasons to 10, then 10 e^(−0.04 × 4.157141).
        (SLOPING, 25.0, 20.0, 8.468043),
        # Straight down where two levels fall alike; 16 to reach 10, then e^(−0.05 × 4).
        (LEVEL, 18.0, 2.0, 17.0),
        (LEVEL, 18.0, 16.0, 10.0),
        (LEVEL, 18.0, 20.0, 8.187308),
        (LEVEL, 25.0, 12.0, 19.0),
    ],
)
def test_fall_by_hand(fall, test, amount, ends):
    """A fall solves its equation, stretch by stretch, to the closed form."""
    assert fall.after(test, amount) == pytest.approx(ends, abs=1e-6)


@pytest.mark.parametrize(
    ("unit", "start", "low", "high", "straight"),
    [
        # (100 − 40) / (20 × 1.120851) = 2.67654 ppm, and twice that in lb/ac.
        ("ppm", 20.0, 15.0, 25.0, 22.67654),
        ("lb/ac", 40.0, 30.0, 50.0, 45.35307),
    ],
)
def test_start_and_straight_budget_by_hand(unit, start, low, high, straight):
    """Nothing spread or taken moves nothing; a straight budget divides the balance."""
    model = published("bray-p1", unit)
    (still,) = forecast(model, start, [(0.0, 0.0)], low=low, high=high)
    (alone,) = forecast(model, start, [(0.0, 0.0)])
    (grown,) = forecast(model, start, [(100.0, 40.0)])
    (gone,) = forecast(model, start, [(0.0, 5000.0)])

    assert (still.low, still.middle, still.high) == (low, start, high)
    assert (still.straight, alone.straight) == (start, start)
    assert (alone.low, alone.middle, alone.high) == (start, start, start)
    assert grown.straight == pytest.approx(straight, abs=5e-5)
    assert gone.straight == 0.0


def test_an_uncertain_start_on_one_side():
    """An end of the start that is not given is the start itself."""
    (below,) = forecast(BRAY, 20.0, [(0.0, 0.0)], low=15.0)
    (above,) = forecast(BRAY, 20.0, [(0.0, 0.0)], high=25.0)

    assert (below.low, below.high) == (15.0, 20.0)
    assert (above.low, above.high) == (20.0, 25.0)
