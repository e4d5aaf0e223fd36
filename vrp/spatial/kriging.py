"""Ordinary kriging with the nugget as noise, in blocks of bounded memory."""

import os
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vrp.spatial.variogram import Variogram, into_correlation

Floats = NDArray[np.float64]

BLOCK = 512  # cells at a time
_PANEL = 64  # columns of the factor at a time
_WHOLE = 256  # samples whose triangle is inverted in one piece
_MOST_CELLS = 400  # of a block, for its own variance


@dataclass(frozen=True, slots=True)
class System:
    """
    Samples and variogram, factorised once.

    Attributes
    ----------
    xy : numpy.ndarray, shape (n, 2)
        Positions of the samples. [m]
    value : numpy.ndarray, shape (n,)
        Their values.
    variogram : Variogram
        Its nugget is noise of the samples.
    factor : numpy.ndarray, shape (n, n)
        Upper triangle whose product with its transpose is the covariance's inverse.
    ones : numpy.ndarray, shape (n,)
        The covariance's inverse times a vector of ones.
    residual : numpy.ndarray, shape (n,)
        The covariance's inverse times the samples less `mean`.
    mean : float
        Mean of the samples by generalised least squares.
    """

    xy: Floats
    value: Floats
    variogram: Variogram
    factor: Floats
    ones: Floats
    residual: Floats
    mean: float


@dataclass(frozen=True, slots=True)
class Estimate:
    """
    The noise-free surface at some places.

    Attributes
    ----------
    value : numpy.ndarray, shape (m,)
        Estimate. [unit of the samples]
    variance : numpy.ndarray, shape (m,)
        Variance of its error; the nugget is not part of the surface. [unit squared]
    lagrange : numpy.ndarray, shape (m,)
        Lagrange multiplier, positive where the samples say little. [unit squared]
    """

    value: Floats
    variance: Floats
    lagrange: Floats


@dataclass(frozen=True, slots=True)
class LeftOut:
    """
    Samples as the others predict them.

    Attributes
    ----------
    value : numpy.ndarray, shape (n,)
        Prediction. [unit of the samples]
    variance : numpy.ndarray, shape (n,)
        Variance of observed less predicted, with the nugget. [unit squared]
    correction : numpy.ndarray, shape (n,)
        What the logarithm of the mean lies above a prediction of logarithms.
    """

    value: Floats
    variance: Floats
    correction: Floats


@contextmanager
def one_thread() -> Iterator[None]:
    """
    Hold BLAS and LAPACK at one thread, so that bytes don't depend on their number.

    Yields
    ------
    None
        Nothing.
    """
    from threadpoolctl import threadpool_limits

    with threadpool_limits(limits=1, user_api="blas"):
        yield


def prepare(xy: Floats, value: Floats, *, variogram: Variogram) -> System:
    """
    Factorise the samples' covariance.

    Parameters
    ----------
    xy : numpy.ndarray, shape (n, 2)
        Positions, none twice. [m]
    value : numpy.ndarray, shape (n,)
        Values.
    variogram : Variogram
        With nugget or partial sill above 0.

    Returns
    -------
    System
        What the other functions here work from.
    """
    covariance = variogram.partial_sill * variogram.correlation(variogram.lags(xy, xy))
    covariance[np.diag_indices(len(value))] += variogram.nugget
    lower: Floats = np.linalg.cholesky(covariance).astype(float, copy=False)
    factor = _inverse_of_lower(lower).T
    ones = factor @ factor.sum(axis=0)
    mean = float(ones @ value / ones.sum())
    residual = factor @ ((value - mean) @ factor)
    return System(xy, value, variogram, factor, ones, residual, mean)


def estimate(system: System, cells_xy: Floats) -> Estimate:
    r"""
    Estimate the surface at places by ordinary kriging from all samples.

    Parameters
    ----------
    system : System
        From `prepare`.
    cells_xy : numpy.ndarray, shape (m, 2)
        Places. [m]

    Returns
    -------
    Estimate
        Of the surface without the nugget.

    Notes
    -----
    With the samples' covariance :math:`K = C + c_0 I`, nugget :math:`c_0`, partial sill
    :math:`c`, covariances :math:`k` of samples and surface,
    :math:`a = 1^T K^{-1} k` and :math:`s = 1^T K^{-1} 1`,

    .. math::

        \mu &= (1 - a) / s \\
        \hat z &= m + k^T K^{-1} (z - m) \\
        \sigma^2 &= c - k^T K^{-1} k + \mu (1 - a)

    where :math:`m` is the samples' generalised mean. The nugget is taken as noise
    (laboratory, sampling, variation at less than the spacing), so that the surface
    isn't drawn through noisy samples. Away from samples the estimate is that of the
    exact interpolator, whose variance is larger by the nugget.
    """
    count = len(cells_xy)
    value, lagrange, variance = (np.empty(count) for _ in range(3))

    def _fill(start: int) -> None:
        part = slice(start, start + BLOCK)
        found = estimate_block(system, cells_xy[part])
        value[part], variance[part] = found.value, found.variance
        lagrange[part] = found.lagrange

    # The blocks are the same however many threads share them, and so are the bytes.
    with ThreadPoolExecutor(threads()) as pool:
        list(pool.map(_fill, range(0, count, BLOCK)))
    return Estimate(value, variance, lagrange)


def estimate_block(system: System, places: Floats) -> Estimate:
    """
    Estimate the surface as `estimate` does, in one piece and on one thread.

    Parameters
    ----------
    system : System
        From `prepare`.
    places : numpy.ndarray, shape (m, 2)
        Places, no more than some thousand. [m]

    Returns
    -------
    Estimate
        Of the surface without the nugget.
    """
    total = system.ones.sum()
    near = covariances(system, places)
    told = 1.0 - near @ system.ones
    known = _squares(near, system.factor)
    variance = system.variogram.partial_sill - known + told * told / total
    value = near @ system.residual + system.mean
    return Estimate(value, np.maximum(variance, 0.0), told / total)


def block_variance(
    system: System, cells_xy: Floats, *, weight: Floats | None = None
) -> float:
    r"""
    Variance of the error of a mean over cells.

    Parameters
    ----------
    system : System
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
    As in `estimate`, with the mean covariance of the samples and the cells for
    :math:`k` and that of the cells among themselves for :math:`c`: block kriging. Of
    more than 400 cells every second, third and so on is taken (our choice).
    """
    cells, share = thinned(cells_xy, weight=weight)
    model = system.variogram
    near = share @ covariances(system, cells)
    among = share @ model.correlation(model.lags(cells, cells)) @ share
    told, total = 1.0 - near @ system.ones, system.ones.sum()
    known = near @ system.factor
    among *= model.partial_sill
    return max(float(among - known @ known + told * told / total), 0.0)


def leave_out(system: System, group: NDArray[np.int64]) -> LeftOut:
    r"""
    Predict the samples of each group from all other groups.

    Parameters
    ----------
    system : System
        From `prepare`.
    group : numpy.ndarray of int, shape (n,)
        Groups of samples that are left out together, at least two groups.

    Returns
    -------
    LeftOut
        As if the system were solved anew without the group. The variogram is kept.

    Notes
    -----
    With :math:`Q = K^{-1} - K^{-1} 1 1^T K^{-1} / s` the errors of a group :math:`B`
    are :math:`Q_{BB}^{-1} (Q z)_B` and their covariance is :math:`Q_{BB}^{-1}` [1]_.
    `correction` is half of what the sill exceeds the prediction's variance by,
    :math:`\frac{1}{2} \mathrm{diag}(Q_{BB}^{-1}) - Q_{BB}^{-1} (K^{-1} 1)_B / s`.

    References
    ----------
    .. [1] "Cross validation of kriging in a unique neighborhood", Mathematical Geology
       15, 1983 (from memory; the tests compare with systems solved anew).
    """
    total = system.ones.sum()
    inverse = system.factor @ system.factor.T
    inverse -= np.outer(system.ones, system.ones / total)
    error, variance, correction = (np.empty(len(group)) for _ in range(3))
    for name in np.unique(group):
        out = np.flatnonzero(group == name)
        own = np.linalg.inv(inverse[np.ix_(out, out)])
        error[out] = own @ system.residual[out]
        variance[out] = own.diagonal()
        correction[out] = 0.5 * own.diagonal() - own @ system.ones[out] / total
    return LeftOut(system.value - error, variance, correction)


def thinned(cells_xy: Floats, *, weight: Floats | None) -> tuple[Floats, Floats]:
    """
    Take some cells of a zone for its variance.

    Parameters
    ----------
    cells_xy : numpy.ndarray, shape (m, 2)
        Cells of a zone. [m]
    weight : numpy.ndarray, shape (m,), optional
        Weights of a weighted mean; without them all cells count alike.

    Returns
    -------
    tuple of numpy.ndarray
        At most 400 of the cells, and their shares, which add up to 1.
    """
    stride = -(-len(cells_xy) // _MOST_CELLS)
    cells = cells_xy[::stride]
    share = np.ones(len(cells)) if weight is None else weight[::stride]
    return cells, share / share.sum()


def covariances(system: System, places: Floats) -> Floats:
    """
    Return the covariances of the surface at some places and the samples.

    Parameters
    ----------
    system : System
        From `prepare`.
    places : numpy.ndarray, shape (m, 2)
        Places. [m]

    Returns
    -------
    numpy.ndarray, shape (m, n)
        Without the nugget. [unit squared]
    """
    model = system.variogram
    near = into_correlation(model, model.lags(places, system.xy))
    near *= model.partial_sill
    return near


def _squares(near: Floats, factor: Floats) -> Floats:
    """Row sums of squares of near @ factor, without the half of it that is zero."""
    sums = np.zeros(len(near))
    for start in range(0, len(factor), _PANEL):
        stop = start + _PANEL
        product = near[:, :stop] @ factor[:stop, start:stop]
        sums += np.einsum("ij,ij->i", product, product)
    return sums


def _inverse_of_lower(lower: Floats) -> Floats:
    """Return the inverse of a lower triangle, half by half: a third of the work."""
    n = len(lower)
    if n <= _WHOLE:
        return np.tril(np.linalg.inv(lower))
    half, found = n // 2, np.zeros((n, n))
    first, last = found[:half, :half], found[half:, half:]
    first[:] = _inverse_of_lower(lower[:half, :half])
    last[:] = _inverse_of_lower(lower[half:, half:])
    np.matmul(last @ lower[half:, :half], first, out=found[half:, :half])
    np.negative(found[half:, :half], out=found[half:, :half])
    return found


def threads() -> int:
    """
    Count the threads that this process may run.

    Returns
    -------
    int
        At least one.
    """
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1
