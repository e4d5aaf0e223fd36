"""Water on a map of the field: the features, ground kept from them, and its edges."""

from collections.abc import Iterable
from typing import Any

import shapely

from vrp.legend import NOTHING, area_unit
from vrp.prescription import Prescription, WaterLines
from vrp.report.map_frame import MARGIN, Ground, hatching
from vrp.report.svg import SMALL, box, path, say, short

# Black and white stand out from every colour of the scale, and from grey.
_INK, _CASING = "#1b1b1b", "#ffffff"
_DASHES = "5 3"
_BEYOND = 6.0  # that water runs on over the field's edge


def hatched(area: shapely.Geometry) -> str:
    """Return lines over ground where nothing is spread since water is near."""
    look = f'fill="none" stroke="{_INK}" stroke-width="0.7"'
    return f'<path data-part="excluded" {look} d="{path(hatching(area))}"/>'


def edges(ground: Ground, lines: WaterLines) -> list[str]:
    """Return the water, and how far it keeps product and machine."""
    frame = shapely.box(
        _BEYOND,
        ground.top - _BEYOND,
        ground.width - _BEYOND,
        ground.bottom + _BEYOND,
    )
    water = shapely.intersection(ground.drawn(lines.features), frame)
    parts = []
    for one in _parts(water):
        if one.geom_type == "Point":
            at = f'cx="{short(one.x)}" cy="{short(one.y)}" r="2.6"'
            look = f'fill="{_INK}" stroke="{_CASING}" stroke-width="1"'
            parts.append(f'<circle data-part="water" {at} {look}/>')
            continue
        drawn = one.boundary if one.geom_type == "Polygon" else one
        parts += _line(drawn, part="water", width=2.4, dashes="")
    parts += _line(
        ground.drawn(lines.no_drive), part="no-drive", width=1.1, dashes=_DASHES
    )
    parts += _line(ground.drawn(lines.no_apply), part="no-apply", width=1.3, dashes="")
    return parts


def water_keys(
    prescription: Prescription, y: float, *, width: float
) -> tuple[list[str], float]:
    """Return what the marks of water mean, and where that ends."""
    water = prescription.water
    out = [zone for zone in prescription.zones if zone.excluded is not None]
    if water is None or not out:
        return [], y
    area, length = area_unit(prescription), "ft"
    if prescription.plan.units == "metric":
        length = "m"
    left, right, room = MARGIN, MARGIN + 16.0, width - 2.0 * MARGIN - 24.0
    parts = [
        box(left, y, 16.0, 11.0, look=f'fill="{NOTHING}" stroke="currentColor"'),
        hatched(shapely.box(left, y, right, y + 11.0)),
    ]
    texts = [f"kept from water: rate 0 · {sum(one.area for one in out):,.1f} {area}"]
    marks = [("no-apply", 1.3, "", "to here nothing is spread")]
    if water.throw:
        said = f"to here nothing is driven: {water.throw:g} {length} of throw"
        marks.append(("no-drive", 1.1, _DASHES, said))
    marks.append(("water", 2.4, "", "water"))
    for at, (part, thick, dashes, text) in enumerate(marks, start=1):
        middle = y + 17.0 * at + 5.5
        sample = shapely.LineString([(left, middle), (right, middle)])
        parts += _line(sample, part=f"key-{part}", width=thick, dashes=dashes)
        texts.append(text)
    for at, text in enumerate(texts):
        line = y + 17.0 * at + 9.5
        parts.append(say(text, left + 22.0, line, size=SMALL, room=room))
    return parts, y + 17.0 * len(texts) + 8.0


def _line(
    geometry: shapely.Geometry, *, part: str, width: float, dashes: str
) -> list[str]:
    stretches = [
        [(float(x), float(y)) for x, y in shapely.get_coordinates(one)]
        for one in _parts(geometry)
        if one.length > 0.0
    ]
    if not stretches:
        return []
    drawn = path(stretches)
    dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
    return [
        f'<path fill="none" stroke="{_CASING}" stroke-width="{short(width + 1.6)}" '
        f'd="{drawn}"/>',
        f'<path data-part="{part}" fill="none" stroke="{_INK}" '
        f'stroke-width="{short(width)}"{dashed} d="{drawn}"/>',
    ]


def _parts(geometry: shapely.Geometry) -> Iterable[Any]:
    """Return the simple parts of a geometry, however they are collected."""
    for one in shapely.get_parts(geometry):
        if one.geom_type.startswith("Multi") or one.geom_type == "GeometryCollection":
            yield from _parts(one)
        elif not one.is_empty:
            yield one
