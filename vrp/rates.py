"""Need to product rate: the border of SI, the plan's units from here on."""

import math
from dataclasses import dataclass

import shapely

from vrp.evidence import LedgerLine, Source, half_up, shown
from vrp.plan import Override, Plan
from vrp.prescription import Amounts, Totals, Zone
from vrp.spreading import Rate, Spreading, product_rate
from vrp.units import KG_HA, RateUnit

# Of an area in acres or hectares: the smallest zones keep the mass balance.
AREA_DECIMALS = 5

GIVEN = Source("given", "field file")
BASIS = Source("given", 'field file: need.basis = "expected"')
COMPUTED = Source("computed", "the lines above")


@dataclass(frozen=True, slots=True)
class Taken:
    """What a credit brings to a zone and takes off its need, in the plan's unit."""

    name: str
    brought: float
    taken: float
    worked: str  # how it came about, empty where it is a number
    rule: str
    source: Source


@dataclass(frozen=True, slots=True)
class Excluded:
    """Why nothing is spread on some ground, and who says so."""

    reason: str
    rule: str
    source: Source


@dataclass(frozen=True, slots=True)
class Ground:
    """A zone before it has a rate: what was found there, and the lines that say so."""

    number: int
    geometry: shapely.Polygon | shapely.MultiPolygon  # longitude, latitude
    square_metres: float
    soil_class: str
    soil_test: float
    soil_test_low: float | None
    soil_test_high: float | None
    probability_short: float | None
    critical: str  # what short is short of, with its unit
    yield_goal: float
    need: float  # mean of the cells' [kg/ha]
    expected_need: float | None  # [kg/ha]
    averaged: str  # what the need is a mean of, empty where of one value
    credits: tuple[Taken, ...]
    override: Override | None
    lines: tuple[LedgerLine, ...]
    chosen: float | None = None  # with the expected build-up, where asked [kg/ha]
    excluded: Excluded | None = None


def settled_need(
    need: float, plan: Plan, *, credits: tuple[Taken, ...], unit: RateUnit
) -> tuple[float, tuple[LedgerLine, ...]]:
    """Return the need after credits and the plan's own limits, with its lines."""
    lines = []
    for credit in credits:
        taken, rule = min(credit.taken, need), credit.rule
        left = half_up(need - taken)
        arithmetic = f"{need:.1f} − {taken:g} = {left:.1f}"
        if need < credit.brought and left == 0.0:
            arithmetic = f"{need:.1f} − {credit.brought:g} is below 0, so 0"
        elif taken < credit.brought:
            rule += f"; of {credit.brought:g}, as places that need less take no more"
        if credit.worked:
            arithmetic = f"{credit.worked}; {arithmetic}"
        lines.append(
            LedgerLine("credit", arithmetic, left, _p2o5(unit), rule, credit.source)
        )
        need = left
    factor = 1.0 if plan.application is None else plan.application.band_factor
    if factor < 1.0 and need > 0.0:
        left = half_up(need * factor)
        arithmetic = f"{need:.1f} × {factor:g} = {left:.1f}"
        rule = "the share that a band gets is the agronomist's choice"
        lines.append(LedgerLine("band", arithmetic, left, _p2o5(unit), rule, GIVEN))
        need = left
    if need > 0.0:
        low, high = plan.need.min_p2o5, plan.need.max_p2o5 or math.inf
        bounded = min(max(need, low), high)
        if bounded != need:
            arithmetic = f"{need:.1f}, so {bounded:g}"
            limits = f"at least {low:g}" if math.isinf(high) else f"{low:g} to {high:g}"
            rule = f"the plan's own limits, {limits}"
            lines.append(
                LedgerLine(
                    "limited need", arithmetic, bounded, _p2o5(unit), rule, GIVEN
                )
            )
        need = bounded
    return need, tuple(lines)


def zone(
    ground: Ground, *, plan: Plan, spreading: Spreading, no_need_above: float
) -> tuple[Zone, Rate]:
    """Return the zone with its rate and whole ledger, and the rate before limits."""
    unit = spreading.unit
    lines = list(ground.lines)
    need = half_up(ground.need / KG_HA[unit])
    expected = _rounded(ground.expected_need, unit)
    if ground.soil_test > no_need_above:
        need = 0.0
        arithmetic = f"{shown(ground.soil_test)} > {no_need_above:g}, so 0"
        rule = "no need where the zone's soil test is above the guideline's last limit"
        source = Source("computed", "the guideline's rates: 0 from there on")
        lines.append(LedgerLine("need", arithmetic, 0.0, _p2o5(unit), rule, source))
    elif ground.averaged:
        arithmetic = f"mean over {ground.averaged} = {need:.1f}"
        rule = "the guideline at each soil test, whatever its class, then the mean"
        source = Source("our-choice", "a zone's need is the mean of its ground's")
        lines.append(
            LedgerLine("need of the zone", arithmetic, need, _p2o5(unit), rule, source)
        )
    if ground.chosen is not None and ground.soil_test <= no_need_above:
        chosen = half_up(ground.chosen / KG_HA[unit])
        arithmetic = f"{need:.1f} at the estimate; with it {chosen:.1f}"
        rule = "build-up over what the estimate may be wrong by, the rest at it"
        need, step = chosen, "expected build-up"
        lines.append(LedgerLine(step, arithmetic, need, _p2o5(unit), rule, BASIS))
    if expected is not None:
        short = ground.probability_short
        below = f"chance of being below {ground.critical}"
        chance = "" if short is None else f"{below} {short:.2f}; "
        arithmetic = f"{chance}need {expected:.1f}"
        rule = "beside it, for information: over what the estimate may be wrong by"
        source = Source("computed", "the surface and its error, cell by cell")
        lines.append(
            LedgerLine("expected need", arithmetic, expected, _p2o5(unit), rule, source)
        )
    need, settled = settled_need(need, plan, credits=ground.credits, unit=unit)
    lines.extend(settled)
    if ground.override is not None:
        arithmetic = f"in place of {need:g}: {ground.override.p2o5:g}"
        need = ground.override.p2o5
        source = Source("given", f"field file: {ground.override.reason}")
        rule = "set by hand; credits and limits of the plan do not change it"
        lines.append(
            LedgerLine("override", arithmetic, need, _p2o5(unit), rule, source)
        )
    if ground.excluded is not None:
        arithmetic = f"{ground.excluded.reason}; in place of {need:g}: 0"
        need, rule, source = 0.0, ground.excluded.rule, ground.excluded.source
        lines.append(LedgerLine("setback", arithmetic, 0.0, _p2o5(unit), rule, source))

    rate = product_rate(need, spreading)
    area = round(ground.square_metres / spreading.square_metres_per_area, AREA_DECIMALS)
    applied, nitrogen, k2o, sulfur = (
        half_up(spreading.carried(rate.rate, share))
        for share in (
            spreading.p2o5,
            spreading.nitrogen,
            spreading.k2o,
            spreading.sulfur,
        )
    )
    total = round(rate.rate * area, 2)
    lines.extend(_product_lines(need, rate, spreading, area=area))
    return (
        Zone(
            ground.number,
            ground.geometry,
            area,
            ground.soil_class,
            ground.soil_test,
            ground.soil_test_low,
            ground.soil_test_high,
            ground.probability_short,
            ground.yield_goal,
            need,
            expected,
            rate.rate,
            applied,
            nitrogen,
            k2o if spreading.k2o else None,
            sulfur if spreading.sulfur else None,
            total,
            "",
            tuple(lines),
            None if ground.excluded is None else ground.excluded.reason,
        ),
        rate,
    )


def totals(
    zones: tuple[Zone, ...],
    *,
    uniform_need: float,
    composite: float,
    spreading: Spreading,
) -> Totals:
    """
    Return the sums over the zones, and at one uniform rate.

    That rate is for the same ground: excluded zones have none of it.
    """
    area = round(sum(one.area for one in zones), AREA_DECIMALS)
    excluded = sum(one.area for one in zones if one.excluded is not None)
    excluded = round(excluded, AREA_DECIMALS)
    treated = area - excluded
    uniform = product_rate(uniform_need, spreading).rate
    need = sum(one.need * one.area for one in zones)
    spread = sum(one.rate * one.area for one in zones)
    # Of totals that are rounded zone by zone, as they are printed.
    total = sum(one.total for one in zones)
    return Totals(
        area,
        spreading.mass,
        spreading.measure,
        _amounts(need, spread, total, spreading),
        _amounts(
            uniform_need * treated, uniform * treated, uniform * treated, spreading
        ),
        uniform,
        composite,
        excluded_area=excluded,
    )


def _amounts(need: float, spread: float, total: float, spreading: Spreading) -> Amounts:
    return Amounts(
        round(need, 2),
        round(spreading.carried(spread, spreading.p2o5), 2),
        round(spreading.carried(spread, spreading.nitrogen), 2),
        round(total, 2),
        None if spreading.price is None else round(total * spreading.price, 2),
    )


def _product_lines(
    need: float, rate: Rate, spreading: Spreading, *, area: float
) -> tuple[LedgerLine, ...]:
    unit, share = spreading.rate_unit, f"{spreading.p2o5:g}"
    of_grade = f"{unit} of {spreading.grade}"
    named, rule, weight = f"grade {spreading.grade}", "need ÷ grade", ""
    if spreading.sulfur:
        named += f" with {100.0 * spreading.sulfur:g} % S"
    if spreading.density is not None:
        weight = f" × {spreading.density:g}"
        share, rule = f"({share}{weight})", "need ÷ (grade × density)"
        named += f", {spreading.density:g} {spreading.mass}/{spreading.measure}"
    grade = Source("given", named)
    exact = half_up(rate.exact)
    divided = f"{need:g} / {share} = {exact:.1f}"
    limits = f"within {spreading.min_rate:g}–{spreading.max_rate:g}"
    if math.isinf(spreading.max_rate):
        limits = f"not under {spreading.min_rate:g}"
    chosen = f"{exact:.1f}, so {rate.rate:g}"
    if rate.rate != rate.nearest:
        chosen = f"{exact:.1f}, nearest step {rate.nearest:g}, held to {rate.rate:g}"
    nutrients = {
        "N": spreading.nitrogen,
        "K2O": spreading.k2o,
        "S": spreading.sulfur,
        "P2O5": spreading.p2o5,
    }
    carried = "; ".join(
        f"{nutrient} {rate.rate:g}{weight} × {part:g} = "
        f"{half_up(spreading.carried(rate.rate, part)):.1f}"
        for nutrient, part in nutrients.items()
        if part
    )
    if not (spreading.nitrogen or spreading.k2o or spreading.sulfur):
        carried = carried.removeprefix("P2O5 ")
    spread = f"{rate.rate:g} × {shown(area, most=AREA_DECIMALS)}"
    spread += f" = {rate.rate * area:.2f}"
    step = f"nearest step of {spreading.step:g}, {limits}"
    return (
        LedgerLine("product", divided, exact, of_grade, rule, grade),
        LedgerLine("rate", chosen, rate.rate, of_grade, step, GIVEN),
        LedgerLine(
            "applied",
            carried,
            half_up(spreading.carried(rate.rate, spreading.p2o5)),
            _p2o5(spreading.unit),
            "rate × grade" if spreading.density is None else "rate × density × grade",
            grade,
        ),
        LedgerLine(
            "product in the zone",
            spread,
            round(rate.rate * area, 2),
            spreading.measure,
            f"rate × {spreading.area}",
            COMPUTED,
        ),
    )


def _p2o5(unit: RateUnit) -> str:
    mass, area = unit.split("/")
    return f"{mass} P2O5/{area}"


def _rounded(need: float | None, unit: RateUnit) -> float | None:
    return None if need is None else half_up(need / KG_HA[unit])
