"""Findings on the map of the soil test, and on zones that others drew."""

from collections.abc import Iterator

import numpy as np

from vrp.agronomy import barrier_checks, map_checks, plan_checks
from vrp.agronomy.checks import finding
from vrp.evidence import Finding, percent_of
from vrp.pipeline.classing import treated_as_one
from vrp.pipeline.ground import Estimate, Question
from vrp.pipeline.sample_review import of_positions
from vrp.prescription import Prescription
from vrp.spatial.calibration import LEVELS, calibration
from vrp.spatial.candidates import FIELD_MEAN, compare
from vrp.spatial.variogram import SPARSE_BELOW

_SAID = {
    "weak": "hardly supported",
    "not supported": "not supported",
    "cannot tell": "neither supported nor refuted",
    None: "",
}


def of_surface(question: Question, estimate: Estimate) -> Iterator[Finding]:
    """Return what the map of the soil test says of itself, and of the samples."""
    surface, file = estimate.surface, question.inputs.samples.file
    yield from of_positions(question, repeated=surface.repeated if surface else 0)
    if surface is None:
        return
    yield from barrier_checks.parts_apart(
        len(question.inputs.apart),
        few=() if surface.solution is None else surface.solution.few,
        place=file,
    )
    yield from map_checks.clustered(
        surface.clustering, samples=surface.n, system=question.plan.units, place=file
    )
    if estimate.verdict != "supported":
        skills = (estimate.skill_soil_test, estimate.skill_need)
        soil_test, need = (
            "no figure"
            if skill is None or not np.isfinite(skill.blocked)
            else percent_of(skill.blocked, skill.blocked_low, skill.blocked_high)
            for skill in skills
        )
        spread = ""
        if treated_as_one(question.plan, estimate):
            spread = "; the field is treated as one, at its composite"
        message = (
            f"field: zones are {_SAID[estimate.verdict]}: of the field mean's squared "
            f"error the surface removes {soil_test} in soil test and {need} in need "
            f"({surface.n} samples, blocked cross-validation, 80 % intervals){spread}"
        )
        code = f"verdict-{str(estimate.verdict).replace(' ', '-')}"
        yield finding(code, place="field", message=message)
    if surface.cross.errors is not None and surface.n >= SPARSE_BELOW:
        held = calibration(surface.cross.errors)
        shares = (held.coverage_50, held.coverage_80, held.coverage_95)
        yield from map_checks.stated_errors(
            held.squared_error,
            coverage=tuple(zip(LEVELS, shares, strict=True)),
            samples=surface.n,
            place=file,
        )
    judged = compare(surface.cross, taken=surface.method)
    yield from map_checks.beaten(
        [
            (one.name, one.blocked, one.difference, one.standard_error)
            for one in judged.scores
            if one.name not in (surface.method, FIELD_MEAN)
        ],
        taken=(surface.method, judged.scores[0].blocked),
        unit=question.curve.soil_test_unit,
        samples=surface.n,
        system=question.plan.units,
        place=file,
    )
    yield from plan_checks.map_mean(
        float(surface.mean.astype(float).mean()),
        estimate.composite,
        unit=question.curve.soil_test_unit,
        place=file,
    )


def of_drawn_zones(question: Question, prescription: Prescription) -> Iterator[Finding]:
    """Return what the samples say of zones from a file or from layers."""
    drawn, plan = prescription.drawn, question.plan
    if drawn is None:
        return
    facts, by_map = prescription.surface, None
    if facts is not None and facts.skill.soil_test is not None:
        by_map = facts.skill.soil_test.blocked
    yield from map_checks.drawn_zones(
        drawn.between,
        by_chance=drawn.by_chance,
        zones=drawn.zones,
        samples=drawn.samples,
        skill=drawn.leave_one_out if drawn.blocked is None else drawn.blocked,
        by_map=by_map,
        place="layers" if plan.zones.file is None else plan.zones.file.name,
    )
