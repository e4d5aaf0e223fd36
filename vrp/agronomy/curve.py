"""Need of P2O5 as a function of the soil test, piece by piece a straight line."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from vrp.agronomy.figures import TestUnit
from vrp.evidence import Source
from vrp.units import KG_HA, RateUnit

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Piece:
    """
    One stretch of the curve: need = intercept + slope × soil test.

    Attributes
    ----------
    upper : float
        Upper edge, infinite for the last piece. [soil test unit]
    upper_within : bool
        Whether the edge itself belongs to this piece, or to the one above.
    intercept : float
        Need where the soil test is zero. [the guideline's unit]
    slope : float
        Change of need for a unit of soil test. [the guideline's unit]
    word : str
        What the guideline calls the class.
    """

    upper: float
    upper_within: bool
    intercept: float
    slope: float
    word: str


@dataclass(frozen=True, slots=True)
class NeedCurve:
    """
    Need of P2O5 against the soil test.

    Attributes
    ----------
    pieces : tuple of Piece
        From the poorest soil to the richest; kept in the guideline's own unit.
    unit : str
        The guideline's unit of P2O5: lb/ac or kg/ha.
    soil_test_unit : str
        ppm, mg/L or lb/ac.
    critical : float
        Soil test below which a place counts as short. [soil test unit]
    critical_source : Source
        Who says so.
    pooled : int
        Seasons after the first whose removal the need contains, where it does.
    pooling : str
        Why so many, in words.

    Notes
    -----
    A soil test below zero, which only an estimate can have, is read as zero.
    """

    pieces: tuple[Piece, ...]
    unit: RateUnit
    soil_test_unit: TestUnit
    critical: float
    critical_source: Source
    pooled: int = 0
    pooling: str = ""

    @property
    def edges(self) -> tuple[float, ...]:
        """
        Return the upper edges of the pieces.

        Returns
        -------
        tuple of float
            Rising, the last infinite. [soil_test_unit]
        """
        return tuple(piece.upper for piece in self.pieces)

    @property
    def closed(self) -> Literal["left", "right"]:
        """
        Return which side of a class holds its edge, as at the last edge of all.

        Returns
        -------
        str
            ``right``: a class ends with its edge; ``left``: it begins with it.
        """
        inner = self.pieces[:-1]
        return "right" if inner and inner[-1].upper_within else "left"

    @property
    def no_need_above(self) -> float:
        """
        Return the soil test above which the need is zero.

        Returns
        -------
        float
            Infinite if there is none. [soil_test_unit]
        """
        above = np.inf
        for lower, piece in zip(
            reversed((0.0, *self.edges[:-1])), reversed(self.pieces), strict=True
        ):
            if piece.intercept != 0.0 or piece.slope != 0.0:
                break
            above = lower
        return float(above)

    def in_unit(self, soil_test: ArrayLike) -> Array:
        """
        Need in the guideline's own unit.

        Parameters
        ----------
        soil_test : array_like
            Soil tests in the guideline's unit. [soil_test_unit]

        Returns
        -------
        numpy.ndarray
            Need, NaN where the soil test is NaN. [unit]
        """
        test = np.maximum(np.asarray(soil_test, dtype=np.float64), 0.0)
        which = self._which(test)
        intercepts = np.array([piece.intercept for piece in self.pieces])
        slopes = np.array([piece.slope for piece in self.pieces])
        # What binary fractions leave below zero, where a slope ends, is none.
        return np.asarray(np.maximum(intercepts[which] + slopes[which] * test, 0.0))

    def at(self, soil_test: ArrayLike) -> Array:
        """
        Need at a soil test.

        Parameters
        ----------
        soil_test : array_like
            Soil tests in the guideline's unit. [soil_test_unit]

        Returns
        -------
        numpy.ndarray
            Need, NaN where the soil test is NaN. [kg/ha]
        """
        return self.in_unit(soil_test) * KG_HA[self.unit]

    def word(self, soil_test: float) -> str:
        """
        Return what the guideline calls a soil test.

        Parameters
        ----------
        soil_test : float
            A soil test that is not missing. [soil_test_unit]

        Returns
        -------
        str
            Its class.
        """
        if np.isnan(soil_test):
            return ""
        return self.pieces[int(self._which(np.float64(soil_test)))].word

    def expected(self, median: ArrayLike, sd: ArrayLike, *, log: bool) -> Array:
        r"""
        Return the expected need where the soil test is known with an error.

        Parameters
        ----------
        median : array_like
            Median of the soil test. [soil_test_unit]
        sd : array_like
            Standard deviation of its error; of its logarithm if `log`.
        log : bool
            Lognormal if true, else normal.

        Returns
        -------
        numpy.ndarray
            Expectation of the need over the error, exact. [kg/ha]

        Notes
        -----
        On a piece from :math:`a` to :math:`b` with need :math:`u + vS`, and with
        :math:`z = (\ln x - \mu)/s`, a lognormal soil test :math:`S` gives

        .. math::

            u\,[\Phi(z_b) - \Phi(z_a)] + v\,e^{\mu + s^2/2}\,
            [\Phi(z_b - s) - \Phi(z_a - s)]

        and a normal one, with :math:`z = (x - \mu)/s`,

        .. math::

            (u + v\mu)\,[\Phi(z_b) - \Phi(z_a)] - v\,s\,[\varphi(z_b) - \varphi(z_a)].

        Both follow from the distributions by integration.
        """
        from scipy.special import ndtr

        centre, sure, place, scale = _errors(median, sd, log=log)
        total = np.zeros(centre.shape)
        below = share = np.zeros(centre.shape)
        for piece in self._from_minus_infinity(log=log):
            z = _standard(piece.upper, place, scale, log=log)
            upto = ndtr(z)
            # The part of the mean that lies below the edge.
            if log:
                part = place * np.exp(scale**2 / 2.0) * ndtr(z - scale)
            else:
                density = np.exp(-(z**2) / 2.0) / np.sqrt(2.0 * np.pi)
                part = place * upto - scale * density
            total = total + piece.intercept * (upto - below)
            if piece.slope != 0.0:
                total = total + piece.slope * (part - share)
            below, share = upto, part
        # What the differences leave behind below zero is rounding error.
        total = np.maximum(total, 0.0)
        return np.where(sure, self.at(centre), total * KG_HA[self.unit])

    def probability_below(
        self, level: float, median: ArrayLike, sd: ArrayLike, *, log: bool
    ) -> Array:
        """
        Probability that the soil test is below a level.

        Parameters
        ----------
        level : float
            Such as `critical`. [soil_test_unit]
        median : array_like
            Median of the soil test. [soil_test_unit]
        sd : array_like
            Standard deviation of its error; of its logarithm if `log`.
        log : bool
            Lognormal if true, else normal.

        Returns
        -------
        numpy.ndarray
            From 0 to 1, NaN where the soil test is NaN.
        """
        from scipy.special import ndtr

        centre, sure, place, scale = _errors(median, sd, log=log)
        chance = ndtr(_standard(level, place, scale, log=log))
        certain = np.where(np.isnan(centre), np.nan, centre < level)
        return np.where(sure, certain, chance)

    def _which(self, soil_test: Array | np.float64) -> NDArray[np.intp]:
        """Index of the piece that each soil test lies in."""
        inner = self.pieces[:-1]
        # An edge that belongs to the piece above is passed by the test just at it.
        last = [
            p.upper if p.upper_within else np.nextafter(p.upper, -np.inf) for p in inner
        ]
        found = np.searchsorted(np.array(last, dtype=np.float64), soil_test, "left")
        return np.asarray(found)

    def _from_minus_infinity(self, *, log: bool) -> tuple[Piece, ...]:
        """Return the pieces, below zero too where the distribution reaches there."""
        if log:
            return self.pieces
        first = self.pieces[0]
        return (Piece(0.0, True, first.intercept, 0.0, first.word), *self.pieces)


def _errors(
    median: ArrayLike, sd: ArrayLike, *, log: bool
) -> tuple[Array, NDArray[np.bool_], Array, Array]:
    """Return medians, which are sure, and medians and deviations of the others."""
    centre, spread = np.broadcast_arrays(
        np.asarray(median, dtype=np.float64), np.asarray(sd, dtype=np.float64)
    )
    sure = (spread == 0.0) | ((centre <= 0.0) if log else False)
    return centre, sure, np.where(sure, 1.0, centre), np.where(sure, 1.0, spread)


def _standard(value: float, median: Array, sd: Array, *, log: bool) -> Array:
    """Return how many standard deviations a value lies above the median."""
    if np.isinf(value):
        return np.where(np.isnan(median + sd), np.nan, value)
    if not log:
        return np.asarray((value - median) / sd)
    if value <= 0.0:
        return np.where(np.isnan(median + sd), np.nan, -np.inf)
    return np.asarray((np.log(value) - np.log(median)) / sd)
