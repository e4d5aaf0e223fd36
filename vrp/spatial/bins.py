"""Semivariances of pairs of samples, by distance and by direction."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from vrp.spatial.variogram import Bins, distances, row_blocks

Floats = NDArray[np.float64]
Part = NDArray[np.int64] | None

# All our choice. Bins are half a spacing wide and set off by a quarter, because no two
# points of a square lattice lie such a distance apart: no pair sits on an edge.
BIN = 0.5  # [spacings]
_MOST_BINS = 30
SECTORS = 12  # of half a turn: 15 degrees each
_HALF_TURN = 180.0


@dataclass(frozen=True, slots=True)
class SectorBins:
    """
    Semivariances of pairs by distance and by direction.

    Attributes
    ----------
    pairs : numpy.ndarray of int, shape (k,)
        Number of pairs, never 0.
    lag : numpy.ndarray, shape (k, 2)
        Their mean difference in position, each pair turned into the half of the compass
        that its sector is in the middle of. [m]
    semivariance : numpy.ndarray, shape (k,)
        Mean of half the squared differences. [unit of the values, squared]
    """

    pairs: NDArray[np.int64]
    lag: Floats
    semivariance: Floats


def bin_edges(near: float, reach: float) -> Floats:
    """
    Return the limits of the bins that `variogram_fit.fit` fills.

    Parameters
    ----------
    near : float
        Median distance to the nearest sample. [m]
    reach : float
        Up to where pairs count. [m]

    Returns
    -------
    numpy.ndarray
        0, three quarters of a spacing, and on by half a spacing until `reach` is
        passed; wider, so that there are no more than 30. [m]

    Examples
    --------
    >>> bin_edges(100.0, 250.0).tolist()
    [0.0, 75.0, 125.0, 175.0, 225.0, 275.0]
    """
    width = max(BIN * near, reach / _MOST_BINS)
    steps = np.arange(1.5, reach / width + 1.0) * width
    return np.concatenate([[0.0], steps])


def bin_pairs(
    xy: Floats, value: Floats, *, edges: ArrayLike, part: Part = None
) -> Bins:
    r"""
    Average the differences of pairs of samples by distance.

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

    Notes
    -----
    With the differences :math:`d` of the :math:`N` pairs of a bin the method of moments
    gives :math:`\overline{d^2} / 2`, and the robust estimator, on which a few
    outlying samples weigh less [1]_,

    .. math::

        \frac{1}{2} \left(\overline{|d|^{1/2}}\right)^4 / (0.457 + 0.494 / N)

    Models are fitted to the first. The second stands beside it, for a person to see
    what outliers do: where it is much lower, few samples make the semivariances. Maps
    fitted to it were not nearer to the truth (docs/accuracy.md).

    References
    ----------
    .. [1] "Robust estimation of the variogram: I", Mathematical Geology 12, 1980
       (from memory; the tests agree with gstat's).
    """
    limits = np.asarray(edges, dtype=float)
    count = limits.size - 1
    pairs, sums = np.zeros(count, dtype=np.int64), np.zeros((3, count))
    for rows in row_blocks(len(value)):
        apart = distances(xy[rows], xy[rows.start :])
        used = _once(apart, rows, part, farthest=float(limits[-1]))
        gap = np.abs(value[rows, None] - value[rows.start :])[used]
        apart = apart[used]
        place = np.searchsorted(limits, apart, side="left") - 1
        inside = (place >= 0) & (place < count)
        place = place[inside]
        pairs += np.bincount(place, minlength=count)
        told = apart, 0.5 * gap**2, np.sqrt(gap)
        sums += [np.bincount(place, each[inside], count) for each in told]
    held = pairs > 0
    distance, semivariance, root = sums[:, held] / pairs[held]
    robust = 0.5 * root**4 / (0.457 + 0.494 / pairs[held])
    return Bins(pairs[held], distance, semivariance, robust)


def bin_sectors(
    xy: Floats, value: Floats, *, edges: ArrayLike, part: Part = None
) -> SectorBins:
    """
    Average half the squared differences by distance and direction.

    Parameters
    ----------
    xy : numpy.ndarray, shape (n, 2)
        Positions. [m]
    value : numpy.ndarray, shape (n,)
        Values.
    edges : array_like, shape (k + 1,)
        Rising limits of distance, as for `bin_pairs`. [m]
    part : numpy.ndarray of int, shape (n,), optional
        Part of the field that a sample lies in; pairs across parts don't count.

    Returns
    -------
    SectorBins
        By distance and by 12 sectors of 15 degrees, the first about north; those that
        hold a pair.
    """
    limits = np.asarray(edges, dtype=float)
    count = (limits.size - 1) * SECTORS
    width = _HALF_TURN / SECTORS
    pairs, sums = np.zeros(count, dtype=np.int64), np.zeros((3, count))
    for rows in row_blocks(len(value)):
        apart = distances(xy[rows], xy[rows.start :])
        used = _once(apart, rows, part, farthest=float(limits[-1]))
        used &= apart > limits[0]
        lag = (xy[rows, None] - xy[rows.start :])[used]
        half = 0.5 * (value[rows, None] - value[rows.start :])[used] ** 2
        turn = np.degrees(np.arctan2(lag[:, 0], lag[:, 1]))  # clockwise from north
        sector = np.floor(turn / width + 0.5).astype(np.int64)
        # Into the half turn from the first sector's edge; whoever is turned over, too.
        over = (sector < 0) | (sector >= SECTORS)
        lag[over] *= -1.0
        place = np.searchsorted(limits, apart[used], side="left") - 1
        place = place * SECTORS + sector % SECTORS
        pairs += np.bincount(place, minlength=count)
        sums += [np.bincount(place, each, count) for each in (*lag.T, half)]
    held = pairs > 0
    mean = sums[:, held] / pairs[held]
    return SectorBins(pairs[held], mean[:2].T, mean[2])


def _once(
    apart: Floats, rows: slice, part: Part, *, farthest: float
) -> NDArray[np.bool_]:
    """Which pairs count, each once: right of the diagonal, and near enough."""
    used: NDArray[np.bool_] = np.triu(apart <= farthest, 1)
    if part is not None:
        used &= part[rows, None] == part[rows.start :]
    return used
