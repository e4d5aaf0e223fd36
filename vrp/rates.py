"""Need to product rate: the border of SI, the plan's units from here on."""

import math
from dataclasses import dataclass

import shapely

from vrp.evidence import LedgerLine, Source, shown
from vrp.plan import Override, Plan
from vrp.prescription import Amounts, Totals, Zone
from vrp.units import KG_HA, RateUnit

# Of an area in acres or hectares: the smallest zones keep the mass balance.
AREA_DECIMALS = 5

GIVEN = Source("given", "field file")
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


@dataclass(frozen=True, slots=True)
class Spreading:
    """What the plan says of product and spreader."""

    unit: RateUnit
    mass: str
    area: str
    square_metres_per_area: float
    grade: str
    p2o5: float  # share by weight, 0.52
    nitrogen: float  # share by weight
    step: float
    min_rate: float
    max_rate: float

    @classmethod
    def of(
        cls, plan: Plan, *, p2o5_percent: float, nitrogen_percent: float
    ) -> "Spreading":
        """Return what a plan says; without a step rates are whole units."""
        us, machine = plan.units == "us", plan.machine
        return cls(
            "lb/ac" if us else "kg/ha",
            "lb" if us else "kg",
            "ac" if us else "ha",
            plan.square_metres_per_area,
            plan.product.grade,
            p2o5_percent / 100.0,
            nitrogen_percent / 100.0,
            machine.step or 1.0,
            machine.min_rate,
            machine.max_rate or math.inf,
        )


@dataclass(frozen=True, slots=True)
class Rate:
    """A product rate that the spreader can hold, and the one that was asked."""

    exact: float
    nearest: float
    rate: float


def product_rate(need: float, spreading: Spreading) -> Rate:
    """
    Return the product rate that meets a need of P2O5, both in the plan's unit.

    Half a step goes up. A rate between 0 and the spreader's lowest becomes the nearer
    of the two, the lowest when exactly between them (our choice). No need is no rate.
    Rates have two decimals at most, as the files do.
    """
    exact = need / spreading.p2o5
    # The inner rounding drops what binary fractions left behind: 2.5 steps are 2.5.
    steps = math.floor(round(exact / spreading.step, 9) + 0.5)
    nearest = round(steps * spreading.step, 2)
    rate = min(nearest, spreading.max_rate)
    if need > 0.0 and rate < spreading.min_rate:
        nearer = round(exact, 9) >= spreading.min_rate / 2.0
        rate = spreading.min_rate if nearer else 0.0
    return Rate(exact, nearest, rate)


def settled_need(
    need: float, plan: Plan, *, credits: tuple[Taken, ...], unit: RateUnit
) -> tuple[float, tuple[LedgerLine, ...]]:
    """Return the need after credits and the plan's own limits, with its lines."""
    lines = []
    for credit in credits:
        taken, rule = min(credit.taken, need), credit.rule
        left = round(need - taken, 1)
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
    if need > 0.0:
        low, high = plan.need.min_p2o5, plan.need.max_p2o5 or math.inf
        bounded = min(max(need, low), high)
        if bounded != need:
            arithmetic = f"{need:.1f}, so {bounded:g}"
            rule = f"the plan's own limits, {low:g} to {high:g}"
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
    need = round(ground.need / KG_HA[unit], 1)
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

    rate = product_rate(need, spreading)
    area = round(ground.square_metres / spreading.square_metres_per_area, AREA_DECIMALS)
    applied = round(rate.rate * spreading.p2o5, 1)
    nitrogen = round(rate.rate * spreading.nitrogen, 1)
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
            total,
            "",
            tuple(lines),
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
    """Return the sums over the zones, and over the same ground at one uniform rate."""
    area = round(sum(one.area for one in zones), AREA_DECIMALS)
    uniform = product_rate(uniform_need, spreading).rate
    return Totals(
        area,
        spreading.mass,
        Amounts(
            round(sum(one.need * one.area for one in zones), 2),
            round(sum(one.rate * one.area for one in zones) * spreading.p2o5, 2),
            round(sum(one.total for one in zones), 2),
        ),
        Amounts(
            round(uniform_need * area, 2),
            round(uniform * area * spreading.p2o5, 2),
            round(uniform * area, 2),
        ),
        uniform,
        composite,
    )


def _product_lines(
    need: float, rate: Rate, spreading: Spreading, *, area: float
) -> tuple[LedgerLine, ...]:
    unit, share = spreading.unit, spreading.p2o5
    of_grade = f"{unit} of {spreading.grade}"
    grade = Source("given", f"grade {spreading.grade}")
    divided = f"{need:g} / {share:g} = {rate.exact:.1f}"
    limits = f"within {spreading.min_rate:g}–{spreading.max_rate:g}"
    if math.isinf(spreading.max_rate):
        limits = f"not under {spreading.min_rate:g}"
    chosen = f"{rate.exact:.1f}, so {rate.rate:g}"
    if rate.rate != rate.nearest:
        chosen = (
            f"{rate.exact:.1f}, nearest step {rate.nearest:g}, held to {rate.rate:g}"
        )
    carried = f"{rate.rate:g} × {share:g} = {rate.rate * share:.1f}"
    if spreading.nitrogen:
        with_n = f"{rate.rate:g} × {spreading.nitrogen:g}"
        carried = f"N {with_n} = {rate.rate * spreading.nitrogen:.1f}; P2O5 {carried}"
    spread = f"{rate.rate:g} × {shown(area, most=AREA_DECIMALS)}"
    spread += f" = {rate.rate * area:.2f}"
    step = f"nearest step of {spreading.step:g}, {limits}"
    return (
        LedgerLine(
            "product", divided, round(rate.exact, 1), of_grade, "need ÷ grade", grade
        ),
        LedgerLine("rate", chosen, rate.rate, of_grade, step, GIVEN),
        LedgerLine(
            "applied",
            carried,
            round(rate.rate * share, 1),
            _p2o5(unit),
            "rate × grade",
            grade,
        ),
        LedgerLine(
            "product in the zone",
            spread,
            round(rate.rate * area, 2),
            spreading.mass,
            f"rate × {spreading.area}",
            COMPUTED,
        ),
    )


def _p2o5(unit: RateUnit) -> str:
    mass, area = unit.split("/")
    return f"{mass} P2O5/{area}"


def _rounded(need: float | None, unit: RateUnit) -> float | None:
    return None if need is None else round(need / KG_HA[unit], 1)
