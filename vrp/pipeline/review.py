"""Step 7: what a person must look at before driving."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from difflib import get_close_matches

import numpy as np
import shapely

from vrp.agronomy import (
    plan_checks,
    sample_checks,
    sense_checks,
    zone_checks,
)
from vrp.agronomy.checks import Check, checks, finding
from vrp.agronomy.figures import Used
from vrp.agronomy.guidelines import shipped
from vrp.agronomy.need import figures
from vrp.errors import InputError
from vrp.evidence import Finding, percent, row_list
from vrp.pipeline import advice
from vrp.pipeline.ground import Estimate, Part, Question
from vrp.pipeline.prescribe import samples_in
from vrp.pipeline.sample_review import (
    as_reported,
    of_report,
    of_zone_report,
)
from vrp.pipeline.season_review import of_seasons
from vrp.pipeline.sense import of_sense
from vrp.pipeline.setbacks import of_setbacks
from vrp.pipeline.surface_review import of_drawn_zones, of_surface
from vrp.pipeline.water_review import of_water
from vrp.pipeline.water_rules_review import of_rules
from vrp.plan import Plan
from vrp.prescription import Prescription, Zone
from vrp.spatial.field import geodesic_area
from vrp.spreading import Rate

# A zone is narrow where more than this share of it is lost when its parts are opened by
# half a swath: our choice, since a corner is always lost.
NARROW_SHARE = 0.5


def review(
    question: Question,
    estimate: Estimate,
    parts: tuple[Part, ...],
    prescription: Prescription,
    rates: tuple[Rate, ...],
) -> tuple[Finding, ...]:
    """Return the findings, those that the plan accepts with its reason."""
    found = (
        *_of_samples(question),
        *_of_guideline(question),
        *of_surface(question, estimate),
        *of_drawn_zones(question, prescription),
        *_of_zones(question, estimate, parts, prescription),
        *of_seasons(question, prescription),
        *_of_rates(question.plan, prescription, rates),
        *advice.of_product(question.plan),
        *advice.of_placement(question, prescription),
        *of_sense(question, prescription),
        *of_rules(question, prescription),
        *of_water(question, parts, prescription),
        *of_setbacks(question, parts, prescription),
    )
    accept = question.plan.accept
    # A farm file may confirm what another field uses: only slips are refused.
    known = sorted({*shipped(), question.inputs.guideline_id})
    for name in question.plan.confirm:
        near = get_close_matches(name, known, n=1, cutoff=0.7)
        if near and name not in known:
            message = f"confirm.{name}: is no guideline's id; did you mean {near[0]}?"
            raise InputError(message)
    unknown = sorted(set(accept) - set(checks()))
    if unknown:
        stops = [code for code, one in checks().items() if _can_stop(one)]
        near = get_close_matches(unknown[0], stops, n=1)
        hint = f"did you mean {near[0]}?" if near else f"use one of {', '.join(stops)}"
        message = f"accept.{unknown[0]}: is no finding's code; {hint}"
        raise InputError(message)
    stopped = {one.code for one in found if one.severity == "stop"}
    found = (*found, *sense_checks.accepted_in_vain(accept, stopped))
    return tuple(replace(one, accepted=accept.get(one.code)) for one in found)


def _can_stop(check: Check) -> bool:
    return "stop" in (check.severity, check.worse())


def _of_samples(question: Question) -> Iterator[Finding]:
    plan, inputs = question.plan, question.inputs
    table, samples, guideline = plan.samples, inputs.samples, inputs.guideline
    file = samples.file
    yield from sample_checks.soil_test_method(
        guideline, table.counted_method, place=file
    )
    reported = as_reported(inputs)
    tests = np.concatenate([values for values, _ in reported])
    yield from sample_checks.looks_like_index(tests, column=table.soil_test, place=file)
    for values, rows in reported:
        yield from sample_checks.outliers(values, rows, unit=table.unit, place=file)
    # Morgan's extract is weak: whole fields test low by it.
    if "morgan" not in table.method:
        yield from sample_checks.low_throughout(
            tests, column=table.soil_test, place=file
        )
    yield from sample_checks.sampling_depth(
        guideline, plan.sample_depth, system=plan.units, place=file
    )
    yield from sample_checks.sample_age(
        table.sampled, counted_to=_counted_to(plan), place=file
    )
    yield from sample_checks.sample_density(
        len(samples.rows),
        geodesic_area(inputs.field.lonlat),
        system=plan.units,
        place=file,
    )
    yield from of_report(question)
    for note in inputs.notes:
        yield finding("files-as-read", place=file, message=note)
    if inputs.used_outside:
        message = (
            f"{file}: used though outside the boundary, within one spacing of it: "
            f"{row_list(inputs.used_outside)}"
        )
        yield finding("samples-outside-used", place=file, message=message)
    if inputs.dropped:
        message = (
            f"{file}: left out, more than one spacing outside the boundary: "
            f"{row_list(inputs.dropped)}"
        )
        yield finding("samples-dropped", place=file, message=message)


def _of_guideline(question: Question) -> Iterator[Finding]:
    plan, inputs, curve = question.plan, question.inputs, question.curve
    guideline, name = inputs.guideline, inputs.guideline_id
    yield from plan_checks.superseded(guideline, place=name)
    yield from plan_checks.own_laboratory(guideline, place=name)
    method = plan.samples.counted_method
    accepted = guideline.soil_test.methods.get(method)
    tested = () if accepted is None else (Used(f"method {method}", "", accepted),)
    yield from plan_checks.figures_status(
        (*figures(guideline, question.typical, pool=plan.need.pool), *tested),
        guideline=name,
        confirmed=name in plan.confirm,
    )
    for number, (goals, season) in enumerate(
        zip(question.goals, question.typical, strict=True), start=1
    ):
        for goal in np.unique(goals).tolist():
            yield from plan_checks.yield_goal(
                guideline,
                replace(season, yield_goal=goal),
                place=f"season[{number}]",
            )
    later = len(plan.season) - 1
    if plan.need.pool and curve.pooled < later:
        message = (
            f"{name}: {curve.pooled} of {later} later seasons are in the rate "
            f"({curve.pooling})"
        )
        yield finding("seasons-not-pooled", place=name, message=message)


def _of_zones(
    question: Question,
    estimate: Estimate,
    parts: tuple[Part, ...],
    prescription: Prescription,
) -> Iterator[Finding]:
    plan, inputs, curve = question.plan, question.inputs, question.curve
    ph = inputs.samples.columns.get("ph")
    zoning = prescription.zoning
    if zoning is not None:
        if zoning.by == "need":
            yield from zone_checks.bands_as_counted(
                plan.zones.count, made=zoning.count, fewest=zoning.fewest
            )
        for layer in zoning.layers:
            yield from zone_checks.layer_gaps(layer.name, missing=layer.missing)
    for part, zone in zip(parts, prescription.zones, strict=True):
        if part.excluded is not None:
            continue  # its own finding says all that matters there
        inside = samples_in(part, inputs)
        if ph is not None:
            yield from plan_checks.ph_rules(
                inputs.guideline,
                plan.season[0].crop,
                ph[inside],
                word=zone.soil_class,
                zone=zone.number,
            )
        words = [curve.word(value) for value in estimate.observed[inside].tolist()]
        yield from plan_checks.mixed_classes(words, zone.soil_class, zone=zone.number)
        yield from of_zone_report(question, inside, zone=zone.number)
        if plan.need.pool and curve.pooled and zone.soil_test < curve.critical:
            message = (
                f"zone {zone.number}: soil test {zone.soil_test:g} is below the "
                f"critical {curve.critical:g} {curve.soil_test_unit}, so the rate is "
                "for the first season alone"
            )
            yield _in_zone("short-again-next-season", zone, message)
        if plan.machine.swath is not None:
            half = plan.machine.swath * plan.metres_per_length / 2.0
            lost = 1.0 - part.shape.buffer(-half).buffer(half).area / part.shape.area
            if lost > NARROW_SHARE:
                length = "ft" if plan.units == "us" else "m"
                message = (
                    f"zone {zone.number}: {percent(lost)} of it is narrower than the "
                    f"swath of {plan.machine.swath:g} {length}"
                )
                yield _in_zone("zone-narrow", zone, message)
        if part.override is not None:
            pieces = len(shapely.get_parts(part.lonlat))
            spread = f" in all {pieces} parts of the zone" if pieces > 1 else ""
            message = (
                f"zone {zone.number}: need set to {part.override.p2o5:g} by hand"
                f"{spread}: {part.override.reason}"
            )
            yield _in_zone("need-by-hand", zone, message)


def _of_rates(
    plan: Plan, prescription: Prescription, rates: tuple[Rate, ...]
) -> Iterator[Finding]:
    unit = "lb/ac" if plan.units == "us" else "kg/ha"
    of_product = f"{plan.measure}/{unit[-2:]}"
    for zone, rate in zip(prescription.zones, rates, strict=True):
        lost = rate.rate == 0.0 < zone.need
        if rate.rate != rate.nearest or lost:
            more = (rate.rate - rate.exact) * zone.area
            side = "more" if more > 0 else "less"
            change = f"{abs(more):,.0f} {plan.measure} {side} product"
            message = (
                f"zone {zone.number}: the spreader makes {rate.rate:g} {of_product} of "
                f"{rate.exact:.1f} {of_product}: {change} in the zone"
            )
            yield replace(
                _in_zone("rate-limited-by-machine", zone, message),
                value=round(rate.exact, 1),
                unit=of_product,
                bound=rate.rate,
            )
        steps = {line.step for line in zone.ledger}
        if "limited need" in steps and "override" not in steps:
            message = (
                f"zone {zone.number}: the plan's own limits set the need to "
                f"{zone.need:g} {unit} of P2O5"
            )
            yield _in_zone("need-limited-by-plan", zone, message)


def _in_zone(code: str, zone: Zone, message: str) -> Finding:
    place = f"zone {zone.number}"
    return finding(code, place=place, zone=zone.number, message=message)


def _counted_to(plan: Plan) -> date | None:
    if plan.application is not None and plan.application.date is not None:
        return plan.application.date
    return None if plan.field.year is None else date(plan.field.year, 1, 1)
