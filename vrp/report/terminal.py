"""A prescription, a ledger or a guideline in a terminal of 80 columns or more."""

import json
from collections.abc import Sequence
from typing import IO, TYPE_CHECKING, Any, Literal, get_args

from vrp.agronomy.cautions import Where
from vrp.evidence import Finding, LedgerLine, percent_of
from vrp.legend import (
    area_unit,
    mass_unit,
    plain,
    product_rate_unit,
    product_unit,
    rate_unit,
)
from vrp.prescription import Prescription, Skill
from vrp.report.setback_view import kept_out
from vrp.report.water_view import water_of_zones
from vrp.report.zoning_view import worth_of_zones

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table

NARROWEST = 80

# Warnings and notes of one kind that are shown: a summary is read in ten seconds.
MOST_ALIKE = 3

# Differences of a file that are shown: our choice, the first say what is wrong.
MOST_FAULTS = 6

# Lines of what the crops leave: our choice, a screen.
MOST_SEASONS = 24

DRAFT = (
    "A draft for a qualified person to check. Local code, the nutrient plan and the "
    "product label come first."
)
_ORDER = {"stop": 0, "warn": 1, "note": 2}
_BESIDE: tuple[Where, ...] = get_args(Where)


def summary(prescription: Prescription, *, file: IO[str]) -> None:
    """Print what a person must know of a field in ten seconds."""
    plan, totals = prescription.plan, prescription.totals
    area, rate = area_unit(prescription), rate_unit(prescription)
    spread, total = product_rate_unit(prescription), product_unit(prescription)
    console = _console(file)
    year = "" if plan.field.year is None else f" {plan.field.year}"
    season = plan.season[0]
    goal = prescription.zones[0].yield_goal
    goals = {zone.yield_goal for zone in prescription.zones}
    shown = f"{goal:g}" if len(goals) == 1 else f"{min(goals):g}–{max(goals):g}"
    _say(console, f"{plan.field.name}{year}", style="bold")
    _say(
        console,
        f"{season.crop}, yield goal {shown} {prescription.seasons[0].yield_unit}; "
        f"{prescription.guideline.id}; "
        f"{plan.product.grade}",
    )
    _say(console, verdict_sentence(prescription), style="bold")
    console.print()
    held = [one for one in prescription.findings if one.holds_back]
    if held:
        _say(console, "STOP: no machine files were written.", style="bold")
        findings(held, file=file)

    table = _table()
    table.add_column("zone", justify="right")
    table.add_column("class")
    test = prescription.guideline.soil_test_unit
    for heading in (
        area,
        f"soil test\n{test}",
        f"P2O5\n{rate}",
        f"rate\n{spread}",
        f"product\n{total}",
    ):
        table.add_column(heading, justify="right")
    for zone in prescription.zones:
        table.add_row(
            str(zone.number),
            plain(zone.soil_class),
            f"{zone.area:.1f}",
            f"{zone.soil_test:.1f}",
            f"{zone.need:.0f}",
            f"{zone.rate:g}",
            f"{zone.total:,.0f}",
        )
    table.add_section()
    # A litre or a pound is little, a gallon is not.
    decimals = 1 if total == "gal" else 0
    p2o5 = f"{totals.zones.p2o5_need / totals.area:.0f}"
    mean = f"{totals.zones.product / totals.area:.{decimals}f}"
    product = f"{totals.zones.product:,.0f}"
    table.add_row("", "the field", f"{totals.area:.1f}", "", p2o5, mean, product)
    even = totals.uniform
    table.add_row(
        "",
        "at one rate",
        f"{totals.treated_area:.1f}",
        f"{totals.composite:.1f}",
        f"{even.p2o5_need / totals.treated_area:.0f}",
        f"{totals.uniform_rate:g}",
        f"{even.product:,.0f}",
    )
    console.print(table)
    console.print()
    if totals.need_low is not None:
        _say(
            console,
            f"By what the samples leave open the field needs {totals.need_low:,.0f} to "
            f"{totals.need_high:,.0f} {totals.unit} of P2O5 (80 % interval); the map "
            f"asks for {totals.zones.p2o5_need:,.0f}.",
        )
        console.print()
    _cautions(prescription, file=file)
    _worth_of_zones(prescription, file=file)
    _setbacks(prescription, console)
    _after_the_crops(prescription, file=file)
    _water(prescription, file=file)
    _costs(prescription, console)
    findings([one for one in prescription.findings if one not in held], file=file)
    _grid(prescription, console)
    _say(console, DRAFT)


def _grid(prescription: Prescription, console: "Console") -> None:
    """Print how far the task data's grid is from the zones, and its default."""
    grid, length = prescription.grid, "ft" if prescription.plan.units == "us" else "m"
    if grid is None:
        return
    _say(
        console,
        f"Task data: cells of {grid.cell:g} {length} carry the field's product within "
        f"{abs(100.0 * grid.total_error):.2f} %; zone {grid.worst_zone} differs most, "
        f"by {100.0 * grid.worst_error:+.1f} % of its area. At the start, and where "
        f"position is lost: {grid.default_rate:g} {product_rate_unit(prescription)}.",
    )
    console.print()


def _cautions(prescription: Prescription, *, file: IO[str]) -> None:
    """Print what to mind beside the figures, in few words; the draft stands last."""
    told: dict[str, list[str]] = {}
    for one in prescription.cautions:
        if one.code != "draft":
            told.setdefault(one.where, []).append(one.short)
    rows = [(where, "; ".join(told[where])) for where in _BESIDE if where in told]
    if rows:
        table("To mind beside", ("", ""), rows, file=file)


def _worth_of_zones(prescription: Prescription, *, file: IO[str]) -> None:
    """Print what zones are worth by their number."""
    found = worth_of_zones(prescription)
    if found is None:
        return
    table(found.title, found.headings, found.rows, file=file, numbers=True)
    if found.note:
        _say(_console(file), found.note)
        _console(file).print()


def _after_the_crops(prescription: Prescription, *, file: IO[str]) -> None:
    """Print what a plan of several seasons leaves in each zone."""
    seasons = prescription.seasons
    if len(prescription.plan.season) < 2 or all(one.balance is None for one in seasons):
        return
    rows, last = [], 0
    for one in seasons[:MOST_SEASONS]:
        ends = (one.stp_low, one.stp_mid, one.stp_high)
        band = (f"{end:.1f}" for end in ends if end is not None)
        straight = "" if one.stp_straight is None else f"{one.stp_straight:.1f}"
        rows.append(
            (
                f"{'' if one.zone == last else one.zone:>4} {one.crop}",
                f"{one.applied:.0f}",
                *(
                    "" if value is None else f"{round(value) + 0:d}"
                    for value in (one.removal, one.balance)
                ),
                " – ".join(band),
                straight,
            )
        )
        last = one.zone
    unit, test = rate_unit(prescription), prescription.guideline.soil_test_unit
    headings = [
        "zone crop",
        f"applied\n{unit}",
        f"removed\n{unit}",
        f"balance\n{unit}",
        f"soil test\n{test}",
        f"straight\n{test}",
    ]
    # A column without a figure is left out.
    kept = [at for at in range(len(headings)) if any(row[at] for row in rows)]
    table(
        "After the crops: P2O5, the balance summed; low – middle – high",
        [headings[at] for at in kept],
        [[row[at] for at in kept] for row in rows],
        file=file,
        numbers=True,
    )
    if len(seasons) > MOST_SEASONS:
        left = len(seasons) - MOST_SEASONS
        _say(_console(file), f"{left} more seasons of zones stand in the record.")
        _console(file).print()


def _setbacks(prescription: Prescription, console: "Console") -> None:
    """Print what distances from water keep out."""
    for sentence in kept_out(prescription):
        _say(console, sentence)
    if prescription.water is not None:
        console.print()


def _water(prescription: Prescription, *, file: IO[str]) -> None:
    """Print what matters for water in each zone, where water or heights were given."""
    found = water_of_zones(prescription.water_zones)
    if found is None:
        return
    table(found.title, found.headings, found.rows, file=file)
    for note in found.notes:
        _say(_console(file), note)
    _console(file).print()


def _costs(prescription: Prescription, console: "Console") -> None:
    """Print what the map and other products cost, in the unit of the prices given."""
    totals, found = prescription.totals, prescription.products
    area, mass = area_unit(prescription), mass_unit(prescription)
    if totals.zones.cost is not None and totals.uniform.cost is not None:
        more = totals.zones.cost - totals.uniform.cost
        said = f"{abs(more):,.0f} {'more' if more > 0 else 'less'} than"
        if round(more) == 0:
            said = "as much as"
        _say(
            console,
            f"Product costs {totals.zones.cost:,.0f} by zone, {said} the "
            f"{totals.uniform.cost:,.0f} at one rate.",
        )
        console.print()
    if all(one.cost is None for one in found) or len(found) == 1:
        return
    table = _table()
    table.add_column("product")
    for heading in (
        "rate",
        "in all",
        f"N\n{mass}",
        "cost",
        f"cost\na {area}",
        f"cost a {mass}\nof P2O5",
    ):
        table.add_column(heading, justify="right")
    for one in found:
        rates = dict.fromkeys((f"{one.lowest_rate:g}", f"{one.highest_rate:g}"))
        table.add_row(
            one.grade if one.s is None else f"{one.grade}, {one.s:g} % S",
            f"{'–'.join(rates)} {one.unit}",
            f"{one.total:,.0f} {one.total_unit}",
            f"{one.nitrogen:,.0f}",
            "" if one.cost is None else f"{one.cost:,.0f}",
            "" if one.cost_area is None else f"{one.cost_area:,.2f}",
            "" if one.price_p2o5 is None else f"{one.price_p2o5:,.2f}",
        )
    console.print(table)
    console.print()


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


def ledger(title: str, lines: Sequence[LedgerLine], *, file: IO[str]) -> None:
    """Print the steps from the laboratory's figure to the product's."""
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
    _say(console, title, style="bold")
    for figure, behind in pairs:
        _say(console, figure)
        _say(console, behind, style="dim", indent=5)
    console.print()


def say(text: str, *, file: IO[str]) -> None:
    """Print wrapped text."""
    _say(_console(file), text)


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
    headings: Sequence[str],
    rows: Sequence[Sequence[str]],
    *,
    file: IO[str],
    numbers: bool = False,
) -> None:
    """Print a plain table; of numbers, where all columns but the first are."""
    console = _console(file)
    _say(console, title, style="bold")
    grid = _table()
    for at, heading in enumerate(headings):
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
