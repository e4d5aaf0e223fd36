"""What else could have made the surface, and what left-out samples say of each."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vrp.spatial.validation import (
    Candidate,
    CrossValidation,
    Predictions,
    leave_out_distance,
    leave_out_mean,
)

Floats = NDArray[np.float64]
Index = NDArray[np.int64]

# Powers of distance weighting. 1 is the robust one for sparse samples in Precision
# Agriculture, 2024, https://doi.org/10.1007/s11119-024-10141-0 (abstract read); 2 is
# common practice; 3 is our choice. Each is a candidate of its own, so that none is
# flattered by having been picked on the samples that it is judged by.
POWERS = (1.0, 2.0, 3.0)
# More samples have the common power only: each costs the square of their number.
MOST_FOR_ALL = 1_000

FIELD_MEAN = "field mean"
DRAWN = "means of the drawn zones"


@dataclass(frozen=True, slots=True)
class Score:
    """
    A candidate as blocked cross-validation judges it.

    Attributes
    ----------
    name : str
        Which candidate.
    leave_one_out, blocked : float
        Root mean squared error of left-out samples. [unit of the values]
    difference : float
        Blocked mean squared error less that of the surface that is taken: below 0 where
        the candidate is nearer. [unit of the values, squared]
    standard_error : float
        Of `difference`, from the blocks. [unit of the values, squared]
    """

    name: str
    leave_one_out: float
    blocked: float
    difference: float
    standard_error: float


@dataclass(frozen=True, slots=True)
class Comparison:
    """
    The candidates beside the surface that is taken.

    Attributes
    ----------
    scores : tuple of Score
        The surface that is taken first, then the others from the most involved to the
        simplest.
    best : str
        Of the least blocked error.
    simplest : str
        The simplest whose blocked error is within one standard error of the best's.
    """

    scores: tuple[Score, ...]
    best: str
    simplest: str


def simple_candidates(
    xy: Floats, value: Floats, block: Index, *, drawn: Index | None = None
) -> tuple[Candidate, ...]:
    """
    Predict left-out samples by what is simpler than kriging.

    Parameters
    ----------
    xy : numpy.ndarray, shape (n, 2)
        Positions, none twice. [m]
    value : numpy.ndarray, shape (n,)
        Values.
    block : numpy.ndarray of int, shape (n,)
        Block of each sample.
    drawn : numpy.ndarray of int, shape (n,), optional
        Zone of each sample in a drawing that was given, below 0 outside any.

    Returns
    -------
    tuple of Candidate
        From the simplest: the field mean, the means of the drawn zones, distance
        weighting.
    """
    groups = np.arange(len(value)), block
    found = [
        Candidate(FIELD_MEAN, Predictions(*(leave_out_mean(value, g) for g in groups)))
    ]
    if drawn is not None:
        pair = (leave_out_drawn(value, g, drawn=drawn) for g in groups)
        found.append(Candidate(DRAWN, Predictions(*pair)))
    powers = POWERS if len(value) <= MOST_FOR_ALL else POWERS[1:2]
    for power in powers:
        pair = (leave_out_distance(xy, value, g, power=power) for g in groups)
        name = f"inverse distance, power {power:g}"
        found.append(Candidate(name, Predictions(*pair)))
    return tuple(found)


def leave_out_drawn(value: Floats, group: Index, *, drawn: Index) -> Floats:
    """
    Predict the samples of each group by the mean of their own drawn zone.

    Parameters
    ----------
    value : numpy.ndarray, shape (n,)
        Values.
    group : numpy.ndarray of int, shape (n,)
        Groups of samples that are left out together.
    drawn : numpy.ndarray of int, shape (n,)
        Zone of each sample, below 0 outside any.

    Returns
    -------
    numpy.ndarray, shape (n,)
        The mean of the zone's samples in other groups; that of all samples in other
        groups where the zone has none there.
    """
    predicted = leave_out_mean(value, group)
    for zone in np.unique(drawn[drawn >= 0]):
        here = np.flatnonzero(drawn == zone)
        own = leave_out_mean(value[here], group[here])
        known = np.isfinite(own)
        predicted[here[known]] = own[known]
    return predicted


def compare(cross: CrossValidation, *, taken: str) -> Comparison:
    r"""
    Judge the surface that is taken beside what else could have been.

    Parameters
    ----------
    cross : CrossValidation
        With its candidates from the simplest.
    taken : str
        Name of the surface that is taken.

    Returns
    -------
    Comparison
        What each errs by, and which a choice by cross-validation would take.

    Notes
    -----
    With :math:`d_b` the sum over block :math:`b` of a candidate's squared errors less
    that of another's, the difference of the mean squared errors of :math:`n` samples in
    :math:`B` blocks is :math:`\sum d_b / n`, and its standard error

    .. math::

        \frac{1}{n} \sqrt{\frac{B}{B - 1} \sum_b (d_b - \bar d)^2}

    since neighbours err alike, and a block takes them together. Within one standard
    error of the best, the simpler is the rule of [1]_; the order is the field mean, the
    means of drawn zones, distance weighting, kriging.

    References
    ----------
    .. [1] "Classification and Regression Trees", Wadsworth, 1984, section 3.4 (the
       one-standard-error rule; from memory).
    """
    surface = Candidate(taken, cross.kriging)
    others = [one for one in cross.others if one.name != taken]
    ordered = [*others, surface] if taken != FIELD_MEAN else [surface, *others]
    sums = {one.name: _by_block(one.predictions.blocked, cross) for one in ordered}
    names = [one.name for one in ordered]
    best = min(names, key=lambda name: float(sums[name].sum()))

    def _gap(name: str, other: str) -> tuple[float, float]:
        by_block = (sums[name] - sums[other]) / len(cross.observed)
        count = len(by_block)
        if count < 2:
            return float("nan"), float("nan")
        error = float(np.std(by_block, ddof=1)) * count**0.5
        return float(by_block.sum()), error

    def _near(name: str) -> bool:
        more, error = _gap(name, best)
        return more <= error

    simplest = next((name for name in names if _near(name)), best)
    shown: Sequence[Candidate] = [surface, *reversed(others)]
    scores = tuple(
        Score(
            one.name,
            _root(one.predictions.leave_one_out, cross.observed),
            _root(one.predictions.blocked, cross.observed),
            *_gap(one.name, taken),
        )
        for one in shown
    )
    return Comparison(scores, best, simplest)


def _by_block(predicted: Floats, cross: CrossValidation) -> Floats:
    squares: Floats = (predicted - cross.observed) ** 2
    return np.bincount(cross.block, squares).astype(float)


def _root(predicted: Floats, observed: Floats) -> float:
    return float(np.sqrt(np.mean((predicted - observed) ** 2)))
