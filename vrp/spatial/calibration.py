"""How sure a skill is, the most that the nugget allows, and whether errors hold."""

from collections.abc import Callable
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.random import Generator
from numpy.typing import ArrayLike, NDArray

from vrp.spatial.variogram import Variogram

Floats = NDArray[np.float64]
Transform = Callable[[Floats], Floats]

# Of an interval of skill: as that of a zone. Our choice.
LEVEL = 0.80
# Drawn sets of blocks. Our choice: the limits move by about a hundredth from seed to
# seed.
DRAWS = 2000
LEVELS = (0.50, 0.80, 0.95)
_ROUNDING = 1e-20  # of the sum of squares
# Errors of one sample that a perfect map is tried with, alike in probability.
_ERRORS = np.array([NormalDist().inv_cdf((i + 0.5) / 64) for i in range(64)])
_ERRORS /= np.sqrt(np.mean(_ERRORS**2))


@dataclass(frozen=True, slots=True)
class Calibration:
    """
    How far the stated errors agree with those of left-out samples.

    Attributes
    ----------
    squared_error : float
        Mean squared error over the variance that was stated: 1 where they agree, above
        1 where errors are larger than stated.
    coverage_50, coverage_80, coverage_95 : float
        Share of samples inside their 50, 80 and 95 % interval.
    """

    squared_error: float
    coverage_50: float
    coverage_80: float
    coverage_95: float


def calibration(errors: ArrayLike) -> Calibration:
    """
    Hold stated errors against those that were found.

    Parameters
    ----------
    errors : array_like, shape (n,)
        Errors of left-out samples over their stated standard deviation.

    Returns
    -------
    Calibration
        What was found of them.

    Examples
    --------
    The ends of the normal intervals are 0.67, 1.28 and 1.96:

    >>> found = calibration([0.5, -1.0, 1.5, 2.0])
    >>> found.squared_error, found.coverage_50, found.coverage_80, found.coverage_95
    (1.875, 0.25, 0.5, 0.75)
    """
    found = np.abs(np.asarray(errors, dtype=float))
    held = (
        float(np.mean(found <= NormalDist().inv_cdf(0.5 + level / 2.0)))
        for level in LEVELS
    )
    return Calibration(float(np.mean(found**2)), *held)


def skill_interval(
    observed: ArrayLike,
    predicted: ArrayLike,
    *,
    baseline: ArrayLike,
    block: NDArray[np.int64],
    generator: Generator,
) -> tuple[float, float]:
    r"""
    80 % interval of a skill, by drawing whole blocks of samples anew.

    Parameters
    ----------
    observed : array_like, shape (n,)
        What was found.
    predicted : array_like, shape (n,)
        What was predicted without it.
    baseline : array_like, shape (n,)
        What the field mean predicts.
    block : numpy.ndarray of int, shape (n,)
        Block of each sample, from 0.
    generator : numpy.random.Generator
        For the draws.

    Returns
    -------
    tuple of float
        Lower and upper limit, never beyond the skill itself; NaN with one block, or
        without a skill.

    Notes
    -----
    With :math:`B` blocks, 2,000 times :math:`B` of them are drawn with replacement, and
    the skill is that of their summed squared errors: a bootstrap, whose 10 and 90 %
    quantiles are the limits. Neighbours err alike, and a block takes them together.
    Predictions are not made anew, so what another fit of the variogram would change is
    left out. With few blocks the interval is too narrow. Where the skill itself lies
    outside the quantiles the limit is the skill (our choice).
    """
    found = np.asarray(observed, dtype=float)
    remaining = np.bincount(block, (found - np.asarray(predicted, dtype=float)) ** 2)
    error = np.bincount(block, (found - np.asarray(baseline, dtype=float)) ** 2)
    count = len(error)
    if count < 2 or not error.sum() > _ROUNDING * float(np.sum(found**2)):
        return float("nan"), float("nan")
    times = generator.multinomial(count, np.full(count, 1.0 / count), size=DRAWS)
    left, whole = times @ remaining, times @ error
    drawn = 1.0 - left[whole > 0.0] / whole[whole > 0.0]
    skill = 1.0 - float(remaining.sum()) / float(error.sum())
    low, high = np.quantile(drawn, ((1.0 - LEVEL) / 2.0, (1.0 + LEVEL) / 2.0))
    return min(float(low), skill), max(float(high), skill)


def most_by_nugget(
    observed: ArrayLike,
    *,
    baseline: ArrayLike,
    variogram: Variogram,
    log: bool,
    transform: Transform,
) -> float:
    r"""
    Return the largest skill that a perfect map could have against these samples.

    Parameters
    ----------
    observed : array_like, shape (n,)
        Samples, before `transform`.
    baseline : array_like, shape (n,)
        What the field mean predicts of each without it, before `transform`.
    variogram : Variogram
        On the working scale.
    log : bool
        Whether the working scale is the natural logarithm.
    transform : callable
        From the soil test to what the skill is about, such as the need.

    Returns
    -------
    float
        From 0 to 1; NaN where the field mean does not err.

    Notes
    -----
    A sample is the ground plus an error of the nugget's variance :math:`c_0`, which no
    map of the ground can know. Each sample is drawn towards the mean of all by
    :math:`\sqrt{c / (c + c_0)}`, with the partial sill :math:`c`, so that the samples
    scatter as the ground does; errors are added back, and the mean squared difference
    that they make, over the field mean's squared error, is what no map can remove.
    Without a transform on the linear scale this is :math:`1 - c_0 / \mathrm{MSE}`. The
    nugget is an estimate itself, so a map may come out above by chance.
    """
    found = np.asarray(observed, dtype=float)
    mean = np.asarray(baseline, dtype=float)
    asked = transform(found)
    whole = float(np.mean((asked - transform(mean)) ** 2))
    if not whole > _ROUNDING * float(np.mean(asked**2)):
        return float("nan")
    work = np.log(found) if log else found
    nugget, sill = variogram.nugget, variogram.nugget + variogram.partial_sill
    share = 1.0 if sill <= 0.0 else (variogram.partial_sill / sill) ** 0.5
    ground = work.mean() + share * (work - work.mean())
    noisy = ground[:, None] + nugget**0.5 * _ERRORS
    if log:
        ground, noisy = np.exp(ground), np.exp(noisy)
    noise = transform(noisy.ravel()).reshape(noisy.shape) - transform(ground)[:, None]
    return max(1.0 - float(np.mean(noise**2)) / whole, 0.0)
