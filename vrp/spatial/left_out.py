"""What kriging makes of left-out samples."""

from dataclasses import replace
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from vrp.spatial import kriging, solution
from vrp.spatial.footing import find_footing, laboratory_variance
from vrp.spatial.solution import Apart, Solution
from vrp.spatial.validation import Candidate, CrossValidation, Predictions

Floats = NDArray[np.float64]


def with_kriging(
    cross: CrossValidation, solved: Solution, work: Floats, *, log: bool
) -> CrossValidation:
    """
    Add to a cross-validation what kriging makes of left-out samples.

    Parameters
    ----------
    cross : CrossValidation
        With the samples, their blocks and the field mean.
    solved : Solution
        The systems.
    work : numpy.ndarray, shape (n,)
        Values on the working scale.
    log : bool
        Whether that is the natural logarithm.

    Returns
    -------
    CrossValidation
        With predictions and errors of kriging.
    """
    alone, blocked = (
        solution.leave_out(solved, group)
        for group in (np.arange(work.size), cross.block)
    )
    error = (work - alone.value) / np.sqrt(alone.variance)
    inside = np.abs(error) <= NormalDist().inv_cdf(0.9)
    pair = (alone, blocked)
    median = mean = _back(pair, work, log=log)
    if log:
        mean = Predictions(*(np.exp(out.value + out.correction) for out in pair))
    return replace(
        cross,
        kriging=median,
        kriging_mean=mean,
        standardised=float(np.mean(error**2)),
        coverage=float(np.mean(inside)),
        errors=error,
    )


def on_other_scale(
    cross: CrossValidation, xy: Floats, *, log: bool, lab_cv: float, apart: Apart
) -> tuple[Candidate, ...]:
    """
    Predict left-out samples by kriging on the scale that was not taken.

    Parameters
    ----------
    cross : CrossValidation
        With the samples and their blocks.
    xy : numpy.ndarray, shape (n, 2)
        Positions. [m]
    log : bool
        Whether the scale that was not taken is the natural logarithm.
    lab_cv : float
        Coefficient of variation of a repeated test. [%]
    apart : Apart
        Parts of the field.

    Returns
    -------
    tuple of Candidate
        One, or none where kriging has no footing there.
    """
    value = cross.observed
    work = np.log(value) if log else value
    noise = laboratory_variance(value, lab_cv=lab_cv, log=log)
    footing = find_footing(xy, work, minimum_nugget=noise, apart=apart)
    if footing.why_not or footing.variogram is None:
        return ()
    solved = solution.solve(xy, work, variogram=footing.variogram, apart=apart)
    pair = tuple(
        solution.leave_out(solved, group)
        for group in (np.arange(len(value)), cross.block)
    )
    name = f"ordinary kriging, {'logarithmic' if log else 'linear'} scale"
    return (Candidate(name, _back(pair, work, log=log)),)


def _back(pair: tuple[kriging.LeftOut, ...], work: Floats, *, log: bool) -> Predictions:
    """Return predicted medians in the unit of the values."""
    if log:
        return Predictions(*(np.exp(out.value) for out in pair))
    return Predictions(*(bounded(out.value, work) for out in pair))


def bounded(estimate: float | Floats, sampled: Floats) -> Floats:
    """
    Raise what lies below 0 to 0, unless a sample lies below 0.

    Parameters
    ----------
    estimate : float or numpy.ndarray
        Estimates.
    sampled : numpy.ndarray, shape (n,)
        Samples.

    Returns
    -------
    numpy.ndarray
        In the shape of `estimate`.
    """
    least = 0.0 if sampled.min() >= 0.0 else -np.inf
    return np.asarray(np.maximum(estimate, least), dtype=float)
