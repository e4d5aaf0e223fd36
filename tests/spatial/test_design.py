"""Clustered samples: told by distances, and left out in wider blocks."""

import math

import numpy as np
import pytest

from vrp.spatial.design import CLUSTERED_ABOVE, clustering, grid_spacing
from vrp.spatial.surface import build_surface
from vrp.spatial.validation import skill


def _grid(count, step):
    line = (np.arange(count) + 0.5) * step
    return np.stack(np.meshgrid(line, line), -1).reshape(-1, 2)


CELLS = _grid(100, 6.0)  # 36 ha


def test_grid():
    """On a square grid ground is 0.3826 spacings from the nearest sample."""
    assert clustering(_grid(10, 60.0), CELLS) == pytest.approx(0.3826, abs=0.005)
    assert grid_spacing(_grid(10, 60.0), CELLS) == pytest.approx(60.0, abs=0.5)


@pytest.mark.parametrize(("count", "most"), [(15, 0.10), (30, 0.04), (60, 0.02)])
def test_random_places_are_not_clustered(count, most):
    """Places at random lie as far apart as the ground from them, and rarely more."""
    rng = np.random.default_rng(1)
    found = np.array(
        [clustering(rng.uniform(0.0, 600.0, (count, 2)), CELLS) for _ in range(200)]
    )

    assert np.median(found) == pytest.approx(1.0, abs=0.1)
    assert np.mean(found > CLUSTERED_ABOVE) <= most


def _clusters(rng, middles=6, each=10, width=25.0):
    middle = rng.uniform(60.0, 540.0, (middles, 1, 2))
    return (middle + rng.normal(0.0, width, (middles, each, 2))).reshape(-1, 2)


def test_clusters_are_told():
    """Six clusters of ten samples are always told, whatever their places."""
    rng = np.random.default_rng(2)
    found = [clustering(_clusters(rng), CELLS) for _ in range(100)]

    assert min(found) > CLUSTERED_ABOVE


def test_few_samples_tell_nothing():
    """With fewer than fifteen samples there is no figure, and nothing is clustered."""
    found = clustering(_clusters(np.random.default_rng(3))[:14], CELLS)

    assert math.isnan(found)


def test_clustered_samples_are_not_flattered():
    """Blocks as wide as the gaps bring the skill down to what other places show."""
    rng = np.random.default_rng(4)
    alone, blocked, true = [], [], []
    for _ in range(20):
        xy, other = _clusters(rng), rng.uniform(0.0, 600.0, (200, 2))
        both = np.vstack([xy, other])
        apart = np.linalg.norm(both[:, None] - both[None], axis=2)
        root = np.linalg.cholesky(np.exp(-apart / 40.0) + 0.3 * np.eye(len(both)))
        value = 20.0 + 5.0 * root @ rng.standard_normal(len(both))
        surface = build_surface(xy, value[:60], np.vstack([other, CELLS]))
        cross, mean = surface.cross, surface.cross.field_mean
        kriged = cross.kriging
        alone.append(
            skill(cross.observed, kriged.leave_one_out, baseline=mean.leave_one_out)
        )
        blocked.append(skill(cross.observed, kriged.blocked, baseline=mean.blocked))
        even = np.full(200, value[:60].mean())
        true.append(skill(value[60:], surface.estimate[:200], baseline=even))

    assert np.median(alone) > np.median(true) + 0.15
    assert np.median(blocked) < np.median(true) + 0.05
