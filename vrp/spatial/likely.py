"""Variograms that the samples leave likely."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from vrp.spatial import kriging
from vrp.spatial.variogram import Variogram

Floats = NDArray[np.float64]

# All our choice. Ranges are in spacings; more samples than MOST tell the variogram
# well, and would cost seconds.
RANGES = (1.5, 2.0, 3.0, 4.5, 6.5, 9.5)
NUGGETS = (0.05, 0.2, 0.35, 0.5, 0.65, 0.8, 0.92)
MOST = 300
LEAST = 0.01  # of the likeliest: what is less likely is left out


@dataclass(frozen=True, slots=True)
class Likely:
    """
    Systems of the same samples by other variograms.

    Attributes
    ----------
    systems : tuple of kriging.System
        From the shortest range to the longest.
    weight : numpy.ndarray, shape (k,)
        How likely each is; they add up to 1.
    noise : float
        How many times as likely as the likeliest it is that samples are noise alone.
    """

    systems: tuple[kriging.System, ...]
    weight: Floats
    noise: float = 0.0


def likely(
    xy: Floats,
    value: Floats,
    *,
    spacing: float,
    angle: float = 0.0,
    ratio: float = 1.0,
) -> Likely:
    r"""
    Solve the samples by every variogram that they leave likely.

    Parameters
    ----------
    xy : numpy.ndarray, shape (n, 2)
        Positions, none twice. [m]
    value : numpy.ndarray, shape (n,)
        Values on the working scale, not all alike.
    spacing : float
        Median distance to the nearest sample. [m]
    angle, ratio : float
        Of all of them, as `direction.find_direction` found it. [degree; 1]

    Returns
    -------
    Likely
        Those at least a hundredth as likely as the likeliest.

    Notes
    -----
    Spherical variograms with ranges of 1.5 to 9.5 spacings and nuggets of 5 to 92 % of
    the sill. The sill of each, :math:`s^2 = (z - m)^T K^{-1} (z - m) / (n - 1)`, is the
    one that makes the samples likeliest, and the weights go with the restricted
    likelihood

    .. math::

        (s^2)^{-(n - 1) / 2} |K|^{-1/2} (1^T K^{-1} 1)^{-1/2}

    with :math:`K` of sill 1 (from memory; the tests work two samples by hand).
    """
    n = len(value)
    found, logs = [], []
    for reach in RANGES:
        for nugget in NUGGETS:
            model = Variogram(
                "spherical",
                nugget,
                1.0 - nugget,
                reach * spacing * ratio**0.5,
                angle=angle,
                ratio=ratio,
            )
            one = kriging.prepare(xy, value, variogram=model)
            sill = float((value - one.mean) @ one.residual) / (n - 1)
            determinant = -2.0 * float(np.log(one.factor.diagonal()).sum())
            logs.append(
                -0.5 * ((n - 1) * np.log(sill) + determinant + np.log(one.ones.sum()))
            )
            scaled = replace(
                model, nugget=nugget * sill, partial_sill=(1.0 - nugget) * sill
            )
            found.append(
                kriging.System(
                    xy,
                    value,
                    scaled,
                    one.factor / sill**0.5,
                    one.ones / sill,
                    one.residual / sill,
                    one.mean,
                )
            )
    alone = -0.5 * ((n - 1) * np.log(np.var(value, ddof=1)) + np.log(n))
    noise = float(np.exp(min(alone - max(logs), 100.0)))
    weight = np.exp(np.array(logs) - max(logs))
    kept = np.flatnonzero(weight >= LEAST)
    share = weight[kept] / weight[kept].sum()
    return Likely(tuple(found[i] for i in kept), share, noise)


def mean_over(among: Likely, cells_xy: Floats, *, share: Floats) -> tuple[float, float]:
    r"""
    Estimate a mean over cells by all likely variograms at once.

    Parameters
    ----------
    among : Likely
        From `likely`.
    cells_xy : numpy.ndarray, shape (m, 2)
        Cells, some hundred. [m]
    share : numpy.ndarray, shape (m,)
        Their weights, which add up to 1.

    Returns
    -------
    tuple of float
        The mean of the noise-free surface [unit of the samples], and the variance of
        its error [unit squared].

    Notes
    -----
    With weights :math:`w_i`, block means :math:`m_i` and their variances
    :math:`\sigma_i^2` by each variogram as in `kriging.block_variance`, the mean is
    :math:`m = \sum_i w_i m_i` and the variance that of the mixture,

    .. math::

        \sum_i w_i (\sigma_i^2 + (m_i - m)^2)

    what each variogram is unsure of, and what they differ by.
    """
    first = among.systems[0]
    away = first.variogram.lags(cells_xy, first.xy)
    apart = first.variogram.lags(cells_xy, cells_xy)
    near, inner, reach = np.empty(0), 0.0, float("nan")
    means, variances = [], []
    for system in among.systems:
        model = system.variogram
        if model.range != reach:  # systems of one range differ by nugget and sill only
            reach = model.range
            near = share @ model.correlation(away)
            inner = float(share @ model.correlation(apart) @ share)
        across = model.partial_sill * near
        told, known = 1.0 - across @ system.ones, across @ system.factor
        found = model.partial_sill * inner - known @ known
        variances.append(max(float(found + told * told / system.ones.sum()), 0.0))
        means.append(float(across @ system.residual + system.mean))
    mean = float(among.weight @ means)
    between = (np.array(means) - mean) ** 2
    return mean, float(among.weight @ (variances + between))
