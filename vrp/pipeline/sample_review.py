"""What is doubtful in the laboratory's report: names, conversions, pH, Bray, layers."""

from collections.abc import Iterator

import numpy as np
import shapely
from numpy.typing import NDArray

from vrp.agronomy import bray, conversion_checks, layers, method_fit, sample_checks
from vrp.agronomy.conversions import conversion
from vrp.evidence import Finding
from vrp.pipeline.ground import Floats, Inputs, Question
from vrp.units import INCH, soil_test_ppm_or_mg_l

# Polygons whose areas differ by less may be one: our choice.
ONE_SIZE = 0.01


def as_reported(inputs: Inputs) -> tuple[tuple[Floats, tuple[int, ...]], ...]:
    """Return the soil tests as the laboratory has them, and their rows.

    Layers come apart, all that are uppermost first: a mean would hide a slip in one of
    them, and the top is richer than what lies below.
    """
    if not inputs.layers:
        return ((inputs.samples.value, inputs.samples.rows),)
    groups = []
    for order in range(max(len(one.row) for one in inputs.layers)):
        those = [one for one in inputs.layers if len(one.row) > order]
        tests = np.array([one.soil_test[order] for one in those])
        groups.append((tests, tuple(one.row[order] for one in those)))
    return tuple(groups)


def of_report(question: Question) -> Iterator[Finding]:
    """Yield what the report says of the whole field beside its soil tests."""
    plan, samples = question.plan, question.inputs.samples
    table, file, rows = plan.samples, samples.file, samples.rows
    column, ph = table.soil_test, samples.columns.get("ph")
    yield from conversion_checks.column_name(
        column,
        expressed=table.expressed_as is not None,
        computed=table.computed_from is not None,
        place=file,
    )
    yield from conversion_checks.column_contradicts(
        column,
        method=table.method,
        source=table.computed_from,
        unit=table.unit,
        place=file,
    )
    if table.expressed_as == "P2O5":
        yield from conversion_checks.from_p2o5(column=column, place=file)
    if table.computed_from is not None:
        yield from conversion_checks.computed_test(
            table.method, table.computed_from, column=column, place=file
        )
    if table.convert is not None:
        line = conversion(table.convert, method=table.method)
        yield from conversion_checks.converted_test(line, ph, rows, place=file)
    if ph is not None:
        yield from method_fit.method_ph(run_method(question), ph, rows, place=file)
    strong = samples.columns.get("bray_p2")
    if strong is not None:
        yield from bray.weak_and_strong(
            samples.value, strong, rows, unit=table.unit, place=file
        )
    yield from _stratified(question, np.arange(len(rows)), zone=None)


def of_positions(question: Question, *, repeated: int) -> Iterator[Finding]:
    """Yield what samples at one position tell; `repeated` of them were averaged."""
    samples = question.inputs.samples
    yield from layers.repeated_positions(
        repeated,
        _shared(samples.shape, samples.value),
        len(samples.rows),
        layered=bool(question.inputs.layers),
        place=samples.file,
    )


def _shared(shapes: NDArray[np.object_], values: Floats) -> int:
    """Return how many share their place with one of another value.

    Polygons are at one place if they are as large too: rings share their middle.
    """
    middles = np.asarray(shapely.centroid(shapes), dtype=object)
    one, other = shapely.STRtree(middles).query(
        middles, predicate="dwithin", distance=layers.ONE_PLACE
    )
    area = shapely.area(shapes)
    alike = np.isclose(area[one], area[other], rtol=ONE_SIZE)
    differ = alike & (values[one] != values[other])
    return len(np.unique(one[differ]))


def of_zone_report(
    question: Question, inside: NDArray[np.intp], *, zone: int
) -> Iterator[Finding]:
    """Yield what the report says of the samples in a zone beside their soil tests."""
    samples, table = question.inputs.samples, question.plan.samples
    rows = [samples.rows[index] for index in inside]
    columns = {key: column[inside] for key, column in samples.columns.items()}
    if "ph" in columns:
        yield from sample_checks.bray_p1_ph(
            run_method(question), columns["ph"], zone=zone, place=samples.file
        )
    factor, basis = soil_test_ppm_or_mg_l(1.0, table.unit)
    # The limits are by mass of soil, and mg/L is by volume.
    if "bray_p2" in columns and basis == "ppm":
        yield from bray.tied_up(
            samples.value[inside] * factor,
            columns["bray_p2"] * factor,
            rows,
            zone=zone,
            place=samples.file,
        )
    yield from _stratified(question, inside, zone=zone)


def run_method(question: Question) -> str:
    """Return the method that the laboratory ran, whatever its numbers count as."""
    table = question.plan.samples
    return table.computed_from or table.method


def _stratified(
    question: Question, inside: NDArray[np.intp], *, zone: int | None
) -> Iterator[Finding]:
    columns = question.inputs.samples.columns
    if "stratification" not in columns:
        return
    us = question.plan.units == "us"
    yield from layers.stratification(
        columns["stratification"][inside],
        top=columns["top_layer_depth"][inside] / (INCH * 100.0 if us else 1.0),
        unit="in" if us else "cm",
        place=question.inputs.samples.file,
        zone=zone,
    )
