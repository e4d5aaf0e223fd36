"""A built field in a screen of the terminal: what to drive, then what to doubt."""

from collections.abc import Iterator
from typing import IO, get_args

from vrp.agronomy.cautions import Where
from vrp.evidence import half_up, shown, whole
from vrp.legend import area_unit, product_rate_unit, product_unit, rate_unit
from vrp.prescription import Prescription, Zone
from vrp.report.load import as_tons, load, thrown
from vrp.report.setback_view import kept_out
from vrp.report.terminal import findings, say, table, verdict_sentence

DRAFT = (
    "A draft for a qualified person to check. Local code, the nutrient plan and the "
    "product label come first."
)
# Zones in the table: our choice, a screen.
MOST_ZONES = 24
_BESIDE: tuple[Where, ...] = get_args(Where)


def summary(prescription: Prescription, *, file: IO[str]) -> None:
    """Print what a person must know of a field in ten seconds."""
    _head(prescription, file=file)
    held = [one for one in prescription.findings if one.holds_back]
    if held:
        say("STOP: no machine files were written.", file=file, style="bold")
        findings(held, file=file)
    table("", *_zones(prescription), file=file, numbers=True)
    for sentence in _to_drive(prescription):
        say(sentence, file=file)
    file.write("\n")
    doubts = [one for one in prescription.findings if one.severity != "note"]
    findings([one for one in doubts if one not in held], file=file)
    _cautions(prescription, file=file)
    notes = dict.fromkeys(
        one.code for one in prescription.findings if one.severity == "note"
    )
    if notes:
        say(f"Notes: {', '.join(notes)}.", file=file)
    say(
        "vrp explain tells them, each zone's ledger, what zones are worth and what the "
        "crops leave; so does report.html.",
        file=file,
    )
    file.write("\n")
    say(DRAFT, file=file)


def _head(prescription: Prescription, *, file: IO[str]) -> None:
    plan, season = prescription.plan, prescription.plan.season[0]
    goals = [zone.yield_goal for zone in prescription.zones]
    ends = dict.fromkeys((f"{min(goals):g}", f"{max(goals):g}"))
    year = "" if plan.field.year is None else f" {plan.field.year}"
    say(f"{plan.field.name}{year}", file=file, style="bold")
    say(
        f"{season.crop}, yield goal {'–'.join(ends)} "
        f"{prescription.seasons[0].yield_unit}; {prescription.guideline.id}; "
        f"{plan.product.grade}",
        file=file,
    )
    say(verdict_sentence(prescription), file=file, style="bold")
    file.write("\n")


def _zones(
    prescription: Prescription,
) -> tuple[list[str], list[tuple[str, ...]]]:
    """Return headings and rows of the zones, their sum, and one rate beside them."""
    totals, total = prescription.totals, product_unit(prescription)
    rate, nutrients = product_rate_unit(prescription), rate_unit(prescription)
    headings = [
        "zone class",
        area_unit(prescription),
        f"soil test\n{prescription.guideline.soil_test_unit}",
        f"P2O5\n{nutrients}",
        f"rate\n{rate}",
        f"product\n{total}",
        f"N\n{nutrients}",
    ]
    rows: list[tuple[str, ...]] = [
        (
            f"{zone.number:>4} {_class(zone)}",
            f"{zone.area:.1f}",
            f"{zone.soil_test:.1f}",
            f"{half_up(zone.need, 0):.0f}",
            shown(zone.rate, most=2),
            whole(zone.total),
            f"{half_up(zone.nitrogen, 0):.0f}",
        )
        for zone in prescription.zones[:MOST_ZONES]
    ]
    more = len(prescription.zones) - MOST_ZONES
    if more > 0:
        rows.append((f"     and {more} more, in report.html", *[""] * 6))
    by_zone, even = totals.zones, totals.uniform
    # A litre or a pound is little, a gallon is not.
    decimals = 1 if total == "gal" else 0
    # Beside one rate, which is for the same ground: none that is kept from water.
    area = totals.treated_area
    rows += [
        (
            "     to be spread" if totals.excluded_area else "     the field",
            f"{area:.1f}",
            "",
            f"{half_up(by_zone.p2o5_need / area, 0):.0f}",
            f"{half_up(by_zone.product / area, decimals):.{decimals}f}",
            whole(by_zone.product),
            f"{half_up(by_zone.nitrogen / area, 0):.0f}",
        ),
        (
            "     at one rate",
            f"{area:.1f}",
            f"{totals.composite:.1f}",
            f"{half_up(even.p2o5_need / area, 0):.0f}",
            shown(totals.uniform_rate, most=2),
            whole(even.product),
            f"{half_up(even.nitrogen / area, 0):.0f}",
        ),
    ]
    if not any(zone.nitrogen for zone in prescription.zones):
        return headings[:-1], [row[:-1] for row in rows]
    return headings, rows


def _class(zone: Zone) -> str:
    return zone.soil_class if zone.excluded is None else "kept from water"


def _to_drive(prescription: Prescription) -> Iterator[str]:
    """Yield what to load, what is kept out, what it costs and what a terminal does."""
    plan, totals = prescription.plan, prescription.totals
    unit, rate = product_unit(prescription), product_rate_unit(prescription)
    spread = sorted(one.rate for one in prescription.zones if one.rate > 0.0)
    if spread and not prescription.held_back:
        margin = plan.machine.margin
        product = load(prescription)
        tons, beside = as_tons(product, unit), thrown(prescription)
        ends = dict.fromkeys(shown(one, most=2) for one in (spread[0], spread[-1]))
        yield (
            f"Load {whole(product)} {unit} of {plan.product.grade}"
            f"{'' if tons is None else f' ({tons})'} at "
            f"{' to '.join(ends)} {rate}"
            f"{f', {whole(beside)} {unit} of it thrown beside water' if beside else ''}"
            f"{', no margin in it' if margin is None else f', margin {margin:g} %'}."
        )
    yield from kept_out(prescription)
    if prescription.water is None:
        yield "No setback from water is in it: no features were given."
    if totals.need_low is not None and totals.need_high is not None:
        yield (
            f"By what the samples leave open the field needs {whole(totals.need_low)} "
            f"to {whole(totals.need_high)} {totals.unit} of P2O5 (80 % interval); the "
            f"map asks for {whole(totals.zones.p2o5_need)}{_outside(prescription)}."
        )
    if totals.zones.cost is not None and totals.uniform.cost is not None:
        more = totals.zones.cost - totals.uniform.cost
        said = f"{whole(abs(more))} {'more' if more > 0 else 'less'} than"
        if whole(abs(more)) == "0":
            said = "as much as"
        yield (
            f"Product costs {whole(totals.zones.cost)} by zone, {said} the "
            f"{whole(totals.uniform.cost)} at one rate."
        )
    grid, length = prescription.grid, "ft" if plan.units == "us" else "m"
    if grid is not None:
        yield (
            f"Task data: cells of {grid.cell:g} {length} carry the field's product "
            f"within {abs(100.0 * grid.total_error):.2f} %; zone {grid.worst_zone} "
            f"differs most, by {100.0 * grid.worst_error:+.1f} % of its area. At the "
            f"start, and where position is lost: {grid.default_rate:g} {rate}."
        )


def _outside(prescription: Prescription) -> str:
    """Return why a map may ask for what the samples hardly leave open."""
    totals, surface = prescription.totals, prescription.surface
    low, high, asked = totals.need_low, totals.need_high, totals.zones.p2o5_need
    if low is None or high is None or low <= round(asked) <= high:
        return ""
    if surface is not None and surface.verdict == "not supported":
        return ", outside it: one rate by the composite does not follow the surface"
    return ", outside it: by limits of the plan, needs set by hand or means over zones"


def _cautions(prescription: Prescription, *, file: IO[str]) -> None:
    """Print what to mind beside the figures, in few words; the draft stands last."""
    told: dict[str, list[str]] = {}
    for one in prescription.cautions:
        if one.code != "draft":
            told.setdefault(one.where, []).append(one.short)
    rows = [(where, "; ".join(told[where])) for where in _BESIDE if where in told]
    if rows:
        table("To mind beside", None, rows, file=file)
