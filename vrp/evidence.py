"""What stands behind a figure, and what is doubtful about it."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

# agrees: the figure itself was not read, but it fits something printed that was.
# computed: ours, from the user's own data; the rule says how.
Status = Literal[
    "read",
    "agrees",
    "from-memory",
    "common-practice",
    "our-choice",
    "given",
    "computed",
]
Severity = Literal["stop", "warn", "note"]

# Rows that a message names one by one.
MOST_ROWS = 10


def shown(value: float, *, least: int = 0, most: int = 6) -> str:
    """Return a figure for a pencil: no digit lost, no idle zero beyond `least`."""
    whole, _, decimals = f"{value:.{most}f}".partition(".")
    decimals = decimals.rstrip("0").ljust(least, "0")
    return f"{whole}.{decimals}" if decimals else whole


def half_up(value: float, decimals: int = 1) -> float:
    """Return a figure of 0 or more rounded as a pencil does: a half goes up."""
    # The inner rounding drops what binary fractions left behind: 57.75 is 57.75.
    size: float = 10.0**decimals
    return math.floor(round(value * size, 6) + 0.5) / size


def whole(value: float) -> str:
    """Return a figure without decimals, a half away from 0; nothing has no sign."""
    said = f"{half_up(abs(value), 0):,.0f}"
    return f"−{said}" if value < 0.0 and said != "0" else said


def percent(share: float) -> str:
    """Return a share in whole per cent; what rounds to nothing has no sign."""
    return f"{round(100.0 * share) + 0:d} %"


def percent_of(share: float, low: float | None, high: float | None) -> str:
    """Return a share in whole per cent, with its limits where it has any."""
    if low is None or high is None or not math.isfinite(low + high):
        return percent(share)
    return f"{percent(share)} ({percent(low).removesuffix(' %')} to {percent(high)})"


def row_list(rows: Sequence[int]) -> str:
    """Return rows of a file by number, the first of them where there are many."""
    named = ", ".join(str(row) for row in rows[:MOST_ROWS])
    more = f" and {len(rows) - MOST_ROWS} more" if len(rows) > MOST_ROWS else ""
    return f"{'rows' if len(rows) > 1 else 'row'} {named}{more}"


@dataclass(frozen=True, slots=True)
class Source:
    """Where a figure stands, and how far that was checked."""

    status: Status
    where: str


@dataclass(frozen=True, slots=True)
class LedgerLine:
    """One step on the way to a rate, followable with a pencil."""

    step: str
    arithmetic: str
    value: float | None
    unit: str
    rule: str
    source: Source


@dataclass(frozen=True, slots=True)
class Finding:
    """Something that a person must look at before driving."""

    code: str
    severity: Severity
    place: str
    zone: int | None
    value: float | None
    unit: str
    bound: float | None
    message: str
    remedy: str
    accepted: str | None = None

    @property
    def holds_back(self) -> bool:
        """Whether it keeps the machine files from being written."""
        return self.severity == "stop" and self.accepted is None
