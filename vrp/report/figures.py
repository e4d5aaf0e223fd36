"""Drawings as SVG text, for page and sheet alike."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil, floor, log10

from vrp.report.svg import ON_LIGHT, Point, escaped, looks, path, rule, short

# All lengths are units of the drawing, at 96 to an inch.
_WIDTH = 760.0
_TOP, _BELOW = 52.0, 46.0
_TICKS = 44.0  # room for the figures beside the upright axis
_HEIGHT = 300.0  # of a plot with few labels
_LEADER, _SLANT = 78.0, 40.0  # from a label to its line, and how much of it slants
_PITCH = 30.0  # of labels of two lines
_TEXT, _SMALL = 12.0, 10.5
_MOST, _MOST_SMALL = 36, 46  # characters of a label, and of the line below it
# Sans-serif letters are narrower on average, so that nothing is cut or overlaps.
_LETTER = 0.62

# Dashes and gaps that tell lines apart in black and white; dots are kept for steps.
_DASHES = (
    "",
    "10 4",
    "4 4",
    "16 4 4 4",
    "22 6",
    "4 2.5 4 8",
    "14 3 3 3 3 3",
    "7 2",
)


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a chart: straight between its points, stepping between stretches."""

    label: str
    below: str  # a second, smaller line of the label
    tip: str
    stretches: tuple[tuple[Point, ...], ...]


@dataclass(frozen=True, slots=True)
class Panel:
    """One pair of axes with its lines, which begin at the upright axis."""

    title: str
    across: str
    up: str
    lines: tuple[Line, ...]


def chart(panels: Sequence[Panel], notes: Sequence[str]) -> str:
    """Return panels below each other as one SVG, the notes below them."""
    parts: list[str] = []
    y = 0.0
    for panel in panels:
        drawn, height = _panel(panel, y)
        parts += drawn
        y += height
    for note in notes:
        y += 16.0
        parts.append(_say(note, 12.0, y, size=_SMALL, room=_WIDTH - 24.0))
    height = y + 14.0
    name = escaped(". ".join(panel.title for panel in panels))
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="vrp-figure" role="img" '
        f'aria-label="{name}" width="{_WIDTH:g}" height="{height:g}" '
        f'viewBox="0 0 {_WIDTH:g} {height:g}" font-family="sans-serif">'
    )
    ground = f'<rect class="ground" width="{_WIDTH:g}" height="{height:g}"/>'
    return "\n".join((head, looks(), ground, *parts, "</svg>")) + "\n"


def spread(
    wanted: Sequence[float], *, pitch: float, top: float, bottom: float
) -> list[float]:
    """Return places near those wanted, rising, a pitch apart and within both ends."""
    down = _spread(wanted, pitch=pitch, top=top)
    up = _spread([-place for place in reversed(down)], pitch=pitch, top=-bottom)
    return [-place for place in reversed(up)]


def _spread(wanted: Sequence[float], *, pitch: float, top: float) -> list[float]:
    # Neighbours that are too near move together, as little as they can.
    groups: list[tuple[float, int]] = []
    for place in wanted:
        centre, count = max(place, top), 1
        while groups:
            before, held = groups[-1]
            if centre - before >= pitch * (held + count) / 2.0:
                break
            groups.pop()
            centre = (before * held + centre * count) / (held + count)
            count += held
            centre = max(centre, top + pitch * (count - 1) / 2.0)
        groups.append((centre, count))
    return [
        centre + pitch * (at - (count - 1) / 2.0)
        for centre, count in groups
        for at in range(count)
    ]


def ticks(upto: float, *, most: int) -> tuple[float, ...]:
    """Return round figures from 0 to the first at or above a value."""
    if upto <= 0.0:
        return (0.0, 1.0)
    rough = upto / most
    power = 10.0 ** floor(log10(rough))
    step = next(power * by for by in (1.0, 2.0, 2.5, 5.0, 10.0) if power * by >= rough)
    return tuple(step * at for at in range(ceil(round(upto / step, 9)) + 1))


def _panel(panel: Panel, y: float) -> tuple[list[str], float]:
    """Return one panel, and how high it is."""
    lines = sorted(panel.lines, key=_start, reverse=True)
    points = [point for line in lines for part in line.stretches for point in part]
    farthest = max(x for x, _ in points)
    marks = ticks(max(value for _, value in points), most=6)
    left = 12.0 + _LEADER + max(_room(line) for line in lines)
    right = _WIDTH - _TICKS
    top = y + _TOP
    bottom = top + max(_HEIGHT, _PITCH * len(lines))

    def across(value: float) -> float:
        return left + (right - left) * value / farthest

    def up(value: float) -> float:
        return bottom - (bottom - top) * value / marks[-1]

    parts = [
        _say(panel.title, 12.0, y + 22.0, size=14.0, room=_WIDTH - 24.0, bold=True),
        _say(panel.up, right, y + 40.0, size=_SMALL, anchor="end"),
        _say(panel.across, (left + right) / 2.0, bottom + 36.0, anchor="middle"),
        rule("axis", (left, bottom), (right, bottom)),
        rule("grid", (left, top), (left, bottom)),
    ]
    for mark in marks:
        parts.append(rule("grid", (left, up(mark)), (right, up(mark))))
        beside = (right + 6.0, up(mark) + 4.0)
        parts.append(_say(f"{mark:g}", *beside, size=_SMALL, kind="up"))
    for mark in ticks(farthest, most=10):
        if mark <= farthest:
            at = across(mark)
            parts.append(rule("axis", (at, bottom), (at, bottom + 4.0)))
            parts.append(
                _say(
                    f"{mark:g}",
                    at,
                    bottom + 17.0,
                    size=_SMALL,
                    anchor="middle",
                    kind="across",
                )
            )
    wanted = [up(_start(line)) for line in lines]
    places = spread(wanted, pitch=_PITCH, top=top, bottom=bottom - _PITCH / 3.0)
    for number, (line, place) in enumerate(zip(lines, places, strict=True)):
        scaled = [[(across(x), up(v)) for x, v in part] for part in line.stretches]
        parts += _line(line, number, scaled, (left, place))
    return parts, bottom + _BELOW - y


def _line(
    line: Line, number: int, stretches: list[list[Point]], place: Point
) -> list[str]:
    """Return a line with its label, which its own stroke leads to."""
    left, y = place
    dash = _DASHES[number % len(_DASHES)]
    width = 2.0 + number // len(_DASHES)
    stroke = f'class="tone-{number % len(ON_LIGHT)}" stroke-width="{width:g}"'
    if dash:
        stroke += f' stroke-dasharray="{dash}"'
    start = stretches[0][0]
    leader = [(left - _LEADER + 6.0, y), (left - _SLANT, y), start]
    parts = ["<g>", f"<title>{escaped(line.tip)}</title>"]
    parts.append(
        f'<path fill="none" {stroke} data-part="leader" d="{path([leader])}"/>'
    )
    parts.append(f'<path fill="none" {stroke} data-part="need" d="{path(stretches)}"/>')
    for one, after in pairwise(stretches):
        tone = f"step tone-{number % len(ON_LIGHT)}"
        parts.append(rule(tone, one[-1], after[0]))
    x = left - _LEADER
    parts.append(_say(_cut(line.label), x, y - 1.0, anchor="end", kind="label"))
    below = _cut(line.below, _MOST_SMALL)
    parts.append(_say(below, x, y + 11.0, size=_SMALL, anchor="end", kind="label"))
    return [*parts, "</g>"]


def _start(line: Line) -> float:
    return line.stretches[0][0][1]


def _room(line: Line) -> float:
    label, below = (
        len(_cut(line.label)) * _TEXT,
        len(_cut(line.below, _MOST_SMALL)) * _SMALL,
    )
    return _LETTER * max(label, below)


def _cut(text: str, most: int = _MOST) -> str:
    return text if len(text) <= most else f"{text[: most - 1]}…"


def _say(
    text: str,
    x: float,
    y: float,
    *,
    size: float = _TEXT,
    anchor: str = "start",
    kind: str = "",
    bold: bool = False,
    room: float = _WIDTH,
) -> str:
    """Return one line of text, cut where there is no room for it."""
    most = int(room / (_LETTER * size))
    said = _cut(text, most)
    extra = f' class="{kind}"' if kind else ""
    extra += ' font-weight="bold"' if bold else ""
    return (
        f'<text x="{short(x)}" y="{short(y)}" font-size="{size:g}" '
        f'text-anchor="{anchor}"{extra}>{escaped(said)}</text>'
    )
