"""Axes with round marks, and what stands on them."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from vrp.report.figures import ticks
from vrp.report.svg import SMALL, TEXT, Point, rule, say

MOST_SHADES = 7  # our choice: more are not told apart by their colours


@dataclass(frozen=True, slots=True)
class Axes:
    """A rectangle of the drawing, and the values at its edges."""

    left: float
    right: float
    top: float
    bottom: float
    across: tuple[float, ...]  # round marks, the first and last at the edges
    up: tuple[float, ...]

    def x(self, value: float) -> float:
        """Return where a value is across."""
        low, high = self.across[0], self.across[-1]
        return self.left + (self.right - self.left) * (value - low) / (high - low)

    def y(self, value: float) -> float:
        """Return where a value is upwards."""
        low, high = self.up[0], self.up[-1]
        return self.bottom - (self.bottom - self.top) * (value - low) / (high - low)

    def at(self, x: float, y: float) -> Point:
        """Return where a pair of values is."""
        return self.x(x), self.y(y)


def marks(low: float, high: float, *, most: int) -> tuple[float, ...]:
    """Return round figures from the last at or below one value to above another."""
    if high <= low:
        high = low + (abs(low) or 1.0)
    step = ticks(high - low, most=most)[1]
    first = math.floor(round(low / step, 9))
    last = math.ceil(round(high / step, 9))
    return tuple(round(step * at, 9) + 0.0 for at in range(first, last + 1))


def breaks(low: float, high: float) -> tuple[float, ...]:
    """Return round limits of classes that hold all values; one where all are alike."""
    if high - low <= 1e-6 * max(abs(high), 1.0):
        return (round(high, 2),)
    found = marks(low, high, most=MOST_SHADES)
    # Steps that begin below the lowest value may make one class more.
    return found if len(found) <= MOST_SHADES + 1 else marks(low, high, most=5)


def drawn(axes: Axes, *, across: str = "", up: str = "") -> list[str]:
    """Return the axes with their marks, names and units."""
    parts = []
    for value in axes.up:
        y = axes.y(value)
        parts.append(rule("grid", (axes.left, y), (axes.right, y)))
        parts.append(
            say(
                _said(value, axes.up),
                axes.left - 5.0,
                y + 3.7,
                size=SMALL,
                anchor="end",
            )
        )
    parts.append(rule("axis", (axes.left, axes.bottom), (axes.right, axes.bottom)))
    for value in axes.across:
        x = axes.x(value)
        parts.append(rule("axis", (x, axes.bottom), (x, axes.bottom + 4.0)))
        parts.append(
            say(
                _said(value, axes.across),
                x,
                axes.bottom + 16.0,
                size=SMALL,
                anchor="middle",
            )
        )
    if across:
        middle = (axes.left + axes.right) / 2.0
        parts.append(say(across, middle, axes.bottom + 32.0, anchor="middle"))
    if up:
        parts.append(say(up, 10.0, axes.top - 10.0, size=TEXT))
    return parts


def _said(value: float, beside: Sequence[float]) -> str:
    """Return a mark's figure; no fewer decimals than tell the marks apart."""
    step = beside[1] - beside[0] if len(beside) > 1 else 1.0
    decimals = next((at for at in range(6) if abs(round(step, at) - step) < 1e-9), 6)
    return f"{value:,.{decimals}f}".replace("-", "−")


def figure(value: float, decimals: int = 1) -> str:
    """Return a figure with its sign as print has it."""
    said = f"{value:,.{decimals}f}"
    bare = f"{0.0:.{decimals}f}"
    return said.replace("-", "−") if said != f"-{bare}" else bare
