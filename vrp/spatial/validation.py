"""Does a map beat the field mean: cross-validation, skill and verdict."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from vrp.spatial.variogram import SPARSE_BELOW, distances, row_blocks

Floats = NDArray[np.float64]
Verdict = Literal["supported", "weak", "not supported", "cannot tell"]

# Limits of the skills, our choice; docs/surface_and_verdict.md has how often they err.
# "Not supported", which alone takes a map away, asks that no skill be above 0, neither
# blocked nor leave-one-out: blocks of a grid leave out what the map is drawn from, so
# that the blocked skill alone calls a third of good maps of a 2.5-acre grid worthless
# (tests/benchmarks/verdict.py).
SUPPORTED_ABOVE = 0.20
NOT_SUPPORTED_AT = 0.0

# Side of the squares that are left out together, in spacings. Our choice.
BLOCK_SPACINGS = 2.0
_FEWEST_BLOCKS = 4
_ROUNDING = 1e-20  # of the sum of squares


@dataclass(frozen=True, slots=True)
class Predictions:
    """
    Samples as a method predicts them from the others.

    Attributes
    ----------
    leave_one_out : numpy.ndarray, shape (n,)
        From all other samples; NaN where there are none. [unit of the values]
    blocked : numpy.ndarray, shape (n,)
        From the samples outside the sample's own block. [unit of the values]
    """

    leave_one_out: Floats
    blocked: Floats


@dataclass(frozen=True, slots=True)
class Candidate:
    """
    A way to estimate.

    Attributes
    ----------
    name : str
        Which.
    predictions : Predictions
        What it makes of left-out samples.
    """

    name: str
    predictions: Predictions


@dataclass(frozen=True, slots=True)
class CrossValidation:
    """
    What the surface, and what else could have been used, makes of left-out samples.

    Attributes
    ----------
    observed : numpy.ndarray, shape (n,)
        Values of the samples, one for each position.
    block : numpy.ndarray of int, shape (n,)
        The block of each.
    kriging : Predictions
        Medians; of the field mean where the surface is the field mean.
    kriging_mean : Predictions
        Unbiased means; the same as `kriging` unless the scale is logarithmic.
    field_mean : Predictions
        The mean of the samples that are not left out.
    others : tuple of Candidate
        What could have been taken instead, from the simplest.
    standardised : float
        Mean squared error over kriging variance, leave-one-out, on the working scale:
        1 where the stated errors are right; NaN without kriging.
    coverage : float
        Share of samples inside their 80 % interval, leave-one-out, with the nugget; NaN
        without kriging.
    errors : numpy.ndarray, shape (n,), or None
        Error of each over its standard deviation, as in `standardised`; None without
        kriging.
    """

    observed: Floats
    block: NDArray[np.int64]
    kriging: Predictions
    kriging_mean: Predictions
    field_mean: Predictions
    others: tuple[Candidate, ...]
    standardised: float
    coverage: float
    errors: Floats | None = None


def skill(observed: ArrayLike, predicted: ArrayLike, *, baseline: ArrayLike) -> float:
    """
    Share of a baseline's squared error that a prediction removes.

    Parameters
    ----------
    observed : array_like, shape (n,)
        What was found.
    predicted : array_like, shape (n,)
        What was predicted without it.
    baseline : array_like, shape (n,)
        What the field mean predicts.

    Returns
    -------
    float
        1 is perfect, 0 no better than the baseline, below 0 worse; NaN where neither
        errs.

    References
    ----------
    .. [1] Soil Science Society of America Journal 68, 2004, pages 2042-2047
       (prediction efficiency; formula from memory).

    Examples
    --------
    Errors of 1 where the baseline errs by 2:

    >>> skill([10.0, 14.0], [11.0, 13.0], baseline=[12.0, 12.0])
    0.75
    """
    found = np.asarray(observed, dtype=float)
    remaining = float(np.sum((found - np.asarray(predicted, dtype=float)) ** 2))
    error = float(np.sum((found - np.asarray(baseline, dtype=float)) ** 2))
    # What is left of samples that are all alike is rounding error, and no error.
    nothing = _ROUNDING * float(np.sum(found**2))
    if error <= nothing:
        return float("-inf") if remaining > nothing else float("nan")
    return 1.0 - remaining / error


def verdict(
    *,
    n: int,
    soil_test: float,
    need: float,
    alone: Sequence[float] = (),
) -> Verdict:
    """
    Whether a field may be treated by its map.

    Parameters
    ----------
    n : int
        Number of samples.
    soil_test, need : float
        Blocked skill in soil test and in need; NaN where neither map nor mean errs.
    alone : sequence of float
        The same leave-one-out; none where samples are clustered, whose skills one at a
        time say nothing.

    Returns
    -------
    {"supported", "weak", "not supported", "cannot tell"}
        Supported where both blocked skills exceed 0.20, not supported where no skill
        exceeds 0, weak between; "cannot tell" below 30 samples, and without a skill.

    Examples
    --------
    >>> verdict(n=75, soil_test=0.31, need=0.22)
    'supported'
    >>> verdict(n=75, soil_test=-0.01, need=-0.02, alone=(0.05, 0.01))
    'weak'
    >>> verdict(n=29, soil_test=0.31, need=0.22)
    'cannot tell'
    """
    skills = [each for each in (soil_test, need) if not np.isnan(each)]
    if n < SPARSE_BELOW or not skills:
        return "cannot tell"
    if min(skills) > SUPPORTED_ABOVE:
        return "supported"
    best = max((*skills, *(each for each in alone if not np.isnan(each))))
    return "weak" if best > NOT_SUPPORTED_AT else "not supported"


def blocks(xy: Floats, *, side: float) -> NDArray[np.int64]:
    """
    Square blocks of samples for cross-validation.

    Parameters
    ----------
    xy : numpy.ndarray, shape (n, 2)
        Positions. [m]
    side : float
        Side of the squares, above 0; halved until there are four of them. [m]

    Returns
    -------
    numpy.ndarray of int, shape (n,)
        Number of each sample's block, from 0.

    Notes
    -----
    The squares start a quarter of a side outside the lower left corner of the samples:
    with a side of two spacings no sample of a square grid is near an edge, where a
    centimetre would decide its block. Nothing is random. The grouping follows the axes
    of the CRS.
    """
    low = xy.min(axis=0)
    group = np.arange(len(xy))
    while len(xy) > _FEWEST_BLOCKS:
        column, row = np.floor((xy - low) / side + 0.25).astype(np.int64).T
        _, group = np.unique(row * (column.max() + 1) + column, return_inverse=True)
        if group.max() + 1 >= _FEWEST_BLOCKS:
            break
        side *= 0.5
    return group.astype(np.int64)


def leave_out_distance(
    xy: Floats, value: Floats, group: NDArray[np.int64], *, power: float
) -> Floats:
    """
    Predict the samples of each group by inverse distance from all other groups.

    Parameters
    ----------
    xy : numpy.ndarray, shape (n, 2)
        Positions, none twice. [m]
    value : numpy.ndarray, shape (n,)
        Values.
    group : numpy.ndarray of int, shape (n,)
        Groups of samples that are left out together.
    power : float
        Power of the distance.

    Returns
    -------
    numpy.ndarray, shape (n,)
        Predictions, NaN where there is but one group.
    """
    predicted = np.empty(len(value))
    for rows in row_blocks(len(value)):
        others = group[rows, None] != group
        apart = np.where(others, distances(xy[rows], xy), 1.0)
        weight = np.where(others, apart**-power, 0.0)
        predicted[rows] = _weighted(weight, value)
    return predicted


def leave_out_mean(value: Floats, group: NDArray[np.int64]) -> Floats:
    """
    Predict the samples of each group by the mean of all other groups.

    Parameters
    ----------
    value : numpy.ndarray, shape (n,)
        Values.
    group : numpy.ndarray of int, shape (n,)
        Groups of samples that are left out together.

    Returns
    -------
    numpy.ndarray, shape (n,)
        Predictions, NaN where there is but one group.
    """
    predicted = np.empty(len(value))
    for rows in row_blocks(len(value)):
        predicted[rows] = _weighted((group[rows, None] != group).astype(float), value)
    return predicted


def _weighted(weight: Floats, value: Floats) -> Floats:
    total = weight.sum(axis=1)
    predicted = np.full(len(weight), np.nan)
    np.divide(weight @ value, total, out=predicted, where=total > 0.0)
    return predicted
