"""
Cross-validation, against gstat and hand arithmetic.

reference_values.json was computed with R and gstat; README.md beside it says how.
"""

import json
import math
from pathlib import Path

import numpy as np
import pytest

from vrp.spatial.validation import (
    blocks,
    leave_out_distance,
    leave_out_mean,
    skill,
    verdict,
)

DATA = Path(__file__).parents[1] / "data"
REFERENCE = json.loads((DATA / "reference_values.json").read_text("utf-8"))
XY = np.column_stack([REFERENCE["meuse"]["x"], REFERENCE["meuse"]["y"]]).astype(float)
ZINC = np.array(REFERENCE["meuse"]["zinc"], dtype=float)

GRID = np.stack(np.meshgrid(np.arange(9.0), np.arange(9.0)), -1).reshape(-1, 2) * 64.0


def test_inverse_distance_left_out():
    """Leaving one out by inverse squared distance errs as gstat does."""
    expected = REFERENCE["cv"]["idw2_loo_zinc"]

    error = ZINC - leave_out_distance(XY, ZINC, np.arange(155), power=2.0)

    assert error.mean() == pytest.approx(expected["ME"], rel=1e-8)
    assert np.sqrt(np.mean(error**2)) == pytest.approx(expected["RMSE"], rel=1e-8)
    assert np.abs(error).mean() == pytest.approx(expected["MAE"], rel=1e-8)


def test_inverse_distance_by_hand():
    """Neighbours at 1 and 3 m weigh 3 to 1, and 9 to 1 by the square."""
    xy, value = (
        np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 3.0]]),
        np.array([7.0, 4.0, 8.0]),
    )

    first = leave_out_distance(xy, value, np.arange(3), power=1.0)[0]
    second = leave_out_distance(xy, value, np.arange(3), power=2.0)[0]

    assert first == pytest.approx((3 * 4 + 8) / 4)
    assert second == pytest.approx((9 * 4 + 8) / 10)


def test_mean_left_out():
    """The mean is that of the other groups; with one group there is none."""
    value = np.array([1.0, 2.0, 6.0, 9.0])

    found = leave_out_mean(value, np.array([0, 0, 1, 2]))

    np.testing.assert_allclose(found, [7.5, 7.5, 4.0, 3.0])
    assert np.isnan(leave_out_mean(value, np.zeros(4, dtype=int))).all()


def test_skill():
    """Skill is 1 where nothing errs, 0 with the mean, below 0 beyond it."""
    observed, mean = [8.0, 12.0], [10.0, 10.0]

    assert skill(observed, observed, baseline=mean) == 1.0
    assert skill(observed, mean, baseline=mean) == 0.0
    assert skill(observed, [12.0, 8.0], baseline=mean) == -3.0  # 1 - 32 / 8


def test_skill_where_the_mean_is_right():
    """Where the mean never errs, a map can't help, only harm."""
    assert math.isnan(skill([0.0, 0.0], [0.0, 0.0], baseline=[0.0, 0.0]))
    assert skill([0.0, 0.0], [0.0, 5.0], baseline=[0.0, 0.0]) == -math.inf


@pytest.mark.parametrize(
    ("n", "soil_test", "need", "expected"),
    [
        (30, 0.21, 0.3, "supported"),
        (30, 0.20, 0.3, "weak"),
        (75, 0.3, -0.2, "weak"),
        (75, 0.0, 0.01, "weak"),
        (75, 0.0, -0.2, "not supported"),
        (75, -0.1, math.nan, "not supported"),
        (75, 0.3, math.nan, "supported"),
        (75, math.nan, math.nan, "cannot tell"),
        (29, 0.9, 0.9, "cannot tell"),
        (29, -0.9, -0.9, "cannot tell"),
    ],
)
def test_verdict(n, soil_test, need, expected):
    """Both skills support a map, neither takes it away, and few samples can't tell."""
    assert verdict(n=n, soil_test=soil_test, need=need) == expected


@pytest.mark.parametrize(
    ("alone", "expected"),
    [
        ((), "not supported"),
        ((0.0, -0.1), "not supported"),
        ((0.0, math.nan), "not supported"),
        ((0.01, -0.1), "weak"),
        ((-0.1, 0.01), "weak"),
        ((0.9, 0.9), "weak"),
    ],
)
def test_verdict_asks_both_ways_of_leaving_out(alone, expected):
    """A skill one at a time keeps a map, and never supports it."""
    found = verdict(n=60, soil_test=-0.02, need=-0.05, alone=alone)

    assert found == expected


def test_blocks():
    """Nine by nine samples in squares of two spacings are 25 blocks of up to four."""
    group = blocks(GRID, side=128.0)

    assert len(set(group)) == 25
    assert np.bincount(group).max() == 4
    for name in set(group):
        assert np.ptp(GRID[group == name], axis=0).max() <= 64.0


def test_blocks_of_few():
    """Four samples are blocks of their own; squares shrink until there are four."""
    assert len(set(blocks(GRID[:4], side=1000.0))) == 4
    assert len(set(blocks(GRID, side=5000.0))) >= 4


def test_blocks_bear_centimetres():
    """On a grid of 62 m, moved by up to 2 cm, every sample keeps its block of four."""
    column, row = np.meshgrid(np.arange(6), np.arange(8))
    exact = 62.0 * np.column_stack([column.ravel(), row.ravel()])
    moved = exact + np.random.default_rng(1).uniform(-0.02, 0.02, exact.shape)

    by_hand = column.ravel() // 2 + 3 * (row.ravel() // 2)

    assert blocks(exact, side=124.0).tolist() == by_hand.tolist()
    assert blocks(moved, side=124.03).tolist() == by_hand.tolist()


def test_many_samples_are_left_out_in_blocks():
    """The distance weighting and the mean of 700 samples are those of all at once."""
    rng = np.random.default_rng(1)
    xy, value = rng.uniform(0.0, 500.0, (700, 2)), rng.normal(size=700)
    group = rng.integers(0, 90, 700)
    apart = np.linalg.norm(xy[:, None] - xy[None], axis=2)
    others = group[:, None] != group[None]
    weight = np.divide(1.0, apart**2, out=np.zeros_like(apart), where=others)

    distance = leave_out_distance(xy, value, group, power=2.0)

    np.testing.assert_allclose(distance, weight @ value / weight.sum(axis=1), rtol=1e-9)
    expected = others @ value / others.sum(axis=1)
    np.testing.assert_allclose(leave_out_mean(value, group), expected, rtol=1e-9)
