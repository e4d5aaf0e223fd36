"""The variogram of samples: a fit that always ends and can't run off."""

import math

import numpy as np
from numpy.typing import NDArray

from vrp.spatial.bins import BIN, Part, bin_edges, bin_pairs
from vrp.spatial.least_squares import non_negative_lines
from vrp.spatial.variogram import (
    SPARSE_BELOW,
    Bins,
    Model,
    Variogram,
    correlate,
    distances,
    row_blocks,
    spacing,
)

Floats = NDArray[np.float64]
Shape = tuple[Model, float | None]

_RANGES = 60
# A shorter range leaves neighbours hardly alike; the samples can't tell it from nugget.
_SHORTEST_RANGE = 1.5  # [spacings]
PLAIN: tuple[Shape, ...] = (("spherical", None), ("exponential", None))
SMOOTH: tuple[Shape, ...] = (("matern", 1.5), ("matern", 2.5))


def fit(
    xy: Floats, value: Floats, *, minimum_nugget: float = 0.0, part: Part = None
) -> Variogram:
    r"""
    Variogram of samples, by a fit that always ends and can't run off.

    Parameters
    ----------
    xy : numpy.ndarray, shape (n, 2)
        Positions, at least four and none twice. [m]
    value : numpy.ndarray, shape (n,)
        Values, not all alike.
    minimum_nugget : float
        Known noise; the nugget is no smaller. [unit of the values, squared]
    part : numpy.ndarray of int, shape (n,), optional
        Part of the field that a sample lies in: the variogram is pooled over pairs
        within parts, and the sill is the variance within them.

    Returns
    -------
    Variogram
        The model with the smallest misfit; its partial sill is 0 where the samples show
        no structure.

    Notes
    -----
    The misfit is :math:`\sum_j N_j h_j^{-2} (\hat\gamma_j - \gamma(h_j))^2` over bins
    of :math:`N_j` pairs at mean distance :math:`h_j`, up to half the largest distance
    as in [2]_. These weights put the trust where kriging needs it, near the origin, and
    hold no parameter to be fitted; :math:`h_j` counts as half a spacing or more, so
    that a single pair of close samples doesn't rule. For each of 60 ranges, from 1.5
    spacings (a shorter one can't be told from nugget) to half the largest distance, and
    for both models, nugget and partial sill follow in closed form by least squares with
    neither below its bound. Nothing has to converge. The range grid and its limits are
    our choice.

    With fewer than 30 samples nugget and sill are not fitted: the nugget is the
    semivariance at the smallest sampling distance, and the sill is the variance of the
    samples, one of the two most robust procedures in [1]_. Smallest distance here means
    the nearest bins that together hold at least half as many pairs as there are
    samples. Only range and model come from the fit.

    References
    ----------
    .. [1] Precision Agriculture, 2024, https://doi.org/10.1007/s11119-024-10141-0
       (abstract read).
    .. [2] "Geostatistics for Environmental Scientists", Wiley, 2001 (as quoted by
       others; not read).
    """
    near, largest = spacing(xy), _largest(xy)
    reach = min(largest, max(0.5 * largest, (4.5 * BIN) * near))
    bins = bin_pairs(xy, value, edges=bin_edges(near, reach), part=part)
    shortest = min(_SHORTEST_RANGE * near, 0.5 * largest)
    ranges = np.geomspace(shortest, 0.5 * largest, _RANGES)
    if value.size < SPARSE_BELOW:
        nugget, sill = _sparse_nugget(bins, value.size), _within(value, part)
        nugget = min(max(nugget, minimum_nugget), max(sill, minimum_nugget))
        given = (nugget, max(sill - nugget, 0.0))
        return fit_to(bins, ranges=ranges, nearest=near / 2.0, given=given)
    return fit_to(
        bins, ranges=ranges, nearest=near / 2.0, minimum_nugget=minimum_nugget
    )


def fit_to(
    bins: Bins,
    *,
    ranges: Floats,
    nearest: float = 0.0,
    minimum_nugget: float = 0.0,
    given: tuple[float, float] | None = None,
) -> Variogram:
    """
    Find the model nearest to binned semivariances, as `fit` weighs them.

    Parameters
    ----------
    bins : Bins
        What to fit to.
    ranges : numpy.ndarray, shape (k,)
        The ranges to try. [m]
    nearest : float
        A bin weighs no more than at this distance. [m]
    minimum_nugget : float
        The nugget is no smaller. [unit of the values, squared]
    given : tuple of float, optional
        Nugget and partial sill, where only range and model are asked for.

    Returns
    -------
    Variogram
        Of equal ones the spherical and the shortest range.
    """
    weight = bins.pairs / np.maximum(bins.distance, nearest) ** 2
    best, least = (
        Variogram("spherical", minimum_nugget, 0.0, float(ranges[0])),
        math.inf,
    )
    models: tuple[Model, ...] = ("spherical", "exponential")
    for model in models:
        shape = 1.0 - correlate(model, bins.distance / ranges[:, None])
        if given is None:
            gap = bins.semivariance - minimum_nugget
            nugget, partial = non_negative_lines(shape, gap, weight)
            nugget = nugget + minimum_nugget
        else:
            nugget, partial = (np.full(ranges.size, figure) for figure in given)
        modelled = nugget[:, None] + partial[:, None] * shape
        misfit = (weight * (bins.semivariance - modelled) ** 2).sum(axis=1)
        at = int(np.argmin(misfit))
        if misfit[at] < least:
            least = float(misfit[at])
            best = Variogram(
                model, float(nugget[at]), float(partial[at]), float(ranges[at]), bins
            )
    return best


def _largest(xy: Floats) -> float:
    rows = row_blocks(len(xy))
    return max(float(distances(xy[each], xy).max()) for each in rows)


def _within(value: Floats, part: Part) -> float:
    """Variance of values within their parts."""
    if part is None:
        return float(np.var(value, ddof=1))
    _, at = np.unique(part, return_inverse=True)
    count = np.bincount(at)
    away = value - (np.bincount(at, value) / count)[at]
    return float(away @ away / max(len(value) - len(count), 1))


def _sparse_nugget(bins: Bins, samples: int) -> float:
    enough = int(np.searchsorted(np.cumsum(bins.pairs), 0.5 * samples)) + 1
    return float(np.average(bins.semivariance[:enough], weights=bins.pairs[:enough]))
