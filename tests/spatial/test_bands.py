"""Bands that misplace least, against every other way to cut."""

from itertools import combinations, pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vrp.spatial.bands import MOST_STEPS, best_bands, knee


def _misplaced(values, cuts):
    """Return the mean distance from the means of runs of sorted values."""
    runs = np.split(np.sort(values), cuts)
    return sum(np.abs(run - run.mean()).sum() for run in runs) / len(values)


def _least(values, count):
    """Return what the best of all ways to cut sorted values misplaces."""
    places = np.flatnonzero(np.diff(np.sort(values))) + 1
    return min(_misplaced(values, cuts) for cuts in combinations(places, count - 1))


def test_bands_by_hand():
    """0, 2 | 10, 12, 14: distances 1, 1 and 2, 0, 2 make 6 on five values."""
    one, two, three = best_bands(np.array([12.0, 0.0, 10.0, 2.0, 14.0]), most=3)
    # Of all five the mean is 7.6, and distances are 7.6, 5.6, 2.4, 4.4 and 6.4.
    assert one.misplaced == pytest.approx(26.4 / 5)
    assert two.labels.tolist() == [1, 0, 1, 0, 1]
    assert two.misplaced == pytest.approx(6 / 5)
    # 0, 2 | 10, 12 | 14 and 0, 2 | 10 | 12, 14 and 0 | 2 | ... : the best leaves 4.
    assert three.misplaced == pytest.approx(4 / 5)


@settings(max_examples=150, deadline=None)
@given(st.lists(st.integers(0, 60), min_size=1, max_size=11), st.integers(1, 5))
def test_no_other_cuts_misplace_less(numbers, most):
    """Of all ways to cut up to eleven values into up to five bands none is better."""
    values = np.array(numbers, float)
    found = best_bands(values, most=most)
    distinct = len(set(numbers))
    assert len(found) == min(most, distinct)
    for count, banding in enumerate(found, start=1):
        assert banding.misplaced == pytest.approx(_least(values, count), abs=1e-9)
        means = [values[banding.labels == k].mean() for k in range(count)]
        own = np.abs(values - np.array(means)[banding.labels]).mean()
        assert own == pytest.approx(banding.misplaced, abs=1e-9)
        assert means == sorted(means)


@settings(max_examples=100, deadline=None)
@given(st.lists(st.integers(0, 60), min_size=2, max_size=10), st.integers(0, 60))
def test_a_limit_is_never_straddled(numbers, limit):
    """Values on two sides of a limit share no band, and the rest is still best."""
    values = np.array(numbers, float)
    above = values > limit
    found = best_bands(values, parts=above.astype(int), most=4)
    sides = [side for side in (values[~above], values[above]) if len(side)]
    assert len(found[0].labels) == len(values)
    for count, banding in enumerate(found, start=len(sides)):
        assert not set(banding.labels[above]) & set(banding.labels[~above])
        if len(sides) == 1:
            best = _least(values, count)
        else:
            best = min(
                (
                    len(sides[0]) * _least(sides[0], k)
                    + len(sides[1]) * _least(sides[1], count - k)
                )
                / len(values)
                for k in range(1, count)
                if k <= len(set(sides[0])) and count - k <= len(set(sides[1]))
            )
        assert banding.misplaced == pytest.approx(best, abs=1e-9)


def test_more_parts_than_bands_were_asked_for():
    """Three sides of two limits are three bands, though one was asked for."""
    (only,) = best_bands(np.array([1.0, 5.0, 9.0]), parts=np.array([0, 1, 2]), most=1)
    assert only.labels.tolist() == [0, 1, 2]
    assert only.misplaced == 0.0


def test_values_that_are_all_alike_are_one_band():
    """There is nothing to cut."""
    (only,) = best_bands(np.full(7, 70.0), most=5)
    assert only.labels.tolist() == [0] * 7


def test_many_values_are_binned_and_hardly_misplace_more():
    """100,000 uniform values from 0 to 100 in five bands of 20 misplace 5 each."""
    values = np.random.default_rng(1).permutation(np.linspace(0, 100, 100_001))
    five = best_bands(values, most=5)[4]
    assert five.misplaced == pytest.approx(5.0, abs=0.01)
    assert np.bincount(five.labels) == pytest.approx(20_000, abs=600)
    # A band holds whole steps of the lattice: no value lies within another's band.
    edges = [values[five.labels == k] for k in range(5)]
    assert all(a.max() < b.min() for a, b in pairwise(edges))
    assert MOST_STEPS <= 400


def test_the_knee_looks_beyond_a_poor_step():
    """A band that saves little and the next much are worth their while together."""
    assert knee([9.0, 8.9, 4.0, 3.9], worth=0.5) == 2
    assert knee([9.0, 8.9, 8.8], worth=0.5) == 0
    assert knee([1.0], worth=0.5) == 0
    assert knee([2.0, 1.5, 1.0], worth=0.5) == 2
