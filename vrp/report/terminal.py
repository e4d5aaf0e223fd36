"""Text, tables, findings and ledgers in a terminal of 80 columns or more."""

import json
from collections.abc import Sequence
from typing import IO, TYPE_CHECKING, Any, Literal

from vrp.evidence import Finding, LedgerLine, percent_of
from vrp.legend import plain
from vrp.prescription import Prescription, Skill

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table

NARROWEST = 80

# Warnings and notes of one kind that are shown: a summary is read in ten seconds.
MOST_ALIKE = 3

# Differences of a file that are shown: our choice, the first say what is wrong.
MOST_FAULTS = 6

_ORDER = {"stop": 0, "warn": 1, "note": 2}


_MEANT = {
    "weak": "The samples hardly support zones: against",
    "not supported": "The samples support no zones: against",
    "cannot tell": "The samples are too few to judge: against",
}


def verdict_sentence(prescription: Prescription) -> str:
    """Return whether the field may be treated by zone, with the figures."""
    facts = prescription.surface
    if facts is None:
        return "Zones as they were sampled: each has its own composite, and no surface."
    sentence = f"By zone: {facts.verdict}"
    soil_test, need = facts.skill.soil_test, facts.skill.need
    if soil_test is not None and need is not None:
        sentence += (
            f". {_MEANT.get(facts.verdict, 'Against')} the field mean the surface "
            f"removes {_skill(soil_test)} of the squared error in soil test, "
            f"{_skill(need)} in need"
        )
        sentence += f" ({facts.samples} samples; 80 % intervals)."
    else:
        sentence += f" ({facts.samples} samples)."
    if facts.method == "field mean":
        sentence += f" The map is the field mean: {facts.reason}."
    return sentence


def _skill(skill: Skill) -> str:
    return percent_of(skill.blocked, skill.blocked_low, skill.blocked_high)


def findings(found: Sequence[Finding], *, file: IO[str]) -> None:
    """Print findings, the gravest first, those of one kind together."""
    console = _console(file)
    kinds = dict.fromkeys((one.severity, one.code, one.remedy) for one in found)
    for severity, code, remedy in sorted(kinds, key=lambda kind: _ORDER[kind[0]]):
        alike = [one for one in found if (one.severity, one.code) == (severity, code)]
        most = len(alike) if severity == "stop" else MOST_ALIKE
        said = "; ".join(one.message for one in alike[:most])
        if len(alike) > most:
            said += f"; and {len(alike) - most} more, in the record"
        reason = alike[0].accepted
        accepted = "" if reason is None else f" (accepted: {reason})"
        style = "bold" if alike[0].holds_back else ""
        advice = remedy[:1].upper() + remedy[1:]
        _say(console, f"{severity} {code}: {said}{accepted}. {advice}.", style=style)
    if found:
        console.print()


def ledger(
    title: str,
    lines: Sequence[LedgerLine],
    *,
    file: IO[str],
    at: tuple[float, float] | None = None,
) -> None:
    """Print the steps from the laboratory's figure to the product's."""
    if at is not None:
        title += f"\nA place in it: longitude {at[0]}, latitude {at[1]}"
    steps = [
        (
            f"{number:>3}  {line.step}: {line.arithmetic} {line.unit}",
            f"{line.rule}; {line.source.status} ({line.source.where})",
        )
        for number, line in enumerate(lines, start=1)
    ]
    entries(title, steps, file=file)


def entries(title: str, pairs: Sequence[tuple[str, str]], *, file: IO[str]) -> None:
    """Print figures, what stands behind each below it."""
    console = _console(file)
    for line in title.split("\n"):
        _say(console, line, style="bold")
    for figure, behind in pairs:
        _say(console, figure)
        _say(console, behind, style="dim", indent=5)
    console.print()


def say(text: str, *, file: IO[str], style: str = "") -> None:
    """Print wrapped text."""
    _say(_console(file), text, style=style)


def print_json(content: Any, *, file: IO[str]) -> None:
    """Print anything as JSON."""
    file.write(json.dumps(content, ensure_ascii=False, indent=1) + "\n")


def can_show(text: str, *, file: IO[str]) -> bool:
    """Return whether a terminal has every character of a text."""
    try:
        text.encode(getattr(file, "encoding", None) or "utf-8")
    except UnicodeEncodeError:
        return False
    return True


def table(
    title: str,
    headings: Sequence[str] | None,
    rows: Sequence[Sequence[str]],
    *,
    file: IO[str],
    numbers: bool = False,
) -> None:
    """Print a plain table; of numbers, where all columns but the first are."""
    console = _console(file)
    if title:
        _say(console, title, style="bold")
    grid = _table()
    grid.show_header = headings is not None
    for at, heading in enumerate(headings or [""] * len(rows[0])):
        side: Literal["left", "right"] = "right" if numbers and at else "left"
        grid.add_column(plain(heading), overflow="fold", justify=side)
    for row in rows:
        grid.add_row(*map(plain, row))
    console.print(grid)
    console.print()


def agreement(
    checks: Sequence[tuple[str, str, Sequence[str]]],
    edited: Sequence[str],
    lines: str,
    *,
    file: IO[str],
) -> None:
    """Print what was compared in each file, what differs, and lines to adopt edits."""
    results = {0: "agrees", 1: "1 difference"}
    rows = [
        (name, compared, results.get(len(faults), f"{len(faults)} differences"))
        for name, compared, faults in checks
    ]
    table("Read back and compared", ["file", "compared", "result"], rows, file=file)
    console = _console(file)
    differing = [faults for _, _, faults in checks if faults]
    for faults in differing:
        for fault in faults[:MOST_FAULTS]:
            _say(console, f"{fault}.")
        if len(faults) > MOST_FAULTS:
            more = len(faults) - MOST_FAULTS
            _say(console, f"And {more} more of that file, in what --json prints.")
        console.print()
    if edited:
        _say(console, "Edited by hand", style="bold")
        for sentence in edited:
            _say(console, sentence)
        console.print()
    if lines:
        _say(console, "To adopt the rates, add to the field file, and say why:")
        console.print()
        # As they are: a line that was wrapped would be no TOML.
        for line in lines.splitlines():
            file.write(f"{plain(line)}\n")
        console.print()
    if not differing:
        _say(console, "All files agree with the record.")


def _say(console: "Console", text: str, *, style: str = "", indent: int = 0) -> None:
    """Print wrapped text; what runs over hangs under the first words."""
    from rich.text import Text

    hanging = indent or 5 * text.startswith(" ")
    lines = Text(plain(text), style=style).wrap(console, console.width - hanging)
    for number, line in enumerate(lines):
        pad = " " * (indent if number == 0 else hanging)
        console.print(Text(pad) + line, no_wrap=True)


def _console(file: IO[str]) -> "Console":
    from rich.console import Console

    console = Console(file=file, highlight=False, markup=False, emoji=False)
    if console.width < NARROWEST or not console.is_terminal:
        console.width = NARROWEST
    return console


def _table() -> "Table":
    from rich.table import Table

    return Table(box=None, pad_edge=False, header_style="bold", collapse_padding=True)
