"""How far the surface can be trusted: variogram, left-out samples, skill."""

import math

from vrp.evidence import shown
from vrp.prescription import Prescription, Skill, SurfaceFacts, Variogram
from vrp.report.map_frame import MARGIN
from vrp.report.plot import Axes, drawn, figure, marks
from vrp.report.svg import (
    MOST_POINTS,
    SMALL,
    TEXT,
    box,
    dots,
    escaped,
    framed,
    path,
    rule,
    say,
    say_all,
    short,
)
from vrp.report.zone_map import WIDTH, headed, name_of
from vrp.spatial.validation import NOT_SUPPORTED_AT, SUPPORTED_ABOVE
from vrp.spatial.variogram import SPARSE_BELOW
from vrp.spatial.variogram import Variogram as Model
from vrp.units import FOOT

_LEFT, _TOP = 56.0, 76.0
_STEPS = 120  # of the model's line
_DOT_AREA = 40.0  # of the bin with the most pairs
_LOWEST = -0.5  # skill that bars reach: our choice, worse is worse enough


def variogram_plot(
    prescription: Prescription, found: Variogram, *, width: float = WIDTH
) -> str:
    """Return the variogram's model, with nugget, sill and range, and its bins."""
    unit = prescription.guideline.soil_test_unit
    length, metres = ("ft", FOOT) if prescription.plan.units == "us" else ("m", 1.0)
    scale = (
        "of natural logarithms"
        if found.log
        else f"[({unit})²]"
        if "/" in unit
        else f"[{unit}²]"
    )
    sill = found.nugget + found.partial_sill
    reach = max([found.range_m * 1.25, *(one.distance_m for one in found.bins)])
    most = max([sill, *(one.semivariance for one in found.bins)])
    axes = Axes(
        _LEFT,
        width - MARGIN - 14.0,
        _TOP,
        _TOP + 190.0,
        marks(0.0, reach / metres, most=6),
        marks(0.0, most * 1.05, most=5),
    )
    model = Model(
        found.model,
        found.nugget,
        found.partial_sill,
        found.range_m,
        smoothness=found.smoothness,
    )
    farthest = axes.across[-1]
    lags = [farthest * at / _STEPS for at in range(1, _STEPS + 1)]
    heights = model.semivariance([lag * metres for lag in lags]).tolist()
    line = [axes.at(0.0, found.nugget)]
    line += [axes.at(lag, y) for lag, y in zip(lags, heights, strict=True)]
    parts = [
        *headed(prescription, "Variogram of the soil test", width=width),
        *drawn(
            axes,
            across=f"distance [{length}]",
            up=f"semivariance {scale}",
        ),
        rule("limit", axes.at(0.0, sill), axes.at(farthest, sill)),
        rule(
            "limit",
            axes.at(found.range_m / metres, 0.0),
            axes.at(found.range_m / metres, sill),
        ),
        f'<path data-part="model" class="tone-0" fill="none" stroke-width="2" '
        f'd="{path([line])}"/>',
    ]
    pairs = max((one.pairs for one in found.bins), default=1)
    for one in found.bins:
        x, y = axes.at(one.distance_m / metres, one.semivariance)
        radius = max(math.sqrt(_DOT_AREA * one.pairs / pairs / math.pi), 1.2)
        parts.append(
            f'<circle data-part="bin" cx="{short(x)}" cy="{short(y)}" '
            f'r="{short(radius)}" class="ink"><title>'
            f"{one.pairs} pairs about {one.distance_m / metres:.0f} {length} apart: "
            f"{_figure(one.semivariance)}</title></circle>"
        )
    name: str = found.model
    if found.smoothness is not None:
        name = f"Matérn, smoothness {found.smoothness:g}"
    told = (
        f"Model: {name}. Nugget {_figure(found.nugget)}, "
        f"sill {_figure(sill)} (level dashes), range "
        f"{found.range_m / metres:,.0f} {length} (upright dashes)."
    )
    if found.ratio > 1.0:
        told += (
            f" The longest range is {found.angle:.0f}° clockwise from north; distances "
            f"across it count {found.ratio:g} times."
        )
    said = told + (" Dots: pairs of samples, larger where more." if found.bins else "")
    more, y = say_all(said, MARGIN, axes.bottom + 54.0, room=width - 2.0 * MARGIN)
    return framed(
        f"Variogram, {name_of(prescription)}",
        said,
        width=width,
        height=y,
        parts=[*parts, *more],
    )


def _figure(value: float) -> str:
    """Return a variance to three digits."""
    if value <= 0.0:
        return "0"
    return shown(value, most=max(2 - math.floor(math.log10(value)), 0))


def left_out_plot(
    prescription: Prescription, facts: SurfaceFacts, *, width: float = WIDTH
) -> str:
    """Return samples against what the surface makes of them without them."""
    unit = prescription.guideline.soil_test_unit
    half = (width - MARGIN - _LEFT) / 2.0
    side = half - 24.0
    pairs = (
        [
            [(one.observed, one.leave_one_out, at) for at, one in numbered],
            [(one.observed, one.blocked, at) for at, one in numbered],
        ]
        if (numbered := list(enumerate(facts.left_out, start=1)))
        else [[], []]
    )
    values = [
        value
        for panel in pairs
        for observed, predicted, _ in panel
        for value in (observed, predicted)
        if value is not None
    ]
    scale = marks(min(0.0, *values), max(values), most=5)
    heading = f"Samples left out [{unit}]"
    parts = headed(prescription, heading, width=width)
    top = _TOP + 16.0
    for at, (panel, name) in enumerate(
        zip(pairs, ("one at a time", "with their block"), strict=True)
    ):
        left = _LEFT + at * half
        axes = Axes(left, left + side, top, top + side, scale, scale)
        inside = drawn(axes, across=f"found [{unit}]")
        if at:  # the figures stand beside the first
            inside = [one for one in inside if 'text-anchor="end"' not in one]
        parts += inside
        ends = axes.at(scale[0], scale[0]), axes.at(scale[-1], scale[-1])
        parts.append(rule("limit", *ends))
        parts.append(say(name, left, top - 8.0, size=SMALL))
        if len(panel) > MOST_POINTS:
            places = [axes.at(x, y) for x, y, _ in panel if y is not None]
            look = 'data-part="left-out" class="tone-0" stroke-width="2.4"'
            parts.append(dots(places, look=look))
            continue
        for observed, predicted, number in panel:
            if predicted is None:
                continue
            x, y = axes.at(observed, predicted)
            tip = f"{number}: found {observed:.1f}, predicted {predicted:.1f} {unit}"
            parts.append(
                f'<circle data-part="left-out" data-panel="{at}" cx="{short(x)}" '
                f'cy="{short(y)}" r="2.2" class="bar-0" fill-opacity="0.75">'
                f"<title>{escaped(tip)}</title></circle>"
            )
    parts.append(say(f"predicted [{unit}]", MARGIN, top - 24.0, size=TEXT))
    errors = facts.candidates[0]
    told = "Dashes: predicted as found."
    if errors.leave_one_out is not None and errors.blocked is not None:
        told += (
            f" Root mean squared error {errors.leave_one_out:.1f} {unit} one at a "
            f"time, {errors.blocked:.1f} {unit} with the block left out."
        )
    more, y = say_all(told, MARGIN, top + side + 54.0, room=width - 2.0 * MARGIN)
    return framed(
        f"{heading}, {name_of(prescription)}",
        f"{len(facts.left_out)} positions. {told}",
        width=width,
        height=y,
        parts=[*parts, *more],
    )


def skill_bars(
    prescription: Prescription, facts: SurfaceFacts, *, width: float = WIDTH
) -> str:
    """Return the skills beside the limits of the verdict."""
    rows = [
        (f"{what}, {how}", value, by_block)
        for what, skill in (
            ("soil test", facts.skill.soil_test),
            ("need", facts.skill.need),
        )
        for how, value, by_block in _two(skill)
    ]
    left = 172.0
    axes = Axes(
        left,
        width - MARGIN - 34.0,
        _TOP - 10.0,
        _TOP - 10.0 + 22.0 * len(rows),
        (-0.5, 0.0, 0.5, 1.0),
        (0.0, 1.0),
    )
    parts = headed(
        prescription, f"Skill of the map; verdict: {facts.verdict}", width=width
    )
    for mark in axes.across:
        x = axes.x(mark)
        parts.append(rule("grid", (x, axes.top), (x, axes.bottom)))
        parts.append(
            say(
                figure(mark),
                x,
                axes.bottom + 16.0,
                size=SMALL,
                anchor="middle",
            )
        )
    for limit in (NOT_SUPPORTED_AT, SUPPORTED_ABOVE):
        x = axes.x(limit)
        parts.append(rule("limit", (x, axes.top - 5.0), (x, axes.bottom)))
    for at, (name, value, by_block) in enumerate(rows):
        y = axes.top + 22.0 * at
        parts.append(say(name, left - 8.0, y + 15.0, size=SMALL, anchor="end"))
        if value is None:
            parts.append(
                say(
                    "none: nothing errs",
                    axes.x(SUPPORTED_ABOVE) + 8.0,
                    y + 15.0,
                    size=SMALL,
                )
            )
            continue
        ends = sorted((axes.x(0.0), axes.x(min(max(value, _LOWEST), 1.0))))
        look = f'data-skill="{value:g}" class="bar-{0 if by_block else 1}"'
        parts.append(box(ends[0], y + 5.0, ends[1] - ends[0], 12.0, look=look))
        parts.append(
            say(figure(value, 2), axes.right + 8.0, y + 15.0, size=SMALL, kind="value")
        )
    said = (
        "Share of the field mean's squared error that the map removes: 1 is perfect, 0 "
        f"no better. Dashes: supported where both with their block are above "
        f"{SUPPORTED_ABOVE:g}, not supported where none of the four is above "
        f"{NOT_SUPPORTED_AT:g}. It cannot tell from fewer than "
        f"{SPARSE_BELOW} samples, or where nothing errs."
    )
    more, y = say_all(said, MARGIN, axes.bottom + 38.0, room=width - 2.0 * MARGIN)
    told = ", ".join(
        f"{name} {'none' if value is None else figure(value, 2)}"
        for name, value, _ in rows
    )
    return framed(
        f"Skill of the map, {name_of(prescription)}",
        f"Verdict: {facts.verdict}; {told}. {said}",
        width=width,
        height=y,
        parts=[*parts, *more],
    )


def _two(skill: Skill | None) -> tuple[tuple[str, float | None, bool], ...]:
    return (
        ("one at a time", None if skill is None else skill.leave_one_out, False),
        ("with their block", None if skill is None else skill.blocked, True),
    )
