"""What several guidelines ask for the same crop, side by side along the soil test."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from math import inf

from vrp.agronomy.complaints import nearest
from vrp.agronomy.figures import Figure, TestUnit
from vrp.agronomy.forms import Crop, Guideline
from vrp.agronomy.guidelines import crop_of, yield_unit
from vrp.agronomy.season import Season
from vrp.agronomy.soil_test import METHODS
from vrp.agronomy.variants import Residue, Variant, regions, variants
from vrp.errors import GuidelineError, InputError
from vrp.units import RateUnit, System, YieldUnit

# How far apart the rows of a table lie, up to which soil test: our choice. The edges of
# the guidelines come between them.
_STEPS = ((5.0, 50.0), (10.0, 100.0), (25.0, 200.0), (50.0, inf))
_NO_EDGE = 50.0
_RATES: dict[System, RateUnit] = {"us": "lb/ac", "metric": "kg/ha"}
# Which unit stands on the axis: soil tests by mass on one, those by volume on another.
_AXIS: dict[TestUnit, TestUnit] = {"ppm": "ppm", "lb/ac": "ppm", "mg/L": "mg/L"}


@dataclass(frozen=True, slots=True)
class Block:
    """
    Variants that share the axis of the soil test.

    Attributes
    ----------
    method : str
        Soil-test method.
    unit : str
        ppm or mg/L; the two never share an axis. lb/ac is 2 × ppm, and stands as ppm.
    soil_tests : tuple of float
        The rows, rising. [unit]
    columns : tuple of Variant
        One for each guideline, and for each region, fate of residue or time of build-up
        that it tells apart.
    """

    method: str
    unit: TestUnit
    soil_tests: tuple[float, ...]
    columns: tuple[Variant, ...]


@dataclass(frozen=True, slots=True)
class Comparison:
    """
    What several guidelines ask for one crop.

    Attributes
    ----------
    crop : str
        As it was asked for.
    yield_goal : float
        As it was asked for. [yield_unit]
    yield_unit : str
        bu/ac, ton/ac or t/ha.
    unit : str
        Of every need: lb/ac or kg/ha.
    blocks : tuple of Block
        One for each method and unit of soil test.
    other_methods : dict of tuple of str
        Methods of each guideline that has the crop but does not take the method.
    lacking : tuple of str
        Guidelines that do not have the crop.
    refused : dict of str
        Why a guideline that has crop and method has no column.
    """

    crop: str
    yield_goal: float
    yield_unit: YieldUnit
    unit: RateUnit
    blocks: tuple[Block, ...]
    other_methods: dict[str, tuple[str, ...]]
    lacking: tuple[str, ...]
    refused: dict[str, str]


def compare(
    guidelines: Mapping[str, Guideline],
    crop: str,
    *,
    yield_goal: float,
    system: System,
    method: str | None = None,
    residue: Residue | None = None,
    region: str | None = None,
) -> Comparison:
    """
    Need of a crop along the soil test, by every guideline that has it.

    Parameters
    ----------
    guidelines : Mapping of Guideline
        By id.
    crop : str
        Id of the crop, or another id that guidelines file it under.
    yield_goal : float
        In bu/ac or ton/ac (us), or in t/ha (metric).
    system : str
        ``us`` or ``metric``.
    method : str, optional
        Soil-test method; absent: every method that is taken.
    residue : str, optional
        ``left`` or ``removed``; absent: both where a guideline tells them apart.
    region : str, optional
        Region of the guidelines that have regions; absent: each of them.

    Returns
    -------
    Comparison
        One season, soil built up where the guideline builds it up.

    Raises
    ------
    InputError
        If no guideline has the crop, or none that has it takes the method.

    Notes
    -----
    Each need is computed in its guideline's own unit and converted once.
    """
    matches = {name: crops_of(one, crop) for name, one in guidelines.items()}
    having = {name: guidelines[name] for name, crops in matches.items() if crops}
    _check(guidelines, having, crop, yield_goal=yield_goal, method=method)
    if region is not None and not any(map(regions, having.values())):
        message = f"region {region!r}: no guideline that has {crop} tells regions apart"
        raise InputError(message)
    found = _yield_unit(having, matches, system=system)
    unit = _RATES[system]
    wanted = [one for one in METHODS if method is None or one == method]
    columns: list[Variant] = []
    refused: dict[str, str] = {}
    for name, guideline in having.items():
        taken = [one for one in wanted if one in guideline.soil_test.methods]
        try:
            for own in matches[name] if taken else ():
                season = Season(own, yield_goal, found, residue)
                for one in taken:
                    columns += variants(
                        name,
                        guideline,
                        season,
                        method=one,
                        region=region,
                        unit=unit,
                        axis=_AXIS[guideline.soil_test.unit],
                    )
        except GuidelineError as error:
            refused[name] = str(error)
    other = {
        name: tuple(one.soil_test.methods)
        for name, one in having.items()
        if method is not None and method not in one.soil_test.methods
    }
    lacking = tuple(name for name, crops in matches.items() if not crops)
    if not columns:
        raise InputError("; ".join(refused.values()))
    blocks = _blocks(columns)
    return Comparison(crop, yield_goal, found, unit, blocks, other, lacking, refused)


def alone(
    name: str,
    guideline: Guideline,
    crop: str,
    *,
    yield_goal: float | None = None,
    system: System | None = None,
    method: str | None = None,
    residue: Residue | None = None,
    region: str | None = None,
) -> tuple[Variant, ...]:
    """
    Need of a crop by one guideline, once for each thing that it tells apart.

    Parameters
    ----------
    name : str
        Id of the guideline.
    guideline : Guideline
        Where every figure comes from.
    crop : str
        The guideline's own id of the crop.
    yield_goal : float, optional
        Absent: see `usual_yield`.
    system : str, optional
        ``us`` or ``metric``; absent: the guideline's own units.
    method : str, optional
        Soil-test method; absent: every method that it takes.
    residue : str, optional
        ``left`` or ``removed``; absent: both where the guideline tells them apart.
    region : str, optional
        Absent: each region, where the guideline has regions.

    Returns
    -------
    tuple of Variant
        Along the guideline's own unit of soil test.

    Raises
    ------
    InputError
        If the guideline does not know what is asked.
    """
    found = crop_of(guideline, crop)
    unit = found.yield_unit
    goal = usual_yield(found)[0] if yield_goal is None else yield_goal
    if yield_goal is not None and system is not None:
        unit = yield_unit(guideline, crop, system=system)
    taken = tuple(guideline.soil_test.methods)
    if method is not None and method not in taken:
        message = (
            f"method {method!r} is not in {guideline.title!r}{nearest(method, taken)}: "
            f"it takes {', '.join(taken)}"
        )
        raise InputError(message)
    _check_goal(goal)
    if region is not None and not regions(guideline):
        raise InputError(f"region {region!r}: {guideline.title!r} has no regions")
    rate = _RATES[system] if system is not None else guideline.unit
    return tuple(
        variant
        for one in ([method] if method is not None else taken)
        for variant in variants(
            name,
            guideline,
            Season(crop, goal, unit, residue),
            method=one,
            region=region,
            unit=rate,
            axis=guideline.soil_test.unit,
        )
    )


def usual_yield(crop: Crop) -> tuple[float, str]:
    """
    Yield that a crop's need is shown for where none is asked for.

    Parameters
    ----------
    crop : Crop
        What a guideline says of it.

    Returns
    -------
    tuple of float and str
        The yield that its rates are printed for, else the middle of the plausible ones;
        and which of the two. [the crop's yield_unit]
    """
    printed: Figure | None = getattr(crop, "printed_yield", None)
    if printed is not None:
        return printed.value, "the printed yield"
    middle = (crop.plausible.low + crop.plausible.high) / 2.0
    return middle, "the middle of the plausible yields, our choice"


def crops_of(guideline: Guideline, crop: str) -> tuple[str, ...]:
    """
    Find the crops of a guideline that go by an id.

    Parameters
    ----------
    guideline : Guideline
        Where they are looked for.
    crop : str
        Id of the crop.

    Returns
    -------
    tuple of str
        The crop with that id; else those that say they go by it too.
    """
    if crop in guideline.crops:
        return (crop,)
    return tuple(own for own, one in guideline.crops.items() if crop in _also(one))


def _also(crop: Crop) -> tuple[str, ...]:
    return tuple(getattr(crop, "also", ()))


def _check(
    guidelines: Mapping[str, Guideline],
    having: Mapping[str, Guideline],
    crop: str,
    *,
    yield_goal: float,
    method: str | None,
) -> None:
    if not having:
        known = dict.fromkeys(
            word
            for guideline in guidelines.values()
            for own, one in guideline.crops.items()
            for word in (own, *_also(one))
        )
        hint = nearest(crop, known) or f"; the crops are {', '.join(sorted(known))}"
        raise InputError(f"crop {crop!r} is in none of the guidelines{hint}")
    _check_goal(yield_goal)
    if method is None:
        return
    if method not in METHODS:
        hint = nearest(method, METHODS)
        message = f"soil-test method {method!r} is not known{hint}"
        raise InputError(f"{message}; it is one of {', '.join(METHODS)}")
    taken = dict.fromkeys(
        key for one in having.values() for key in one.soil_test.methods
    )
    if method not in taken:
        message = (
            f"no guideline that has {crop} takes {method}; those that have it take "
            f"{', '.join(taken)}"
        )
        raise InputError(message)


def _check_goal(goal: float) -> None:
    if not 0.0 < goal < inf:
        raise InputError(f"yield goal of {goal:g} must be above 0, and finite")


def _yield_unit(
    having: Mapping[str, Guideline],
    matches: Mapping[str, Sequence[str]],
    *,
    system: System,
) -> YieldUnit:
    """Return the unit of the goal: bushels where any of the guidelines has them."""
    units = [
        yield_unit(guideline, own, system=system)
        for name, guideline in having.items()
        for own in matches[name]
    ]
    return "bu/ac" if "bu/ac" in units else units[0]


def _blocks(columns: Iterable[Variant]) -> tuple[Block, ...]:
    order = list(METHODS)

    def key(column: Variant) -> tuple[int, TestUnit]:
        return order.index(column.method), column.unit

    return tuple(
        Block(order[which], unit, _rows(found), found)
        for (which, unit), found in (
            (shared, tuple(group))
            for shared, group in groupby(sorted(columns, key=key), key)
        )
    )


def _rows(columns: Iterable[Variant]) -> tuple[float, ...]:
    """Return where a table has its rows: evenly, and at each edge."""
    edges = {edge for column in columns for edge in column.edges}
    rows, last = {0.0, *edges}, max(edges, default=_NO_EDGE)
    at = 0.0
    while at <= last:
        at += next(step for step, upto in _STEPS if at < upto)
        rows.add(at)
    return tuple(sorted(rows))
