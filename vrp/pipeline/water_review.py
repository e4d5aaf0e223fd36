"""What matters for water in each zone, and what a person must look at there."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import shapely

from vrp.agronomy import water_fact_checks
from vrp.agronomy.checks import checks
from vrp.agronomy.drawdown import Drawdown, seasons_until
from vrp.agronomy.forecast import Model
from vrp.agronomy.indices import index_class, manure_screen
from vrp.agronomy.water_case import Handling, ZoneCase
from vrp.agronomy.water_facts import ZoneWater, ppm, weigh
from vrp.errors import InputError
from vrp.evidence import Finding
from vrp.pipeline.ground import Part, Question
from vrp.pipeline.seasons import outlook
from vrp.pipeline.setbacks import throw
from vrp.plan import Application
from vrp.prescription import Prescription, SeasonFacts, Zone
from vrp.spatial.slope import mean_slope
from vrp.units import ACRE, FOOT, HECTARE, INCH, KG_HA, SHORT_TON, RateUnit
from vrp.water_plan import IndexMap, IndexPlan, ScreenPlan

# Features that carry runoff to a stream or are one; a well and a slope are none. Our
# choice.
LEADS_TO_WATER = frozenset(
    {"stream", "ditch", "lake", "wetland", "tile-inlet", "sinkhole", "other"}
)
# Of a zone's ground: polygons with less of it do not give it their index. Our choice.
LEAST_SHARE = 0.01
SURFACE_WATER = frozenset({"stream", "ditch", "lake", "wetland"})
_NAMED = {
    "stream": "a stream",
    "ditch": "a ditch",
    "lake": "a lake",
    "wetland": "a wetland",
    "tile-inlet": "a tile inlet",
    "sinkhole": "a sinkhole",
    "other": "another feature",
}


def water_of_zones(
    question: Question, parts: tuple[Part, ...], prescription: Prescription
) -> tuple[ZoneWater, ...]:
    """Return the facts of every zone, the one with most against it first."""
    plan = question.plan
    # Ground that is kept out gets nothing, and what rules say of it is said elsewhere.
    cases = [
        _case(question, part, zone, ground=_thrown(question, part, zone, parts))
        for part, zone in zip(parts, prescription.zones, strict=True)
        if part.excluded is None
    ]
    found = weigh(cases, _handling(question), system=plan.units)
    seasons: dict[int, SeasonFacts] = {}
    for facts in prescription.seasons:
        seasons.setdefault(facts.zone, facts)  # the first
    zones = {zone.number: zone for zone in prescription.zones}
    model, _ = outlook(question)
    return tuple(
        replace(
            one,
            seasons=_seasons(question, model, zones[one.zone], seasons[one.zone]),
        )
        for one in found
    )


def of_water(
    question: Question, parts: tuple[Part, ...], prescription: Prescription
) -> Iterator[Finding]:
    """Return what there is to mind where the soil is rich or water is near."""
    curve, terrain = question.curve, question.inputs.terrain
    unit, limit = curve.soil_test_unit, _limit(question)
    zones = {zone.number: zone for zone in prescription.zones}
    if terrain is not None:
        us = question.plan.units == "us"
        cell = terrain.cell / (FOOT if us else 1.0)
        yield from water_fact_checks.slope_as_read(
            terrain.file,
            cell=f"{cell:.0f} {'ft' if us else 'm'}",
            heights=terrain.heights,
        )
    water = question.plan.water
    if water is not None and water.p_index is not None:
        yield from _indices(question, parts, prescription, water.p_index)
    for found in sorted(prescription.water_zones, key=lambda one: one.zone):
        zone = zones[found.zone]
        yield from water_fact_checks.over_no_need(
            zone.soil_test, limit, unit=unit, applied=zone.applied, zone=zone.number
        )
        yield from water_fact_checks.very_high(
            found, unit=unit, limit=limit, applied=zone.applied
        )
        yield from water_fact_checks.on_top_near_water(found)
        slope = next(one for one in found.facts if one.name == "slope")
        if terrain is not None and slope.stands == "not known":
            yield from water_fact_checks.slope_missing(terrain.file, zone=zone.number)
    if water is not None and water.manure_screen is not None:
        yield from _screened(question, parts, prescription, water.manure_screen)


def _indices(
    question: Question,
    parts: tuple[Part, ...],
    prescription: Prescription,
    asked: IndexPlan,
) -> Iterator[Finding]:
    """Return the class of an index, of the field or of each zone that is not kept."""
    areas = question.inputs.p_index
    if not isinstance(asked.value, IndexMap):
        found = index_class(asked.value, which=asked.set)
        yield from water_fact_checks.index_as_given(asked.value, found)
        return
    assert areas is not None
    for part, zone in zip(parts, prescription.zones, strict=True):
        if part.excluded is not None:
            continue
        shared = shapely.area(shapely.intersection(areas.shapes, part.shape))
        here = areas.values[shared > LEAST_SHARE * part.shape.area]
        if len(here) == 0:
            yield from water_fact_checks.index_missing(areas.file, zone=zone.number)
            continue
        value = float(here.max())
        found = index_class(value, which=asked.set)
        yield from water_fact_checks.index_as_given(value, found, zone=zone.number)


def _screened(
    question: Question,
    parts: tuple[Part, ...],
    prescription: Prescription,
    asked: ScreenPlan,
) -> Iterator[Finding]:
    """Return what a table allows of manure in each zone that is not kept out."""
    key = "water.manure_screen"
    erosion = asked.erosion
    if question.plan.units == "metric":
        erosion /= SHORT_TON / 1000.0 / (ACRE / HECTARE)
    for part, zone in zip(parts, prescription.zones, strict=True):
        if part.excluded is not None:
            continue
        near = _nearest(question, _thrown(question, part, zone, parts), SURFACE_WATER)
        if near is None:
            kinds = ", ".join(sorted(SURFACE_WATER))
            message = f"{key}: needs a distance: name water.features of kind {kinds}"
            raise InputError(message)
        test = ppm(zone.soil_test, question.curve.soil_test_unit)
        if test is None:
            raise InputError(f"{key}: is for soil tests by mass, these are by volume")
        found = manure_screen(
            test,
            method=question.plan.samples.counted_method,
            feet=near[0] / FOOT,
            erosion=erosion,
            filter_strip=asked.filter_strip,
        )
        yield from water_fact_checks.manure_as_screened(found, zone=zone.number)


def _case(
    question: Question, part: Part, zone: Zone, *, ground: shapely.Geometry
) -> ZoneCase:
    plan, terrain = question.plan, question.inputs.terrain
    unit: RateUnit = "lb/ac" if plan.units == "us" else "kg/ha"
    near = _nearest(question, ground, LEADS_TO_WATER)
    return ZoneCase(
        zone=zone.number,
        soil_test=zone.soil_test,
        unit=question.curve.soil_test_unit,
        method=plan.samples.counted_method,
        no_need_above=_limit(question),
        p2o5=zone.applied * KG_HA[unit],
        distance=None if near is None else near[0],
        water="water" if near is None else _NAMED[near[1]],
        slope=None if terrain is None else mean_slope(terrain, part.shape),
    )


def _thrown(
    question: Question, part: Part, zone: Zone, parts: tuple[Part, ...]
) -> shapely.Geometry:
    """Return the ground where a zone's product lies: its edge throws on the strip."""
    far = throw(question.plan) or 0.0
    strips = [one.shape for one in parts if one.strip]
    if not strips or zone.rate <= 0.0:
        return part.shape
    beside = shapely.intersection(part.shape.buffer(far), shapely.union_all(strips))
    return shapely.GeometryCollection([part.shape, beside])


def _nearest(
    question: Question, ground: shapely.Geometry, kinds: frozenset[str]
) -> tuple[float, str] | None:
    """Return how far the nearest feature is from ground [m], and its kind."""
    found = []
    for one in question.inputs.water:
        counted = np.isin(one.kinds, list(kinds))
        if counted.any():
            distances = shapely.distance(one.shapes[counted], ground)
            at = int(distances.argmin())
            kind = str(np.asarray(one.kinds)[counted][at])
            found.append((float(distances[at]), kind))
    return min(found, default=None)


def _handling(question: Question) -> Handling:
    plan, samples = question.plan, question.inputs.samples
    placed = plan.application or Application()
    size = INCH if plan.units == "us" else 0.01
    ratios = samples.columns.get("stratification")
    cut = np.empty(0) if ratios is None else ratios[~np.isnan(ratios)]
    rich = checks()["no-till-stratified"].at("us").value
    return Handling(
        method=placed.method,
        depth=None if placed.depth is None else placed.depth * size,
        tillage=placed.tillage,
        residue=plan.season[0].residue,
        month=None if placed.date is None else placed.date.month,
        southern=bool(shapely.bounds(question.inputs.field.lonlat)[1] < 0.0),
        stratified=len(cut) > 0 and float(np.median(cut)) > rich,
    )


def _limit(question: Question) -> float | None:
    limit = question.curve.no_need_above
    return float(limit) if np.isfinite(limit) else None


def _seasons(
    question: Question, model: Model | None, zone: Zone, first: SeasonFacts
) -> Drawdown | None:
    """Return how long a rich soil takes to come down, where that is told."""
    limit = _limit(question)
    if limit is None or zone.soil_test <= limit or model is None or not first.removal:
        return None
    unit: RateUnit = "lb/ac" if question.plan.units == "us" else "kg/ha"
    return seasons_until(
        model, zone.soil_test, limit, removed=first.removal * KG_HA[unit]
    )
