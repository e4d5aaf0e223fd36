"""Soil as it may truly be, drawn about the estimate."""

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

from vrp.spatial import kriging
from vrp.spatial.solution import Piece
from vrp.spatial.surface import Surface

Floats = NDArray[np.float64]

_JITTER = 1e-9  # of nugget and sill: keeps the factor of any covariance real


def draw_surfaces(
    surface: Surface, index: NDArray[np.intp], *, count: int, generator: Generator
) -> Floats | None:
    r"""
    Draw the ground on some cells, jointly, given the samples.

    Parameters
    ----------
    surface : Surface
        The estimate.
    index : numpy.ndarray of int, shape (m,)
        Which cells, no more than some hundred.
    count : int
        Number of draws.
    generator : numpy.random.Generator
        For the draws.

    Returns
    -------
    numpy.ndarray, shape (count, m), or None
        Values, as the surface's estimate [unit of the values]; None where the surface
        has no error, or is kriged from nearest samples.

    Notes
    -----
    Conditional simulation: the errors of ordinary kriging have the covariance
    :math:`C - k^T K^{-1} k + (1 - a)(1 - a)^T / s`, in the terms of
    `kriging.estimate`, and are drawn from it by its Cholesky factor: by each variogram
    that the samples leave likely, as often as it is; by the fitted one with parts of a
    field and with more than 300 samples. What the nugget holds above the laboratory's
    variance is the ground's own, and is added to each cell by itself (our choice). The
    field mean errs by one amount everywhere. On the linear scale values below 0 are set
    to 0 unless a sample is below 0.
    """
    solved = surface.solution
    if solved is None:
        middle = surface.estimate[index].astype(float)
        error = surface.sd[index].astype(float)
        if np.isnan(error).any():
            return None
        drawn = middle + generator.standard_normal((count, 1)) * error
    elif solved.local:
        return None
    else:
        drawn = np.empty((count, len(index)))
        with kriging.one_thread():
            for piece in solved.pieces:
                here = np.flatnonzero(np.isin(index, piece.cells))
                if len(here):
                    cells = surface.cells_xy[index[here]]
                    systems, times = _systems(surface, piece, count, generator)
                    drawn[:, here] = _drawn(surface, systems, times, cells, generator)
    if surface.log:
        return np.asarray(np.exp(drawn))
    least = 0.0 if surface.cross.observed.min() >= 0.0 else -np.inf
    return np.asarray(np.maximum(drawn, least))


def _systems(
    surface: Surface, piece: Piece, count: int, generator: Generator
) -> tuple[tuple[kriging.System, ...], list[int]]:
    """Return by which variograms to draw, and how often by each."""
    system = piece.system
    assert isinstance(system, kriging.System)
    if surface.among is None:
        return (system,), [count]
    times = generator.multinomial(count, surface.among.weight)
    return surface.among.systems, times.tolist()


def _drawn(
    surface: Surface,
    systems: tuple[kriging.System, ...],
    times: list[int],
    cells: Floats,
    generator: Generator,
) -> Floats:
    known = surface.lab_cv / 100.0
    known *= 1.0 if surface.log else abs(float(surface.cross.observed.mean()))
    found = []
    for system, number in zip(systems, times, strict=True):
        if number:
            middle, root = _joint(system, cells)
            errors = generator.standard_normal((2, number, len(cells)))
            own = max(system.variogram.nugget - known**2, 0.0) ** 0.5
            found.append(middle + errors[0] @ root.T + own * errors[1])
    return np.concatenate(found)


def _joint(system: kriging.System, cells: Floats) -> tuple[Floats, Floats]:
    """Return the estimate on the working scale, and the factor of its errors."""
    near = kriging.covariances(system, cells)
    told, total = 1.0 - near @ system.ones, system.ones.sum()
    model, known = system.variogram, near @ system.factor
    sill = model.partial_sill
    among = sill * model.correlation(model.lags(cells, cells))
    among -= known @ known.T
    among += np.outer(told, told / total)
    among[np.diag_indices(len(cells))] += _JITTER * (sill + model.nugget)
    root: Floats = np.linalg.cholesky(among).astype(float, copy=False)
    return near @ system.residual + system.mean, root
