"""Steps 1 and 2, on water: rules become distances, and distances excluded ground."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from vrp.agronomy import setback_checks
from vrp.agronomy.water import distance
from vrp.agronomy.water_rules import Feature
from vrp.errors import InputError
from vrp.evidence import Finding, Source, shown
from vrp.pipeline.ground import Inputs, Keep, Part, Question
from vrp.plan import Application, Plan
from vrp.prescription import Prescription, Setback, WaterFacts, WaterLines, Zone
from vrp.rates import Excluded
from vrp.spatial.field import LONLAT, geodesic_area, reproject
from vrp.spatial.regions import Shape, Shapes
from vrp.spatial.setbacks import (
    WaterFeatures,
    edge,
    nearest,
    setbacks,
    take_out,
)
from vrp.units import FOOT
from vrp.water_plan import FeatureFile, WaterPlan

# A spreader throws to its side by these; None may be any of them.
THROWN = ("broadcast", "incorporated", None)
# Of the field's longer side: so far around it drawings show water. Our choice.
SHOWN_AROUND = 0.1
MOST_LISTED = 6  # features that a reason names, our choice


@dataclass(frozen=True, slots=True)
class Taken:
    """Polygons that tile the field, and why those of them are excluded that are."""

    shapes: list[Shape]
    why: list[Excluded | None]
    strip: list[bool]
    source: list[int | None]  # index among the polygons that were given


def keeps(plan: Plan, inputs: Inputs) -> tuple[Keep, ...]:
    """Return how far product is kept from the features of each file and kind."""
    if plan.water is None:
        return ()
    return tuple(
        _keep(plan, inputs, asked, features, kind)
        for asked, features in zip(plan.water.features, inputs.water, strict=True)
        for kind in dict.fromkeys(features.kinds)
    )


def throw(plan: Plan) -> float | None:
    """
    Return how far the spreader throws past its side [m], None where nobody knows.

    Half the swath where it is spread broadcast, and nothing with border spreading.
    """
    method = None if plan.application is None else plan.application.method
    if method not in THROWN or plan.machine.border:
        return 0.0
    if plan.machine.swath is None:
        return None
    return plan.machine.swath * plan.metres_per_length / 2.0


def exclude(question: Question, shapes: Sequence[Shape]) -> Taken | None:
    """Return polygons without excluded ground, and that ground; None without any."""
    plan, outline = question.plan, question.inputs.field.outline
    counted = [one for one in question.keeps if one.distance is not None]
    far = throw(plan) or 0.0
    found = setbacks(
        outline, [(_near(one, far), one.distance or 0.0) for one in counted], throw=far
    )
    ground = [*found.kept, found.strip]
    if all(one is None for one in ground):
        return None
    left, out = take_out(shapes, ground)
    if not any(one is not None for one in left):
        message = (
            "water: the whole field lies within the distances from "
            f"{' and '.join(sorted({_file(one) for one in counted}))}, so nothing can "
            "be spread on it: check the distances and the unit of length"
        )
        raise InputError(message)
    taken = Taken([], [], [], [])
    for index, shape in enumerate(left):
        if shape is not None:
            _add(taken, shape, None, source=index)
    for one, shape in zip(counted, out[:-1], strict=True):
        if shape is not None:
            _add(taken, shape, _within(one, plan))
    if out[-1] is not None:
        _add(taken, out[-1], _beside(plan, far), strip=True)
    return taken


def _add(
    taken: Taken,
    shape: Shape,
    why: Excluded | None,
    *,
    strip: bool = False,
    source: int | None = None,
) -> None:
    taken.shapes.append(shape)
    taken.why.append(why)
    taken.strip.append(strip)
    taken.source.append(source)


def water_facts(
    question: Question,
    parts: tuple[Part, ...],
    zones: tuple[Zone, ...],
    *,
    if_treated: dict[int, Zone],
) -> WaterFacts | None:
    """Return what is kept out; `if_treated`: excluded zones as they would have been."""
    plan = question.plan
    if plan.water is None or not plan.water.features:
        return None
    both = [
        (part, zone)
        for part, zone in zip(parts, zones, strict=True)
        if part.excluded is not None
    ]
    kept = [zone for part, zone in both if not part.strip]
    strip = [zone for part, zone in both if part.strip]
    far, unit = throw(plan), plan.metres_per_length

    def product(some: list[Zone]) -> float:
        return round(sum(if_treated[zone.number].total for zone in some), 1)

    return WaterFacts(
        tuple(_facts(question, one) for one in question.keeps),
        None if far is None else round(far / unit, 2),
        round(sum(zone.area for zone in kept), 5),
        round(sum(if_treated[zone.number].need * zone.area for zone in kept), 1),
        product(kept),
        round(sum(zone.area for zone in strip), 5),
        product(strip),
        _lines(question, parts),
    )


def of_setbacks(
    question: Question, parts: tuple[Part, ...], prescription: Prescription
) -> Iterator[Finding]:
    """Return the findings on water features, distances and excluded ground."""
    plan, water = question.plan, prescription.water
    if water is None or plan.water is None:
        yield from setback_checks.no_features()
        return
    length, unit = _length(plan), "ac" if plan.units == "us" else "ha"
    if water.throw is None and any(one.distance for one in question.keeps):
        yield from setback_checks.throw_unknown()
    if prescription.totals.excluded_area > 0.0:
        spread = f"{plan.measure}/{unit}"
        yield from setback_checks.default_rate(plan.machine.default_rate, spread)
    per = plan.metres_per_length
    for one in question.keeps:
        away = float(one.nearest.min())
        yield from setback_checks.far(
            one.kind, away / per, length, file=one.file, system=plan.units
        )
        yield from setback_checks.below_rule(
            one.kind,
            away / per if one.distance is None else one.said,
            one.asked,
            length,
            file=one.file,
            forbidden=one.forbidden,
        )
        if one.distance is None:
            yield from setback_checks.already(one.kind, away / per, length, one.file)
    for part, zone in zip(parts, prescription.zones, strict=True):
        if zone.excluded is not None:
            yield from setback_checks.setback(
                zone.excluded,
                strip=part.strip,
                area=f"{zone.area:.2f} {unit}",
                zone=zone.number,
            )
    yield from _overrides(question, prescription)


def _overrides(question: Question, prescription: Prescription) -> Iterator[Finding]:
    """Return what the plan's overrides set on ground that is excluded all the same."""
    inputs, plan = question.inputs, question.plan
    out = [zone for zone in prescription.zones if zone.excluded is not None]
    if not out:
        return
    ground = shapely.union_all([zone.geometry for zone in out])
    per, unit = plan.square_metres_per_area, "ac" if plan.units == "us" else "ha"
    for number, (one, drawn) in enumerate(
        zip(plan.override, inputs.overrides, strict=True), start=1
    ):
        if one.point is not None:
            if ground.intersects(shapely.Point(one.point)):
                yield from setback_checks.override(number, None)
            continue
        assert drawn is not None
        shape = reproject(shapely.union_all(drawn), inputs.field.crs, LONLAT)
        shared = geodesic_area(shapely.intersection(shape, ground)) / per
        if shared > 0.0005:
            yield from setback_checks.override(number, f"{shared:.3g} {unit}")


def _keep(
    plan: Plan, inputs: Inputs, asked: FeatureFile, features: WaterFeatures, kind: str
) -> Keep:
    water = plan.water
    assert water is not None
    here = [at for at, one in enumerate(features.kinds) if one == kind]
    shapes = features.shapes[here]
    rows = tuple(features.rows[at] for at in here)
    away = nearest(shapes, inputs.field.outline)
    common = (kind, features.file, rows, shapes, away)
    by_rule = _by_rule(plan, inputs, kind)
    if asked.already_set_back:
        rule = "the boundary was drawn with the distance kept, as the field file says"
        source = Source("given", "field file: already_set_back")
        near = float(away.min()) / plan.metres_per_length
        return Keep(*common, None, None, rule, source, *_more(by_rule, than=near))
    given, key = _given(water, asked, kind)
    if given is not None:
        rule = "distance of the field file"
        source = Source("given", f"field file: {key}")
        metres = given * plan.metres_per_length
        more = _more(by_rule, than=given)
        return Keep(*common, metres, given, rule, source, *more)
    if by_rule is not None:
        said, metres = by_rule.distance, by_rule.distance * plan.metres_per_length
        return Keep(*common, metres, said, by_rule.text, by_rule.source)
    raise InputError(_no_distance(plan, inputs, features.file, kind))


def _given(water: WaterPlan, asked: FeatureFile, kind: str) -> tuple[float | None, str]:
    """Return the distance that the plan gives, and under which key."""
    if asked.distance is not None:
        return asked.distance, f"distance of {asked.file.name}"
    given = next((far for one, far in water.distance.items() if one == kind), None)
    return given, f"water.distance.{kind}"


@dataclass(frozen=True, slots=True)
class _Ruled:
    """The greatest distance of the plan's rules."""

    distance: float  # in the plan's unit of length
    text: str
    source: Source
    forbids: bool


def _more(ruled: _Ruled | None, *, than: float) -> tuple[float | None, bool]:
    """Return a rule's distance where it is more than the plan's; whether it forbids."""
    if ruled is None or ruled.distance <= than:
        return None, False
    return ruled.distance, ruled.forbids


def _by_rule(plan: Plan, inputs: Inputs, kind: str) -> _Ruled | None:
    """Return the greatest distance of the plan's rules, in its unit of length."""
    placed, best = plan.application or Application(), None
    feature: Feature = kind  # type: ignore[assignment]  # the plan's kinds are the same
    for each in inputs.rules:
        found = distance(
            each,
            kind=feature,
            material=plan.product.material,
            form=plan.product.form,
            method=placed.method,
            worked_in=placed.incorporated_within,
        )
        if found is None:
            continue
        feet, rule, source = found
        said = feet if plan.units == "us" else round(feet * FOOT, 3)
        if best is None or said > best.distance:
            text = rule.text
            if rule.alternative is not None:
                text += f"; not applied here: {rule.alternative}"
            where = f"{each.citation}: {source.where}"
            forbids = rule.does == "forbids"
            best = _Ruled(said, text, Source(source.status, where), forbids)
    return best


def _no_distance(plan: Plan, inputs: Inputs, file: str, kind: str) -> str:
    length = "feet" if plan.units == "us" else "metres"
    message = f"water: {file} has a {kind}, and no distance is given for it"
    if inputs.rules:
        sets = ", ".join(one.id for one in inputs.rules)
        message += f"; the rules {sets} keep none for {plan.product.material} placed so"
    return (
        f"{message}: write {kind} = a number of {length} under [water.distance] (0 if "
        "none is kept), or name rules that have one"
    )


def _near(one: Keep, far: float) -> Shapes:
    """Return the features that reach the field: of a country's map these are few."""
    # A little more: chords are drawn about the circle.
    reach = 1.001 * ((one.distance or 0.0) + far) + 1.0
    near: Shapes = one.shapes[one.nearest <= reach]
    return near


def _within(one: Keep, plan: Plan) -> Excluded:
    rows = [
        row
        for row, away in zip(one.rows, one.nearest.tolist(), strict=True)
        if away <= (one.distance or 0.0)
    ]
    reason = f"within {shown(one.said or 0.0, most=1)} {_length(plan)} of {one.kind}"
    if not one.said:
        reason = f"{one.kind} itself"
    reason += f" ({one.file}, {_rows(rows)})"
    return Excluded(reason, f"nothing is applied: {one.rule}", one.source)


def _beside(plan: Plan, far: float) -> Excluded:
    length, half = _length(plan), shown(far / plan.metres_per_length, most=1)
    swath = shown(plan.machine.swath or 0.0, most=1)
    return Excluded(
        f"not driven: {half} {length} beside a setback",
        f"half the swath of {swath} {length}: a spreader that drives here throws into "
        "the setback; the pass along it throws its rate here",
        Source("our-choice", "the rate at the machine's place is 0 up to this edge"),
    )


def _rows(rows: Sequence[int]) -> str:
    named = ", ".join(str(row) for row in rows[:MOST_LISTED])
    more = f" and {len(rows) - MOST_LISTED} more" if len(rows) > MOST_LISTED else ""
    return f"feature{'s' if len(rows) > 1 else ''} {named}{more}"


def _file(one: Keep) -> str:
    return f"the {one.kind} of {one.file}"


def _length(plan: Plan) -> str:
    return "ft" if plan.units == "us" else "m"


def _facts(question: Question, one: Keep) -> Setback:
    plan, outline = question.plan, question.inputs.field.outline
    per, area, rows = plan.metres_per_length, 0.0, one.rows
    no_drive = None
    if one.distance is not None:
        near = [(_near(one, 0.0), one.distance)]
        (ground,) = setbacks(outline, near, throw=0.0).kept
        if ground is not None:
            lonlat = reproject(ground, question.inputs.field.crs, LONLAT)
            area = geodesic_area(lonlat) / plan.square_metres_per_area
        far = one.distance + (throw(plan) or 0.0)
        no_drive = round(far / per, 2)
        rows = tuple(
            row
            for row, away in zip(one.rows, one.nearest.tolist(), strict=True)
            if away <= far
        )
    return Setback(
        one.kind,
        one.file,
        rows,
        one.said,
        no_drive,
        round(float(one.nearest.min()) / per, 1),
        round(area, 4),
        one.rule,
        one.source,
    )


def _lines(question: Question, parts: tuple[Part, ...]) -> WaterLines:
    field = question.inputs.field
    west, south, east, north = field.outline.bounds
    around = SHOWN_AROUND * max(east - west, north - south)
    frame = shapely.box(west - around, south - around, east + around, north + around)
    shapes = np.concatenate([one.shapes for one in question.inputs.water])
    near = shapely.intersection(shapes[shapely.intersects(shapes, frame)], frame)
    features = shapely.GeometryCollection(list(near))
    whole = [part.lonlat for part in parts]
    kept = [part.lonlat for part in parts if part.excluded and not part.strip]
    out = [part.lonlat for part in parts if part.excluded]
    none: shapely.Geometry = shapely.MultiLineString()
    return WaterLines(
        reproject(features, field.crs, LONLAT),
        edge(kept, whole) if kept else none,
        edge(out, whole) if out else none,
    )
