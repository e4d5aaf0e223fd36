"""Scatter between and within drawn zones, by hand."""

import numpy as np
import pytest

from vrp.spatial.spread import spread


def test_between_and_within():
    """Means of 2, 5 and 11 with deviations of 1: 84 of 90 lies between."""
    value = np.array([1.0, 3.0, 4.0, 6.0, 10.0, 12.0])
    found = spread(value, np.array([0, 0, 3, 3, 7, 7]))

    # About the mean of 6: 2 × (16 + 1 + 25) = 84, and 6 × 1 within.
    assert (found.zones, found.samples) == (3, 6)
    assert found.between == pytest.approx(84 / 90)
    assert found.by_chance == pytest.approx(2 / 5)


def test_blind_zones_have_what_chance_gives():
    """Over many shuffles the share between is zones less 1 over samples less 1."""
    rng = np.random.default_rng(1)
    zone = np.repeat(np.arange(4), [3, 5, 10, 12])
    shares = [spread(rng.normal(size=30), zone).between for _ in range(2000)]

    assert np.mean(shares) == pytest.approx(3 / 29, abs=0.005)


def test_samples_outside_do_not_count():
    """A sample in no zone is left aside."""
    value, zone = np.array([1.0, 3.0, 9.0, 11.0, 90.0]), np.array([0, 0, 1, 1, -1])

    assert spread(value, zone) == spread(value[:4], zone[:4])


@pytest.mark.parametrize(
    ("value", "zone"),
    [([1.0, 2.0], [0, 0]), ([1.0, 2.0], [0, 1]), ([3.0] * 4, [0, 0, 1, 1])],
)
def test_nothing_to_tell(value, zone):
    """One zone, a sample a zone or samples without scatter tell nothing."""
    assert spread(np.array(value), np.array(zone)) is None
