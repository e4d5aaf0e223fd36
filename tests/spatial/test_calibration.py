"""Intervals of skill, the most that the nugget allows, and stated errors."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from vrp.spatial.calibration import calibration, most_by_nugget, skill_interval
from vrp.spatial.validation import skill
from vrp.spatial.variogram import Variogram


def interval(observed, predicted, baseline, block, seed=1):
    return skill_interval(
        observed,
        predicted,
        baseline=baseline,
        block=np.array(block),
        generator=np.random.default_rng(seed),
    )


def most(observed, baseline, nugget, sill, *, log=False, transform=np.asarray):
    variogram = Variogram("spherical", nugget, sill, 100.0)
    return most_by_nugget(
        observed, baseline=baseline, variogram=variogram, log=log, transform=transform
    )


def test_two_blocks_by_hand():
    """
    Two blocks of skill 3/4 and 1/4: both twice a quarter of the time, one each in half.

    So a tenth of the draws lies at 1/4, the middle at 1/2, a tenth at 3/4.
    """
    observed, baseline = [2.0, 0.0, 2.0, 0.0], [0.0, 0.0, 0.0, 0.0]
    predicted = [1.0, 0.0, 2.0 - math.sqrt(3.0), 0.0]

    found = interval(observed, predicted, baseline, [0, 0, 1, 1])

    assert found == pytest.approx((0.25, 0.75))


def test_blocks_go_together():
    """Samples that all err alike in their blocks leave no doubt, whatever within."""
    predicted = [1.0, 0.0, 1.0, 0.0]

    found = interval([2.0, 1.0, 2.0, 1.0], predicted, [0.0] * 4, [0, 0, 1, 1])

    assert found == pytest.approx((0.6, 0.6))


@given(
    st.lists(
        st.tuples(st.floats(0, 100), st.floats(0, 100), st.integers(0, 5)),
        min_size=4,
        max_size=30,
    ),
    st.integers(0, 99),
)
def test_interval_holds_the_skill(rows, seed):
    """The limits are in order and about the skill itself, and a seed repeats them."""
    observed, predicted, block = map(np.array, zip(*rows, strict=True))
    _, block = np.unique(block, return_inverse=True)
    baseline = np.full(len(rows), observed.mean())

    low, high = interval(observed, predicted, baseline, block, seed)

    assert interval(observed, predicted, baseline, block, seed) == pytest.approx(
        (low, high), nan_ok=True
    )
    if math.isnan(low):
        small = np.sum((observed - baseline) ** 2) <= 1e-9 * np.sum(observed**2)
        assert block.max() == 0 or small
    else:
        assert low <= skill(observed, predicted, baseline=baseline) + 1e-9
        assert high >= skill(observed, predicted, baseline=baseline) - 1e-9


def test_no_interval_from_one_block():
    """One block cannot be drawn anew, and alike samples have no skill."""
    assert np.isnan(interval([1.0, 2.0], [1.0, 2.0], [1.5, 1.5], [0, 0])).all()
    assert np.isnan(interval([2.0, 2.0], [1.0, 2.0], [2.0, 2.0], [0, 1])).all()


def test_other_seed_other_draws():
    """The seed is the plan's: another gives slightly other limits."""
    rng = np.random.default_rng(3)
    observed, block = rng.normal(size=60), np.repeat(np.arange(12), 5)
    predicted = observed + 0.7 * rng.normal(size=60)

    one, two = (
        interval(observed, predicted, np.zeros(60), block, seed) for seed in (1, 2)
    )

    assert one != two
    assert one == pytest.approx(two, abs=0.05)


def test_most_of_the_nugget_by_hand():
    """Mean squared error (9 + 1 + 1 + 9) / 4 = 5 with a nugget of 2 leaves 1 − 2/5."""
    assert most([1.0, 3.0, 5.0, 7.0], [4.0] * 4, 2.0, 3.0) == pytest.approx(0.6)
    assert most([1.0, 3.0, 5.0, 7.0], [4.0] * 4, 0.0, 5.0) == pytest.approx(1.0)
    assert most([1.0, 3.0, 5.0, 7.0], [4.0] * 4, 7.0, 0.0) == 0.0


def test_most_on_logarithms():
    """
    At a ground of 1 the squared error of exp(e) is exp(2c) − 2 exp(c/2) + 1.

    With c = 0.04 that is 1.083287 − 2.040403 + 1 = 0.042884; the field mean of 2 errs
    by 1.
    """
    found = most([1.0, 1.0], [2.0, 2.0], 0.04, 0.06, log=True)

    assert found == pytest.approx(1.0 - 0.042884, abs=1e-3)


def test_most_in_need_by_hand():
    """
    On ground just at a step of 10 half of the samples fall over it: 100 / 2 = 50.

    The field mean, beyond the step, errs by 10 everywhere, so a half is left.
    """
    found = most(
        [20.0, 20.0],
        [10.0, 10.0],
        1.0,
        1.0,
        transform=lambda test: np.where(np.asarray(test) < 20.0, 10.0, 0.0),
    )

    assert found == pytest.approx(0.5)


def test_nothing_to_explain():
    """Where the field mean does not err there is no most."""
    assert math.isnan(most([3.0, 3.0], [3.0, 3.0], 1.0, 1.0))


def test_stated_errors_by_hand():
    """
    Of errors 0.6, −0.7, 1.2, −1.3 and 2 within 0.674, 1.282 and 1.960 are 1, 3 and 4.

    Their squares are 0.36, 0.49, 1.44, 1.69 and 4, together 7.98, on average 1.596.
    """
    found = calibration([0.6, -0.7, 1.2, -1.3, 2.0])

    assert found.squared_error == pytest.approx(1.596)
    shares = (found.coverage_50, found.coverage_80, found.coverage_95)
    assert shares == pytest.approx((0.2, 0.6, 0.8))
