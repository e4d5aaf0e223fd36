"""Need of P2O5 by a guideline, and the ledger that shows it."""

from collections.abc import Iterator, Sequence
from math import isnan

from vrp.agronomy import build_up_maintenance, class_tables, equation, points
from vrp.agronomy.curve import NeedCurve
from vrp.agronomy.figures import Used, used
from vrp.agronomy.forms import (
    BuildUpMaintenance,
    ClassTable,
    EquationGuideline,
    Guideline,
    IndexTable,
    PointsGuideline,
)
from vrp.agronomy.guidelines import crop_of
from vrp.agronomy.season import Season, yield_in_guideline
from vrp.errors import GuidelineError
from vrp.evidence import LedgerLine

__all__ = [
    "NeedCurve",
    "Season",
    "build_up_curve",
    "figures",
    "ledger",
    "need_curve",
]


def need_curve(
    guideline: Guideline, seasons: Sequence[Season], *, pool: bool, build_up: bool
) -> NeedCurve:
    """
    Need of P2O5 against the soil test.

    Parameters
    ----------
    guideline : Guideline
        Where every figure comes from.
    seasons : sequence of Season
        In order; the first is mapped.
    pool : bool
        Whether one application is to serve later seasons too, as far as the guideline
        allows it.
    build_up : bool
        Whether a poor soil is lifted.

    Returns
    -------
    NeedCurve
        Computed in the guideline's own unit.

    Raises
    ------
    GuidelineError
        If a crop or its residue has no figure, a yield goal is not above zero, build-up
        is left out where the guideline does not let it, or the guideline still has
        several regions, methods or years of build-up: `vrp.agronomy.guidelines.settled`
        chooses.

    Examples
    --------
    For 200 bu, removal is 200 × 0.35 = 70 lb/ac and build-up (20 − 14.3) × 5 = 28.5:

    >>> from vrp.agronomy.guidelines import shipped
    >>> corn = Season("corn-grain", 200.0, "bu/ac")
    >>> guideline = shipped()["tri-state-2020"]
    >>> curve = need_curve(guideline, [corn], pool=False, build_up=True)
    >>> curve.in_unit([14.3, 20.0, 40.0, 40.1])
    array([98.5, 70. , 70. ,  0. ])
    """
    _check(guideline, seasons)
    match guideline:
        case BuildUpMaintenance():
            form = build_up_maintenance.curve
            return form(guideline, seasons, pool=pool, build_up=build_up)
        case IndexTable() | ClassTable():
            return class_tables.curve(guideline, seasons, pool=pool, build_up=build_up)
        case EquationGuideline():
            return equation.curve(guideline, seasons, pool=pool, build_up=build_up)
        case PointsGuideline():
            return points.curve(guideline, seasons, pool=pool, build_up=build_up)
        case _:
            raise TypeError(type(guideline).__name__)


def build_up_curve(guideline: Guideline, seasons: Sequence[Season]) -> NeedCurve:
    """
    Part of the need that lifts a poor soil, where the guideline tells it apart.

    Parameters
    ----------
    guideline : Guideline
        Where every figure comes from.
    seasons : sequence of Season
        In order; the first is mapped.

    Returns
    -------
    NeedCurve
        Computed in the guideline's own unit.

    Raises
    ------
    GuidelineError
        If the guideline prints one figure for removal and build-up together, as tables,
        equations and points do, or does not build up.

    Examples
    --------
    A quarter of 20 lb for each ppm below the critical 20 ppm:

    >>> from vrp.agronomy.guidelines import shipped
    >>> corn = Season("corn-grain", 200.0, "bu/ac")
    >>> build_up_curve(shipped()["tri-state-2020"], [corn]).in_unit([14.3, 20.0])
    array([28.5,  0. ])
    """
    _check(guideline, seasons)
    if not isinstance(guideline, BuildUpMaintenance):
        message = (
            f"{guideline.title!r} prints one figure for removal and build-up together, "
            "so its build-up has no expectation of its own"
        )
        raise GuidelineError(message)
    return build_up_maintenance.build_up_part(guideline, seasons)


def ledger(
    guideline: Guideline,
    seasons: Sequence[Season],
    soil_test: float,
    *,
    pool: bool,
    build_up: bool,
) -> tuple[LedgerLine, ...]:
    """
    Arithmetic of the need at one soil test, in the guideline's own unit.

    Parameters
    ----------
    guideline : Guideline
        Where every figure comes from.
    seasons : sequence of Season
        In order; the first is mapped.
    soil_test : float
        As it is shown to the reader, so that a pencil finds the same.
        [the guideline's unit]
    pool : bool
        Whether one application is to serve later seasons too.
    build_up : bool
        Whether a poor soil is lifted.

    Returns
    -------
    tuple of LedgerLine
        A line a step; the last is the need at the zone's test.

    Raises
    ------
    GuidelineError
        As `need_curve`, and if the soil test is missing.
    """
    _check(guideline, seasons)
    if isnan(soil_test):
        raise GuidelineError("the soil test is missing, so there is no need to show")
    match guideline:
        case BuildUpMaintenance():
            form = build_up_maintenance.lines
            return form(guideline, seasons, soil_test, pool=pool, build_up=build_up)
        case IndexTable() | ClassTable():
            table = class_tables.lines
            return table(guideline, seasons, soil_test, pool=pool, build_up=build_up)
        case EquationGuideline():
            printed = equation.lines
            return printed(guideline, seasons, soil_test, pool=pool, build_up=build_up)
        case PointsGuideline():
            listed = points.lines
            return listed(guideline, seasons, soil_test, pool=pool, build_up=build_up)
        case _:
            raise TypeError(type(guideline).__name__)


def figures(
    guideline: Guideline, seasons: Sequence[Season], *, pool: bool = False
) -> tuple[Used, ...]:
    """
    Return the figures that the need of these seasons rests on.

    Parameters
    ----------
    guideline : Guideline
        Where every figure comes from.
    seasons : sequence of Season
        In order; the first is mapped.
    pool : bool
        Whether one application is to serve later seasons too.

    Returns
    -------
    tuple of Used
        Each once, with its source.
    """
    _check(guideline, seasons)
    match guideline:
        case BuildUpMaintenance():
            found = build_up_maintenance.figures(guideline, seasons, pool=pool)
        case IndexTable() | ClassTable():
            found = class_tables.figures(guideline, seasons, pool=pool)
        case EquationGuideline():
            found = equation.figures(guideline, seasons, pool=pool)
        case PointsGuideline():
            found = points.figures(guideline, seasons, pool=pool)
        case _:
            raise TypeError(type(guideline).__name__)
    return (*found, *_bushels(guideline, seasons[:1]))


def _bushels(guideline: Guideline, seasons: Sequence[Season]) -> Iterator[Used]:
    """Return the weights of bushels that a yield goal goes through."""
    for season in seasons:
        crop = crop_of(guideline, season.crop)
        units = {crop.yield_unit, season.yield_unit}
        if len(units) == 2 and "bu/ac" in units and crop.bushel is not None:
            yield used(f"{season.crop}, bushel", crop.bushel)


def _check(guideline: Guideline, seasons: Sequence[Season]) -> None:
    if not seasons:
        raise GuidelineError("no season: a need takes at least one crop")
    for season in seasons:
        crop_of(guideline, season.crop)
        yield_in_guideline(guideline, season)
