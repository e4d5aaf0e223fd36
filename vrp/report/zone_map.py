"""Maps of the zones: the rate, or the soil test of composites, printed on each part."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import shapely

from vrp.evidence import percent, shown, whole
from vrp.legend import (
    NOTHING,
    area_unit,
    cividis,
    product_rate_unit,
    product_unit,
    rate_classes,
    rate_unit,
)
from vrp.prescription import Prescription, Zone
from vrp.report.map_frame import (
    MARGIN,
    Ground,
    area_path,
    dotted,
    has_holes,
    ink,
    label_inside,
    lettered,
    outline,
    polygons,
    scale_bar,
)
from vrp.report.plot import breaks
from vrp.report.svg import (
    HEADING,
    SMALL,
    TEXT,
    box,
    breadth,
    escaped,
    framed,
    say,
    say_all,
)
from vrp.report.water_lines import edges, hatched, water_keys

WIDTH = 400.0
# Of the figure on a zone: our choice, the least is what paper still shows.
_SIZES = (14.0, 11.0, 9.0, 7.5)
_BESIDE = 8.5  # of the zone's number below the figure
_MOST_TOLD = 12  # zones that the description names


@dataclass(frozen=True, slots=True)
class Shade:
    """Values drawn alike: above `low` and up to `high`."""

    low: float
    high: float
    label: str
    colour: str


def rate_map(
    prescription: Prescription, *, width: float = WIDTH, linked: bool = False
) -> str:
    """Return the rates, printed on their ground; linked, a zone leads to its card."""
    unit = product_rate_unit(prescription)
    shades = [
        Shade(one.low, one.high, one.label, one.colour)
        for one in rate_classes(prescription)
    ]
    return _zone_map(
        prescription,
        lambda zone: zone.rate,
        shades,
        width=width,
        words=(f"Rate of {prescription.plan.product.grade}", unit),
        linked=linked,
    )


def soil_test_zones(prescription: Prescription, *, width: float = WIDTH) -> str:
    """Return the soil test of each zone: what composites show of a field."""
    unit = prescription.guideline.soil_test_unit
    values = [zone.soil_test for zone in prescription.zones]
    return _zone_map(
        prescription,
        lambda zone: zone.soil_test,
        shades_of(values, unit),
        width=width,
        words=("Soil test P by zone", unit),
    )


def shades_of(values: Sequence[float], unit: str) -> list[Shade]:
    """Return round classes of values, light to dark as they rise, none of them idle."""
    edges = breaks(min(values), max(values))
    last = max(len(edges) - 2, 1)
    if len(edges) < 2:
        return [
            Shade(-float("inf"), float("inf"), f"{edges[0]:g} {unit}", cividis(1.0))
        ]
    return [
        Shade(low, high, f"{low:g}–{high:g} {unit}", cividis(1.0 - at / last))
        for at, (low, high) in enumerate(pairwise(edges))
    ]


def _zone_map(
    prescription: Prescription,
    value: Callable[[Zone], float],
    shades: Sequence[Shade],
    *,
    width: float,
    words: tuple[str, str],
    linked: bool = False,
) -> str:
    heading, unit = words
    ground = Ground.of(prescription, width=width, top=48.0)
    lines = None if prescription.water is None else prescription.water.lines
    treated = [zone for zone in prescription.zones if zone.excluded is None]
    drawn: list[str] = []
    letters: list[str] = []
    unnamed: list[Zone] = []
    for zone in prescription.zones:
        shade = shade_of(value(zone), shades)
        said = shown(value(zone), most=2)
        shape = ground.drawn(zone.geometry)
        tip = tip_of(prescription, zone)
        kind = ink(shade.colour)
        edge = "#1b1b1b" if kind == "on-light" else "#ffffff"
        # Linked, the page itself shows the figures.
        title = "" if linked else f"<title>{escaped(tip)}</title>"
        inside = [
            f'<path data-zone="{zone.number}" fill="{shade.colour}" '
            f'fill-rule="evenodd" stroke="{edge}" stroke-width="0.6" '
            f'd="{area_path(shape)}">{title}</path>'
        ]
        if zone.excluded is not None:
            inside.append(hatched(shape))
        elif shade.colour == NOTHING:
            inside.append(dotted(shape))
        if linked:
            to = f'href="#{card_of(zone)}" data-rate="{zone.rate!r}"'
            inside = [f'<a {to} aria-label="{escaped(tip)}">', *inside, "</a>"]
        drawn += inside
        if zone.excluded is not None:
            continue  # hatching says its rate
        marks = _letters(shape, said, number=zone.number, kind=kind)
        letters += marks
        if not marks:
            unnamed.append(zone)
    legend, y = keys(
        [
            (one.colour, f"{one.label} · {_area(prescription, value, shades, one)}")
            for one in shades
            if any(shade_of(value(zone), shades) == one for zone in treated)
        ],
        ground.bottom + 40.0,
        width=width,
    )
    more, y = water_keys(prescription, y, width=width)
    legend += more
    notes = []
    if has_holes(ground):
        bare = " without grey" if len(treated) < len(prescription.zones) else ""
        notes.append(f"Hatched{bare}: left out of the field.")
    if unnamed:
        notes.append(
            f"On {len(unnamed)} of {len(treated)} zones there is no room "
            "for the figure; the table holds it."
        )
    for note in notes:
        more, y = say_all(note, MARGIN, y + 2.0, room=width - 2.0 * MARGIN)
        legend += more
    return framed(
        f"{heading}, {name_of(prescription)}",
        _told(prescription, value, unit),
        width=width,
        height=y,
        parts=[
            *headed(prescription, f"{heading} [{unit}]", width=width),
            *drawn,
            *outline(ground),
            *(() if lines is None else edges(ground, lines)),
            *letters,
            *scale_bar(ground, prescription.plan, y=ground.bottom + 20.0),
            *legend,
        ],
        # What is an image to a screen reader has nothing in it to be chosen.
        role="group" if linked else "img",
    )


def card_of(zone: Zone) -> str:
    """Return the name of the place that tells of a zone."""
    return f"zone-{zone.number}"


def tip_of(prescription: Prescription, zone: Zone) -> str:
    """Return the figures of a zone in a line."""
    area, unit = area_unit(prescription), prescription.guideline.soil_test_unit
    chance = zone.probability_short
    short = "" if chance is None else f", {percent(chance)} chance of being short"
    why = "" if zone.excluded is None else f"; {zone.excluded}"
    return (
        f"zone {zone.number}: {shown(zone.rate, most=2)} "
        f"{product_rate_unit(prescription)} of {prescription.plan.product.grade} on "
        f"{zone.area:.1f} {area}; soil test {zone.soil_test:.1f} {unit}, "
        f"{zone.soil_class}{short}; need {zone.need:.0f} {rate_unit(prescription)} of "
        f"P2O5; {whole(zone.total)} {product_unit(prescription)} in the zone{why}"
    )


def shade_of(value: float, shades: Sequence[Shade]) -> Shade:
    """Return the class of a value; the lowest takes in its own lower end."""
    return next((one for one in shades if value <= one.high), shades[-1])


def _letters(
    shape: shapely.Geometry, said: str, *, number: int, kind: str
) -> list[str]:
    """Return the figure on each part of a zone that has room for it."""
    beside = f"zone {number}"
    choices = [
        [(said, _SIZES[0]), (beside, _BESIDE)],
        [(said, _SIZES[1]), (beside, _BESIDE)],
        *([(said, size)] for size in _SIZES),
    ]
    found = []
    for part in polygons(shape):
        placed = label_inside(part, choices)
        if placed is not None:
            at, label = placed
            found += lettered(label, choices[at], kind=f"{kind} value")
    return found


def _area(
    prescription: Prescription,
    value: Callable[[Zone], float],
    shades: Sequence[Shade],
    shade: Shade,
) -> str:
    inside = [
        zone.area
        for zone in prescription.zones
        if zone.excluded is None and shade_of(value(zone), shades) == shade
    ]
    return f"{sum(inside):,.1f} {area_unit(prescription)}"


def keys(
    entries: Sequence[tuple[str, str]], y: float, *, width: float
) -> tuple[list[str], float]:
    """Return the legend, in two columns where they fit, and where it ends."""
    room = (width - 2.0 * MARGIN) / 2.0
    widest = max(breadth(label) for _, label in entries) * SMALL + 24.0
    columns = 2 if widest <= room and len(entries) > 2 else 1
    rows = -(-len(entries) // columns)
    parts = []
    for at, (colour, label) in enumerate(entries):
        column, row = divmod(at, rows)
        x, line = MARGIN + column * room, y + 17.0 * row
        look = f'fill="{colour}" stroke="currentColor" stroke-width="0.6"'
        parts.append(box(x, line, 16.0, 11.0, look=look))
        if colour == NOTHING:
            parts.append(dotted(shapely.box(x, line, x + 16.0, line + 11.0)))
        told = width - 2.0 * MARGIN - 24.0
        parts.append(say(label, x + 22.0, line + 9.5, size=SMALL, room=told))
    return parts, y + 17.0 * rows + 8.0


def headed(prescription: Prescription, below: str, *, width: float) -> list[str]:
    """Return what is drawn, and the field's name."""
    room = width - 2.0 * MARGIN
    name = name_of(prescription)
    return [
        say(below, MARGIN, 20.0, size=HEADING, bold=True, room=room),
        say(name, MARGIN, 37.0, size=TEXT, room=room, kind="name"),
    ]


def name_of(prescription: Prescription) -> str:
    """Return the field's name, and its year where it has one."""
    field = prescription.plan.field
    name = field.name if len(field.name) <= 80 else f"{field.name[:79]}…"
    return name if field.year is None else f"{name} {field.year}"


def _told(prescription: Prescription, value: Callable[[Zone], float], unit: str) -> str:
    """Return what a screen reader says of the zones."""
    area = area_unit(prescription)
    said = [
        f"zone {zone.number}: {shown(value(zone), most=2)} {unit} on "
        f"{zone.area:.1f} {area}"
        for zone in prescription.zones[:_MOST_TOLD]
    ]
    more = len(prescription.zones) - _MOST_TOLD
    return "; ".join(said) + (f"; and {more} more zones" if more > 0 else "") + "."
