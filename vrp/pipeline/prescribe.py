"""Step 6: a rate for every zone, its ledger, and the sums."""

from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray

from vrp.agronomy.need import ledger, need_curve
from vrp.agronomy.products import Grade
from vrp.evidence import LedgerLine, Source
from vrp.pipeline.ground import Estimate, Inputs, Needs, Part, Question
from vrp.pipeline.parts import treated_as_one, zones_by
from vrp.prescription import (
    Candidate,
    GuidelineFacts,
    Prescription,
    SeasonFacts,
    Skill,
    Skills,
    SurfaceFacts,
    Variogram,
    Zone,
)
from vrp.rates import Ground, Rate, Spreading, settled_need, totals, zone
from vrp.spatial.field import geodesic_area
from vrp.spatial.validation import Predictions
from vrp.units import KG_HA, RateUnit

# How many results of a zone its ledger lists one by one. Our choice: a line or two.
MOST_LISTED = 16


def prescribe(
    question: Question, estimate: Estimate, needs: Needs, parts: tuple[Part, ...]
) -> tuple[Prescription, tuple[Rate, ...]]:
    """Return the prescription without findings, and the rates before limits."""
    plan, inputs, cells = question.plan, question.inputs, question.cells
    grade = Grade.parse(plan.product.grade)
    spreading = Spreading.of(
        plan, p2o5_percent=grade.p2o5, nitrogen_percent=grade.nitrogen
    )
    above = question.curve.no_need_above
    both = [
        zone(
            _ground(number, part, question, estimate, needs),
            plan=plan,
            spreading=spreading,
            no_need_above=above,
        )
        for number, part in enumerate(parts, start=1)
    ]
    zones = tuple(one for one, _ in both)
    need = float(question.curve.at(estimate.composite)) / KG_HA[spreading.unit]
    uniform, _ = settled_need(round(need, 1), plan, unit=spreading.unit)
    sums = totals(
        zones,
        uniform_need=uniform,
        composite=round(estimate.composite, 2),
        spreading=spreading,
    )
    prescription = Prescription(
        plan,
        round(cells.size / plan.metres_per_length, 3),
        len(inputs.samples.rows),
        zones,
        sums,
        _surface_facts(estimate),
        _guideline_facts(question),
        _seasons(question, zones, unit=spreading.unit),
        (),
    )
    return prescription, tuple(rate for _, rate in both)


def samples_in(part: Part, inputs: Inputs) -> NDArray[np.intp]:
    """Return which samples lie in a zone: points in it, composites that it touches."""
    shape = part.shape
    if inputs.samples.shape[0].geom_type == "Point":
        x, y = inputs.samples.xy.T
        return np.flatnonzero(shapely.intersects_xy(shape, x, y))
    shared = shapely.area(shapely.intersection(inputs.samples.shape, shape))
    own = shapely.area(inputs.samples.shape)
    return np.flatnonzero(shared > 0.01 * np.minimum(own, shape.area))


def _ground(
    number: int, part: Part, question: Question, estimate: Estimate, needs: Needs
) -> Ground:
    plan, inputs = question.plan, question.inputs
    here, as_one = part.cells, treated_as_one(plan, estimate)
    surface, curve = estimate.surface, question.curve
    found = float(estimate.value[here].astype(float).mean())
    soil_test = round(estimate.composite if as_one else found, 2)
    low = high = None
    if surface is not None and not as_one:
        low, high = (_finite(end, 2) for end in surface.interval(here))
    short = None if needs.short is None else _finite(needs.short[here].mean(), 2)
    goals = [float(each[here].mean()) for each in question.goals]
    seasons = tuple(
        replace(season, yield_goal=goal)
        for season, goal in zip(question.typical, goals, strict=True)
    )
    need = float(curve.at(estimate.composite) if as_one else needs.at[here].mean())
    expected = None if needs.expected is None else _finite(needs.expected[here].mean())
    lines = (
        *_soil_test_lines(part, question, estimate, soil_test, (low, high)),
        *ledger(
            inputs.guideline,
            seasons,
            soil_test,
            pool=plan.need.pool,
            build_up=plan.need.build_up,
        ),
    )
    return Ground(
        number,
        part.lonlat,
        geodesic_area(part.lonlat),
        curve.word(soil_test),
        soil_test,
        low,
        high,
        short,
        round(goals[0], 2),
        need,
        expected,
        0 if as_one else len(here),
        part.override,
        lines,
    )


def _soil_test_lines(
    part: Part,
    question: Question,
    estimate: Estimate,
    soil_test: float,
    interval: tuple[float | None, float | None],
) -> tuple[LedgerLine, ...]:
    plan, inputs, (low, high) = question.plan, question.inputs, interval
    samples, table = inputs.samples, plan.samples
    inside = samples_in(part, inputs)
    values = samples.value[inside]
    rows = ", ".join(str(samples.rows[index]) for index in inside[:MOST_LISTED])
    if len(inside) == 0:
        listed, where = "none in it", samples.file
    elif len(inside) <= MOST_LISTED:
        listed = ", ".join(f"{value:g}" for value in values)
        where = f"{samples.file} row{'s' if len(inside) > 1 else ''} {rows}"
    else:
        middle = f"median {np.median(values):g}"
        listed = (
            f"{len(inside)} samples, {values.min():g} to {values.max():g}, {middle}"
        )
        where = f"{samples.file} rows {rows} and {len(inside) - MOST_LISTED} more"
    length = "in" if plan.units == "us" else "cm"
    reported = f"{table.unit} {table.method}, 0–{table.depth:g} {length}"
    first = LedgerLine(
        "soil test, samples in the zone",
        listed,
        None,
        reported,
        "as the laboratory reported",
        Source("given", where),
    )
    surface, unit = estimate.surface, question.curve.soil_test_unit
    if treated_as_one(plan, estimate):
        rule = (
            "the surface does no better than the field mean, so the field's composite"
        )
        source = Source("computed", f"mean of {len(samples.rows)} samples")
        name = "soil test, composite"
        return first, LedgerLine(name, f"{soil_test:g}", soil_test, unit, rule, source)
    if surface is None:
        rule = "composites, each for the ground that it was taken from"
        own = "its own" if zones_by(plan) == "samples" else "weighted by area"
        source = Source("given", f"{samples.file}, {own}")
        name = "soil test, composite"
        return first, LedgerLine(name, f"{soil_test:g}", soil_test, unit, rule, source)
    between = f"{soil_test:g}"
    if low is not None and high is not None:
        between += f" ({low:g}–{high:g})"
    kind = "median" if surface.log else "estimate"
    rule = (
        f"mean over {len(part.cells)} cells of the surface's {kind}; "
        "80 % interval of that mean"
    )
    source = Source("computed", f"{surface.method}, verdict {estimate.verdict}")
    second = LedgerLine("soil test, estimate", between, soil_test, unit, rule, source)
    return first, second


def _surface_facts(estimate: Estimate) -> SurfaceFacts | None:
    surface = estimate.surface
    if surface is None or estimate.verdict is None:
        return None
    cross, fitted = surface.cross, surface.variogram
    variogram = None
    if fitted is not None:
        variogram = Variogram(
            fitted.model, surface.log, fitted.nugget, fitted.partial_sill, fitted.range
        )

    def candidate(method: str, predictions: Predictions) -> Candidate:
        errors = (
            float(np.sqrt(np.mean((each - cross.observed) ** 2)))
            for each in (predictions.leave_one_out, predictions.blocked)
        )
        return Candidate(method, *(_finite(each) for each in errors))

    return SurfaceFacts(
        surface.method,
        surface.reason,
        surface.n,
        _finite(surface.spacing, 1),
        variogram,
        (
            candidate(surface.method, cross.kriging),
            candidate(f"inverse distance, power {cross.power:g}", cross.distance),
            candidate("field mean", cross.field_mean),
        ),
        Skills(
            _finite_skill(estimate.skill_soil_test), _finite_skill(estimate.skill_need)
        ),
        estimate.verdict,
    )


def _finite(value: float | np.float64, decimals: int = 4) -> float | None:
    """Return a figure for the record, None where there is none."""
    return round(float(value), decimals) if np.isfinite(value) else None


def _finite_skill(skill: Skill | None) -> Skill | None:
    if skill is None or not np.isfinite([skill.leave_one_out, skill.blocked]).all():
        return None
    return Skill(round(skill.leave_one_out, 4), round(skill.blocked, 4))


def _guideline_facts(question: Question) -> GuidelineFacts:
    plan, inputs = question.plan, question.inputs
    guideline, curve = inputs.guideline, question.curve
    confirmed = plan.confirm.get(inputs.guideline_id)
    status = guideline.state if confirmed is None else f"confirmed: {confirmed}"
    return GuidelineFacts(
        inputs.guideline_id,
        guideline.title,
        f"{guideline.publisher}, {guideline.number}, {guideline.year}, {guideline.url}",
        status,
        curve.soil_test_unit,
        curve.critical,
        curve.no_need_above if np.isfinite(curve.no_need_above) else None,
    )


def _seasons(
    question: Question, zones: tuple[Zone, ...], *, unit: RateUnit
) -> tuple[SeasonFacts, ...]:
    """Return each season's own need at each zone's soil test, nothing pooled."""
    facts = []
    for first, season in enumerate(question.typical):
        turned = (*question.typical[first:], *question.typical[:first])
        curve = need_curve(
            question.inputs.guideline,
            turned,
            pool=False,
            build_up=question.plan.need.build_up,
        )
        need = curve.at([one.soil_test for one in zones]) / KG_HA[unit]
        facts += [
            SeasonFacts(
                one.number,
                season.crop,
                round(season.yield_goal, 2),
                season.yield_unit,
                round(each, 1),
            )
            for one, each in zip(zones, need.tolist(), strict=True)
        ]
    return tuple(facts)
