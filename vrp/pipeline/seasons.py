"""After the crops: what is applied, removed and left in a zone, season by season."""

from dataclasses import replace
from itertools import pairwise
from typing import cast

import numpy as np

from vrp.agronomy import inventory
from vrp.agronomy.balance import Removal, Taken, removal, running
from vrp.agronomy.forecast import (
    Band,
    Change,
    Fit,
    Model,
    forecast,
    optimism,
    published,
    refit,
)
from vrp.agronomy.forecast_figures import Family, family
from vrp.agronomy.need import Season, need_curve
from vrp.evidence import LedgerLine, Source, half_up, shown
from vrp.pipeline.ground import Part, Question
from vrp.pipeline.reading import read_tests
from vrp.plan import SeasonPlan
from vrp.prescription import SeasonFacts, Zone
from vrp.units import KG_HA, RateUnit, SoilTestUnit

BESIDE = "beside it: "
_DECIMALS = 1  # of a forecast soil test: more would promise what no band holds


def zone_seasons(part: Part, question: Question) -> tuple[Season, ...]:
    """Return the seasons with the mean of the yield goals in a zone."""
    goals = [round(float(each[part.basis].mean()), 2) for each in question.goals]
    return tuple(
        replace(season, yield_goal=goal)
        for season, goal in zip(question.typical, goals, strict=True)
    )


def after_the_crops(
    question: Question,
    parts: tuple[Part, ...],
    zones: tuple[Zone, ...],
    *,
    organic_matter: tuple[float | None, ...],
    unit: RateUnit,
) -> tuple[tuple[Zone, ...], tuple[SeasonFacts, ...]]:
    """Return the zones with what stands beside their need, and every season's facts."""
    told, facts = [], []
    model, _ = outlook(question)
    for part, zone, organic in zip(parts, zones, organic_matter, strict=True):
        seasons, lines = _of_zone(question, part, zone, model, unit=unit)
        ground = inventory.lines(
            zone.soil_test,
            test_unit=question.curve.soil_test_unit,
            depth=question.plan.sample_depth,
            density=question.plan.balance.bulk_density,
            organic_matter=organic,
            unit=unit,
        )
        told.append(replace(zone, ledger=(*zone.ledger, *lines, *ground)))
        facts.extend(seasons)
    return tuple(told), tuple(facts)


def removals(
    question: Question, seasons: tuple[Season, ...]
) -> tuple[Removal | None, ...]:
    """Return what each season's harvest takes; None where no figure was found."""
    inputs, plan = question.inputs, question.plan
    return tuple(
        removal(
            inputs.guideline,
            season,
            own_set=inputs.guideline_id,
            chosen=plan.balance.removal,
            taken=_taken(asked),
        )
        for season, asked in zip(seasons, plan.season, strict=True)
    )


def outlook(question: Question) -> tuple[Model | None, tuple[Fit, ...]]:
    """Return the forecast's figures, and what the field's own past says of them."""
    plan, unit = question.plan, question.curve.soil_test_unit
    model = published(plan.samples.counted_method, cast("SoilTestUnit", unit))
    past = plan.balance.history
    if model is None or not past:
        return model, ()
    tests = _past_tests(question)
    rate = KG_HA["lb/ac" if plan.units == "us" else "kg/ha"]
    changes = [
        Change(before, after, ((one.applied or 0.0) - (one.removed or 0.0)) * rate)
        for (before, after), one in zip(pairwise(tests), past[1:], strict=True)
    ]
    return refit(model, changes)


def _past_tests(question: Question) -> list[float]:
    """Return the means of the field's past, read as the samples are."""
    past, inputs = question.plan.balance.history, question.inputs
    samples = replace(
        inputs.samples,
        file="balance.history",
        rows=tuple(range(1, len(past) + 1)),
        value=np.array([one.soil_test for one in past]),
    )
    asked = replace(inputs, samples=samples)
    reading = read_tests(question.plan, asked, unit=question.curve.soil_test_unit)
    return list(reading.observed.tolist())


def _of_zone(
    question: Question,
    part: Part,
    zone: Zone,
    model: Model | None,
    *,
    unit: RateUnit,
) -> tuple[list[SeasonFacts], list[LedgerLine]]:
    seasons = zone_seasons(part, question)
    found = removals(question, seasons)
    known = len(found) if None not in found else found.index(None)
    given = _applied(question, part, zone, unit=unit)
    taken = [half_up(one.value) for one in found[:known] if one is not None]
    balance = running(given[:known], taken)
    bands: tuple[Band, ...] = ()
    if model is not None:
        rate = KG_HA[unit]
        amounts = [(a * rate, r * rate) for a, r in zip(given, taken, strict=False)]
        bands = forecast(
            model,
            zone.soil_test,
            amounts,
            low=zone.soil_test_low,
            high=zone.soil_test_high,
        )
    facts, lines = [], []
    for number, season in enumerate(seasons):
        left = balance[number] if number < known else None
        band = bands[number] if number < len(bands) else None
        facts.append(
            SeasonFacts(
                zone.number,
                season.crop,
                season.yield_goal,
                season.yield_unit,
                _need(question, seasons, number, zone.soil_test, unit=unit),
                given[number],
                None if number >= known else taken[number],
                left,
                None if band is None else round(band.low, _DECIMALS),
                None if band is None else round(band.middle, _DECIMALS),
                None if band is None else round(band.high, _DECIMALS),
                None
                if band is None or band.straight is None
                else round(band.straight, _DECIMALS),
            )
        )
        one = found[number] if number < known else None
        if one is not None:
            before = balance[number - 1] if number else None
            lines += _balance_lines(facts[-1], one, before, zone, unit=unit)
        if band is not None and model is not None:
            start = bands[number - 1].middle if number else zone.soil_test
            lines.append(
                _forecast_line(question, facts[-1], model, (start, band), unit=unit)
            )
    return facts, lines


def _need(
    question: Question,
    seasons: tuple[Season, ...],
    first: int,
    soil_test: float,
    *,
    unit: RateUnit,
) -> float:
    """Return a season's own need at a zone's soil test, nothing pooled."""
    turned = (*seasons[first:], *seasons[:first])
    curve = need_curve(
        question.inputs.guideline,
        turned,
        pool=False,
        build_up=question.plan.need.build_up,
    )
    return half_up(float(curve.at(soil_test)) / KG_HA[unit])


def _applied(
    question: Question, part: Part, zone: Zone, *, unit: RateUnit
) -> list[float]:
    """Return the P2O5 of each season: the map's and credits', then as planned."""
    brought = 0.0
    for credit, cells in zip(question.plan.credit, question.credits, strict=True):
        # A surplus lies in the ground already: nobody brings it.
        if not credit.surplus:
            brought += float(cells[part.basis].mean()) / KG_HA[unit]
    later = [one.p2o5 or 0.0 for one in question.plan.season[1:]]
    return [half_up(zone.applied + brought), *later]


def _taken(asked: SeasonPlan) -> Taken:
    measured = asked.grain_p
    return Taken(
        asked.straw_yield,
        None if measured is None else (measured.percent, measured.dry_matter),
        asked.moisture,
    )


def _balance_lines(
    facts: SeasonFacts,
    taken: Removal,
    before: float | None,
    zone: Zone,
    *,
    unit: RateUnit,
) -> list[LedgerLine]:
    mass, area = unit.split("/")
    given, rule = f"{facts.applied:g}", "applied − removed"
    if before is None and facts.applied != zone.applied:
        brought = round(facts.applied - zone.applied, 1)
        given, rule = f"{zone.applied:g} + {brought:g}", "applied + credited − removed"
    start = given if before is None else f"{_signed(before)} + {given}"
    arithmetic = f"{start} − {facts.removal:g} = {_signed(facts.balance)}"
    return [
        *(
            replace(line, step=f"{BESIDE}{line.step}, {facts.crop}")
            for line in taken.lines
        ),
        LedgerLine(
            f"{BESIDE}balance after {facts.crop}",
            arithmetic,
            facts.balance,
            f"{mass} P2O5/{area}",
            f"{rule}, summed from season to season",
            Source("computed", "the lines above and the field file"),
        ),
    ]


def _forecast_line(
    question: Question,
    facts: SeasonFacts,
    model: Model,
    way: tuple[float, Band],
    *,
    unit: RateUnit,
) -> LedgerLine:
    """Return the line of the middle, with the band over all figures beside it."""
    plan, test = question.plan, question.curve.soil_test_unit
    found = family(plan.samples.counted_method, cast("SoilTestUnit", test))
    assert found is not None
    (start, band), removed = way, facts.removal or 0.0
    surplus = round(facts.applied - removed, 1)
    per_unit = model.builds[-1] / model.per_base / KG_HA[unit]
    if surplus >= 0.0:
        moved = f"+ {surplus:g} / {shown(per_unit, most=4)}"
        rule = f"{per_unit:.1f} {unit} of P2O5 beyond removal for each {test}"
    else:
        moved = f"− {shown(start - band.middle, most=2)}"
        rule = (
            f"{-surplus:g} of {removed:g} {unit} of P2O5 short: the fall at such a "
            f"test by {_drawdown(question, model, found)}"
        )
    arithmetic = (
        f"{shown(start)} {moved} = {shown(band.middle)}; between {facts.stp_low:g} and "
        f"{facts.stp_high:g}"
    )
    over = _figures(question, model)
    rule += f"; between: over {over}, no interval of a probability"
    times = optimism(model)
    if facts.stp_straight is not None and found.straight is not None and times:
        rule += (
            f"; a straight {found.straight.value:g} {found.straight.unit} would say "
            f"{facts.stp_straight:g}"
        )
        if surplus > 0.0:
            rule += f" and promises {times:.1f} times the middle's build-up"
    where = f"figures for {found.name}, docs/balance_and_forecast.md"
    if plan.balance.history:
        where += "; the field's own past, where it is used"
    return LedgerLine(
        f"{BESIDE}soil test after {facts.crop}",
        arithmetic,
        facts.stp_mid,
        test,
        rule,
        Source("computed", where),
    )


def _figures(question: Question, model: Model) -> str:
    """Return what the band is taken over."""
    unit = cast("SoilTestUnit", question.curve.soil_test_unit)
    if model == published(question.plan.samples.counted_method, unit):
        return "every published figure"
    return "the field's own figures and, on a side without, the published ones"


def _drawdown(question: Question, model: Model, found: Family) -> str:
    """Return whose figures the middle falls by."""
    unit = cast("SoilTestUnit", question.curve.soil_test_unit)
    default = published(question.plan.samples.counted_method, unit)
    own = default is not None and default.falls[-1] != model.falls[-1]
    if own:
        return "the field's own past"
    name = found.middle.drawdown
    halving = found.drawdown[name].halving
    if halving is not None:
        return f"a halving in {halving:g} unfertilised seasons"
    return f"the figures of {name.capitalize()}"


def _signed(value: float | None) -> str:
    return "" if value is None else shown(value, most=1).replace("-", "−")
