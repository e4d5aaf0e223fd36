"""Directions: found where ground was drawn with one, and hardly where it was not."""

import numpy as np
import pytest

from vrp.spatial.bins import bin_pairs, bin_sectors
from vrp.spatial.direction import find_direction
from vrp.spatial.kriging import one_thread
from vrp.spatial.surface import build_surface
from vrp.spatial.variogram import Variogram, stretch

STEP = 64.0


@pytest.fixture(autouse=True)
def _one_thread():
    """Hold BLAS at one thread, as surfaces do."""
    with one_thread():
        yield


def _places(side, seed=1):
    """Return an unsteady hand's square grid."""
    line = np.arange(side) * STEP
    xy = np.stack(np.meshgrid(line, line), -1).reshape(-1, 2)
    return xy + np.random.default_rng(seed).normal(0.0, 0.08 * STEP, xy.shape)


def _fields(count, xy, *, angle=35.0, ratio=1.0, nugget=0.1, seed=2):
    """Draw samples whose middle range is 4 spacings."""
    reach = 4.0 * STEP * ratio**0.5
    model = Variogram(
        "spherical", nugget, 1.0 - nugget, reach, angle=angle, ratio=ratio
    )
    covariance = model.partial_sill * model.correlation(model.lags(xy, xy))
    root = np.linalg.cholesky(covariance + nugget * np.eye(len(xy)))
    rng = np.random.default_rng(seed)
    return [root @ rng.standard_normal(len(xy)) for _ in range(count)]


@pytest.mark.parametrize("side", [13, 16])
def test_a_strong_direction_is_found(side):
    """Of 12 grounds three times as far alike to 35 degrees, most are seen to be so."""
    xy = _places(side)
    found = [find_direction(xy, one) for one in _fields(12, xy, ratio=3.0)]
    taken = [(angle, ratio) for angle, ratio in found if ratio > 1.0]

    # On calibrating fields 67 to 97 in 100.
    assert len(taken) >= 8
    away = [abs((angle - 35.0 + 90.0) % 180.0 - 90.0) for angle, _ in taken]
    assert np.median(away) <= 10.0
    assert 2.0 <= np.median([ratio for _, ratio in taken]) <= 4.0


def test_no_direction_is_made_of_chance():
    """Of 30 grounds that are alike all ways, at most 4 are given a direction."""
    xy = _places(11)
    found = [find_direction(xy, one) for one in _fields(30, xy)]

    # At a rate of 3 in 100 five or more come up once in 500 times.
    assert sum(ratio > 1.0 for _, ratio in found) <= 4


def test_too_few_samples():
    """From 99 samples no direction is taken, however plain it is."""
    xy = _places(10)[:99]

    assert find_direction(xy, xy[:, 0]) == (0.0, 1.0)


def _plain():
    """Return samples with a direction that is found."""
    xy = _places(12)
    [value] = _fields(1, xy, angle=30.0, ratio=3.0, seed=4)
    return xy, value


def test_moved_turned_and_in_another_unit():
    """A field moved, or in another unit, has the same direction; turned, it turns."""
    xy, value = _plain()
    angle, ratio = find_direction(xy, value)
    turn = np.radians(45.0)  # clockwise
    turned = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])

    assert ratio > 1.5
    assert find_direction(xy + np.array([50_000.0, -3_000.0]), value) == (angle, ratio)
    assert find_direction(xy, 2.242 * value + 5.0) == (angle, ratio)
    there = find_direction(xy @ turned, value)
    assert there[0] == pytest.approx((angle + 45.0) % 180.0)
    assert there[1] == pytest.approx(ratio, rel=0.05)


def test_levels_of_parts_are_no_direction():
    """What lies between parts of a field counts for nothing."""
    xy, value = _plain()
    part = (xy[:, 1] > xy[:, 1].mean()).astype(np.int64)

    found = find_direction(xy, value, part=part)

    assert find_direction(xy, value + 1000.0 * part, part=part) == found


def test_sectors_hold_the_pairs():
    """Over its sectors a distance has the pairs that it has without them."""
    xy, value = _plain()
    edges = [0.0, 100.0, 160.0, 400.0]
    plain = bin_pairs(xy, value, edges=edges)

    found = bin_sectors(xy, value, edges=edges)

    far = np.hypot(*found.lag.T)
    group = np.searchsorted(edges, far) - 1
    np.testing.assert_array_equal(np.bincount(group, found.pairs), plain.pairs)
    sums = np.bincount(group, found.pairs * found.semivariance)
    np.testing.assert_allclose(sums / plain.pairs, plain.semivariance, rtol=1e-12)


def test_a_sector_by_hand():
    """Pairs to the north and to the south are one sector."""
    xy = np.array([[0.0, 0.0], [1.0, 100.0], [500.0, 0.0], [499.0, -100.0]])

    found = bin_sectors(xy, np.array([1.0, 3.0, 4.0, 8.0]), edges=[0.0, 150.0])

    # Differences of 2 and 4: the mean of 2 and 8.
    assert found.pairs.tolist() == [2]
    assert found.semivariance[0] == pytest.approx(5.0)
    np.testing.assert_allclose(np.abs(found.lag), [[1.0, 100.0]], rtol=1e-12)


def test_stretching_makes_directions_alike():
    """A place on the ellipse of equal correlation lies on a circle afterwards."""
    turn = np.radians(35.0)
    along, across = [np.sin(turn), np.cos(turn)], [np.cos(turn), -np.sin(turn)]
    around = np.linspace(0.0, 2.0 * np.pi, 30)
    ellipse = 300.0 * np.outer(np.cos(around), along)
    ellipse += 100.0 * np.outer(np.sin(around), across)

    found = np.hypot(*(ellipse @ stretch(35.0, 3.0)).T)

    np.testing.assert_allclose(found, 300.0, rtol=1e-12)


def test_surface_with_a_direction():
    """A surface takes the direction, and is what PyKrige makes of its variogram."""
    from pykrige.ok import OrdinaryKriging

    xy, value = _plain()
    value = 30.0 - 4.0 * value  # turned over, so that it is not skewed to the right
    cells = np.random.default_rng(3).uniform(0.0, 11 * STEP, (200, 2))

    surface = build_surface(xy, value, cells)

    model = surface.variogram
    assert (surface.log, surface.method) == (False, "ordinary kriging")
    assert model.ratio > 1.5
    peer = OrdinaryKriging(
        *xy.T,
        value,
        variogram_model="spherical",
        variogram_parameters={
            "psill": model.partial_sill,
            "range": model.range,
            "nugget": model.nugget,
        },
        anisotropy_scaling=model.ratio,
        anisotropy_angle=90.0 - model.angle,
        exact_values=False,
    )
    expected, variance = peer.execute("points", *cells.T)
    np.testing.assert_allclose(surface.estimate, expected, rtol=1e-6)
    np.testing.assert_allclose(
        surface.sd**2, variance - model.nugget, rtol=1e-4, atol=1e-4
    )
