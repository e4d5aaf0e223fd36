"""The curve's integrals against closed forms, quadrature, and its own limits."""

from itertools import pairwise, product
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from vrp.agronomy.guidelines import parse, settled, shipped
from vrp.agronomy.need import Season, need_curve
from vrp.units import LB_AC, tonnes_per_hectare

SHIPPED = shipped()
OWN = (Path(__file__).parent / "own.toml").read_text("utf-8")


def variants(name):
    """Return a guideline with each of its methods, regions and years of build-up."""
    printed = SHIPPED[name]
    years = getattr(printed, "build_up_years", None)
    for method, region, build_years in product(
        printed.soil_test.methods,
        list(getattr(printed, "regions", {})) or [None],
        [None] if years is None else years.values,
    ):
        yield settled(printed, method=method, region=region, build_years=build_years)


SETTLED = [(name, one) for name in SHIPPED for one in variants(name)]
CASES = [
    (number, crop, residue, pool)
    for number, (_, guideline) in enumerate(SETTLED)
    for crop in guideline.crops
    for residue in (
        ("left", "removed")
        if getattr(guideline.crops[crop], "removed", None) is not None
        else (None,)
    )
    for pool in (False, True)
]


def curve(which, crop, residue, pool, *, factor=1.0, seasons=2, metric=False):
    """Return a curve at a factor of the middle of the plausible yields."""
    guideline = SHIPPED[which] if isinstance(which, str) else SETTLED[which][1]
    known = guideline.crops[crop]
    goal = factor * (known.plausible.low + known.plausible.high) / 2.0
    season = Season(crop, goal, known.yield_unit, residue)
    if metric:
        bushel = None if known.bushel is None else known.bushel.value
        tonnes = tonnes_per_hectare(goal, known.yield_unit, bushel)
        season = Season(crop, tonnes, "t/ha", residue)
    return need_curve(guideline, [season] * seasons, pool=pool, build_up=True)


cases = st.sampled_from(CASES)
soil_tests = st.floats(0.0, 500.0)
factors = st.floats(0.01, 3.0)
quick = settings(max_examples=60, deadline=None)


@quick
@given(cases, factors, soil_tests, soil_tests)
def test_need_never_rises(case, factor, one, other):
    """A richer soil never asks for more, for any crop and yield of one season."""
    need = curve(*case, factor=factor, seasons=1)

    rich, poor = max(one, other), min(one, other)

    # On either side of a bend binary fractions may differ.
    assert need.at(rich) <= need.at(poor) + 1e-9


# Where one season's need steps down, in the guideline's unit; elsewhere it bends.
STEPS = {
    "illinois-2009": {60.0, 65.0, 70.0},
    "kansas-mf-2586-2003-build": {30.0},
    "kansas-mf-2586-2003-sufficiency": {20.0},
    "oklahoma-pss-2225": set(),
    "south-dakota-ec750": set(),
    "tri-state-1995": set(),
    "tri-state-2020": {40.0, 50.0},
}


@quick
@given(cases, factors)
def test_steps(case, factor):
    """Need steps at the limits of a guideline alone; tables step at their classes."""
    need = curve(*case, factor=factor, seasons=1)
    name, guideline = SETTLED[case[0]]
    inner = np.array(need.edges[:-1])

    down = need.in_unit(np.nextafter(inner, 0.0)) - need.in_unit(
        np.nextafter(inner, np.inf)
    )

    found = {float(edge) for edge, step in zip(inner, down, strict=True) if step > 1e-6}
    if name in STEPS:
        assert found <= STEPS[name]
    else:
        assert guideline.form in {"class-table", "index-table"}
    if STEPS.get(name):
        assert len(found) == 1


@quick
@given(cases, factors, soil_tests)
def test_unit_systems_agree(case, factor, soil_test):
    """A yield goal in t/ha asks for the same, but for its rounding to 0.001."""
    own, metric = (
        curve(*case, factor=factor, metric=metric) for metric in (False, True)
    )
    # Half of 0.001 bu/ac, ton/ac or t/ha, at no more than 15 lb a unit and season.
    bound = 2 * 0.0005 * 15.0 * 1.121

    ends = [*own.edges[:-1], *metric.edges[:-1]]
    if min(abs(soil_test - end) for end in ends) > 1e-3:
        assert abs(own.at(soil_test) - metric.at(soil_test)) <= bound


@quick
@given(cases, factors, st.floats(-50.0, 500.0))
def test_need_is_never_negative(case, factor, soil_test):
    """No soil test, not even an estimate below zero, gives a negative need."""
    need = curve(*case, factor=factor)

    assert 0.0 <= need.at(soil_test) < np.inf
    assert need.at(min(soil_test, 0.0)) == need.at(0.0)


@quick
@given(cases)
def test_missing_stays_missing(case):
    """NaN stays NaN, alone and among others."""
    need = curve(*case)
    tests, sd = np.array([np.nan, 10.0]), np.array([0.3, np.nan])

    assert np.isnan(need.at(tests)).tolist() == [True, False]
    for log in (True, False):
        assert np.isnan(need.expected(tests, 0.3, log=log)).tolist() == [True, False]
        assert np.isnan(need.expected(tests, sd, log=log)).all()
        chance = need.probability_below(need.critical, tests, sd, log=log)
        assert np.isnan(chance).all()
        assert np.isnan(need.probability_below(need.critical, np.nan, 0.0, log=log))
    assert need.word(float("nan")) == ""


@quick
@given(cases, soil_tests, st.booleans())
def test_no_error(case, soil_test, log):
    """Without an error the expected need is the need, and a chance is certain."""
    need = curve(*case)

    assert need.expected(soil_test, 0.0, log=log) == need.at(soil_test)
    chance = need.probability_below(need.critical, soil_test, 0.0, log=log)
    assert chance == (soil_test < need.critical)


@quick
@given(cases, st.floats(1.0, 100.0), st.booleans())
def test_small_error(case, soil_test, log):
    """As the error shrinks the expected need becomes the need, away from an edge."""
    need = curve(*case)
    sd = 1e-7 if log else 1e-7 * soil_test
    if min(abs(soil_test - edge) for edge in need.edges) < 1e-4 * soil_test:
        return

    assert need.expected(soil_test, sd, log=log) == pytest.approx(
        need.at(soil_test), abs=1e-3
    )


def integrated(need, median, sd, *, log):
    """Return the expectation of `at` by quadrature over standard deviations."""

    def place(z):
        return median * np.exp(sd * z) if log else median + sd * z

    def weighted(z):
        density = np.exp(-z * z / 2.0) / np.sqrt(2.0 * np.pi)
        return float(need.at(place(z))) * density

    inner = np.array([0.0, *need.edges[:-1]])
    with np.errstate(divide="ignore"):
        at = np.log(inner / median) / sd if log else (inner - median) / sd
    breaks = np.unique(np.clip([-12.0, *at, 12.0], -12.0, 12.0))
    # Short spans, so that the quadrature sees the peak of the density.
    fine = np.unique(np.concatenate([breaks, np.arange(-12.0, 12.0, 2.0)]))
    return sum(
        quad(weighted, a, b, epsabs=1e-13, epsrel=1e-12)[0] for a, b in pairwise(fine)
    )


@pytest.mark.parametrize("log", [True, False])
@settings(max_examples=100, deadline=None)
@given(case=cases, median=st.floats(2.0, 80.0), sd=st.floats(0.05, 0.9))
def test_expected_is_the_integral(log, case, median, sd):
    """The closed form is the integral of the need over the error, for every form."""
    need = curve(*case)
    spread = sd if log else sd * median

    found = need.expected(median, spread, log=log)

    whole = integrated(need, median, spread, log=log)
    assert found == pytest.approx(whole, rel=1e-8, abs=1e-8)


def test_expected_keeps_shape():
    """Arrays broadcast, and hold what each cell alone would give."""
    need = curve("tri-state-2020", "corn-grain", None, False)
    medians, sd = np.array([[10.0, 20.0], [30.0, 50.0]]), np.array([0.1, 0.4])

    found = need.expected(medians, sd, log=True)

    assert found.shape == (2, 2)
    assert found[1, 0] == need.expected(30.0, 0.1, log=True)


# Lognormal soil tests: mean, coefficient of variation, probability below 20, and the
# expectation of 5 × (20 − S) below 20, by k (C Φ(d) − m Φ(d − s)), d = (ln C − μ) / s,
# computed apart from this code. That a rate from the mean misleads is shown in Soil
# Science Society of America Journal 66:276, 2002.
@pytest.mark.parametrize(
    ("mean", "variation", "below", "expected", "at_mean"),
    [
        (22.0, 0.50, 0.5137, 14.995, 0.0),
        (22.0, 0.25, 0.3959, 6.045, 0.0),
        (18.0, 0.60, 0.6798, 26.113, 10.0),
        (25.0, 0.70, 0.4850, 17.035, 0.0),
        (30.0, 0.80, 0.4111, 14.607, 0.0),
    ],
)
def test_expected_build_up(mean, variation, below, expected, at_mean):
    """The field's mean asks for little where its poor parts ask for much."""
    text = OWN.replace("value = 0.37", "value = 0").replace(
        "value = 50,", "value = 1e9,"
    )
    corn = Season("corn", 100.0, "bu/ac")
    need = need_curve(parse(text, "own.toml"), [corn], pool=False, build_up=True)
    sd = np.sqrt(np.log(1.0 + variation**2))
    median = mean * np.exp(-(sd**2) / 2.0)

    found = need.expected(median, sd, log=True) / LB_AC

    assert found == pytest.approx(expected, abs=6e-4)
    chance = need.probability_below(20.0, median, sd, log=True)
    assert chance == pytest.approx(below, abs=6e-5)
    assert need.at(mean) / LB_AC == pytest.approx(at_mean)


def test_probability_from_log_kriging():
    """Logarithms of mean 3.0 and variance 0.2 lie below 20 with 0.4962."""
    need = curve("tri-state-2020", "corn-grain", None, False)

    chance = need.probability_below(20.0, np.exp(3.0), np.sqrt(0.2), log=True)

    assert chance == pytest.approx(0.4962, abs=6e-5)
    assert need.probability_below(0.0, 5.0, 0.3, log=True) == 0.0
    # 1.96 standard deviations above: 2.5 %
    assert need.probability_below(20.0, 29.8, 5.0, log=False) == pytest.approx(
        0.025, abs=1e-4
    )


def test_single_precision():
    """A float32 surface is classed as its value in double precision."""
    need = curve("tri-state-2020", "corn-grain", None, False, seasons=1)
    test = np.array([40.0, np.nextafter(np.float32(40), np.float32(50))], np.float32)

    assert (need.at(test) > 0.0).tolist() == [True, False]


@pytest.mark.parametrize(
    ("level", "median", "sd", "log", "expected"),
    [
        # Known without error: below means below.
        (20.0, 19.99, 0.0, False, 1.0),
        (20.0, 20.0, 0.0, False, 0.0),
        # Half of a distribution lies below its median, also below 1.
        (0.8, 0.8, 0.3, True, 0.5),
        (0.5, 0.5, 0.3, True, 0.5),
        # One standard deviation: 0.841345 (tables of the normal distribution).
        (1.0, 0.0, 1.0, False, 0.841345),
        # Nothing is below 0 in a lognormal distribution, and 0 itself is known.
        (0.0, 5.0, 0.3, True, 0.0),
        (20.0, 0.0, 0.3, True, 1.0),
    ],
)
def test_probability_below_by_hand(level, median, sd, log, expected):
    """At the median one half, a deviation above it 84 %, without error all or none."""
    season = Season("corn-grain", 200.0, "bu/ac")
    need = need_curve(SHIPPED["tri-state-2020"], [season], pool=False, build_up=True)

    found = need.probability_below(level, [median], [sd], log=log)

    assert found == pytest.approx([expected], abs=1e-6)


def test_expected_where_nothing_is_left():
    """A median of 0 has no logarithm, and is taken as known: 170 lb/ac."""
    season = Season("corn-grain", 200.0, "bu/ac")
    need = need_curve(SHIPPED["tri-state-2020"], [season], pool=False, build_up=True)

    assert need.expected([0.0], [0.3], log=True) == pytest.approx([170.0 * LB_AC])
