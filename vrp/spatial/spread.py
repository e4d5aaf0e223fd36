"""How far zones that were drawn part the samples: between against within."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Index = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Spread:
    """
    Scatter of samples between and within zones.

    Attributes
    ----------
    zones, samples : int
        Numbers of zones that hold a sample, and of samples in them.
    between : float
        Share of the samples' sum of squares that lies between the zones' means.
    by_chance : float
        What that share is on average where zones have nothing to do with the values.
    """

    zones: int
    samples: int
    between: float
    by_chance: float


def spread(value: Floats, zone: Index) -> Spread | None:
    """
    Part the scatter of samples by zone.

    Parameters
    ----------
    value : numpy.ndarray, shape (n,)
        Values.
    zone : numpy.ndarray of int, shape (n,)
        Zone of each sample, below 0 outside any.

    Returns
    -------
    Spread or None
        None with fewer than two zones, no more samples than zones, or no scatter.

    Notes
    -----
    Of :math:`n` values in :math:`k` zones that have nothing to do with them
    :math:`(k - 1) / (n - 1)` of the sum of squares lies between the means, on average:
    the analysis of variance.

    Examples
    --------
    Two zones with means of 10 and 20, and a deviation of 1 within: 100 of 104.

    >>> spread(np.array([9.0, 11.0, 19.0, 21.0]), np.array([0, 0, 1, 1])).between
    0.9615384615384616
    """
    inside = zone >= 0
    value, zone = value[inside], zone[inside]
    _, at = np.unique(zone, return_inverse=True)
    count = np.bincount(at)
    if len(count) < 2 or len(value) <= len(count):
        return None
    away = value - value.mean()
    whole = float(away @ away)
    if whole <= 0.0:
        return None
    means = np.bincount(at, away) / count
    share = float(count @ means**2) / whole
    chance = (len(count) - 1) / (len(value) - 1)
    return Spread(len(count), len(value), share, chance)
