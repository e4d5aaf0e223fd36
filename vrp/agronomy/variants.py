"""One guideline's need of one crop, once for each thing that it tells apart."""

from dataclasses import dataclass, replace
from itertools import product
from typing import Literal

from vrp.agronomy.curve import NeedCurve
from vrp.agronomy.figures import TestUnit, Used
from vrp.agronomy.forms import Crop, Guideline
from vrp.agronomy.guidelines import crop_of, settled
from vrp.agronomy.need import figures, need_curve
from vrp.agronomy.season import Season, yield_in_guideline
from vrp.units import KG_HA, RateUnit, soil_test_ppm_or_mg_l

Residue = Literal["left", "removed"]
_FATES: tuple[Residue, ...] = ("left", "removed")

# A difference of need that is no rounding error, how near a step a soil test is beside
# it, and the decimals of an edge: what binary fractions leave is none of them.
_APART, _BESIDE, _DECIMALS = 1e-5, 1e-9, 9


@dataclass(frozen=True, slots=True)
class Need:
    """
    Need at a soil test, and just beside it.

    Attributes
    ----------
    below, at, above : float
        Just below the soil test, at it and just above it; they differ where the
        guideline steps. [lb/ac or kg/ha]
    """

    below: float
    at: float
    above: float

    @property
    def steps(self) -> bool:
        """
        Return whether the need steps here.

        Returns
        -------
        bool
            True where it does.
        """
        return abs(self.above - self.below) > _APART


@dataclass(frozen=True, slots=True)
class Variant:
    """
    One guideline's need of one crop, with what it depends on.

    Attributes
    ----------
    name : str
        Id of the guideline.
    guideline : Guideline
        Where every figure comes from.
    season : Season
        The crop by the guideline's own id, its yield goal and, where the guideline
        tells it apart, its residue.
    yield_goal : float
        The goal in the guideline's own unit. [the crop's yield_unit]
    method : str
        Soil-test method.
    region : str, optional
        Region of the guideline, where it has regions.
    years : int, optional
        Years of its build-up, where it prints several to choose from.
    curve : NeedCurve
        The need.
    rate : str
        Unit of the need that was asked for: lb/ac or kg/ha.
    unit : str
        Unit of the soil test that was asked for: ppm, mg/L or lb/ac.
    tests : float
        What turns that unit into the guideline's.
    not_read : tuple of Used
        Figures behind the need that were not read in print, our choices too.
    """

    name: str
    guideline: Guideline
    season: Season
    yield_goal: float
    method: str
    region: str | None
    years: int | None
    curve: NeedCurve
    rate: RateUnit
    unit: TestUnit
    tests: float
    not_read: tuple[Used, ...]

    @property
    def factor(self) -> float:
        """
        Return what turns the guideline's unit into the one that was asked for.

        Returns
        -------
        float
            Exactly 1 where they are the same.
        """
        return KG_HA[self.curve.unit] / KG_HA[self.rate]

    @property
    def crop(self) -> Crop:
        """
        Return the crop as the guideline has it.

        Returns
        -------
        Crop
            With its units and plausible yields.
        """
        return self.guideline.crops[self.season.crop]

    @property
    def plausible(self) -> bool:
        """
        Return whether the yield goal raises no question.

        Returns
        -------
        bool
            True where it lies within the crop's plausible yields.
        """
        bounds = self.crop.plausible
        return bounds.low <= self.yield_goal <= bounds.high

    @property
    def edges(self) -> tuple[float, ...]:
        """
        Return the soil tests where the need steps or bends.

        Returns
        -------
        tuple of float
            Rising, without the last edge, which is infinite. [unit]
        """
        slopes = [piece.slope for piece in self.curve.pieces]
        found = []
        for edge, slope, after in zip(
            self.curve.edges[:-1], slopes[:-1], slopes[1:], strict=True
        ):
            place = round(edge / self.tests, _DECIMALS)
            if abs(after - slope) > _APART or self.need(place).steps:
                found.append(place)
        return tuple(found)

    @property
    def marked(self) -> bool:
        """
        Return whether a printed figure behind the need was not read in print.

        Returns
        -------
        bool
            True if there is one; our own choices are printed nowhere and do not count.
        """
        return any(one.source.status != "our-choice" for one in self.not_read)

    def need(self, soil_test: float) -> Need:
        """
        Need at a soil test, and just beside it.

        Parameters
        ----------
        soil_test : float
            In the unit that was asked for. [unit]

        Returns
        -------
        Need
            Computed in the guideline's unit and converted once.
        """
        own = soil_test * self.tests
        values = self.curve.in_unit((own - _BESIDE, own, own + _BESIDE)) * self.factor
        below, at, above = (round(float(value), 6) for value in values)
        return Need(below, at, above)

    def stretches(self, upto: float) -> tuple[tuple[tuple[float, float], ...], ...]:
        """
        List the points of the need, stretch by stretch between its steps.

        Parameters
        ----------
        upto : float
            Largest soil test. [unit]

        Returns
        -------
        tuple of tuple of (float, float)
            Soil test and need; straight between two points. Where a stretch begins at
            another need than the one before it ended with, the need steps.
        """
        own = (round(edge / self.tests, _DECIMALS) for edge in self.curve.edges[:-1])
        edges = [edge for edge in own if 0.0 < edge < upto]
        found = [[(0.0, self.need(0.0).above)]]
        for edge in edges:
            need = self.need(edge)
            found[-1].append((edge, need.below))
            if need.steps:
                found.append([(edge, need.above)])
        found[-1].append((upto, self.need(upto).below))
        return tuple(map(tuple, found))


def variants(
    name: str,
    guideline: Guideline,
    season: Season,
    *,
    method: str,
    region: str | None = None,
    unit: RateUnit,
    axis: TestUnit,
) -> tuple[Variant, ...]:
    """
    Need by one guideline, once for each thing that it tells apart.

    Parameters
    ----------
    name : str
        Id of the guideline.
    guideline : Guideline
        Where every figure comes from.
    season : Season
        The crop by the guideline's own id; without a residue, each fate of it that the
        guideline tells apart is a column.
    method : str
        Soil-test method that the guideline takes.
    region : str, optional
        Absent: each region that the guideline tells apart is a column.
    unit : str
        Of the need: lb/ac or kg/ha.
    axis : str
        Unit of soil test of the column: the guideline's own, or ppm for lb/ac.

    Returns
    -------
    tuple of Variant
        One at least.

    Raises
    ------
    GuidelineError
        If the guideline has no figure for what is asked.
    """
    crop = crop_of(guideline, season.crop)
    fates: tuple[Residue | None, ...] = (season.residue,)
    apart = [fate for fate in _FATES if getattr(crop, fate, None) is not None]
    if season.residue is None and len(apart) > 1:
        fates = _FATES
    elif season.residue is not None and not apart:
        fates = (None,)
    own, _ = soil_test_ppm_or_mg_l(1.0, guideline.soil_test.unit)
    wanted, _ = soil_test_ppm_or_mg_l(1.0, axis)
    return tuple(
        _variant(
            name,
            settled(guideline, method=method, region=place, build_years=years),
            replace(season, residue=fate),
            method=method,
            region=place,
            years=years,
            unit=unit,
            axis=axis,
            tests=wanted / own,
        )
        for place, years, fate in product(
            _regions(guideline, region), _years(guideline), fates
        )
    )


def regions(guideline: Guideline) -> tuple[str, ...]:
    """
    Return the regions that a guideline tells apart.

    Parameters
    ----------
    guideline : Guideline
        As published.

    Returns
    -------
    tuple of str
        None for most guidelines.
    """
    return tuple(getattr(guideline, "regions", ()))


def _regions(guideline: Guideline, region: str | None) -> tuple[str | None, ...]:
    """Return the region that is asked for, or each; nothing where it has none."""
    known = regions(guideline)
    return (None,) if not known else known if region is None else (region,)


def _years(guideline: Guideline) -> tuple[int | None, ...]:
    """Return each number of years to build up in, where there is a choice."""
    options = getattr(getattr(guideline, "build_up_years", None), "values", ())
    return tuple(options) if len(options) > 1 else (None,)


def _variant(
    name: str,
    guideline: Guideline,
    season: Season,
    *,
    method: str,
    region: str | None,
    years: int | None,
    unit: RateUnit,
    axis: TestUnit,
    tests: float,
) -> Variant:
    """Return the need by a guideline that leaves nothing to choose."""
    curve = need_curve(guideline, [season], pool=False, build_up=True)
    accepted = Used("method", method, guideline.soil_test.methods[method])
    every = (*figures(guideline, [season]), accepted)
    return Variant(
        name,
        guideline,
        season,
        yield_in_guideline(guideline, season),
        method,
        region,
        years,
        curve,
        unit,
        axis,
        tests,
        tuple(one for one in every if one.source.status != "read"),
    )
