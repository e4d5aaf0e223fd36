"""After the crops, zone by zone, and beside one rate for the whole field."""

import math
from collections.abc import Sequence

from vrp.legend import area_unit, mass_unit, product_rate_unit, rate_unit
from vrp.prescription import Prescription, SeasonFacts, Zone
from vrp.report.map_frame import MARGIN
from vrp.report.plot import Axes, figure, marks
from vrp.report.svg import (
    SMALL,
    Point,
    box,
    escaped,
    framed,
    path,
    rule,
    say,
    say_all,
    short,
)
from vrp.report.zone_map import WIDTH, headed, name_of

MOST_ZONES = 24  # our choice: more are a table's work
_ACROSS = 4
_HIGH, _PITCH = 66.0, 114.0
_ROW, _BETWEEN = 11.0, 5.0


def largest(prescription: Prescription) -> tuple[Zone, ...]:
    """Return the zones that a drawing has room for, by number."""
    ordered = sorted(prescription.zones, key=lambda zone: (-zone.area, zone.number))
    return tuple(sorted(ordered[:MOST_ZONES], key=lambda zone: zone.number))


def _more(prescription: Prescription) -> str:
    count = len(prescription.zones)
    if count <= MOST_ZONES:
        return ""
    return f" The {MOST_ZONES} largest of {count} zones."


def _seasons(prescription: Prescription, zone: Zone) -> list[SeasonFacts]:
    return [one for one in prescription.seasons if one.zone == zone.number]


def _crops(prescription: Prescription) -> str:
    crops = [one.crop for one in prescription.plan.season]
    return ", ".join(f"{at} {crop}" for at, crop in enumerate(crops, start=1))


def soil_test_after(prescription: Prescription, *, width: float = WIDTH) -> str:
    """Return the band of the soil test after each season, a small plot a zone."""
    facts, zones = prescription.guideline, largest(prescription)
    unit, critical = facts.soil_test_unit, facts.critical
    bands = {zone.number: _band(zone, _seasons(prescription, zone)) for zone in zones}
    highest = max(high for band in bands.values() for _, _, high in band)
    scale = marks(0.0, max(highest, critical * 1.2), most=3)
    left, gap = 40.0, 10.0
    wide = (width - left - MARGIN + gap) / _ACROSS - gap
    count = len(prescription.plan.season)
    parts = headed(prescription, f"Soil test after the crops [{unit}]", width=width)
    told = []
    top = 74.0
    for at, zone in enumerate(zones):
        row, column = divmod(at, _ACROSS)
        x, y = left + column * (wide + gap), top + row * _PITCH
        axes = Axes(x + 6.0, x + wide - 6.0, y, y + _HIGH, (0.0, float(count)), scale)
        band = bands[zone.number]
        start, end = band[0][1], band[-1][1]
        said = f"{start:.0f} → {end:.0f}" if len(band) > 1 else f"{start:.0f} → ?"
        parts += _small(axes, band, critical, first=column == 0, zone=zone, said=said)
        parts += _straight(axes, _seasons(prescription, zone))
        told.append(f"zone {zone.number}: {said.replace('→', 'to')} {unit}")
    rows = -(-len(zones) // _ACROSS)
    note = (
        f"Grey: the band that holds it, as the season's figures stand; line: its "
        f"middle; dashes: the critical level, {critical:g} {unit}. 0 is now, then "
        f"after {_crops(prescription)}."
    )
    if any(one.stp_straight is not None for one in prescription.seasons):
        note += " Rings: what a straight budget would promise."
    if any(len(band) <= count for band in bands.values()):
        note += " Where a line ends early, no published figure was found."
    note += _more(prescription)
    y = top + rows * _PITCH - 14.0
    more, y = say_all(note, MARGIN, y, room=width - 2.0 * MARGIN)
    return framed(
        f"Soil test after the crops, {name_of(prescription)}",
        f"{'; '.join(told)}. {note}",
        width=width,
        height=y,
        parts=[*parts, *more],
    )


def _band(
    zone: Zone, seasons: Sequence[SeasonFacts]
) -> list[tuple[float, float, float]]:
    """Return low, middle and high, now and after each season that has a figure."""
    test = zone.soil_test
    low = test if zone.soil_test_low is None else zone.soil_test_low
    high = test if zone.soil_test_high is None else zone.soil_test_high
    band = [(low, test, high)]
    for one in seasons:
        if one.stp_low is None or one.stp_mid is None or one.stp_high is None:
            break
        band.append((one.stp_low, one.stp_mid, one.stp_high))
    return band


def _small(
    axes: Axes,
    band: Sequence[tuple[float, float, float]],
    critical: float,
    *,
    first: bool,
    zone: Zone,
    said: str,
) -> list[str]:
    parts = [
        say(f"zone {zone.number}", axes.left, axes.top - 17.0, size=SMALL, bold=True),
        say(said, axes.left, axes.top - 5.0, size=SMALL - 1.5),
    ]
    for value in axes.up:
        y = axes.y(value)
        parts.append(rule("grid", (axes.left, y), (axes.right, y)))
        if first:
            beside = axes.left - 6.0
            parts.append(
                say(f"{value:g}", beside, y + 3.5, size=SMALL - 1.5, anchor="end")
            )
    for at in range(int(axes.across[-1]) + 1):
        x = axes.x(at)
        parts.append(rule("axis", (x, axes.bottom), (x, axes.bottom + 3.0)))
        parts.append(
            say(
                str(at),
                x,
                axes.bottom + 13.0,
                size=SMALL - 1.5,
                anchor="middle",
            )
        )
    parts.append(
        rule("axis", (axes.left, axes.bottom), (axes.right, axes.bottom)),
    )
    upper = [axes.at(at, high) for at, (_, _, high) in enumerate(band)]
    lower = [axes.at(at, low) for at, (low, _, _) in enumerate(band)]
    middle = [axes.at(at, mid) for at, (_, mid, _) in enumerate(band)]
    if len(band) > 1:
        parts.append(
            f'<path data-part="band" data-zone="{zone.number}" class="band" '
            f'd="{path([[*upper, *reversed(lower)]])}z"/>'
        )
    parts.append(
        rule("limit", axes.at(0.0, critical), axes.at(axes.across[-1], critical))
    )
    if len(middle) > 1:
        parts.append(
            f'<path data-part="middle" class="tone-0" fill="none" stroke-width="2" '
            f'd="{path([middle])}"/>'
        )
    parts += [_dot(point) for point in middle]
    return parts


def _dot(point: Point) -> str:
    return f'<circle cx="{short(point[0])}" cy="{short(point[1])}" r="2" class="ink"/>'


def _straight(axes: Axes, seasons: Sequence[SeasonFacts]) -> list[str]:
    return [
        f'<circle data-part="straight" cx="{short(axes.x(at))}" '
        f'cy="{short(axes.y(max(one.stp_straight, axes.up[0])))}" r="2.6" fill="none" '
        f'stroke="currentColor" stroke-width="1"/>'
        for at, one in enumerate(seasons, start=1)
        if one.stp_straight is not None and one.stp_straight <= axes.up[-1]
    ]


def balance_bars(prescription: Prescription, *, width: float = WIDTH) -> str:
    """Return what was applied less what was removed, after each season."""
    unit = rate_unit(prescription).replace("/", " P2O5/")
    bars = []
    for zone in largest(prescription):
        for at, one in enumerate(_seasons(prescription, zone)):
            name = f"zone {zone.number}" if at == 0 else ""
            tip = f"zone {zone.number} after {one.crop}"
            bars.append((name, one.balance, at, tip))
    note = (
        f"Applied less removed, up to and with each season: "
        f"{_crops(prescription)}.{_more(prescription)}"
    )
    if any(value is None for _, value, _, _ in bars):
        note += " Where there is no bar, no figure for the removal was found."
    return _diverging(
        prescription,
        f"Balance after the crops [{unit}]",
        bars,
        width=width,
        note=note,
        decimals=0,
    )


def against_uniform(prescription: Prescription, *, width: float = WIDTH) -> str:
    """Return how much more or less P2O5 each zone gets than by one rate."""
    totals, unit = prescription.totals, mass_unit(prescription)
    # Nothing is spread on excluded ground, by zone or at one rate.
    even = totals.uniform.p2o5_applied / totals.treated_area
    bars = []
    for zone in largest(prescription):
        if zone.excluded is not None:
            continue
        tip = (
            f"zone {zone.number}: {zone.applied:.1f} instead of {even:.1f} "
            f"{rate_unit(prescription)} on {zone.area:.1f} {area_unit(prescription)}"
        )
        moved = (zone.applied - even) * zone.area
        bars.append((f"zone {zone.number}", moved, 0, tip))
    by_zone, uniform = totals.zones.p2o5_applied, totals.uniform.p2o5_applied
    note = (
        f"Of P2O5 the zones get {by_zone:,.0f} {unit} in all; one rate of "
        f"{totals.uniform_rate:g} {product_rate_unit(prescription)} on the same ground "
        f"carries "
        f"{uniform:,.0f} {unit}, or {even:.1f} {rate_unit(prescription)}."
        f"{_more(prescription)}"
    )
    return _diverging(
        prescription,
        f"P2O5 by zone, less that of one rate [{unit}]",
        bars,
        width=width,
        note=note,
        decimals=0,
    )


def _diverging(
    prescription: Prescription,
    heading: str,
    bars: Sequence[tuple[str, float | None, int, str]],
    *,
    width: float,
    note: str,
    decimals: int,
) -> str:
    """Return bars to both sides of 0, each with its figure."""
    values = [value for _, value, _, _ in bars if value is not None] or [0.0]
    scale = marks(min(0.0, *values), max(0.0, *values), most=5)
    breaks = sum(1 for name, _, _, _ in bars if name.startswith("zone")) - 1
    top = 52.0
    bottom = top + _ROW * len(bars) + _BETWEEN * max(breaks, 0) + 6.0
    axes = Axes(112.0, width - 50.0, top, bottom, scale, (0.0, 1.0))
    parts = headed(prescription, heading, width=width)
    numbered = any(season for _, _, season, _ in bars)
    step = scale[1] - scale[0]
    idle = max(0, -math.floor(math.log10(step))) if step < 1.0 else 0
    for mark in scale:
        x = axes.x(mark)
        parts.append(rule("grid", (x, top), (x, bottom)))
        said = figure(mark, idle)
        parts.append(say(said, x, bottom + 14.0, size=SMALL - 1.0, anchor="middle"))
    parts.append(rule("axis", (axes.x(0.0), top), (axes.x(0.0), bottom)))
    told, y = [], top + 3.0
    for at, (name, value, season, tip) in enumerate(bars):
        if at and name.startswith("zone"):
            y += _BETWEEN
        if name:
            parts.append(say(name, MARGIN, y + 9.0, size=SMALL - 1.0))
        if numbered:
            number = str(season + 1)
            parts.append(
                say(number, MARGIN + 62.0, y + 9.0, size=SMALL - 1.0, anchor="end")
            )
        if value is not None:
            ends = sorted((axes.x(0.0), axes.x(value)))
            look = f'data-value="{value:.4f}" class="bar-{season % 4}"'
            parts.append(
                box(ends[0], y + 1.0, ends[1] - ends[0], _ROW - 2.0, look=look)
            )
            said = figure(value, decimals)
            place = (ends[0] - 4.0, "end") if value < 0 else (ends[1] + 4.0, "start")
            parts.append(
                f"<g><title>{escaped(tip)}</title>"
                + say(
                    said,
                    place[0],
                    y + 9.0,
                    size=SMALL - 1.0,
                    anchor=place[1],
                    kind="value",
                )
                + "</g>"
            )
            told.append(f"{tip.split(':')[0]}: {said}")
        y += _ROW
    more, y = say_all(note, MARGIN, bottom + 34.0, room=width - 2.0 * MARGIN)
    return framed(
        f"{heading}, {name_of(prescription)}",
        f"{'; '.join(told)}. {note}",
        width=width,
        height=y,
        parts=[*parts, *more],
    )
