"""The variogram of samples: a fit that always ends and can't run off."""

import math
from dataclasses import replace

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
    stretch,
)

Floats = NDArray[np.float64]
Shape = tuple[Model, float | None]

_RANGES = 60
# A shorter range leaves neighbours hardly alike; the samples can't tell it from nugget.
_SHORTEST_RANGE = 1.5  # [spacings]
# Samples from which Matern models are tried, the share of the misfit of the others that
# they must stay below, and the least nugget of one as a share of the partial sill. Our
# choice; `fit` has the figures.
SMOOTH_FROM, _SMOOTHER, _SMOOTH_NUGGET = 200, 0.75, 1e-3
PLAIN: tuple[Shape, ...] = (("spherical", None), ("exponential", None))
SMOOTH: tuple[Shape, ...] = (("matern", 1.5), ("matern", 2.5))


def fit(
    xy: Floats,
    value: Floats,
    *,
    minimum_nugget: float = 0.0,
    part: Part = None,
    angle: float = 0.0,
    ratio: float = 1.0,
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
    angle, ratio : float
        As `direction.find_direction` found them: the bins are of distances as such a
        model counts them. [degree; 1]

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
    for each model, nugget and partial sill follow in closed form by least squares with
    neither below its bound. Nothing has to converge. The range grid and its limits are
    our choice.

    The models are the spherical and the exponential; from 200 samples on Matern models
    of smoothness 1.5 and 2.5 too, which are taken where their misfit is at least 25 %
    smaller, and then with a nugget of at least a thousandth of the partial sill, which
    keeps their systems solvable. Both limits are our choice, from drawn fields of 196
    to 400 samples: a Matern model was taken on 0 to 4 in 100 grounds that were
    spherical or exponential, where it cost less than 0.4 % of the map's squared error,
    and on half of those that were smooth with little nugget, where it saved up to 2 %.
    With fewer samples it saved nothing.

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
    counted = xy if ratio == 1.0 else xy @ stretch(angle, ratio)
    near, edges, ranges = grids(counted)
    bins = bin_pairs(counted, value, edges=edges, part=part)
    if value.size < SPARSE_BELOW:
        nugget, sill = _sparse_nugget(bins, value.size), _within(value, part)
        nugget = min(max(nugget, minimum_nugget), max(sill, minimum_nugget))
        given = (nugget, max(sill - nugget, 0.0))
        return fit_to(bins, ranges=ranges, nearest=near / 2.0, given=given)
    found = fit_to(
        bins,
        ranges=ranges,
        nearest=near / 2.0,
        minimum_nugget=minimum_nugget,
        smooth=value.size >= SMOOTH_FROM,
    )
    return replace(found, angle=angle, ratio=ratio)


def grids(xy: Floats) -> tuple[float, Floats, Floats]:
    """
    Return limits of bins, and ranges to try, for samples at some positions.

    Parameters
    ----------
    xy : numpy.ndarray, shape (n, 2)
        Positions, none twice. [m]

    Returns
    -------
    tuple of float and two numpy.ndarray
        Median distance to the nearest sample, edges, and rising ranges. [m]
    """
    near = spacing(xy)
    rows = row_blocks(len(xy))
    largest = max(float(distances(xy[each], xy).max()) for each in rows)
    reach = min(largest, max(0.5 * largest, (4.5 * BIN) * near))
    shortest = min(_SHORTEST_RANGE * near, 0.5 * largest)
    ranges = np.geomspace(shortest, 0.5 * largest, _RANGES)
    return near, bin_edges(near, reach), ranges


def fit_to(
    bins: Bins,
    *,
    ranges: Floats,
    nearest: float = 0.0,
    minimum_nugget: float = 0.0,
    given: tuple[float, float] | None = None,
    smooth: bool = False,
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
    smooth : bool
        Whether Matern models are tried, too.

    Returns
    -------
    Variogram
        Of equal ones the spherical and the shortest range.
    """
    weight = bins.pairs / np.maximum(bins.distance, nearest) ** 2
    least, best = math.inf, Variogram("spherical", minimum_nugget, 0.0, ranges[0])
    for shape in PLAIN + (SMOOTH if smooth else ()):
        misfit, found = closest(
            shape,
            bins.distance,
            bins.semivariance,
            weight=weight,
            ranges=ranges,
            minimum_nugget=minimum_nugget,
            given=given,
        )
        if misfit < (least if shape in PLAIN else _SMOOTHER * least):
            # A smooth one has to beat the plain ones, and then the other smooth one.
            least = misfit if shape in PLAIN else misfit / _SMOOTHER
            best = found
    if best.smoothness is not None:
        nugget = max(best.nugget, _SMOOTH_NUGGET * best.partial_sill)
        best = replace(best, nugget=nugget)
    return replace(best, bins=bins)


def closest(
    shape: Shape,
    lag: Floats,
    semivariance: Floats,
    *,
    weight: Floats,
    ranges: Floats,
    minimum_nugget: float = 0.0,
    given: tuple[float, float] | None = None,
) -> tuple[float, Variogram]:
    """
    Find nugget, partial sill and range of one shape in closed form.

    Parameters
    ----------
    shape : tuple of str and float or None
        Model and smoothness.
    lag, semivariance, weight : numpy.ndarray, shape (m,)
        Distances as the model counts them [m], semivariances there, and weights.
    ranges : numpy.ndarray, shape (k,)
        The ranges to try. [m]
    minimum_nugget : float
        The nugget is no smaller. [unit of the values, squared]
    given : tuple of float, optional
        Nugget and partial sill, where only the range is asked for.

    Returns
    -------
    tuple of float and Variogram
        The weighted sum of squares, and the model, of equal ones that of the shortest
        range.
    """
    model, smoothness = shape
    rising = 1.0 - correlate(model, lag / ranges[:, None], smoothness=smoothness)
    if given is None:
        nugget, partial = non_negative_lines(
            rising, semivariance - minimum_nugget, weight
        )
        nugget = nugget + minimum_nugget
    else:
        nugget, partial = (np.full(ranges.size, figure) for figure in given)
    modelled = nugget[:, None] + partial[:, None] * rising
    misfit = (weight * (semivariance - modelled) ** 2).sum(axis=1)
    at = int(np.argmin(misfit))
    figures = float(nugget[at]), float(partial[at]), float(ranges[at])
    return float(misfit[at]), Variogram(model, *figures, smoothness=smoothness)


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
