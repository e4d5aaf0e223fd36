"""Surfaces: what kriging makes of samples, and what is done where it can't."""

import csv
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from vrp.errors import InputError
from vrp.spatial.likely import MOST
from vrp.spatial.scale import choose_scale
from vrp.spatial.surface import build_surface
from vrp.spatial.validation import skill, verdict
from vrp.spatial.variogram import Variogram

DATA = Path(__file__).parents[1] / "data"


def _grid(count, step):
    line = (np.arange(count) + 0.5) * step
    return np.stack(np.meshgrid(line, line), -1).reshape(-1, 2)


XY = _grid(9, 64.0)
CELLS = _grid(36, 16.0)
BOTH = np.vstack([XY, CELLS])
APART = np.linalg.norm(BOTH[:, None] - BOTH[None], axis=2)
LOG_SILL = np.log(1.25)  # a lognormal value with a coefficient of variation of 0.5


def _fields(count, *, reach, nugget, seed):
    """Simulate samples on XY with the true medians on CELLS, around 20."""
    rng = np.random.default_rng(seed)
    structure = (1.0 - nugget) * LOG_SILL
    covariance = structure * Variogram("spherical", 0.0, 1.0, reach).correlation(APART)
    root = np.linalg.cholesky(covariance + 1e-10 * np.eye(len(BOTH)))
    for _ in range(count):
        true = root @ rng.standard_normal(len(BOTH))
        noise = np.sqrt(nugget * LOG_SILL) * rng.standard_normal(len(XY))
        yield np.exp(3.0 + true[: len(XY)] + noise), np.exp(3.0 + true[len(XY) :])


def _structured():
    rng = np.random.default_rng(5)
    height = np.sin(XY[:, 0] / 120.0) + np.cos(XY[:, 1] / 150.0)
    return np.exp(3.0 + 0.6 * height + 0.15 * rng.standard_normal(len(XY)))


def _noise():
    return np.exp(3.0 + 0.45 * np.random.default_rng(6).standard_normal(len(XY)))


def _blocked_skill(surface):
    cross = surface.cross
    return skill(
        cross.observed, cross.kriging.blocked, baseline=cross.field_mean.blocked
    )


def test_structure_has_skill():
    """A plain pattern is mapped well, and noise isn't made into one."""
    pattern = build_surface(XY, _structured(), CELLS)
    noise = build_surface(XY, _noise(), CELLS)

    assert _blocked_skill(pattern) > 0.5
    assert _blocked_skill(noise) < 0.1
    assert pattern.method == "ordinary kriging"
    assert np.ptp(pattern.estimate) > 3.0 * np.ptp(noise.estimate)


def test_map_is_nearer_to_the_truth_than_the_mean():
    """On simulated fields the map's squared error is less than half the mean's."""
    fields = list(_fields(20, reach=250.0, nugget=1 / 3, seed=1))
    by_map = by_mean = 0.0

    for samples, true in fields:
        surface = build_surface(XY, samples, CELLS)
        by_map += np.mean((surface.estimate - true) ** 2)
        by_mean += np.mean((samples.mean() - true) ** 2)

    assert by_map < 0.5 * by_mean


def test_stated_errors():
    """80 % intervals hold 80 % of left-out samples, and squared errors are as said."""
    surfaces = [
        build_surface(XY, samples, CELLS)
        for samples, _ in _fields(30, reach=200.0, nugget=0.4, seed=2)
    ]

    assert np.mean([one.cross.coverage for one in surfaces]) == pytest.approx(
        0.8, abs=0.05
    )
    assert np.mean([one.cross.standardised for one in surfaces]) == pytest.approx(
        1.0, abs=0.1
    )


def test_mean_is_unbiased():
    """On lognormal fields the mean of the map is the true mean, nugget included."""
    share = [
        build_surface(XY, samples, CELLS).mean.mean() / samples.mean()
        for samples, _ in _fields(40, reach=200.0, nugget=0.4, seed=3)
    ]

    assert np.mean(share) == pytest.approx(1.0, abs=0.01)


def test_interval_holds_the_mean():
    """80 % intervals of a quarter's mean hold the truth about as often as they say."""
    quarter = np.flatnonzero((CELLS < 288.0).all(axis=1))
    held = []
    for samples, median in _fields(100, reach=200.0, nugget=0.4, seed=4):
        true = median[quarter].mean() * np.exp(0.4 * LOG_SILL / 2.0)
        low, high = build_surface(XY, samples, CELLS).interval(quarter)
        held.append(low <= true <= high)

    assert 0.68 <= np.mean(held) <= 0.92


def test_interval_holds_the_mean_of_what_the_map_chose():
    """
    80 % intervals of the ground that a map calls poorest hold the truth as they say.

    What is chosen by the map is where its one variogram errs; short ranges are hard.
    """
    held = []
    for samples, median in _fields(60, reach=120.0, nugget=0.5, seed=7):
        surface = build_surface(XY, samples, CELLS)
        order = np.argsort(surface.estimate, kind="stable")
        for part in np.array_split(order, 4)[::3]:
            true = median[part].mean() * np.exp(0.5 * LOG_SILL / 2.0)
            low, high = surface.interval(part)
            held.append(low <= true <= high)

    # 120 quarters, two of a field: four standard deviations are 15 points.
    assert 0.68 <= np.mean(held) <= 0.92


def test_interval_holds_the_map():
    """The poorest and the richest ground's own figures lie in their intervals."""
    for samples, _ in _fields(10, reach=120.0, nugget=0.5, seed=9):
        surface = build_surface(XY, samples, CELLS)
        for part in np.array_split(np.argsort(surface.estimate), 6):
            low, high = surface.interval(part, level=0.1)
            for each in (surface.estimate, surface.mean):
                assert low <= each[part].mean(dtype=float) <= high


@pytest.mark.parametrize(
    ("reach", "nugget", "supported", "not_supported"),
    [(250.0, 1 / 3, (0.4, 1.0), (0.0, 0.1)), (1e-3, 0.99, (0.0, 0.05), (0.4, 1.0))],
)
def test_verdict_tells_noise_from_structure(reach, nugget, supported, not_supported):
    """Noise is hardly ever supported, and structure hardly ever taken away."""
    found = []
    for samples, _ in _fields(60, reach=reach, nugget=nugget, seed=7):
        score = _blocked_skill(build_surface(XY, samples, CELLS))
        found.append(verdict(n=len(XY), soil_test=score, need=score))

    assert supported[0] <= found.count("supported") / 60 <= supported[1]
    assert not_supported[0] <= found.count("not supported") / 60 <= not_supported[1]


def test_soil_p_of_soja98():
    """On real soil P kriging takes a tenth or more off the mean's squared error."""
    with (DATA / "soja98.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    xy = np.array([[float(row["X"]), float(row["Y"])] for row in rows])
    value = np.array([float(row["P"]) for row in rows])

    surface = build_surface(xy, value, xy)

    cross, mean = surface.cross, surface.cross.field_mean.leave_one_out
    # Other software, with other variograms, took 12 to 22 % off.
    assert 0.10 < skill(value, cross.kriging.leave_one_out, baseline=mean) < 0.25
    assert surface.log
    assert surface.variogram.range <= 0.5 * np.hypot(150.0, 113.0)


def test_field_elsewhere_and_turned():
    """Moving and turning samples and cells changes nothing but the last digit."""
    turn, value = np.radians(37.0), _structured()
    matrix = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    shift = np.array([612_000.0, 4_480_000.0])

    here = build_surface(XY, value, CELLS)
    there = build_surface(XY @ matrix.T + shift, value, CELLS @ matrix.T + shift)

    np.testing.assert_allclose(there.estimate, here.estimate, rtol=1e-5)
    np.testing.assert_allclose(there.sd, here.sd, rtol=1e-5)


@pytest.mark.parametrize("value", [_structured(), 50.0 - np.sqrt(_structured())])
def test_unit(value):
    """Values in another unit give the same surface in that unit, on either scale."""
    once, twice = (build_surface(XY, value * unit, CELLS) for unit in (1.0, 2.0))

    assert once.log == twice.log
    np.testing.assert_allclose(twice.estimate, 2.0 * once.estimate, rtol=1e-5)
    np.testing.assert_allclose(twice.mean, 2.0 * once.mean, rtol=1e-5)
    np.testing.assert_allclose(
        twice.sd, once.sd * (1.0 if once.log else 2.0), rtol=1e-5
    )


def test_order_of_samples():
    """The order of the file changes nothing but the last digit."""
    value, order = _structured(), np.random.default_rng(8).permutation(len(XY))

    once, again = (
        build_surface(XY[at], value[at], CELLS) for at in (slice(None), order)
    )

    np.testing.assert_allclose(again.estimate, once.estimate, rtol=1e-5)


def test_same_bytes():
    """One thread and two give the same bytes."""
    code = (
        "import numpy as np, hashlib;"
        "from vrp.spatial.surface import build_surface;"
        "rng = np.random.default_rng(1);"
        "xy = rng.uniform(0, 600, (300, 2));"
        "value = np.exp(np.sin(xy[:, 0] / 90) + rng.normal(size=300) / 2);"
        "found = build_surface(xy, value, rng.uniform(0, 600, (3000, 2)));"
        "limits = found.interval(np.arange(99));"
        "parts = (found.estimate, found.mean, found.sd, *limits);"
        "print(hashlib.sha256(b''.join(np.asarray(p).tobytes() for p in parts))"
        ".hexdigest())"
    )
    digests = {
        subprocess.check_output(
            [sys.executable, "-c", code],
            env=os.environ | {"OPENBLAS_NUM_THREADS": threads},
        )
        for threads in ("1", "2")
    }

    assert len(digests) == 1


def test_scale():
    """Skewed values go by logarithms, but not with a zero or nearly, nor unskewed."""
    skewed, fifth = _structured() ** 2, np.arange(len(XY)) == 4

    assert build_surface(XY, skewed, CELLS).log
    for value, reason in [
        (np.where(fifth, 0.0, skewed), "a value is not above 0"),
        (np.where(fifth, 1e-3, skewed), "by logarithms -"),
        (np.where(XY[:, 0] < 100.0, 1e-3, skewed), "would move the mean by over half"),
        (np.log(skewed), "linear scale: skewness "),
    ]:
        surface = build_surface(XY, value, CELLS)
        assert not surface.log
        assert reason in surface.reason


def test_scale_of_lesser_skewness():
    """Values whose logarithms lie evenly go by logarithms, even values do not."""
    even = np.linspace(-1.0, 1.0, 81)

    # Here the skewness of the logarithms is 0, and there that of the values.
    assert choose_scale(np.exp(3.0 + 0.5 * even))[0]
    assert not choose_scale(20.0 + 9.0 * even)[0]


def test_estimates_are_not_negative():
    """On the linear scale what kriging puts below zero is zero."""
    value = np.where(XY[:, 0] < 300.0, 0.0, 100.0)

    surface = build_surface(XY, value, CELLS)

    assert not surface.log
    assert surface.estimate.min() >= 0.0
    assert surface.cross.kriging.leave_one_out.min() >= 0.0
    assert surface.interval(np.flatnonzero(CELLS[:, 0] < 100.0))[0] >= 0.0


def test_all_alike():
    """Samples that are alike give their value without error, on the field mean."""
    surface = build_surface(XY, np.full(len(XY), 0.1), CELLS)

    assert (surface.method, surface.reason) == ("field mean", "all samples are alike")
    np.testing.assert_allclose(surface.estimate, 0.1)
    np.testing.assert_array_equal(surface.sd, 0.0)
    assert surface.interval(np.arange(5)) == pytest.approx((0.1, 0.1))


def test_two_samples():
    """Two samples give their mean, with the error of a single place beside it."""
    surface = build_surface(XY[:2], np.array([10.0, 14.0]), CELLS)

    assert surface.method == "field mean"
    assert surface.reason == "kriging needs samples at 4 positions, not at 2"
    np.testing.assert_array_equal(surface.estimate, np.float32(12.0))
    # Their standard deviation is 2 root 2; times the root of 1 + 1/2 it is root 12.
    np.testing.assert_allclose(surface.sd, np.sqrt(12.0), rtol=1e-6)
    np.testing.assert_array_equal(surface.cross.field_mean.leave_one_out, [14.0, 10.0])


def test_three_samples():
    """Three samples hold three pairs: no variogram, and an interval of a place."""
    surface = build_surface(XY[[0, 1, 9]], np.array([10.0, 14.0, 18.0]), CELLS)

    assert surface.reason == "kriging needs samples at 4 positions, not at 3"
    assert surface.variogram is None
    # Their standard deviation is 4; times the root of 1 + 1/3, times 1.2816.
    low, high = surface.interval(np.arange(7))
    assert (low, high) == pytest.approx((14.0 - 5.919, 14.0 + 5.919), abs=0.001)


def test_one_sample():
    """One sample gives its value; its error is not known and not made up."""
    surface = build_surface(XY[:1], np.array([10.0]), CELLS, lab_cv=10.0)

    assert surface.reason == "kriging needs samples at 4 positions, not at 1"
    np.testing.assert_array_equal(surface.estimate, np.float32(10.0))
    assert np.isnan(surface.sd).all()
    assert np.isnan(surface.interval(np.arange(3))).all()


def test_no_structure():
    """Where near samples differ more than far ones, the surface is the field mean."""
    value = 20.0 + 5.0 * (-1.0) ** np.arange(len(XY))

    surface = build_surface(XY, value, CELLS)

    assert surface.reason.startswith("the samples show no spatial structure")
    np.testing.assert_allclose(surface.estimate, value.mean(), rtol=1e-6)
    expected = np.std(value, ddof=1) / np.sqrt(len(XY))
    np.testing.assert_allclose(surface.sd, expected, rtol=1e-6)
    assert _blocked_skill(surface) == 0.0


def test_repeated_positions():
    """Samples at one position are averaged, and counted."""
    value = _structured()
    xy_twice = np.vstack([XY, XY[:3]])
    value_twice = np.append(value, value[:3] + 2.0)
    averaged = np.append(value[:3] + 1.0, value[3:])

    surface = build_surface(xy_twice, value_twice, CELLS)

    assert (surface.n, surface.repeated) == (len(XY), 3)
    assert "3 samples at the position of another were averaged" in surface.reason
    once = build_surface(XY, averaged, CELLS)
    np.testing.assert_array_equal(surface.estimate, once.estimate)


def test_line():
    """Samples on one line are kriged, and that is said."""
    surface = build_surface(XY[:9], np.arange(9.0) + 5.0, CELLS)

    assert surface.method == "ordinary kriging"
    assert "all samples lie on one line" in surface.reason
    assert np.isfinite(surface.estimate).all()


def test_variogram_is_the_mean_of_the_likely():
    """Up to 300 samples each parameter is the mean by weight; above, it is fitted."""
    surface = build_surface(XY, _structured(), CELLS)
    each = [one.variogram for one in surface.among.systems]
    many = np.random.default_rng(3).uniform(0.0, 600.0, (MOST + 1, 2))
    fitted = build_surface(many, np.sin(many[:, 0] / 90.0) + 5.0, CELLS[:9])

    assert len(each) > 1
    for name in ("nugget", "partial_sill", "range"):
        expected = surface.among.weight @ [getattr(one, name) for one in each]
        assert getattr(surface.variogram, name) == pytest.approx(expected)
    assert "the mean of those that the samples leave likely" in surface.reason
    assert fitted.among is None


def test_few_samples_keep_some_structure():
    """On fields of 15 samples the map is nearer to the truth than their mean."""
    fields = _fields(40, reach=250.0, nugget=0.4, seed=11)
    every = np.arange(0, len(XY), 5)[:15]
    by_map = by_mean = 0.0

    for samples, true in fields:
        surface = build_surface(XY[every], samples[every], CELLS)
        by_map += np.mean((surface.estimate - true) ** 2)
        by_mean += np.mean((samples[every].mean() - true) ** 2)

    assert by_map < 0.85 * by_mean


def test_laboratory_error():
    """A laboratory's error bounds nugget and interval from below."""
    known = build_surface(XY, _structured(), CELLS, lab_cv=30.0)
    everywhere = np.arange(len(CELLS))

    assert known.log
    assert known.variogram.nugget >= 0.3**2
    low, high = known.interval(everywhere)
    # 81 samples: 30 % over 9, times 1.2816 either way.
    assert np.log(high / low) >= 2 * 1.2815 * 0.3 / 9.0


def test_refusals():
    """No sample, or one that is not a number, is refused and named."""
    with pytest.raises(InputError, match="no sample"):
        build_surface(np.empty((0, 2)), np.empty(0), CELLS)
    with pytest.raises(InputError, match="sample 2: position or value"):
        build_surface(XY[:3], np.array([1.0, np.nan, 2.0]), CELLS)


@settings(max_examples=60, deadline=None)
@given(data=st.data(), n=st.integers(1, 40))
def test_any_samples(data, n):
    """Whatever the samples, the surface is finite, not negative, and never crashes."""
    value = data.draw(arrays(float, n, elements=st.floats(0.0, 500.0)))
    place = st.integers(0, 12).map(lambda step: step * 31.25)
    xy = data.draw(arrays(float, (n, 2), elements=place))

    surface = build_surface(xy, value, CELLS[::10])

    assert np.isfinite(surface.estimate).all()
    assert surface.estimate.min() >= 0.0
    assert (surface.sd >= 0.0).all() or surface.n == 1
    assert surface.n + surface.repeated == n
    low, high = surface.interval(np.arange(20))
    middle = surface.estimate[:20].mean(dtype=float)
    assert 0.0 <= low <= middle * (1.0 + 1e-9) or surface.n == 1
    assert middle * (1.0 - 1e-9) <= high or surface.n == 1


def test_tiny_values_have_a_skewness():
    """Values of 1e-140, whose cubes are 0 in binary, are taken as they are."""
    xy = np.array([[0.0, 0.0], [10.0, 0.0], [0.0, 31.25]])
    value = np.full(3, 1.8238286900000000e-140) * [1.0, 1.0 + 1e-15, 1.0]

    surface = build_surface(xy, value, xy)

    assert surface.method == "field mean"
