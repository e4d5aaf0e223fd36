"""Curves drawn with the characters of a terminal."""

from collections.abc import Sequence
from itertools import pairwise
from typing import IO

from vrp.report import terminal
from vrp.report.figures import ticks
from vrp.report.svg import Point

_ROWS = 11  # of the drawing, about
_LABEL = 7  # columns before the upright axis
_STEPS, _ROUND = 10, 5  # most marks along the soil test, and along the need

# What terminals have, and what every terminal has: flat, sloping, step, axes, corner.
_DRAWN = ("─", "•", "┊", "│", "┴", "└")
_PLAIN = ("-", "*", ":", "|", "+", "+")

Stretches = Sequence[Sequence[Point]]


def draw(curves: Sequence[Stretches], marks: Sequence[str], *, file: IO[str]) -> None:
    """Print curves, each by its mark; one alone by lines."""
    whole = terminal.can_show("".join(_DRAWN), file=file)
    flat, slope, step, axis, tick, corner = _DRAWN if whole else _PLAIN
    points = [point for curve in curves for part in curve for point in part]
    upto = max(x for x, _ in points)
    levels = ticks(max(need for _, need in points), most=_ROUND)
    # Each level that is named has a row of its own, exactly at its height.
    rows = 1 + (len(levels) - 1) * max(1, round(_ROWS / (len(levels) - 1)))
    width = terminal.NARROWEST - _LABEL - 4
    canvas = [[" "] * (width + 1) for _ in range(rows)]

    def row(need: float) -> int:
        return rows - 1 - round(need / levels[-1] * (rows - 1))

    # The first curve is drawn last, so that it is whole.
    for curve, mark in reversed(list(zip(curves, marks, strict=True))):
        before: int | None = None
        for part in curve:
            columns = [round(x / upto * width) for x, _ in part]
            for column in range(columns[0], columns[-1] + 1):
                need, level = _between(part, column / width * upto)
                here = row(need)
                if before is not None:
                    for passed in range(min(before, here) + 1, max(before, here)):
                        if canvas[passed][column] == " ":
                            canvas[passed][column] = step
                canvas[here][column] = mark or (flat if level else slope)
                before = here
    named = {row(level): f"{level:g}" for level in levels}
    for number, line in enumerate(canvas):
        name = named.get(number, "").rjust(_LABEL)
        file.write(f"{name} {axis}{''.join(line)}".rstrip() + "\n")
    below, names = [flat] * (width + 1), [" "] * (width + 4)
    for at in ticks(upto, most=_STEPS):
        if at <= upto:
            column = round(at / upto * width)
            below[column] = tick
            text = f"{at:g}"
            start = max(0, column - len(text) // 2)
            names[start : start + len(text)] = text
    file.write(f"{'':{_LABEL}} {corner}{''.join(below)}\n")
    file.write(f"{'':{_LABEL}}  {''.join(names)}".rstrip() + "\n")


def _between(part: Sequence[Point], at: float) -> tuple[float, bool]:
    """Return the height of a line at a place, and whether it is level there."""
    pieces = list(pairwise(part))
    (x, y), (after, value) = next(
        (piece for piece in pieces if at <= piece[1][0]), pieces[-1]
    )
    # A place of the terminal may lie a little beyond the ends of the line.
    share = min(max((at - x) / (after - x), 0.0), 1.0)
    return y + (value - y) * share, value == y
