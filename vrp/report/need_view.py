"""The need of one guideline's crops in a terminal: tables, and curves below them."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import fields
from itertools import pairwise
from math import inf
from typing import IO, Any

from vrp.agronomy.comparison import usual_yield
from vrp.agronomy.forms import Crop, Guideline, IndexTable
from vrp.agronomy.variants import Variant
from vrp.evidence import shown
from vrp.report import compare_view, terminal, text_curve
from vrp.report.figures import ticks

Needs = Mapping[str, tuple[Variant, ...]]

_GAP = 2
# How much farther than its last edge a curve is drawn, and how far without an edge.
_BEYOND, _NO_EDGE = 1.1, 50.0


def facts(needs: Needs) -> list[dict[str, Any]]:
    """Return the needs as JSON holds them, at 0 and at every edge."""
    return [
        compare_view.facts(one, (0.0, *one.edges))
        for variants in needs.values()
        for one in variants
    ]


def show(guideline: Guideline, needs: Needs, *, asked: bool, file: IO[str]) -> None:
    """Print a guideline's tables, then table and curve of each crop's need."""
    _figures(guideline, needs, file=file)
    if isinstance(guideline, IndexTable):
        _rates(guideline, needs, file=file)
    for variants in needs.values():
        _crop(variants, asked=asked, file=file)


def _figures(guideline: Guideline, crops: Iterable[str], *, file: IO[str]) -> None:
    """Print the single figures of the crops, a row a crop, and those of regions."""
    rows: dict[str, dict[str, str]] = {}
    for crop in crops:
        one = guideline.crops[crop]
        plausible = f"{one.plausible} {one.yield_unit}"
        rows[crop] = _single(one) | {"plausible yield": plausible}
        for below, part in _below(one).items():
            name = f"{crop}, {below}" if below else crop
            rows[name] = rows.get(name, {}) | _single(part)
    _table("Figures by crop", rows, file=file)
    regions = getattr(guideline, "regions", {})
    if regions:
        levels = {key: _single(one) for key, one in regions.items()}
        _table("Levels by region", levels, file=file)


def _single(part: Any) -> dict[str, str]:
    """Return the single figures of a part by name."""
    named = ((field.name, getattr(part, field.name)) for field in fields(part))
    return {
        name.replace("_", " "): str(figure)
        for name, figure in named
        if hasattr(figure, "value")
    }


def _below(crop: Crop) -> dict[str, Any]:
    """Return the parts of a crop that hold figures, by what they are for."""
    parts = {
        "": getattr(crop, "equation", None) or getattr(crop, "either", None),
        "residue left": getattr(crop, "left", None),
        "residue removed": getattr(crop, "removed", None),
        **getattr(crop, "by_method", {}),
    }
    return {name: part for name, part in parts.items() if part is not None}


def _table(title: str, rows: Mapping[str, Mapping[str, str]], *, file: IO[str]) -> None:
    """Print rows by name, in as many tables as the narrowest terminal needs."""
    parts: list[list[str]] = []
    left = 0
    for name in dict.fromkeys(name for cells in rows.values() for name in cells):
        shown_cells = (cells.get(name, "") for cells in rows.values())
        width = _GAP + max(map(len, (name, *shown_cells)))
        if width > left:
            parts.append([])
            left = terminal.NARROWEST - max(map(len, rows))
        parts[-1].append(name)
        left -= width
    for number, part in enumerate(parts):
        lines = [
            (row, *(cells.get(name, "") for name in part))
            for row, cells in rows.items()
            if any(name in cells for name in part)
        ]
        heading = f"{title}, continued" if number else title
        terminal.table(heading, ["", *part], lines, file=file, numbers=True)


def _rates(guideline: IndexTable, crops: Iterable[str], *, file: IO[str]) -> None:
    """Print the rates of an index table as they are printed."""
    classes = guideline.classes
    uppers = (*(f"to {upper:g}" for upper in classes.uppers), "above")
    rows: list[tuple[str, ...]] = [(f"soil test, {classes.unit}", *uppers)]
    for crop in crops:
        for fate in ("left", "removed", "either"):
            row = getattr(guideline.crops[crop], fate)
            if row is not None:
                name = crop if fate == "either" else f"{crop}, residue {fate}"
                rows.append((name, *(f"{rate:g}" for rate in row.rates.values)))
    title = f"Rates as printed, {guideline.printed_unit}"
    terminal.table(title, ["", *classes.words], rows, file=file, numbers=True)


def _crop(variants: Sequence[Variant], *, asked: bool, file: IO[str]) -> None:
    """Print the need of a crop as a table of its stretches, and its curve."""
    one = variants[0]
    goal = f"{one.season.yield_goal:g} {one.season.yield_unit}"
    if one.season.yield_unit != one.crop.yield_unit:
        goal += f" ({shown(one.yield_goal)} {one.crop.yield_unit})"
    if not asked:
        goal += f", {usual_yield(one.crop)[1]}"
    unit = one.rate.replace("/", " P2O5/")
    title = f"{one.season.crop} ({one.crop.name}) at {goal}: need in {unit}"
    alike = _alike(variants)
    marks = [chr(ord("a") + at) for at in range(len(alike))] if alike[1:] else [""]
    edges = sorted({edge for each in variants for edge in each.curve.edges[:-1]})
    spans = list(pairwise((0.0, *edges, inf)))
    headings = [f"soil test, {one.unit}", *(mark or "need" for mark in marks)]
    rows = [
        (_span(*span), *(_cell(each[0], *span) for each in alike)) for span in spans
    ]
    if not alike[1:]:
        headings.append("class")
        rows = [
            (*row, one.curve.word(lower + 1.0 if upper == inf else (lower + upper) / 2))
            for row, (lower, upper) in zip(rows, spans, strict=True)
        ]
    terminal.table(title, headings, rows, file=file, numbers=True)
    upto = ticks(edges[-1] * _BEYOND if edges else _NO_EDGE, most=10)[-1]
    text_curve.draw([each[0].stretches(upto) for each in alike], marks, file=file)
    for mark, each in zip(marks, alike, strict=True):
        if mark:
            named = (", ".join(compare_view.apart(v, variants)) for v in each)
            terminal.say(f"{mark}: {'; '.join(named)}", file=file)
    file.write("\n")


def _alike(variants: Sequence[Variant]) -> list[list[Variant]]:
    """Return those whose needs are the same together."""
    found: dict[object, list[Variant]] = {}
    for one in variants:
        found.setdefault(one.curve.pieces, []).append(one)
    return list(found.values())


def _cell(one: Variant, lower: float, upper: float) -> str:
    """Return the need in a stretch: one figure, or from what to what it falls."""
    start = one.need(lower).above
    end = start if upper == inf else one.need(upper).below
    shown_ends = dict.fromkeys((compare_view.number(start), compare_view.number(end)))
    return " to ".join(shown_ends)


def _span(lower: float, upper: float) -> str:
    start = shown(lower, most=2)
    return f"above {start}" if upper == inf else f"{start} to {shown(upper, most=2)}"
