"""What every drawing is made of: text that fits, lines, looks, the frame."""

import unicodedata
from collections.abc import Iterable, Sequence
from functools import cache
from itertools import pairwise
from xml.sax.saxutils import escape

from vrp.legend import cividis, plain

Point = tuple[float, float]

# All lengths are units of the drawing, at 96 to an inch.
TEXT, SMALL, HEADING = 12.0, 10.5, 14.0
MOST_POINTS = 400  # that say what they are; our choice, a drawing stays light
BOLD = 1.12  # how much wider bold letters are

# Cividis at the end that stands out from a light ground by 4 to 1 or more, and at the
# one that does from a dark one. Neighbours differ in lightness, so that paper without
# colour keeps them apart.
ON_LIGHT = tuple(cividis(at) for at in (0.0, 0.5, 0.18, 0.32))
ON_DARK = tuple(cividis(at) for at in (1.0, 0.5, 0.8, 0.62))

# Letters in their size, no narrower than common sans-serif ones, so that nothing is cut
# off. A wide sign is one that is a square of its own in East Asian text, or an emoji.
_WIDTHS = {
    0.45: "ijl.,:;|!'()[]/ ftrI",
    1.0: "WMm@%—…×",
}
_UPPER, _OTHER, _FOREIGN, _WIDE = 0.75, 0.63, 1.05, 1.4
# Signs that show nothing, and turn the text beside them.
_MARKS = {0x200E: "\\u200e", 0x200F: "\\u200f", 0x061C: "\\u061c"}


def framed(
    title: str,
    description: str,
    *,
    width: float,
    height: float,
    parts: Iterable[str],
    role: str = "img",
) -> str:
    """Return a whole drawing, with what a screen reader says of it."""
    size = f'width="{short(width)}" height="{short(height)}"'
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="vrp-figure" role="{role}" '
        f'aria-label="{escaped(title)}" {size} '
        f'viewBox="0 0 {short(width)} {short(height)}" font-family="sans-serif">'
    )
    said = f"<title>{escaped(title)}</title>", f"<desc>{escaped(description)}</desc>"
    ground = f'<rect class="ground" {size}/>'
    return "\n".join((head, *said, looks(), ground, *parts, "</svg>")) + "\n"


def looks() -> str:
    """Return the looks of all drawings, on a light ground, a dark one and on paper."""
    light = _ground("#1b1b1b", "#ffffff", ON_LIGHT)
    dark = _ground("#eeeeee", "#1b1b1b", ON_DARK)
    return "\n".join(
        (
            "<style>",
            ".vrp-figure text{fill:currentColor}",
            ".vrp-figure .on-light{fill:#000000}",
            ".vrp-figure .on-dark{fill:#ffffff}",
            ".vrp-figure .halo{fill:#000000;stroke:#ffffff;stroke-width:2.4;"
            "stroke-linejoin:round;paint-order:stroke}",
            ".vrp-figure path{stroke-linejoin:round}",
            ".vrp-figure .axis{stroke:currentColor;stroke-width:1}",
            ".vrp-figure .grid{stroke:currentColor;stroke-width:0.6;opacity:0.25}",
            ".vrp-figure .limit{stroke:currentColor;stroke-width:1;"
            "stroke-dasharray:5 3}",
            ".vrp-figure .step{stroke-width:1.4;stroke-dasharray:1.4 3}",
            ".vrp-figure .ink{fill:currentColor}",
            ".vrp-figure .band{fill:currentColor;opacity:0.2}",
            light,
            f"@media (prefers-color-scheme:dark){{{dark}}}",
            f"@media print{{{light}}}",
            "</style>",
        )
    )


def _ground(ink: str, paper: str, tones: Sequence[str]) -> str:
    rules = [f".vrp-figure{{color:{ink}}}", f".vrp-figure .ground{{fill:{paper}}}"]
    for number, tone in enumerate(tones):
        rules.append(f".vrp-figure .tone-{number}{{stroke:{tone}}}")
        rules.append(f".vrp-figure .bar-{number}{{fill:{tone}}}")
    return "".join(rules)


@cache
def _breadths() -> dict[str, float]:
    return {letter: width for width, many in _WIDTHS.items() for letter in many}


def breadth(text: str) -> float:
    """Return how wide text is in its own size, rather more than less."""
    return sum(_letter(one) for one in spelled(text))


def _letter(letter: str) -> float:
    if letter in _breadths():
        return _breadths()[letter]
    if letter.isascii() or letter in "–−²°·•→":
        return _UPPER if letter.isupper() else _OTHER
    if unicodedata.combining(letter):
        return 0.0
    wide = unicodedata.east_asian_width(letter) in "WF" or ord(letter) > 0xFFFF
    return _WIDE if wide else _FOREIGN


def cut(text: str, *, size: float, room: float) -> str:
    """Return text that fits into some room, visibly shortened where it did not."""
    said = spelled(text)
    if breadth(said) * size <= room:
        return said
    left, kept = room / size - breadth("…"), []
    for letter in said:
        left -= _letter(letter)
        if left < 0.0:
            break
        kept.append(letter)
    return "".join(kept).rstrip() + "…"


def wrapped(text: str, *, size: float, room: float) -> list[str]:
    """Return text in lines that fit, broken between words where there are any."""
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and breadth(longer) * size <= room:
            lines[-1] = longer
        else:
            lines.append(cut(word, size=size, room=room))
    return lines


def spelled(text: str) -> str:
    """Return text with what hides, or turns what is beside it, spelled out."""
    return plain(text).translate(_MARKS)


def escaped(text: str) -> str:
    """Return text as text; what XML cannot hold is spelled out."""
    kept = spelled(text).replace("\ufffe", "\\ufffe").replace("\uffff", "\\uffff")
    held = kept.encode("utf-8", "backslashreplace").decode("utf-8")
    return escape(held, {'"': "&quot;"})


def say(
    text: str,
    x: float,
    y: float,
    *,
    size: float = TEXT,
    anchor: str = "start",
    kind: str = "",
    bold: bool = False,
    room: float | None = None,
) -> str:
    """Return one line of text, shortened where there is no room for it."""
    if room is not None:
        text = cut(text, size=size * (BOLD if bold else 1.0), room=room)
    extra = f' class="{kind}"' if kind else ""
    extra += ' font-weight="bold"' if bold else ""
    return (
        f'<text x="{short(x)}" y="{short(y)}" font-size="{size:g}" '
        f'text-anchor="{anchor}"{extra}>{escaped(text)}</text>'
    )


def say_all(
    text: str, x: float, y: float, *, room: float, size: float = SMALL
) -> tuple[list[str], float]:
    """Return text in as many lines as it needs, and where the next one would stand."""
    lines = wrapped(text, size=size, room=room)
    pitch = 1.3 * size
    parts = [say(line, x, y + pitch * at, size=size) for at, line in enumerate(lines)]
    return parts, y + pitch * len(lines)


def path(stretches: Iterable[Iterable[Point]]) -> str:
    """Return lines through points, as a path is written."""
    return " ".join(
        "M" + " L".join(f"{short(x)} {short(y)}" for x, y in part) for part in stretches
    )


def dots(places: Iterable[Point], *, look: str) -> str:
    """Return many points as one path, round at its ends."""
    steps = "".join(f"M{short(x)} {short(y)}h0" for x, y in places)
    return f'<path fill="none" stroke-linecap="round" {look} d="{steps}"/>'


def rings(lines: Iterable[Sequence[Point]]) -> str:
    """Return closed lines as a path is written, in steps from point to point."""
    parts = []
    for ring in lines:
        # Tenths of a unit, whole: what is rounded once closes again.
        places = [(round(10.0 * x), round(10.0 * y)) for x, y in ring]
        steps = [
            (after[0] - one[0], after[1] - one[1])
            for one, after in pairwise(places)
            if one != after
        ]
        if len(steps) < 3:
            continue
        start = f"M{_tenth(places[0][0])} {_tenth(places[0][1])}"
        moves = " ".join(f"{_tenth(x)} {_tenth(y)}" for x, y in _straight(steps[:-1]))
        parts.append(f"{start}l{moves}z")
    return "".join(parts)


def _straight(steps: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    """Return steps, those that go on in one direction as one."""
    kept: list[tuple[int, int]] = []
    for x, y in steps:
        if kept:
            before_x, before_y = kept[-1]
            onward = before_x * x + before_y * y > 0
            if onward and before_x * y == before_y * x:
                kept[-1] = (before_x + x, before_y + y)
                continue
        kept.append((x, y))
    return kept


def _tenth(value: int) -> str:
    return short(value / 10.0)


def rule(kind: str, start: Point, end: Point) -> str:
    """Return a straight line."""
    (x1, y1), (x2, y2) = start, end
    return (
        f'<line class="{kind}" x1="{short(x1)}" y1="{short(y1)}" '
        f'x2="{short(x2)}" y2="{short(y2)}"/>'
    )


def box(
    x: float, y: float, width: float, height: float, *, look: str, title: str = ""
) -> str:
    """Return a filled rectangle, with what it says when pointed at."""
    place = f'x="{short(x)}" y="{short(y)}"'
    size = f'width="{short(width)}" height="{short(height)}"'
    inside = f"<title>{escaped(title)}</title></rect>" if title else "</rect>"
    return f"<rect {place} {size} {look}>{inside}"


def short(value: float) -> str:
    """Return a length of the drawing to a hundredth."""
    said = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if said == "-0" else said
