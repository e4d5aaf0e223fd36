"""Ground drawn about the estimate, and the variograms that samples leave likely."""

import math

import numpy as np
import pytest

from vrp.spatial.kriging import block_variance
from vrp.spatial.likely import NUGGETS, RANGES, likely, mean_over
from vrp.spatial.simulation import draw_surfaces
from vrp.spatial.solution import Apart
from vrp.spatial.surface import build_surface
from vrp.spatial.variogram import Variogram

LINE = (np.arange(8) + 0.5) * 60.0
XY = np.stack(np.meshgrid(LINE, LINE), -1).reshape(-1, 2)
CELLS = np.stack(np.meshgrid(np.arange(10.0, 480.0, 20.0), np.array([200.0])), -1)
CELLS = CELLS.reshape(-1, 2)
COUNT = 4000


def values():
    rng = np.random.default_rng(8)
    wave = np.sin(XY[:, 0] / 110.0) + np.cos(XY[:, 1] / 130.0)
    return 30.0 + 4.0 * wave + 2.0 * rng.standard_normal(len(XY))


def drawn(surface, seed=1, count=COUNT):
    index = np.arange(len(CELLS))
    generator = np.random.default_rng(seed)
    return draw_surfaces(surface, index, count=count, generator=generator)


def test_draws_have_the_stated_errors():
    """
    By one variogram cells scatter by their error and the nugget, and means as blocks.

    A part for cells far from the others' has its own samples, all of them here.
    """
    parts = Apart(np.zeros(len(XY), int), np.zeros(len(CELLS), int))
    parts.cell[-1] = 1  # of another part, without samples: from all samples too
    surface = build_surface(XY, values(), CELLS, apart=parts)
    assert not surface.log
    found = drawn(surface)[:, :-1]

    nugget = surface.variogram.nugget
    system = surface.solution.pieces[0].system
    cells = surface.sd[:-1].astype(float) ** 2 + nugget
    mean = block_variance(system, CELLS[:-1]) + nugget / (len(CELLS) - 1)
    # Of a variance from n draws one standard deviation is a share sqrt(2 / n).
    within = 4.5 * math.sqrt(2.0 / COUNT)
    assert found.mean(axis=0) == pytest.approx(surface.estimate[:-1], abs=0.3)
    assert found.var(axis=0) == pytest.approx(cells, rel=within)
    assert found.mean(axis=1).var() == pytest.approx(mean, rel=within)


def test_laboratory_is_no_ground():
    """What the laboratory errs by is taken out of what a cell varies by itself."""
    parts = Apart(np.zeros(len(XY), int), np.zeros(len(CELLS), int))
    parts.cell[-1] = 1
    given = {"apart": parts, "lab_cv": 5.0}
    surface = build_surface(XY, values(), CELLS, **given)
    lab = (0.05 * values().mean()) ** 2

    own = drawn(surface)[:, :-1].var(axis=0) - surface.sd[:-1].astype(float) ** 2

    assert surface.variogram.nugget >= lab
    assert own.mean() == pytest.approx(surface.variogram.nugget - lab, abs=0.6)


def test_parts_without_structure_err_as_their_means():
    """
    Where parts show no structure a draw errs by the mean of n samples, c/n, and by c.

    Such a part has no covariance but that of its mean, of rank one.
    """
    sign = 1.0 - 2.0 * (np.add(*(XY // 60.0).astype(int).T) % 2)  # neighbours differ
    parts = Apart((XY[:, 0] > 240.0).astype(int), (CELLS[:, 0] > 240.0).astype(int))
    surface = build_surface(XY, 30.0 + 4.0 * sign, CELLS, apart=parts)
    left, nugget = parts.cell == 0, surface.variogram.nugget
    assert surface.variogram.partial_sill == 0.0

    found = drawn(surface)[:, left]

    count, within = left.sum(), 4.5 * math.sqrt(2.0 / COUNT)
    assert found.var(axis=0) == pytest.approx(nugget * (1.0 + 1.0 / 32.0), rel=within)
    both = nugget / 32.0 + nugget / count
    assert found.mean(axis=1).var() == pytest.approx(both, rel=within)


def test_draws_repeat_by_seed():
    """The same seed draws the same ground, another another."""
    surface = build_surface(XY, values(), CELLS)

    assert (drawn(surface, 1, 20) == drawn(surface, 1, 20)).all()
    assert (drawn(surface, 1, 20) != drawn(surface, 2, 20)).any()


def test_field_mean_errs_as_one():
    """Where the surface is the field mean, a draw is one value everywhere."""
    value = np.array([20.0, 30.0, 40.0])
    surface = build_surface(XY[:3], value, CELLS)

    found = drawn(surface)

    assert surface.method == "field mean"
    assert np.ptp(found, axis=1).max() < 1e-9
    # Too few for a structure: the error is that of a place, 10 × sqrt(1 + 1/3).
    assert found[:, 0].std() == pytest.approx(10.0 * math.sqrt(4.0 / 3.0), rel=0.06)


def test_one_sample_has_no_error():
    """From one sample nothing is drawn."""
    surface = build_surface(XY[:1], np.array([20.0]), CELLS)

    assert drawn(surface) is None


def test_two_samples_tell_no_variogram():
    r"""
    Two samples that differ by d leave all variograms alike likely.

    With correlation r the sill is d²/2 / (1 − r), |K| = 1 − r² and
    1'K⁻¹1 = 2 / (1 + r), so that the restricted likelihood is 1/d whatever r.
    """
    apart = 50.0
    xy, value = np.array([[0.0, 0.0], [apart, 0.0]]), np.array([10.0, 14.0])
    found = likely(xy, value, spacing=apart)

    count = len(RANGES) * len(NUGGETS)
    assert found.weight == pytest.approx(np.full(count, 1.0 / count))
    assert found.noise == pytest.approx(1.0)
    share = found.systems[0].variogram
    model = Variogram("spherical", 0.0, 1.0, RANGES[0] * apart)
    r = (1.0 - NUGGETS[0]) * float(model.correlation(np.array([apart]))[0])
    assert share.nugget + share.partial_sill == pytest.approx(8.0 / (1.0 - r))
    assert share.nugget == pytest.approx(NUGGETS[0] * 8.0 / (1.0 - r))


def test_mean_over_is_the_mixture_of_solved_systems():
    """Mean and variance are those of bordered systems, solved and then mixed."""
    some, share = CELLS[::7], np.linspace(1.0, 2.0, len(CELLS[::7]))
    share /= share.sum()
    among = likely(XY, values(), spacing=60.0)

    mean, variance = mean_over(among, some, share=share)

    n = len(XY)
    apart = np.linalg.norm(XY[:, None] - XY[None], axis=2)
    away = np.linalg.norm(some[:, None] - XY[None], axis=2)
    inner = np.linalg.norm(some[:, None] - some[None], axis=2)
    first, second = 0.0, 0.0
    for system, weight in zip(among.systems, among.weight, strict=True):
        model = system.variogram
        bordered = np.ones((n + 1, n + 1))
        bordered[:n, :n] = model.partial_sill * model.correlation(apart)
        bordered[:n, :n] += model.nugget * np.eye(n)
        bordered[n, n] = 0.0
        near = model.partial_sill * share @ model.correlation(away)
        right = np.append(near, 1.0)
        omega = np.linalg.solve(bordered, right)
        within = model.partial_sill * share @ model.correlation(inner) @ share
        middle = omega[:n] @ values()
        first += weight * middle
        second += weight * (within - omega @ right + middle**2)
    assert mean == pytest.approx(first, rel=1e-9)
    assert variance == pytest.approx(second - first**2, rel=1e-6)


def test_noise_likes_the_nugget():
    """Samples without structure weigh large nuggets more than a smooth wave does."""
    smooth = np.sin(XY[:, 0] / 110.0) + np.cos(XY[:, 1] / 130.0)
    noise = np.random.default_rng(2).standard_normal(len(XY))

    def nugget(value):
        found = likely(XY, value, spacing=60.0)
        shares = [
            one.variogram.nugget / (one.variogram.nugget + one.variogram.partial_sill)
            for one in found.systems
        ]
        return float(found.weight @ shares)

    assert nugget(smooth) < 0.1
    assert nugget(noise) > 0.5
