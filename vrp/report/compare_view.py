"""Guidelines side by side in the terminal, as JSON, and drawn."""

from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import IO, Any

from vrp.agronomy.comparison import Block, Comparison
from vrp.agronomy.figures import Used
from vrp.agronomy.soil_test import METHODS
from vrp.agronomy.variants import Need, Variant
from vrp.errors import InputError
from vrp.evidence import shown
from vrp.report import figures, terminal
from vrp.units import KG_HA

# Widest heading of a column: a longer one goes on in the next line.
_WIDEST = 13
_GAP = 2

_CAUTION = "Depths differ: the same ground does not test the same at each of them."

# What stands above the needs of a column.
_FACTS: dict[str, Callable[[Variant], str]] = {
    "crop": lambda one: one.season.crop,
    "region": lambda one: one.region or "",
    "build-up": lambda one: "" if one.years is None else f"{one.years} years",
    "residue": lambda one: one.season.residue or "",
    "year": lambda one: str(one.guideline.year),
    "depth": lambda one: f"0–{one.guideline.soil_test.depth}",
    "state": lambda one: one.guideline.state,
}

_STATUSES = {
    "agrees": "not read, but agrees with what was",
    "from-memory": "from memory",
    "common-practice": "common practice",
    "our-choice": "our choice",
}


def show(comparison: Comparison, *, file: IO[str]) -> None:
    """Print tables of the need, a row a soil test and a column a guideline."""
    goal = f"{comparison.yield_goal:g} {comparison.yield_unit}"
    per = comparison.unit.replace("/", " P2O5/")
    terminal.say(f"{comparison.crop}, yield goal {goal}: need in {per}", file=file)
    terminal.say(" ".join(_basis(comparison)), file=file)
    file.write("\n")
    arrow = "→" if terminal.can_show("→", file=file) else "->"
    for block in comparison.blocks:
        title = f"{block.method}: {METHODS[block.method]}, in {block.unit}"
        above = _above(block.columns, comparison.crop)
        for part in _parts(block, above, arrow=arrow):
            headings = ["", *("\n".join(_heading(one)) for one in part)]
            named = [(fact, *map(_FACTS[fact], part)) for fact in above]
            rows = [row for row in named if any(row[1:])]
            rows.append((block.unit, *("" for _ in part)))
            rows += [
                (shown(at, most=2), *(_cell(one.need(at), arrow) for one in part))
                for at in block.soil_tests
            ]
            terminal.table(title, headings, rows, file=file, numbers=True)
            title = f"{block.method}, in {block.unit}, continued"
        said = (*_edges(block, arrow=arrow), *_depths(block))
        if said:
            terminal.say(f"{' '.join(said)}\n", file=file)
    columns = [one for block in comparison.blocks for one in block.columns]
    _not_read(columns, file=file)
    _left_out(comparison, file=file)


def as_json(comparison: Comparison, *, file: IO[str]) -> None:
    """Print the same as JSON."""
    terminal.print_json(
        {
            "crop": comparison.crop,
            "yield_goal": comparison.yield_goal,
            "yield_unit": comparison.yield_unit,
            "unit": comparison.unit,
            "blocks": [
                {
                    "method": block.method,
                    "soil_test_unit": block.unit,
                    "soil_tests": list(block.soil_tests),
                    "columns": [facts(one, block.soil_tests) for one in block.columns],
                }
                for block in comparison.blocks
            ],
            "other_methods": {
                name: list(methods)
                for name, methods in comparison.other_methods.items()
            },
            "lacking": list(comparison.lacking),
            "refused": comparison.refused,
        },
        file=file,
    )


def drawing(comparison: Comparison) -> str:
    """Return every block drawn, one below the other, as SVG."""
    goal = f"{comparison.yield_goal:g} {comparison.yield_unit}"
    panels = []
    for block in comparison.blocks:
        lines = [
            figures.Line(
                f"{one.name}{'*' if one.marked else ''}",
                _second(one, block.columns, comparison.crop),
                _tip(one),
                one.stretches(block.soil_tests[-1]),
            )
            for one in block.columns
        ]
        title = f"{comparison.crop}, yield goal {goal}"
        across = f"soil test, {METHODS[block.method]} ({block.unit})"
        up = f"need ({comparison.unit.replace('/', ' P2O5/')})"
        panels.append(figures.Panel(title, across, up, tuple(lines)))
    return figures.chart(panels, ("Dotted: the need steps.", *_legend(comparison)))


def draw(comparison: Comparison, path: Path) -> None:
    """Write the drawing to an SVG file."""
    if path.suffix.lower() != ".svg":
        raise InputError(f"{path.name}: the drawing is SVG: give a name ending in .svg")
    text = drawing(comparison)
    try:
        path.write_text(text, "utf-8", newline="\n")
    except OSError as exc:
        raise InputError(f"{path.name}: cannot be written: {exc.strerror}") from exc


def facts(one: Variant, soil_tests: Sequence[float]) -> dict[str, Any]:
    """Return a column as JSON holds it, with its needs at some soil tests."""
    needs = [(at, one.need(at)) for at in soil_tests]
    return {
        "guideline": one.name,
        "title": one.guideline.title,
        "publisher": one.guideline.publisher,
        "year": one.guideline.year,
        "state": one.guideline.state,
        "depth": str(one.guideline.soil_test.depth),
        "crop": one.season.crop,
        "region": one.region,
        "build_years": one.years,
        "residue": one.season.residue,
        "yield_goal": one.yield_goal,
        "yield_unit": one.crop.yield_unit,
        "soil_test_unit": one.guideline.soil_test.unit,
        "guideline_unit": one.curve.unit,
        "need": [
            {
                "soil_test": at,
                "below": round(need.below, 3),
                "at": round(need.at, 3),
                "above": round(need.above, 3),
            }
            for at, need in needs
        ],
        "not_read": [
            {
                "name": each.name,
                "printed": each.printed,
                "status": each.source.status,
                "where": each.source.where,
            }
            for each in one.not_read
        ],
    }


def apart(one: Variant, others: Iterable[Variant]) -> list[str]:
    """Return what tells a column from the others of its guideline."""
    alike = [other for other in others if other.name == one.name]
    parts = []
    if len({other.season.crop for other in alike}) > 1:
        parts.append(one.season.crop)
    if len({other.method for other in alike}) > 1:
        parts.append(one.method)
    if one.region is not None:
        parts.append(one.region)
    if one.years is not None:
        parts.append(f"{one.years} years")
    if len({other.season.residue for other in alike}) > 1:
        parts.append(f"residue {one.season.residue}")
    return parts


def _basis(comparison: Comparison) -> list[str]:
    """Return what every figure of the tables rests on."""
    found = ["One season, nothing pooled or credited."]
    columns = [one for block in comparison.blocks for one in block.columns]
    for unit in dict.fromkeys(one.curve.unit for one in columns):
        if unit != comparison.unit:
            factor = KG_HA[unit] / KG_HA[comparison.unit]
            found.append(
                f"What a guideline gives in {unit} is converted once: 1 {unit} is "
                f"{factor:.4f} {comparison.unit}."
            )
    if any(one.guideline.soil_test.unit != one.unit for one in columns):
        found.append("A soil test in lb/ac stands as ppm: 1 ppm is 2 lb/ac.")
    return found


def _parts(
    block: Block, above: Sequence[str], *, arrow: str
) -> list[tuple[Variant, ...]]:
    """Return the columns parted into tables that fit the narrowest terminal."""
    first = max(map(len, (*above, block.unit)))
    parts: list[list[Variant]] = []
    left = 0
    for one in block.columns:
        cells = [*_heading(one), *(_FACTS[fact](one) for fact in above)]
        cells += [_cell(one.need(at), arrow) for at in block.soil_tests]
        width = _GAP + max(map(len, cells))
        if width > left:
            parts.append([])
            left = terminal.NARROWEST - first
        parts[-1].append(one)
        left -= width
    return [tuple(part) for part in parts]


def _above(columns: Sequence[Variant], crop: str) -> list[str]:
    """Return what stands above the needs, without what would say nothing."""
    idle = set() if any(one.season.crop != crop for one in columns) else {"crop"}
    return [
        name
        for name, of in _FACTS.items()
        if name not in idle and any(map(of, columns))
    ]


def _heading(one: Variant) -> list[str]:
    """Return a guideline's id in lines that are short."""
    lines = [""]
    words = f"{one.name}{'*' if one.marked else ''}".replace("-", "-\0").split("\0")
    for word in words:
        if lines[-1] and len(lines[-1]) + len(word) > _WIDEST:
            lines.append("")
        lines[-1] += word
    return lines


def _cell(need: Need, arrow: str) -> str:
    """Return a need; where it steps, from what to what."""
    if need.steps:
        return f"{number(need.below)}{arrow}{number(need.above)}"
    return number(need.at)


def number(value: float) -> str:
    """Return a need to a tenth, which is more than anyone can spread."""
    return shown(value, most=1)


def _second(one: Variant, others: Sequence[Variant], crop: str) -> str:
    """Return the line below a label."""
    parts = apart(one, others)
    if one.season.crop not in (crop, *parts):
        parts.insert(0, one.season.crop)
    parts += [str(one.guideline.year), _FACTS["depth"](one)]
    if one.guideline.state != "current":
        parts.append(one.guideline.state)
    return ", ".join(parts)


def _tip(one: Variant) -> str:
    guideline = one.guideline
    return f"{guideline.title}, {guideline.publisher}, {guideline.year}"


def _legend(comparison: Comparison) -> list[str]:
    """Return what the marks of a drawing mean."""
    columns = [one for block in comparison.blocks for one in block.columns]
    found = []
    if any(one.marked for one in columns):
        found.append("* rests on printed figures that were not read in print.")
    if any(one.guideline.state == "superseded" for one in columns):
        found.append("superseded: a later edition has taken its place.")
    cautions = (sentence for block in comparison.blocks for sentence in _depths(block))
    return [*found, *dict.fromkeys(cautions)]


def _edges(block: Block, *, arrow: str) -> list[str]:
    """Return what holds just where the need steps."""
    sides: dict[bool, list[str]] = {True: [], False: []}
    for one in block.columns:
        needs = [one.need(edge) for edge in one.edges]
        upper = {need.at == need.above for need in needs if need.steps}
        for side in upper:
            sides[side].append(one.name)
    if not any(sides.values()):
        return []
    found = [f"a{arrow}b: the need steps from a to b at that soil test."]
    for side, which in ((False, "a"), (True, "b")):
        if sides[side]:
            names = ", ".join(dict.fromkeys(sides[side]))
            found.append(f"Exactly there {which} holds: {names}.")
    return found


def _depths(block: Block) -> list[str]:
    """Return a caution where guidelines of one table were made for other depths."""
    depths = {str(one.guideline.soil_test.depth) for one in block.columns}
    return [_CAUTION] if len(depths) > 1 else []


def _not_read(columns: Sequence[Variant], *, file: IO[str]) -> None:
    entries = []
    for name in dict.fromkeys(one.name for one in columns):
        alike = [one for one in columns if one.name == name]
        used = list(dict.fromkeys(each for one in alike for each in one.not_read))
        star = "*" if any(one.marked for one in alike) else ""
        said = [*_yields(alike), *(_listed(used))]
        if said:
            entries.append((f"{name}{star}", "; ".join(said)))
    if entries:
        title = "What the needs rest on (* a printed figure that was not read in print)"
        terminal.entries(title, entries, file=file)


def _yields(alike: Sequence[Variant]) -> list[str]:
    found = []
    for one in alike:
        goal = f"{one.season.yield_goal:g} {one.season.yield_unit}"
        own = f"{shown(one.yield_goal)} {one.crop.yield_unit}"
        if one.season.yield_unit != one.crop.yield_unit:
            found.append(f"{goal} is {own}")
        if not one.plausible:
            bounds = f"{one.crop.plausible} {one.crop.yield_unit}"
            found.append(f"{own} lies outside the plausible {bounds}")
    return list(dict.fromkeys(found))


def _listed(used: Sequence[Used]) -> list[str]:
    found = []
    for status, words in _STATUSES.items():
        named = [
            f"{one.name} {one.printed}" for one in used if one.source.status == status
        ]
        if named:
            found.append(f"{words}: {', '.join(named)}")
    return found


def _left_out(comparison: Comparison, *, file: IO[str]) -> None:
    if comparison.other_methods:
        takes = (
            f"{name} ({', '.join(methods)})"
            for name, methods in comparison.other_methods.items()
        )
        terminal.say(f"By other methods: {', '.join(takes)}.", file=file)
    for name, reason in comparison.refused.items():
        terminal.say(f"Left out: {name}: {reason}.", file=file)
    if comparison.lacking:
        names = ", ".join(comparison.lacking)
        terminal.say(f"Without {comparison.crop}: {names}.", file=file)
