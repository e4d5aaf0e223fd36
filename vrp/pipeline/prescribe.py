"""Step 6: a rate for every zone, its ledger, and the sums."""

from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray

from vrp.agronomy.economics import Case, response
from vrp.agronomy.need import ledger, need_curve
from vrp.evidence import LedgerLine, Source, half_up, shown
from vrp.pipeline.classing import treated_as_one
from vrp.pipeline.credits import taken_in
from vrp.pipeline.ground import (
    DECIMALS,
    Estimate,
    Floats,
    Inputs,
    Needs,
    Part,
    Question,
)
from vrp.pipeline.map_layers import samples, soil_test_map
from vrp.pipeline.products import products
from vrp.pipeline.reading import soil_test_lines
from vrp.pipeline.seasons import after_the_crops, zone_seasons
from vrp.pipeline.setbacks import water_facts
from vrp.pipeline.surface_facts import finite, surface_facts
from vrp.pipeline.uncertainty import need_interval
from vrp.prescription import (
    GuidelineFacts,
    Prescription,
    Zone,
)
from vrp.rates import Ground, settled_need, totals, zone
from vrp.spatial.field import geodesic_area
from vrp.spreading import Rate, Spreading
from vrp.units import KG_HA, RateUnit, soil_test_ppm_or_mg_l

# Of a zone's ground: composites with less of it are not in the zone. Our choice.
LEAST_SHARE = 0.001


def prescribe(
    question: Question, estimate: Estimate, needs: Needs, parts: tuple[Part, ...]
) -> tuple[Prescription, tuple[Rate, ...]]:
    """Return the prescription without findings, and the rates before limits."""
    plan, inputs, cells = question.plan, question.inputs, question.cells
    spreading = Spreading.of(plan, product=plan.product)
    above = question.curve.no_need_above
    grounds = [
        _ground(number, part, question, estimate, needs)
        for number, part in enumerate(parts, start=1)
    ]
    both = [
        zone(one, plan=plan, spreading=spreading, no_need_above=above)
        for one in grounds
    ]
    if_treated = {
        one.number: zone(
            replace(one, excluded=None),
            plan=plan,
            spreading=spreading,
            no_need_above=above,
        )[0]
        for one in grounds
        if one.excluded is not None
    }
    zones, seasons = after_the_crops(
        question,
        parts,
        tuple(_with_response(one, question) for one, _ in both),
        organic_matter=tuple(_organic_matter(part, inputs) for part in parts),
        unit=spreading.unit,
    )
    need = float(question.curve.at(estimate.composite))
    everywhere = np.arange(len(cells.xy))
    uniform, _ = settled_need(
        half_up(need / KG_HA[spreading.unit]),
        plan,
        credits=taken_in(
            everywhere,
            question,
            np.full(len(everywhere), need),
            soil_class=question.curve.word(estimate.composite),
        ),
        unit=spreading.unit,
    )
    sums = totals(
        zones,
        uniform_need=uniform,
        composite=estimate.composite,
        spreading=spreading,
    )
    treated = np.unique(
        np.concatenate([part.cells for part in parts if part.excluded is None])
    )
    ends = need_interval(question, estimate, needs, here=treated)
    if ends is not None:
        area = sums.treated_area / KG_HA[spreading.unit]
        low, high = (round(end * area) for end in ends)
        sums = replace(sums, need_low=low, need_high=high)
    prescription = Prescription(
        plan,
        round(cells.size / plan.metres_per_length, 3),
        samples(question, estimate),
        zones,
        sums,
        surface_facts(estimate),
        soil_test_map(question, estimate, needs),
        _guideline_facts(question),
        seasons,
        products(plan, zones),
        (),
        water=water_facts(question, parts, zones, if_treated=if_treated),
    )
    return prescription, tuple(rate for _, rate in both)


def _with_response(zone: Zone, question: Question) -> Zone:
    """Return a zone with a last line on how often phosphate raised the yield."""
    value, unit = soil_test_ppm_or_mg_l(zone.soil_test, question.curve.soil_test_unit)
    case = Case(
        question.inputs.guideline.publisher,
        question.plan.season[0].crop,
        question.plan.samples.counted_method,
        zone.soil_class,
        value if unit == "ppm" else None,
    )
    line = response(case)
    return zone if line is None else replace(zone, ledger=(*zone.ledger, line))


def samples_in(part: Part, inputs: Inputs) -> NDArray[np.intp]:
    """Return which samples lie in a zone: points in it, composites that it touches."""
    shape = part.shape
    if inputs.samples.shape[0].geom_type == "Point":
        x, y = inputs.samples.xy.T
        return np.flatnonzero(shapely.intersects_xy(shape, x, y))
    shared = shapely.area(shapely.intersection(inputs.samples.shape, shape))
    own = shapely.area(inputs.samples.shape)
    return np.flatnonzero(shared > 0.01 * np.minimum(own, shape.area))


def _organic_matter(part: Part, inputs: Inputs) -> float | None:
    """Return the mean organic matter of the samples in a zone [percent]."""
    values = inputs.samples.columns.get("organic_matter")
    if values is None:
        return None
    here = values[samples_in(part, inputs)]
    here = here[np.isfinite(here)]
    return round(float(here.mean()), DECIMALS) if len(here) else None


def _ground(
    number: int, part: Part, question: Question, estimate: Estimate, needs: Needs
) -> Ground:
    plan, guideline, here = question.plan, question.inputs.guideline, part.basis
    surface, seasons = estimate.surface, zone_seasons(part, question)
    asked = {"pool": plan.need.pool, "build_up": plan.need.build_up}
    curve = need_curve(guideline, seasons, **asked)
    low = high = short = expected = chosen = None
    on_cells = needs.chosen[here]
    if treated_as_one(plan, estimate):
        soil_test, averaged = estimate.composite, ""
        need = float(curve.at(soil_test))
        on_cells = np.full(len(here), need)
    elif surface is None:
        tests, shares = _composites(part, estimate)
        soil_test = round(float(tests @ shares), DECIMALS)
        averaged = f"{len(tests)} composites by area" if len(tests) > 1 else ""
        need = float(curve.at(tests) @ shares if averaged else curve.at(soil_test))
    else:
        soil_test = round(float(estimate.value[here].mean()), DECIMALS)
        need = float(needs.at[here].mean())
        none = int(np.count_nonzero(needs.at[here] == 0.0))
        averaged = f"{len(here)} cells"
        if 0 < none < len(here):
            averaged += f", {none} of them without need,"
        low, high = (finite(end, DECIMALS) for end in surface.interval(here))
        if needs.short is not None and needs.expected is not None:
            short = finite(needs.short[here].mean(), 2)
            expected = finite(needs.expected[here].mean())
        if plan.need.basis == "expected":
            chosen = float(needs.chosen[here].mean())
    lines = (
        *soil_test_lines(
            part,
            question,
            estimate,
            soil_test,
            inside=samples_in(part, question.inputs),
            interval=(low, high),
        ),
        *ledger(guideline, seasons, soil_test, **asked),
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
        f"{curve.critical:g} {curve.soil_test_unit}",
        seasons[0].yield_goal,
        need,
        expected,
        averaged,
        taken_in(here, question, on_cells, soil_class=curve.word(soil_test)),
        part.override,
        (*lines, *_converted(lines[-1], guideline.unit, question)),
        chosen,
        part.excluded,
    )


def _composites(part: Part, estimate: Estimate) -> tuple[Floats, Floats]:
    """Return the soil tests of the composites in a zone, and their shares of it."""
    shapes = np.array([one.shape for one in estimate.ground], dtype=object)
    areas = shapely.area(shapely.intersection(shapes, part.whole))
    # What borders that are a centimetre apart share is no part of the zone.
    areas[areas < LEAST_SHARE * areas.sum()] = 0.0
    inside = np.flatnonzero(areas)
    tests = np.array([estimate.ground[index].soil_test for index in inside])
    return tests, areas[inside] / areas.sum()


def _converted(
    need: LedgerLine, printed: RateUnit, question: Question
) -> tuple[LedgerLine, ...]:
    """Return the line that takes the guideline's unit to the plan's, if they differ."""
    unit: RateUnit = "lb/ac" if question.plan.units == "us" else "kg/ha"
    if unit == printed or need.value is None:
        return ()
    factor = KG_HA[printed] / KG_HA[unit]
    there = need.value * factor
    arithmetic = f"{shown(need.value)} × {factor:.6f} = {there:.1f}"
    source = Source("read", "international yard and pound agreement, 1959")
    mass, area = unit.split("/")
    named = f"{mass} P2O5/{area}"
    rule = "the guideline's unit to the plan's"
    return (LedgerLine("converted", arithmetic, there, named, rule, source),)


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
        plan.need.region,
        plan.need.build_years,
        curve.soil_test_unit,
        curve.critical,
        curve.no_need_above if np.isfinite(curve.no_need_above) else None,
    )
