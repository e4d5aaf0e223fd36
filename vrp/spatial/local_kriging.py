"""Ordinary kriging from the nearest samples, in patches blended without seams."""

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from vrp.spatial import kriging
from vrp.spatial.kriging import BLOCK, Estimate, LeftOut
from vrp.spatial.variogram import Variogram

Floats = NDArray[np.float64]
Index = NDArray[np.int64]
Node = tuple[int, int]  # row and column of the lattice

# All our choice. At 100 samples and this step the estimate stays within a few percent
# of a standard deviation of that from all samples; docs/surface_and_verdict.md has it.
NEAREST = 100
_STEP = 1.0 / 3.0  # of the median distance from a sample to its hundredth neighbour
_TIE = 1e-6  # relative; as far as the hundredth sample is as good as it


@dataclass(frozen=True, slots=True)
class LocalSystem:
    """
    Samples and variogram, and the lattice of the patches.

    Attributes
    ----------
    xy : numpy.ndarray, shape (n, 2)
        Positions of the samples. [m]
    value : numpy.ndarray, shape (n,)
        Their values.
    variogram : Variogram
        Its nugget is noise of the samples.
    tree : scipy.spatial.KDTree
        Of the positions.
    origin : numpy.ndarray, shape (2,)
        A node of the lattice: the lower left corner of the samples. [m]
    step : float
        Distance between nodes; the patch of a node reaches as far to each side. [m]
    """

    xy: Floats
    value: Floats
    variogram: Variogram
    tree: Any
    origin: Floats
    step: float


def prepare(xy: Floats, value: Floats, *, variogram: Variogram) -> LocalSystem:
    """
    Lay the lattice of patches over samples.

    Parameters
    ----------
    xy : numpy.ndarray, shape (n, 2)
        Positions, none twice and at least two. [m]
    value : numpy.ndarray, shape (n,)
        Values.
    variogram : Variogram
        With nugget or partial sill above 0.

    Returns
    -------
    LocalSystem
        What the other functions here work from.
    """
    from scipy.spatial import KDTree

    tree = KDTree(xy)
    reach, _ = tree.query(xy, k=[min(NEAREST, len(xy) - 1) + 1])
    step = _STEP * float(np.median(reach))
    return LocalSystem(xy, value, variogram, tree, xy.min(axis=0), step)


def estimate(system: LocalSystem, cells_xy: Floats) -> Estimate:
    r"""
    Estimate the surface at places by ordinary kriging from samples near by.

    Parameters
    ----------
    system : LocalSystem
        From `prepare`.
    cells_xy : numpy.ndarray, shape (m, 2)
        Places. [m]

    Returns
    -------
    Estimate
        Of the surface without the nugget.

    Notes
    -----
    Each node of a square lattice has a system of its 100 nearest samples, and those
    that are as far as the hundredth. A place lies between four nodes; its estimate is
    the mean of theirs, weighted by hats,

    .. math::

        w = (1 - |x - x_i| / s) (1 - |y - y_i| / s)

    with the lattice's step :math:`s`. They add up to 1 and fall to 0 where the patch of
    a node ends, so that the surface is continuous. The weighted mean of the four
    variances is no smaller than the variance of the blend's error, since that is convex
    in the errors. One row of the lattice is held at a time.
    """
    count = len(cells_xy)
    value, lagrange, variance = (np.empty(count) for _ in range(3))
    rows = _tiles(system, cells_xy)
    solved: dict[Node, kriging.System] = {}

    def _prepared(node: Node) -> kriging.System:
        return _solve(system, _near_node(system, node))

    def _blend(tile: tuple[Node, Index]) -> None:
        (row, column), cells = tile
        for start in range(0, len(cells), BLOCK):
            part = cells[start : start + BLOCK]
            places, sums = cells_xy[part], np.zeros((3, len(part)))
            for down, right in _CORNERS:
                node = row + down, column + right
                found = kriging.estimate_block(solved[node], places)
                three = np.stack([found.value, found.lagrange, found.variance])
                sums += _hats(system, node, places) * three
            value[part], lagrange[part], variance[part] = sums

    # A tile is one thread's alone: the bytes don't depend on their number.
    with ThreadPoolExecutor(kriging.threads()) as pool:
        for tiles in rows:
            nodes = _nodes_of(node for node, _ in tiles)
            solved = {node: solved[node] for node in nodes if node in solved}
            new = [node for node in nodes if node not in solved]
            solved |= zip(new, pool.map(_prepared, new), strict=True)
            list(pool.map(_blend, tiles))
    return Estimate(value, variance, lagrange)


def leave_out(system: LocalSystem, group: Index) -> LeftOut:
    """
    Predict the samples of each group from the nearest of all other groups.

    Parameters
    ----------
    system : LocalSystem
        From `prepare`.
    group : numpy.ndarray of int, shape (n,)
        Groups of samples that are left out together, at least two groups.

    Returns
    -------
    LeftOut
        By ordinary kriging from the 100 samples outside the group that are nearest to
        the mean of its positions, and those as far as the hundredth.
    """
    count = len(group)
    value, variance, correction = (np.empty(count) for _ in range(3))
    order = np.argsort(group, kind="stable")
    starts = np.flatnonzero(np.diff(group[order])) + 1

    def _predict(out: Index) -> None:
        place = system.xy[out].mean(axis=0)
        near = _nearest(system, place, without=out)
        found = kriging.estimate_block(_solve(system, near), system.xy[out])
        value[out] = found.value
        variance[out] = found.variance + system.variogram.nugget
        correction[out] = 0.5 * variance[out] - found.lagrange

    with ThreadPoolExecutor(kriging.threads()) as pool:
        list(pool.map(_predict, np.split(order, starts)))
    return LeftOut(value, variance, correction)


def block_variance(
    system: LocalSystem, cells_xy: Floats, *, weight: Floats | None = None
) -> float:
    r"""
    Variance of the error of a mean over cells.

    Parameters
    ----------
    system : LocalSystem
        From `prepare`.
    cells_xy : numpy.ndarray, shape (m, 2)
        Cells of a zone. [m]
    weight : numpy.ndarray, shape (m,), optional
        Weights of a weighted mean; without them all cells count alike.

    Returns
    -------
    float
        Of the mean of the noise-free surface. [unit squared]

    Notes
    -----
    The mean of the blended estimates is a weighted sum of samples. With its weights
    :math:`\omega`, the covariances :math:`C` of the samples' surface, those of samples
    and zone :math:`\bar k` and of the zone with itself :math:`\bar c`, the variance is
    :math:`\bar c - 2 \omega^T \bar k + \omega^T C \omega + c_0 \omega^T \omega`:
    nothing in it is approximate but that at most 400 cells are taken, as from all
    samples.
    """
    cells, share = kriging.thinned(cells_xy, weight=weight)
    omega, solved = np.zeros(len(system.xy)), set()
    for tiles in _tiles(system, cells):
        for node in _nodes_of(corner for corner, _ in tiles):
            if node in solved:
                continue
            solved.add(node)
            near = _near_node(system, node)
            own = _solve(system, near)
            part = share * _hats(system, node, cells)
            held = np.flatnonzero(part)
            told = part[held] @ kriging.covariances(own, cells[held])
            rest = (part.sum() - told @ own.ones) / own.ones.sum()
            omega[near] += own.factor @ (told @ own.factor) + own.ones * rest
    variogram, used = system.variogram, np.flatnonzero(omega)
    omega, xy = omega[used], system.xy[used]
    among = share @ variogram.correlation(variogram.lags(cells, cells)) @ share
    across = share @ variogram.correlation(variogram.lags(cells, xy)) @ omega
    within = 0.0
    for start in range(0, len(used), BLOCK):
        some = slice(start, start + BLOCK)
        rows = variogram.correlation(variogram.lags(xy[some], xy))
        within += float(omega[some] @ rows @ omega)
    structured = variogram.partial_sill * (among - 2.0 * across + within)
    return max(float(structured + variogram.nugget * (omega @ omega)), 0.0)


_CORNERS: tuple[Node, ...] = ((0, 0), (0, 1), (1, 0), (1, 1))


def _tiles(system: LocalSystem, cells_xy: Floats) -> list[list[tuple[Node, Index]]]:
    """Return the squares between nodes that hold cells, row by row, and their cells."""
    tile = np.floor((cells_xy - system.origin) / system.step).astype(np.int64)
    column, row = tile.T
    order = np.lexsort((column, row))
    column, row = column[order], row[order]
    ends = np.flatnonzero((np.diff(row) != 0) | (np.diff(column) != 0)) + 1
    rows: dict[int, list[tuple[Node, Index]]] = {}
    for start, part in zip([0, *ends], np.split(order, ends), strict=True):
        node = int(row[start]), int(column[start])
        rows.setdefault(node[0], []).append((node, part))
    return list(rows.values())


def _nodes_of(tiles: Iterator[Node]) -> list[Node]:
    """Return the corners of tiles, each once and in order."""
    return sorted({(row + a, col + b) for row, col in tiles for a, b in _CORNERS})


def _hats(system: LocalSystem, node: Node, places: Floats) -> Floats:
    """Weights of a node at places, 0 outside its patch."""
    row, column = node
    away = np.abs((places - system.origin) / system.step - (column, row))
    hats = 1.0 - away
    return np.where((hats > 0.0).all(axis=1), hats[:, 0] * hats[:, 1], 0.0)


def _solve(system: LocalSystem, near: Index) -> kriging.System:
    return kriging.prepare(
        system.xy[near], system.value[near], variogram=system.variogram
    )


def _near_node(system: LocalSystem, node: Node) -> Index:
    row, column = node
    place = system.origin + system.step * np.array([column, row])
    return _nearest(system, place, without=np.empty(0, dtype=np.int64))


def _nearest(system: LocalSystem, place: Floats, *, without: Index) -> Index:
    """Return the samples nearest to a place, in their order, and all that tie."""
    count = min(NEAREST + len(without), len(system.xy))
    away, found = system.tree.query(place, k=np.arange(1, count + 1))
    if len(without):
        away = away[np.isin(found, without, invert=True)]
    radius = away[min(NEAREST, len(away)) - 1] * (1.0 + _TIE)
    near = np.array(system.tree.query_ball_point(place, radius, return_sorted=True))
    return near[np.isin(near, without, invert=True)] if len(without) else near
