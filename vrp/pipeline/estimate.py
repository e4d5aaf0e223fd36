"""Steps 1 to 4: the guideline's curves, the soil test, the need on the cells."""

import numpy as np

from vrp.agronomy.guidelines import yield_unit
from vrp.agronomy.need import NeedCurve, Season, build_up_curve, need_curve
from vrp.errors import GuidelineError, InputError
from vrp.pipeline import credits
from vrp.pipeline.drawn import zone_of_samples
from vrp.pipeline.ground import (
    DECIMALS,
    Composite,
    Estimate,
    Floats,
    Inputs,
    Needs,
    Question,
    sampled,
)
from vrp.pipeline.parts import cell_size
from vrp.pipeline.reading import read_tests
from vrp.pipeline.setbacks import keeps
from vrp.pipeline.uncertainty import skill_in
from vrp.plan import Plan
from vrp.spatial.barriers import part_of
from vrp.spatial.coverage import cell_owners
from vrp.spatial.design import CLUSTERED_ABOVE
from vrp.spatial.grid import Cells, make_cells
from vrp.spatial.solution import Apart
from vrp.spatial.surface import Surface, build_surface
from vrp.spatial.validation import verdict
from vrp.spatial.zones import given_polygons

# Of the soil test on a cell: more than float32 holds is noise.
CELL_DECIMALS = 4


def ask(plan: Plan, inputs: Inputs) -> Question:
    """Return the need curves that the plan's seasons ask for, on every cell."""
    cells = make_cells(inputs.field.outline, size=cell_size(plan, inputs.field))
    guideline = inputs.guideline
    goals = tuple(
        _goals(plan, inputs, cells, index=index) for index in range(len(plan.season))
    )
    different, which = np.unique(np.stack(goals), axis=1, return_inverse=True)

    def curve(seasons: tuple[Season, ...]) -> NeedCurve:
        need = plan.need
        return need_curve(guideline, seasons, pool=need.pool, build_up=need.build_up)

    def seasons(goals: list[float]) -> tuple[Season, ...]:
        return tuple(
            Season(
                one.crop,
                goal,
                yield_unit(guideline, one.crop, system=plan.units),
                one.residue,
            )
            for one, goal in zip(plan.season, goals, strict=True)
        )

    typical = seasons([round(float(each.mean()), 2) for each in goals])
    curves = tuple(curve(seasons(each.tolist())) for each in different.T)
    return Question(
        plan,
        inputs,
        cells,
        curves,
        which.ravel(),
        goals,
        typical,
        curve(typical),
        credits.on_cells(plan, inputs, cells),
        keeps(plan, inputs),
    )


def _goals(plan: Plan, inputs: Inputs, cells: Cells, *, index: int) -> Floats:
    goal, areas = plan.season[index].yield_goal, inputs.yields[index]
    if areas is None:
        assert isinstance(goal, float)
        return np.full(len(cells.xy), goal)
    shapes = list(areas.shapes)
    tiled = given_polygons(inputs.field.outline, shapes, names=areas.names())
    goals = areas.values[[number for number, _ in tiled]]
    return np.asarray(goals[cell_owners([shape for _, shape in tiled], cells)])


def estimate_soil_test(question: Question) -> Estimate:
    """Return the soil test on the cells: kriged from points, or the composites' own."""
    plan, inputs, cells = question.plan, question.inputs, question.cells
    samples, unit = inputs.samples, question.curve.soil_test_unit
    reading = read_tests(plan, inputs, unit=unit)
    observed = reading.observed
    if plan.samples.kind != "point":
        tiled = sampled(inputs)
        ground = tuple(Composite(shape, float(observed[i])) for i, shape in tiled)
        tests = np.array([one.soil_test for one in ground])
        areas = [one.shape.area for one in ground]
        on_cells = tests[cell_owners([one.shape for one in ground], cells)]
        mean = round(float(np.average(tests, weights=areas)), DECIMALS)
        return Estimate(on_cells, observed, mean, ground)

    composite = round(float(observed.mean()), DECIMALS)
    apart = None
    if inputs.apart:
        apart = Apart(*(part_of(inputs.apart, xy) for xy in (samples.xy, cells.xy)))
    surface = build_surface(
        samples.xy,
        observed,
        cells.xy,
        lab_cv=reading.lab_cv,
        apart=apart,
        drawn=zone_of_samples(plan, inputs),
    )
    soil_test, in_need = (
        skill_in(surface, transform, seed=plan.zones.seed)
        for transform in (np.asarray, question.curve.at)
    )
    alone = (soil_test.leave_one_out, in_need.leave_one_out)
    said = verdict(
        n=surface.n,
        soil_test=soil_test.blocked,
        need=in_need.blocked,
        alone=() if surface.clustering > CLUSTERED_ABOVE else alone,
    )
    # What float32 adds to a decimal must not carry it over a limit.
    value = np.round(surface.estimate.astype(float), CELL_DECIMALS)
    return Estimate(value, observed, composite, (), surface, said, soil_test, in_need)


def needs_on_cells(question: Question, estimate: Estimate) -> Needs:
    """Return the need on every cell, and over the error of a surface."""
    surface, value = estimate.surface, estimate.value
    groups = [
        (curve, question.which == number)
        for number, curve in enumerate(question.curves)
    ]
    at = np.empty(len(value))
    for curve, here in groups:
        at[here] = curve.at(value[here])
    chosen = at
    if surface is not None and question.plan.need.basis == "expected":
        chosen = _with_expected_build_up(question, surface, value, at)
    left = credits.left_by(question.credits, chosen)
    if surface is None:
        return Needs(at, chosen, left, None, None)
    expected, sd = np.empty(len(value)), surface.sd.astype(float)
    for curve, here in groups:
        expected[here] = curve.expected(value[here], sd[here], log=surface.log)
    critical = question.curve.critical
    short = question.curve.probability_below(critical, value, sd, log=surface.log)
    return Needs(at, chosen, left, expected, short)


def _with_expected_build_up(
    question: Question, surface: Surface, value: Floats, at: Floats
) -> Floats:
    """Return the need with the build-up that is expected over the estimate's error."""
    try:
        part = build_up_curve(question.inputs.guideline, question.typical)
    except GuidelineError as exc:
        message = f'need.basis: {exc}; use basis = "estimate"'
        raise InputError(message) from exc
    sd = surface.sd.astype(float)
    more = part.expected(value, sd, log=surface.log) - part.at(value)
    # Where the guideline asks for nothing at the estimate, nothing is spread; and one
    # sample alone has no error to expect anything over.
    kept = (at == 0.0) | ~np.isfinite(more)
    return np.where(kept, at, at + more)
