"""What counts for and against a zone where water is near, fact by fact: no index."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from vrp.agronomy.drawdown import Drawdown
from vrp.agronomy.water_advice import Advice, advised
from vrp.agronomy.water_case import Handling, ZoneCase
from vrp.agronomy.water_figures import figures, very_high
from vrp.evidence import Source
from vrp.units import FOOT, INCH, KG_HA, SOIL_LB_AC_PER_PPM, RateUnit, System

Stands = Literal["against", "for", "not known"]

# Placements that leave phosphate on the surface, and those that open all of the soil.
SURFACE = "broadcast"
WORKED = "incorporated"


@dataclass(frozen=True, slots=True)
class WaterFact:
    """
    One thing that matters for water, held against its limit.

    Attributes
    ----------
    name : str
        Which one.
    stands : str
        ``against``, ``for`` or ``not known``.
    said : str
        The fact with value, unit and limit.
    value, limit : float, optional
        Where it is a number. [unit]
    unit : str
        Of value and limit, in the plan's units.
    source : Source
        Who set the limit, and how far that was checked.
    """

    name: str
    stands: Stands
    said: str
    value: float | None
    limit: float | None
    unit: str
    source: Source


@dataclass(frozen=True, slots=True)
class ZoneWater:
    """
    The facts of a zone side by side.

    Attributes
    ----------
    zone : int
        Its number.
    place : int
        From 1, the zone with most facts against it first.
    against, judged : int
        How many facts stand against it, of how many that are known.
    facts : tuple of WaterFact
        Every one, those that are not known as well.
    advice : tuple of Advice
        What may be done instead of the plan, with what it costs.
    seasons : Drawdown, optional
        Without P2O5 until the test is down at the no-need limit; None where it is not
        above it, or where no forecast tells.
    """

    zone: int
    place: int
    against: int
    judged: int
    facts: tuple[WaterFact, ...]
    advice: tuple[Advice, ...]
    seasons: Drawdown | None = None


def water_facts(
    case: ZoneCase, handling: Handling, *, system: System
) -> tuple[WaterFact, ...]:
    """
    Return every fact of a zone, each against its own limit.

    Parameters
    ----------
    case : ZoneCase
        What is known of the zone.
    handling : Handling
        What the plan says of the application.
    system : str
        ``us`` or ``metric``, for what is said.

    Returns
    -------
    tuple of WaterFact
        In a fixed order; a fact that is not known stands neither for nor against.
    """
    return (
        _over_need(case),
        _very_high(case),
        _within("storm-reach", case, system=system),
        _within("stream-side", case, system=system),
        _slope(case),
        _rate(case, system=system),
        _placed(handling, spread=case.p2o5 > 0.0, system=system),
        _late(handling, spread=case.p2o5 > 0.0),
        _tillage(handling),
        _residue(handling),
    )


def weigh(
    cases: Sequence[ZoneCase], handling: Handling, *, system: System
) -> tuple[ZoneWater, ...]:
    """
    Return the zones, the one with most facts against it first.

    Parameters
    ----------
    cases : sequence of ZoneCase
        What is known of each zone.
    handling : Handling
        What the plan says of the application.
    system : str
        ``us`` or ``metric``, for what is said.

    Returns
    -------
    tuple of ZoneWater
        By the number of facts against them. Ties go to the nearer one to water, then
        to the higher test beside its limit, the steeper one, the higher rate and the
        lower number (our choice).
    """

    def _order(pair: tuple[ZoneCase, ZoneWater]) -> tuple[float, ...]:
        case, found = pair
        return (
            -found.against,
            math.inf if case.distance is None else case.distance,
            -case.soil_test / (case.no_need_above or math.inf),
            -case.soil_test,
            0.0 if case.slope is None else -case.slope,
            -case.p2o5,
            case.zone,
        )

    weighed = []
    for case in cases:
        facts = water_facts(case, handling, system=system)
        stands = [one.stands for one in facts]
        weighed.append(
            (
                case,
                ZoneWater(
                    case.zone,
                    0,
                    stands.count("against"),
                    len(stands) - stands.count("not known"),
                    facts,
                    advised(
                        {one.name for one in facts if one.stands == "against"},
                        spread=case.p2o5 > 0.0,
                        tillage=handling.tillage,
                        stratified=handling.stratified,
                    ),
                ),
            )
        )
    return tuple(
        replace(found, place=place)
        for place, (_, found) in enumerate(sorted(weighed, key=_order), start=1)
    )


def ppm(soil_test: float, unit: str) -> float | None:
    """
    Return a soil test by mass.

    Parameters
    ----------
    soil_test : float
        In `unit`.
    unit : str
        ``ppm``, ``mg/L`` or ``lb/ac``.

    Returns
    -------
    float or None
        In ppm; None by volume, which never mixes with it.

    Examples
    --------
    >>> ppm(60.0, "lb/ac"), ppm(60.0, "mg/L")
    (30.0, None)
    """
    if unit == "mg/L":
        return None
    return soil_test / SOIL_LB_AC_PER_PPM if unit == "lb/ac" else soil_test


def _over_need(case: ZoneCase) -> WaterFact:
    one, limit = figures().over_need, case.no_need_above
    if not limit:
        said = f"soil test {case.soil_test:g} {case.unit}; the guideline has no limit"
        return WaterFact(
            "over-need", "not known", said, case.soil_test, None, case.unit, one.source
        )
    ratio = case.soil_test / limit
    said = (
        f"soil test {case.soil_test:g} {case.unit}, {ratio:.2f} times the no-need "
        f"limit of {limit:g} {case.unit}"
    )
    return WaterFact(
        "over-need",
        _stands(case.soil_test > one.value * limit),
        said,
        case.soil_test,
        one.value * limit,
        case.unit,
        one.source,
    )


def _very_high(case: ZoneCase) -> WaterFact:
    one, value = very_high(case.method), ppm(case.soil_test, case.unit)
    if one is None or value is None:
        told = "by volume" if one is not None else f"by {case.method}"
        said = f"no limit to a very high test is known {told}"
        source = Source("our-choice", "a limit is set for its own method alone")
        return WaterFact(
            "very-high", "not known", said, case.soil_test, None, case.unit, source
        )
    factor = SOIL_LB_AC_PER_PPM if case.unit == "lb/ac" else 1.0
    limit = one.value * factor
    over = value > one.value
    said = (
        f"soil test {case.soil_test:g} {case.unit}, {'above' if over else 'not above'} "
        f"{limit:g} {case.unit}"
    )
    return WaterFact(
        "very-high",
        _stands(over),
        said,
        case.soil_test,
        limit,
        case.unit,
        one.source,
    )


def _within(name: str, case: ZoneCase, *, system: System) -> WaterFact:
    one = figures().storm_reach if name == "storm-reach" else figures().stream_side
    unit, size = ("ft", FOOT) if system == "us" else ("m", 1.0)
    limit = one.value / size
    if case.distance is None:
        said = "distance to water: no water was given"
        return WaterFact(name, "not known", said, None, limit, unit, one.source)
    inside = case.distance <= one.value
    value = round(case.distance / size, 1)
    said = (
        f"{value:,.0f} {unit} from {case.water}, {'within' if inside else 'beyond'} "
        f"{limit:,.0f} {unit}"
    )
    return WaterFact(name, _stands(inside), said, value, limit, unit, one.source)


def _slope(case: ZoneCase) -> WaterFact:
    one = figures().slope
    if case.slope is None:
        said = "slope: no elevation was given for the zone"
        return WaterFact(
            "slope", "not known", said, None, one.value, one.unit, one.source
        )
    steep = case.slope > one.value
    said = (
        f"slope {case.slope:.1f} %, {'above' if steep else 'not above'} {one.value:g} %"
    )
    return WaterFact(
        "slope",
        _stands(steep),
        said,
        round(case.slope, 2),
        one.value,
        one.unit,
        one.source,
    )


def _rate(case: ZoneCase, *, system: System) -> WaterFact:
    one = figures().rate
    unit: RateUnit = "lb/ac" if system == "us" else "kg/ha"
    value = round(case.p2o5 / KG_HA[unit], 1)
    limit = one.value * KG_HA["lb/ac"] / KG_HA[unit]
    over = value > round(limit, 1)
    side = "above" if over else "not above"
    said = f"{value:g} {unit} of P2O5, {side} {limit:.3g} {unit}"
    return WaterFact(
        "rate", _stands(over), said, value, round(limit, 1), unit, one.source
    )


def _placed(handling: Handling, *, spread: bool, system: System) -> WaterFact:
    method, depth, source = handling.method, handling.depth, figures().on_top.source

    def fact(stands: Stands, said: str) -> WaterFact:
        return WaterFact("on-top", stands, said, None, None, "", source)

    if not spread:
        return fact("for", "nothing is spread")
    if method is None:
        return fact("not known", "placement: not told (application.method)")
    if method == SURFACE:
        return fact("against", f"{method}: it lies on the surface")
    if depth is None or method == WORKED:
        return fact("for", f"{method}: it lies in the soil")
    one = figures().placed_below
    unit, size = ("in", INCH) if system == "us" else ("cm", 0.01)
    # Depths typed in centimetres come a hair off a whole number of inches.
    value, limit = round(depth / size, 3), round(one.value * INCH / size, 3)
    shallow = value < limit
    said = (
        f"{method} {value:g} {unit} deep, {'not ' if shallow else ''}{limit:g} {unit}"
    )
    return WaterFact("shallow", _stands(shallow), said, value, limit, unit, one.source)


def _late(handling: Handling, *, spread: bool) -> WaterFact:
    one, month, method = figures().late, handling.month, handling.method

    def fact(stands: Stands, said: str) -> WaterFact:
        return WaterFact("late", stands, said, None, None, "", one.source)

    if not spread:
        return fact("for", "nothing is spread")
    if month is None:
        return fact("not known", "season: no date was given (application.date)")
    northern = (month + 5) % 12 + 1 if handling.southern else month
    late = northern in one.months
    if late and method is None:
        return fact("not known", "cold months; placement: not told")
    on_top = late and method == SURFACE
    said = "spread on the surface in the cold months" if on_top else "season: no matter"
    return fact(_stands(on_top), said)


def _tillage(handling: Handling) -> WaterFact:
    stands: Stands = "not known"
    said = "tillage: not told (application.tillage)"
    if handling.tillage == "tilled" or handling.method == WORKED:
        stands, said = "against", "tillage lays the soil open"
    elif handling.tillage == "no-till":
        stands, said = "for", "no tillage: the soil stays covered"
    source = figures().tillage.source
    return WaterFact("tillage", stands, said, None, None, "", source)


def _residue(handling: Handling) -> WaterFact:
    stands: Stands = "not known"
    said = "residue: not told (season.residue)"
    if handling.residue is not None:
        stands = _stands(handling.residue == "removed")
        said = f"residue {handling.residue}"
    source = figures().residue.source
    return WaterFact("residue", stands, said, None, None, "", source)


def _stands(against: bool) -> Stands:
    return "against" if against else "for"
