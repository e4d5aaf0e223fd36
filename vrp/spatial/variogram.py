"""How alike neighbours are: binned semivariances, and a model fitted to them."""

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from vrp.spatial.least_squares import non_negative_lines

Model = Literal["spherical", "exponential"]
Floats = NDArray[np.float64]
Part = NDArray[np.int64] | None

# Below this many samples the nugget is not fitted but read off the smallest distance.
# Our choice: about 30 is where a dozen bins still hold some tens of pairs each.
SPARSE_BELOW = 30

# All our choice. Bins are half a spacing wide and set off by a quarter, because no two
# points of a square lattice lie such a distance apart: no pair sits on an edge.
_BIN = 0.5
_MOST_BINS = 30
_RANGES = 60
_PAIRS = 512 * 512  # held at a time
# A shorter range leaves neighbours hardly alike; the samples can't tell it from nugget.
_SHORTEST_RANGE = 1.5


@dataclass(frozen=True, slots=True)
class Bins:
    """
    Semivariances of pairs of samples, by distance.

    Attributes
    ----------
    pairs : numpy.ndarray of int, shape (k,)
        Number of pairs in the bin, never 0.
    distance : numpy.ndarray, shape (k,)
        Their mean distance. [m]
    semivariance : numpy.ndarray, shape (k,)
        Mean of half the squared differences. [unit of the values, squared]
    """

    pairs: NDArray[np.int64]
    distance: Floats
    semivariance: Floats


@dataclass(frozen=True, slots=True)
class Variogram:
    """
    A variogram model.

    Attributes
    ----------
    model : {"spherical", "exponential"}
        Shape of the structured part.
    nugget, partial_sill : float
        Noise, and variance of the structured part. [unit of the values, squared]
    range : float
        Where the structured part ends (spherical) or reaches 95 % (exponential: the
        practical range, three times the e-folding length). [m]
    bins : Bins, optional
        What it was fitted to.
    """

    model: Model
    nugget: float
    partial_sill: float
    range: float
    bins: Bins | None = None

    def correlation(self, distance: ArrayLike) -> Floats:
        """
        Correlation of the structured part.

        Parameters
        ----------
        distance : array_like
            Distance between two places. [m]

        Returns
        -------
        numpy.ndarray
            From 1 at distance 0 down to 0, in the shape of `distance`.
        """
        return into_correlation(self, np.array(distance, dtype=float))

    def semivariance(self, distance: ArrayLike) -> Floats:
        """
        Semivariance of two samples.

        Parameters
        ----------
        distance : array_like
            Distance between them. [m]

        Returns
        -------
        numpy.ndarray
            0 at distance 0, the nugget or more beyond. [unit of the values, squared]

        Examples
        --------
        >>> model = Variogram("spherical", 0.25, 0.75, 200.0)
        >>> model.semivariance([0.0, 100.0, 200.0, 500.0])
        array([0.      , 0.765625, 1.      , 1.      ])
        """
        away = np.asarray(distance, dtype=float) > 0.0
        structured = self.partial_sill * (1.0 - self.correlation(distance))
        return np.where(away, self.nugget + structured, 0.0)


def distances(from_xy: Floats, to_xy: Floats) -> Floats:
    """
    Measure from each of some points to each of others.

    Parameters
    ----------
    from_xy : numpy.ndarray, shape (m, 2)
        Points. [m]
    to_xy : numpy.ndarray, shape (n, 2)
        Other points. [m]

    Returns
    -------
    numpy.ndarray, shape (m, n)
        Distances. [m]
    """
    square = from_xy[:, :1] - to_xy[:, 0]
    square *= square
    across = from_xy[:, 1:] - to_xy[:, 1]
    across *= across
    square += across
    return np.sqrt(square, out=square)


def spacing(xy: Floats) -> float:
    """
    Typical distance from a sample to its nearest neighbour.

    Parameters
    ----------
    xy : numpy.ndarray, shape (n, 2)
        Positions, at least two and none twice. [m]

    Returns
    -------
    float
        Median over the samples. [m]
    """
    nearest = np.empty(len(xy))
    for rows in row_blocks(len(xy)):
        apart = distances(xy[rows], xy)
        apart[np.arange(len(apart)), np.arange(len(xy))[rows]] = np.inf
        nearest[rows] = apart.min(axis=1)
    return float(np.median(nearest))


def row_blocks(count: int) -> list[slice]:
    """
    Cut the rows of a square matrix into blocks of bounded memory.

    Parameters
    ----------
    count : int
        Number of rows.

    Returns
    -------
    list of slice
        One for up to 512 rows; by `count` alone, so that sums are always alike.
    """
    rows = max(_PAIRS // max(count, 1), 1)
    return [slice(start, start + rows) for start in range(0, count, rows)]


def bin_pairs(
    xy: Floats, value: Floats, *, edges: ArrayLike, part: Part = None
) -> Bins:
    """
    Average half the squared differences by distance: the method of moments.

    Parameters
    ----------
    xy : numpy.ndarray, shape (n, 2)
        Positions. [m]
    value : numpy.ndarray, shape (n,)
        Values.
    edges : array_like, shape (k + 1,)
        Rising limits of the bins; a pair belongs where lower < distance <= upper. [m]
    part : numpy.ndarray of int, shape (n,), optional
        Part of the field that a sample lies in; pairs across parts don't count.

    Returns
    -------
    Bins
        The bins that hold a pair.
    """
    limits = np.asarray(edges, dtype=float)
    count, n = limits.size - 1, len(value)
    pairs, sums = np.zeros(count, dtype=np.int64), np.zeros((2, count))
    for rows in row_blocks(n):
        apart = distances(xy[rows], xy[rows.start :])
        # Each pair once: those to the right of the diagonal, and no farther than asked.
        used = np.triu(apart <= limits[-1], 1)
        if part is not None:
            used &= part[rows, None] == part[rows.start :]
        halves = (0.5 * (value[rows, None] - value[rows.start :]) ** 2)[used]
        apart = apart[used]
        place = np.searchsorted(limits, apart, side="left") - 1
        inside = (place >= 0) & (place < count)
        place = place[inside]
        pairs += np.bincount(place, minlength=count)
        sums += [np.bincount(place, each[inside], count) for each in (apart, halves)]
    held = pairs > 0
    mean = sums[:, held] / pairs[held]
    return Bins(pairs[held], mean[0], mean[1])


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
    reach = min(largest, max(0.5 * largest, (4.5 * _BIN) * near))
    bins = bin_pairs(xy, value, edges=_edges(near, reach), part=part)
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
        shape = 1.0 - _correlation(model, bins.distance / ranges[:, None])
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


def into_correlation(variogram: Variogram, distance: Floats) -> Floats:
    """
    Turn distances into correlations, in the memory of the distances.

    Parameters
    ----------
    variogram : Variogram
        Whose structured part is meant.
    distance : numpy.ndarray
        Distances, which are overwritten. [m]

    Returns
    -------
    numpy.ndarray
        The same array, now `Variogram.correlation`.
    """
    distance /= variogram.range
    return _correlation(variogram.model, distance)


def _correlation(model: Model, scaled: Floats) -> Floats:
    """Turn distance over range into correlation, in place."""
    if model == "exponential":
        scaled *= -3.0
        return np.exp(scaled, out=scaled)
    np.minimum(scaled, 1.0, out=scaled)
    cube = scaled * scaled
    cube *= 0.5
    cube -= 1.5
    scaled *= cube
    scaled += 1.0
    return scaled


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


def _edges(near: float, reach: float) -> Floats:
    width = max(_BIN * near, reach / _MOST_BINS)
    steps = np.arange(1.5, reach / width + 1.0) * width
    return np.concatenate([[0.0], steps])


def _sparse_nugget(bins: Bins, samples: int) -> float:
    enough = int(np.searchsorted(np.cumsum(bins.pairs), 0.5 * samples)) + 1
    return float(np.average(bins.semivariance[:enough], weights=bins.pairs[:enough]))
