"""From the laboratory's figures to the guideline's, with the ledger's lines."""

from dataclasses import dataclass
from typing import cast

import numpy as np
from numpy.typing import NDArray

from vrp.agronomy.conversions import Conversion, conversion, converted
from vrp.agronomy.soil_test import in_unit
from vrp.evidence import LedgerLine, Source, shown
from vrp.pipeline.classing import treated_as_one, zones_by
from vrp.pipeline.ground import DECIMALS, Estimate, Floats, Inputs, Part, Question
from vrp.plan import Plan
from vrp.units import P2O5_PER_P, SOIL_LB_AC_PER_PPM, SoilTestUnit

# How many results of a zone its ledger lists one by one, and how many of them with
# their arithmetic. Our choice: a line or two.
MOST_LISTED = 16
MOST_WORKED = 4


@dataclass(frozen=True, slots=True)
class Reading:
    """
    The soil tests step by step: as P, in ppm before a line, in the guideline's unit.

    `lab_cv` is the laboratory's repeatability [%] as it stands after a conversion.
    """

    as_p: Floats
    before: Floats
    observed: Floats
    line: Conversion | None
    lab_cv: float | None


def read_tests(plan: Plan, inputs: Inputs, *, unit: str) -> Reading:
    """Return the soil tests of the samples in a guideline's unit."""
    table, samples = plan.samples, inputs.samples
    wanted = cast("SoilTestUnit", unit)
    as_p = samples.value
    if table.expressed_as == "P2O5":
        as_p = np.round(as_p / P2O5_PER_P, DECIMALS)
    if table.convert is None:
        observed = in_unit(as_p, table.unit, wanted=wanted, place=samples.file)
        return Reading(as_p, as_p, observed, None, table.lab_cv)
    line = conversion(table.convert, method=table.method)
    before = in_unit(as_p, table.unit, wanted="ppm", place=samples.file)
    after = converted(before, line, rows=samples.rows, place=samples.file)
    after = np.round(after, DECIMALS)
    observed = in_unit(after, "ppm", wanted=wanted, place=samples.file)
    cv = table.lab_cv
    if cv is not None:
        # An intercept below 0 leaves the noise and takes from the value.
        cv *= line.slope * float(before.mean()) / float(after.mean())
    return Reading(as_p, before, observed, line, cv)


def soil_test_lines(
    part: Part,
    question: Question,
    estimate: Estimate,
    soil_test: float,
    *,
    inside: NDArray[np.intp],
    interval: tuple[float | None, float | None],
) -> tuple[LedgerLine, ...]:
    """Return the lines from the samples in a zone to its soil test."""
    laboratory = _laboratory_lines(question, inside)
    return (*laboratory, _last_line(part, question, estimate, soil_test, interval))


def _laboratory_lines(
    question: Question, inside: NDArray[np.intp]
) -> tuple[LedgerLine, ...]:
    plan, inputs = question.plan, question.inputs
    samples, table = inputs.samples, plan.samples
    unit = question.curve.soil_test_unit
    reading = read_tests(plan, inputs, unit=unit)
    values = samples.value[inside]
    where = _where(samples.file, [samples.rows[index] for index in inside])
    length = "in" if plan.units == "us" else "cm"
    reported = f"{table.unit} {table.method}, 0–{table.depth:g} {length}"
    rule = "as the laboratory reported"
    lines = []
    if inputs.layers:
        rule = "means of their layers"
        layers = [inputs.layers[index] for index in inside]
        worked = [
            f"{one.arithmetic} = {value:g}" if len(one.row) > 1 else f"{value:g}"
            for one, value in zip(layers, values, strict=True)
        ]
        lines.append(
            LedgerLine(
                "soil test, layers of the samples",
                _worked(worked),
                None,
                f"{table.unit} {table.method}, 0–{table.depth:g} {length}",
                f"thickness [{length}] × soil test, over the depth: the mean of the "
                "core, at equal bulk density",
                Source(
                    "given",
                    _where(samples.file, [row for one in layers for row in one.row]),
                ),
            )
        )
    if table.computed_from is not None:
        rule += f", who computed it from {table.computed_from}"
    lines.append(
        LedgerLine(
            "soil test, samples in the zone",
            _listed(values),
            None,
            reported,
            rule,
            Source("given", where),
        )
    )
    if table.expressed_as == "P2O5":
        worked = [
            f"{value:g} / {shown(P2O5_PER_P)} = {p:g}"
            for value, p in zip(values, reading.as_p[inside], strict=True)
        ]
        lines.append(
            LedgerLine(
                "soil test, as P",
                _worked(worked),
                None,
                f"{table.unit} {table.method}",
                "the laboratory gave P2O5; carried as converted",
                Source(
                    "agrees",
                    "standard atomic weights, IUPAC, 2021; SPES-201NP, Virginia Tech, "
                    "prints 2.291",
                ),
            )
        )
    if reading.line is not None:
        lines.append(_converted(reading, reading.line, inside, table.unit))
    return tuple(lines)


def _converted(
    reading: Reading, line: Conversion, inside: NDArray[np.intp], unit: str
) -> LedgerLine:
    after = np.round(line.at(reading.before[inside]), DECIMALS)
    halved = unit == "lb/ac"
    worked = []
    triples = zip(reading.as_p[inside], reading.before[inside], after, strict=True)
    for given, before, result in triples:
        text = f"{line.arithmetic(float(before))} = {result:g}"
        if halved:
            text = f"{given:g} / {SOIL_LB_AC_PER_PPM:g} = {shown(before)}, {text}"
        worked.append(text)
    return LedgerLine(
        "soil test, converted",
        _worked(worked),
        None,
        f"{line.unit} {line.to_method}, estimated",
        f"{line.equation} ({line.limits}); a conversion is no calibration",
        line.source,
    )


def _where(file: str, rows: list[int]) -> str:
    if not rows:
        return file
    named = ", ".join(str(row) for row in rows[:MOST_LISTED])
    more = len(rows) - MOST_LISTED
    named += f" and {more} more" if more > 0 else ""
    return f"{file} row{'s' if len(rows) > 1 else ''} {named}"


def _listed(values: Floats) -> str:
    if len(values) == 0:
        return "none in it"
    if len(values) <= MOST_LISTED:
        return ", ".join(f"{value:g}" for value in values)
    middle = f"median {np.median(values):g}"
    return f"{len(values)} samples, {values.min():g} to {values.max():g}, {middle}"


def _worked(texts: list[str]) -> str:
    """Return the arithmetic of a few samples, or of the first ones of many."""
    if not texts:
        return "none in it"
    more = len(texts) - MOST_WORKED
    said = "; ".join(texts[:MOST_WORKED])
    return f"{said}; and so for {more} more" if more > 0 else said


def _last_line(
    part: Part,
    question: Question,
    estimate: Estimate,
    soil_test: float,
    interval: tuple[float | None, float | None],
) -> LedgerLine:
    plan, (low, high) = question.plan, interval
    samples, table = question.inputs.samples, plan.samples
    surface, unit = estimate.surface, question.curve.soil_test_unit
    before = table.unit if table.convert is None else "ppm"
    halved = "lb/ac is 2 × ppm; " if (before == "lb/ac") != (unit == "lb/ac") else ""
    if treated_as_one(plan, estimate):
        rule = (
            "the surface does no better than the field mean, so the field's composite"
        )
        source = Source("computed", f"mean of {len(samples.rows)} samples")
        name = "soil test, composite"
        return LedgerLine(name, f"{soil_test:g}", soil_test, unit, rule, source)
    if surface is None:
        rule = f"{halved}composites, each for the ground that it was taken from"
        own = "its own" if zones_by(plan) == "samples" else "weighted by area"
        source = Source("given", f"{samples.file}, {own}")
        name = "soil test, composite"
        return LedgerLine(name, f"{soil_test:g}", soil_test, unit, rule, source)
    between = f"{soil_test:g}"
    if low is not None and high is not None:
        between += f" ({low:g}–{high:g})"
    kind, meant = "estimate", "of the zone's true mean"
    if surface.log:
        # Skewed: the mean that the interval is for lies above the medians that classes
        # and needs go by.
        kind, meant = (
            "median",
            "of what a mixed sample would give, more than the median",
        )
    rule = halved + (
        f"mean over {len(part.basis)} cells of the surface's {kind}; 80 % interval "
        f"{meant}"
    )
    if question.inputs.apart:
        rule += "; parts on different sides of barriers are interpolated apart"
    source = Source("computed", f"{surface.method}, verdict {estimate.verdict}")
    return LedgerLine("soil test, estimate", between, soil_test, unit, rule, source)
