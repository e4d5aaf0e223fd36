"""Steps 1 to 4: the guideline's curves, the soil test, the need on the cells."""

import numpy as np

from vrp.agronomy.guidelines import yield_unit
from vrp.agronomy.need import NeedCurve, Season, need_curve
from vrp.agronomy.soil_test import in_unit
from vrp.errors import InputError
from vrp.pipeline.ground import (
    Estimate,
    Floats,
    Inputs,
    Needs,
    Question,
    YieldAreas,
    sampled,
)
from vrp.pipeline.parts import cell_size
from vrp.plan import Plan
from vrp.prescription import Skill
from vrp.spatial.coverage import cell_owners, locate
from vrp.spatial.grid import make_cells
from vrp.spatial.surface import build_surface
from vrp.spatial.validation import skill, verdict


def ask(plan: Plan, inputs: Inputs) -> Question:
    """Return the need curves that the plan's seasons ask for, on every cell."""
    cells = make_cells(inputs.field.outline, size=cell_size(plan, inputs.field))
    xy, guideline = cells.xy, inputs.guideline
    goals = tuple(
        _goals(plan, index, areas, xy) for index, areas in enumerate(inputs.yields)
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

    typical = seasons([float(each.mean()) for each in goals])
    curves = tuple(curve(seasons(each.tolist())) for each in different.T)
    return Question(
        plan, inputs, cells, curves, which.ravel(), goals, typical, curve(typical)
    )


def _goals(plan: Plan, index: int, areas: YieldAreas | None, xy: Floats) -> Floats:
    goal = plan.season[index].yield_goal
    if areas is None:
        assert isinstance(goal, float)
        return np.full(len(xy), goal)
    owner = locate(list(areas.shapes), xy)
    bare = int((owner < 0).sum())
    if bare:
        message = (
            f"{areas.file}: {bare / len(owner):.1%} of the field has no yield goal: "
            "draw polygons for that ground"
        )
        raise InputError(message)
    return areas.goals[owner]


def estimate_soil_test(question: Question) -> Estimate:
    """Return the soil test on the cells: kriged from points, or the composites' own."""
    plan, inputs, cells = question.plan, question.inputs, question.cells
    samples, unit = inputs.samples, question.curve.soil_test_unit
    observed = in_unit(
        samples.value, plan.samples.unit, wanted=unit, place=samples.file
    )
    if plan.samples.kind != "point":
        tiled = sampled(inputs)
        areas = np.array([shape.area for _, shape in tiled])
        value = observed[[index for index, _ in tiled]]
        on_cells = value[cell_owners([shape for _, shape in tiled], cells)]
        return Estimate(
            on_cells.astype(np.float32),
            observed,
            float(np.average(value, weights=areas)),
        )

    composite = float(observed.mean())
    surface = build_surface(samples.xy, observed, cells.xy, lab_cv=plan.samples.lab_cv)
    cross, need = surface.cross, question.curve.at
    soil_test, in_need = (
        Skill(
            *(
                skill(
                    transform(cross.observed),
                    transform(getattr(cross.kriging, kind)),
                    baseline=transform(getattr(cross.field_mean, kind)),
                )
                for kind in ("leave_one_out", "blocked")
            )
        )
        for transform in (np.asarray, need)
    )
    said = verdict(n=surface.n, soil_test=soil_test.blocked, need=in_need.blocked)
    return Estimate(
        surface.estimate, observed, composite, surface, said, soil_test, in_need
    )


def needs_on_cells(question: Question, estimate: Estimate) -> Needs:
    """Return the need on every cell, and over the error of a surface."""
    surface, value = estimate.surface, estimate.value.astype(float)
    at, expected = np.empty(len(value)), np.empty(len(value))
    sd = None if surface is None else surface.sd.astype(float)
    for number, curve in enumerate(question.curves):
        here = question.which == number
        at[here] = curve.at(value[here])
        if surface is not None and sd is not None:
            expected[here] = curve.expected(value[here], sd[here], log=surface.log)
    if surface is None or sd is None:
        return Needs(at, None, None)
    critical = question.curve.critical
    short = question.curve.probability_below(critical, value, sd, log=surface.log)
    return Needs(at, expected, short)
