"""Bands of a value that misplace least: where to cut, for every number of bands."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

MOST_STEPS = 400  # our choice: as many values are told apart, the rest is binned

_Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Banding:
    """
    Values parted into bands, each of which gets its mean.

    Attributes
    ----------
    labels : numpy.ndarray of int, shape (m,)
        Band of each value, from 0 for the lowest values of the first part upwards.
    misplaced : float
        Mean distance of a value from the mean of its band. [as the values]
    """

    labels: NDArray[np.intp]
    misplaced: float


def best_bands(
    values: NDArray[np.floating],
    *,
    parts: NDArray[np.integer] | None = None,
    most: int,
) -> tuple[Banding, ...]:
    """
    Return the bands that misplace least, for every number of them.

    Parameters
    ----------
    values : numpy.ndarray, shape (m,)
        Values that count alike, none missing, such as need on cells of one size.
    parts : numpy.ndarray of int, shape (m,), optional
        Parts that no band may straddle, such as sides of a limit; without them the
        values are one part.
    most : int
        Largest number of bands.

    Returns
    -------
    tuple of Banding
        From as many bands as there are parts to `most`, or to as many as there are
        values to tell apart; at least one.

    Notes
    -----
    What is least is the sum of the distances of values from the mean of their band:
    what a rate of the mean puts on too much and too little. The mean is kept, so both
    are alike, and the total is that of the values. With the values in order a band is a
    run of them, and the least for k bands follows from that for k - 1 (dynamic
    programming), so no other cut points misplace less. More than `MOST_STEPS` values
    are put on the finest lattice, of steps of 1, 2 or 5 times a power of ten, that
    leaves no more of them; on it the answer is exact. The published way of such bands
    takes squares in place of distances ("On grouping for maximum homogeneity", Journal
    of the American Statistical Association 53, 1958, from memory).

    Examples
    --------
    Two bands of 0, 1, 1 and 10 part at 10, and misplace 2/3 + 1/3 + 1/3 on four values:

    >>> two = best_bands(np.array([0.0, 1.0, 1.0, 10.0]), most=2)[1]
    >>> two.labels.tolist(), round(two.misplaced, 4)
    ([0, 0, 0, 1], 0.3333)
    """
    wide = values.astype(np.float64)
    part = np.zeros(len(wide), np.intp) if parts is None else parts.astype(np.intp)
    item, starts = _items(wide, part)
    weight = np.bincount(item).astype(np.float64)
    total = np.bincount(item, weights=wide).astype(np.float64)
    cost = _costs(weight, total, starts)
    size, fewest = len(weight), len(starts) - 1
    # least[j]: of the first j items in k bands; begins[j]: where the last band begins.
    least = np.full(size + 1, np.inf)
    least[0] = 0.0
    begins: list[NDArray[np.intp]] = []
    found = []
    for number in range(1, max(most, fewest) + 1):
        ways = least[:, np.newaxis] + cost
        first = ways.argmin(axis=0)
        least = ways[first, np.arange(size + 1)]
        begins.append(first)
        if number >= fewest and np.isfinite(least[size]):
            band = np.repeat(np.arange(number), np.diff(_ends(begins, size)))
            found.append(Banding(band[item], float(least[size]) / len(wide)))
    return tuple(found)


def knee(misplaced: Sequence[float], *, worth: float) -> int:
    """
    Return after which entry more bands are not worth their while.

    Parameters
    ----------
    misplaced : sequence of float
        What is misplaced, each with one band more than before.
    worth : float
        What each further band must save. [as `misplaced`]

    Returns
    -------
    int
        Index of the first entry after which no number of further bands saves `worth`
        with each of them.

    Examples
    --------
    The third band saves 3 and the fourth 0.2:

    >>> knee([9.0, 4.0, 1.0, 0.8], worth=0.5)
    2
    """
    for index, here in enumerate(misplaced):
        later = enumerate(misplaced[index + 1 :], start=1)
        if all(here - there < worth * further for further, there in later):
            return index
    return len(misplaced) - 1


def _items(
    values: _Floats, part: NDArray[np.intp]
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return which item of its part's lattice each value is, and where parts start."""
    spread = float(np.ptp(values)) or 1.0
    # From about the finest lattice that could do, and finer than any need is told.
    power = int(np.floor(np.log10(spread / MOST_STEPS)))
    exact = np.unique(np.round(values, 9))
    steps = [float(f"{digit}e{power + up}") for up in range(3) for digit in (1, 2, 5)]
    for step in [1e-9, *steps] if len(exact) <= MOST_STEPS else steps:
        place = np.round(values / step).astype(np.int64)
        place -= place.min()
        width = int(place.max()) + 1
        kinds, item = np.unique(part * width + place, return_inverse=True)
        if len(kinds) <= MOST_STEPS:
            break
    starts = np.flatnonzero(np.diff(kinds // width, prepend=-1))
    return item.ravel(), np.append(starts, len(kinds))


def _costs(weight: _Floats, total: _Floats, starts: NDArray[np.intp]) -> _Floats:
    """Return what a band from one item up to another misplaces, inf across parts."""
    size = len(weight)
    cost = np.full((size + 1, size + 1), np.inf)
    for low, high in pairwise(starts.tolist()):
        count = np.append(0.0, np.cumsum(weight[low:high]))
        summed = np.append(0.0, np.cumsum(total[low:high]))
        first, last = np.triu_indices(high - low + 1, 1)
        inside, whole = count[last] - count[first], summed[last] - summed[first]
        mean = whole / inside
        # Up to which item the values lie below the mean.
        upto = np.searchsorted(total[low:high] / weight[low:high], mean)
        below = mean * (count[upto] - count[first]) - (summed[upto] - summed[first])
        above = summed[last] - summed[upto] - mean * (count[last] - count[upto])
        # What is over and what is under are alike but for rounding.
        cost[first + low, last + low] = np.maximum(below + above, 0.0)
    return cost


def _ends(begins: Sequence[NDArray[np.intp]], size: int) -> NDArray[np.intp]:
    ends = [size]
    for first in reversed(begins):
        ends.append(int(first[ends[-1]]))
    return np.array(ends[::-1])
