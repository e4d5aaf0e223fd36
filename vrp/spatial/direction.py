"""Whether the ground is alike farther in one direction than across it."""

import math

import numpy as np
from numpy.typing import NDArray

from vrp.spatial.bins import SECTORS, Part, bin_sectors
from vrp.spatial.variogram import correlate, distances, stretch
from vrp.spatial.variogram_fit import PLAIN, closest, grids

Floats = NDArray[np.float64]
Index = NDArray[np.int64]

# All our choice.
FEWEST = 100
RATIOS = (1.5, 2.0, 2.5, 3.0, 4.0)
# Twice the logarithm of how many times as likely a direction must make the samples.
LIKELIER = 9.0
_RANGES = (1.5, 2.5, 4.0, 6.5, 10.0)  # [spacings]
_NUGGETS = (0.05, 0.25, 0.5, 0.75)  # of the sill
_TOGETHER = 200  # samples whose likelihood is taken at once
_GROUPS = 8  # of them at most
_EVERY = 2  # range of the fit's grid


def find_direction(
    xy: Floats, value: Floats, *, part: Part = None
) -> tuple[float, float]:
    r"""
    Direction in which the ground is alike farthest, where the samples support one.

    Parameters
    ----------
    xy : numpy.ndarray, shape (n, 2)
        Positions, none twice. [m]
    value : numpy.ndarray, shape (n,)
        Values on the working scale, not all alike.
    part : numpy.ndarray of int, shape (n,), optional
        Part of the field that a sample lies in; pairs across parts don't count.

    Returns
    -------
    tuple of float
        Angle of the longest range, clockwise from north, from 0 to 165 [degree], and
        the longest range over the shortest; 0 and 1 where the samples support none.

    Notes
    -----
    From 100 samples on. Semivariances are binned by distance and by sectors of 15
    degrees, and models fitted to them as in `variogram_fit.fit`, for each of 12 angles
    and ratios of 1.5, 2, 2.5, 3 and 4: the angle is that of the nearest of these 60.
    How far the ratio goes, and whether there is one, is told by the samples themselves,
    because misfits to bins differ little: with the restricted likelihood of
    `likely.likely`, at its best over five ranges and four nuggets for each ratio,
    :math:`L_r`, :math:`2 \ln (L_r / L_1)` must exceed 9 for the best; then the ratio is
    the geometric mean of all, weighted by :math:`L_r`, since the best by itself is too
    large where it was chosen for being good (all our choice). Above 200 samples they
    are halved across their longer side until no part holds more, and the logarithms of
    the parts' likelihoods add up; of more than 8 parts every second, third and so on
    counts.

    On drawn ground that was alike all ways a direction was taken 2 or 3 times in 100.
    Where it was alike three times as far one way, with a nugget of 10 or 40 % of the
    sill, it was taken on 70 or 20 in 100 fields of 100 samples, and on 92 or 58 of 169;
    where twice as far, on 25 or 10, and 57 or 15 (tests/benchmarks/variograms.py).
    """
    if len(value) < FEWEST:
        return 0.0, 1.0
    angle = _nearest(xy, value, part)
    near, groups = grids(xy)[0], _together(xy, part)
    ratios = np.array([1.0, *RATIOS])
    scaled = (value - value.mean()) / value.std()
    found = [
        [
            _twice_log_likelihoods(
                xy[one], scaled[one], near=near, angle=angle, ratio=float(ratio)
            )
            for one in groups
        ]
        for ratio in ratios
    ]
    twice = np.array(found).sum(axis=1).max(axis=1)
    if twice.max() - twice[0] <= LIKELIER:
        return 0.0, 1.0
    weight = np.exp(0.5 * (twice - twice.max()))
    ratio = np.exp(np.average(np.log(ratios), weights=weight))
    return angle, round(float(ratio), 2)


def _nearest(xy: Floats, value: Floats, part: Part) -> float:
    """Return the angle of the model that is nearest to directional bins."""
    near, edges, ranges = grids(xy)
    bins = bin_sectors(xy, value, edges=edges, part=part)
    weight = bins.pairs / np.maximum(np.hypot(*bins.lag.T), near / 2.0) ** 2
    found, least = 0.0, math.inf
    for angle in np.arange(SECTORS) * (180.0 / SECTORS):
        for ratio in RATIOS:
            lag = np.hypot(*(bins.lag @ stretch(angle, ratio)).T)
            for shape in PLAIN:
                misfit, _ = closest(
                    shape,
                    lag,
                    bins.semivariance,
                    weight=weight,
                    ranges=ranges[::_EVERY] * 1.5,
                )
                if misfit < least:
                    found, least = float(angle), misfit
    return found


def _twice_log_likelihoods(
    xy: Floats, value: Floats, *, near: float, angle: float, ratio: float
) -> Floats:
    """
    Return them restricted, for each range and nugget, at the likeliest sill.

    The ranges are alike in the middle, whatever the ratio. The factor of the covariance
    with ones and values below it holds all that is asked, in one piece.
    """
    n = len(value)
    turn = stretch(angle, ratio) / (near * ratio**0.5)
    apart = distances(xy @ turn, xy @ turn)
    whole = np.zeros((n + 2, n + 2))
    whole[n], whole[n + 1, :n] = 1.0, value
    found = []
    for reach in _RANGES:
        alike = correlate("spherical", apart / reach)
        for nugget in _NUGGETS:
            whole[:n, :n] = (1.0 - nugget) * alike
            # Enough that the whole is positive definite: only its factor is wanted.
            enough = 2.0 * (n + float(value @ value)) / nugget
            whole[np.diag_indices(n + 2)] = [1.0] * n + [enough] * 2
            root = np.linalg.cholesky(whole)
            one, work = root[n, :n], root[n + 1, :n]
            total = float(one @ one)
            away = work - one * float(one @ work) / total
            sill = float(away @ away) / (n - 1)
            determinant = 2.0 * float(np.log(root.diagonal()[:n]).sum())
            found.append(-(n - 1) * math.log(sill) - determinant - math.log(total))
    return np.array(found)


def _together(xy: Floats, part: Part) -> list[Index]:
    """Cut the samples into groups that are small enough, of one part each."""
    everything = np.arange(len(xy))
    if part is None:
        waiting = [everything]
    else:
        waiting = [np.flatnonzero(part == each) for each in np.unique(part)]
    groups = []
    while waiting:
        group = waiting.pop()
        if len(group) <= _TOGETHER:
            groups.append(group)
            continue
        side = int(np.argmax(np.ptp(xy[group], axis=0)))
        order = group[np.argsort(xy[group, side], kind="stable")]
        waiting += np.array_split(order, 2)
    return groups[:: -(-len(groups) // _GROUPS)]
