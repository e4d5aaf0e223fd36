"""How alike neighbours are: models of the semivariance, and how distances count."""

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

Model = Literal["spherical", "exponential", "matern"]
Floats = NDArray[np.float64]

# Below this many samples the nugget is not fitted but read off the smallest distance.
# Our choice: about 30 is where a dozen bins still hold some tens of pairs each.
SPARSE_BELOW = 30

_PAIRS = 512 * 512  # held at a time, our choice
# Where the correlation of each smoothness is that of an exponential model at its
# practical range, exp(-3): roots by bisection, in units of the model's own length.
_PRACTICAL = {1.5: 4.7490313860127005, 2.5: 5.924462618951796}


@dataclass(frozen=True, slots=True)
class Bins:
    """
    Semivariances of pairs of samples, by distance.

    Attributes
    ----------
    pairs : numpy.ndarray of int, shape (k,)
        Number of pairs in the bin, never 0.
    distance : numpy.ndarray, shape (k,)
        Their mean distance. [m]
    semivariance : numpy.ndarray, shape (k,)
        Mean of half the squared differences. [unit of the values, squared]
    robust : numpy.ndarray, shape (k,), optional
        A robust estimate of the same. [unit of the values, squared]
    """

    pairs: NDArray[np.int64]
    distance: Floats
    semivariance: Floats
    robust: Floats | None = None


@dataclass(frozen=True, slots=True)
class Variogram:
    r"""
    A variogram model.

    Attributes
    ----------
    model : {"spherical", "exponential", "matern"}
        Shape of the structured part.
    nugget, partial_sill : float
        Noise, and variance of the structured part. [unit of the values, squared]
    range : float
        Where the structured part ends (spherical) or reaches 95 % (the others: the
        practical range, for the exponential three times the e-folding length); in the
        direction of `angle`, the longest, where `ratio` is above 1. [m]
    bins : Bins, optional
        What it was fitted to.
    smoothness : float, optional
        Of a Matern model, 1.5 or 2.5; at 0.5 it would be the exponential.
    angle : float
        Direction of the longest range, clockwise from the north of the CRS. [degree]
    ratio : float
        The longest range over the shortest, which lies across; 1 where all directions
        are alike.

    Notes
    -----
    With a distance :math:`h` and the model's own length :math:`\ell` a Matern model
    correlates by :math:`(1 + s) e^{-s}` (smoothness 1.5) or
    :math:`(1 + s + s^2 / 3) e^{-s}` (2.5), :math:`s = h / \ell` [1]_. The range is the
    distance where that is :math:`e^{-3}`, about 0.05: 4.75 or 5.92 times
    :math:`\ell`.

    References
    ----------
    .. [1] "Gaussian Processes for Machine Learning", MIT Press, 2006, section 4.2.1
       (from memory; the tests compare with the Bessel function's form).
    """

    model: Model
    nugget: float
    partial_sill: float
    range: float
    bins: Bins | None = None
    smoothness: float | None = None
    angle: float = 0.0
    ratio: float = 1.0

    def lags(self, from_xy: Floats, to_xy: Floats) -> Floats:
        """
        Measure distances as the model counts them.

        Parameters
        ----------
        from_xy : numpy.ndarray, shape (m, 2)
            Points. [m]
        to_xy : numpy.ndarray, shape (n, 2)
            Other points. [m]

        Returns
        -------
        numpy.ndarray, shape (m, n)
            Distances; what lies across the longest range counts `ratio` times. [m]
        """
        if self.ratio == 1.0:
            return distances(from_xy, to_xy)
        turn = stretch(self.angle, self.ratio)
        return distances(from_xy @ turn, to_xy @ turn)

    def correlation(self, distance: ArrayLike) -> Floats:
        """
        Correlation of the structured part.

        Parameters
        ----------
        distance : array_like
            Distance between two places, as `lags` measures it. [m]

        Returns
        -------
        numpy.ndarray
            From 1 at distance 0 down to 0, in the shape of `distance`.
        """
        return into_correlation(self, np.array(distance, dtype=float))

    def semivariance(self, distance: ArrayLike) -> Floats:
        """
        Semivariance of two samples.

        Parameters
        ----------
        distance : array_like
            Distance between them, as `lags` measures it. [m]

        Returns
        -------
        numpy.ndarray
            0 at distance 0, the nugget or more beyond. [unit of the values, squared]

        Examples
        --------
        >>> model = Variogram("spherical", 0.25, 0.75, 200.0)
        >>> model.semivariance([0.0, 100.0, 200.0, 500.0])
        array([0.      , 0.765625, 1.      , 1.      ])
        """
        away = np.asarray(distance, dtype=float) > 0.0
        structured = self.partial_sill * (1.0 - self.correlation(distance))
        return np.where(away, self.nugget + structured, 0.0)


def distances(from_xy: Floats, to_xy: Floats) -> Floats:
    """
    Measure from each of some points to each of others.

    Parameters
    ----------
    from_xy : numpy.ndarray, shape (m, 2)
        Points. [m]
    to_xy : numpy.ndarray, shape (n, 2)
        Other points. [m]

    Returns
    -------
    numpy.ndarray, shape (m, n)
        Distances. [m]
    """
    square = from_xy[:, :1] - to_xy[:, 0]
    square *= square
    across = from_xy[:, 1:] - to_xy[:, 1]
    across *= across
    square += across
    return np.sqrt(square, out=square)


def spacing(xy: Floats) -> float:
    """
    Typical distance from a sample to its nearest neighbour.

    Parameters
    ----------
    xy : numpy.ndarray, shape (n, 2)
        Positions, at least two and none twice. [m]

    Returns
    -------
    float
        Median over the samples. [m]
    """
    nearest = np.empty(len(xy))
    for rows in row_blocks(len(xy)):
        apart = distances(xy[rows], xy)
        apart[np.arange(len(apart)), np.arange(len(xy))[rows]] = np.inf
        nearest[rows] = apart.min(axis=1)
    return float(np.median(nearest))


def row_blocks(count: int) -> list[slice]:
    """
    Cut the rows of a square matrix into blocks of bounded memory.

    Parameters
    ----------
    count : int
        Number of rows.

    Returns
    -------
    list of slice
        One for up to 512 rows; by `count` alone, so that sums are always alike.
    """
    rows = max(_PAIRS // max(count, 1), 1)
    return [slice(start, start + rows) for start in range(0, count, rows)]


def into_correlation(variogram: Variogram, distance: Floats) -> Floats:
    """
    Turn distances into correlations, in the memory of the distances.

    Parameters
    ----------
    variogram : Variogram
        Whose structured part is meant.
    distance : numpy.ndarray
        Distances, which are overwritten. [m]

    Returns
    -------
    numpy.ndarray
        The same array, now `Variogram.correlation`.
    """
    distance /= variogram.range
    return correlate(variogram.model, distance, smoothness=variogram.smoothness)


def correlate(
    model: Model, scaled: Floats, *, smoothness: float | None = None
) -> Floats:
    """
    Turn distance over range into correlation, in place.

    Parameters
    ----------
    model : {"spherical", "exponential", "matern"}
        Shape.
    scaled : numpy.ndarray
        Distance over range, which is overwritten.
    smoothness : float, optional
        Of a Matern model.

    Returns
    -------
    numpy.ndarray
        The same array.
    """
    if model == "exponential":
        scaled *= -3.0
        return np.exp(scaled, out=scaled)
    if smoothness is not None:
        scaled *= _PRACTICAL[smoothness]
        falling = np.exp(-scaled)
        if smoothness > 2.0:
            falling *= 1.0 + scaled * (1.0 + scaled / 3.0)
        else:
            falling *= 1.0 + scaled
        scaled[...] = falling
        return scaled
    np.minimum(scaled, 1.0, out=scaled)
    cube = scaled * scaled
    cube *= 0.5
    cube -= 1.5
    scaled *= cube
    scaled += 1.0
    return scaled


def stretch(angle: float, ratio: float) -> Floats:
    r"""
    Linear map after which all directions are alike.

    Parameters
    ----------
    angle : float
        Direction of the longest range, clockwise from north. [degree]
    ratio : float
        The longest range over the shortest.

    Returns
    -------
    numpy.ndarray, shape (2, 2)
        Symmetric: with the unit vector :math:`u` along the longest range
        :math:`u u^T + r (1 - u u^T)`.

    Examples
    --------
    Longest to the north, east counts twice:

    >>> stretch(0.0, 2.0).tolist()
    [[2.0, 0.0], [0.0, 1.0]]
    """
    along = np.array([math.sin(math.radians(angle)), math.cos(math.radians(angle))])
    outer = np.outer(along, along)
    return outer + ratio * (np.eye(2) - outer)
