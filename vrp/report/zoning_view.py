"""What zones are worth, as a table of text."""

from dataclasses import dataclass

from vrp.evidence import whole
from vrp.legend import mass_unit, product_unit, rate_unit
from vrp.prescription import Prescription, Zoned

MOST_BANDS = 8  # our choice: a screen


@dataclass(frozen=True, slots=True)
class Text:
    """A table, and what is said below it, empty where nothing is."""

    title: str
    headings: list[str]
    rows: list[list[str]]
    note: str


def worth_of_zones(prescription: Prescription) -> Text | None:
    """Return what one rate, bands of need and the map's own zones misplace."""
    facts = prescription.zoning
    if facts is None or facts.one_rate is None or facts.built is None:
        return None
    upto = max(facts.count or 0, facts.knee or 0, 2) + 1
    shown = [one for one in facts.bands if 2 <= one.zones <= min(upto, MOST_BANDS)]
    rows = [_row("one rate", facts.one_rate)]
    for one in shown:
        knee = " *" if one.zones == facts.knee else ""
        rows.append(_row(f"{one.zones} bands of need{knee}", one))
    zones = f"{facts.built.zones} zone{'s' if facts.built.zones != 1 else ''}"
    rows.append(_row(f"this map, {zones}", facts.built))
    unit, spread = mass_unit(prescription), rate_unit(prescription)
    headings = [
        "P2O5 misplaced by",
        f"too little\n{unit}",
        f"too much\n{unit}",
        f"both\n{spread}",
        f"product\n{product_unit(prescription)}",
        "cost",
    ]
    kept = [at for at in range(len(headings)) if any(row[at] for row in rows)]
    notes = []
    if any(one.zones == facts.knee for one in shown):
        notes.append(f"* More bands save less than {facts.worth:g} {spread} each.")
    if facts.fewest is not None and any(one.zones < facts.fewest for one in shown):
        limits = f"From {facts.fewest} bands on they part at the guideline's limits."
        notes.append(limits)
    return Text(
        "What zones are worth, against the need on each cell, itself an estimate",
        [headings[at] for at in kept],
        [[row[at] for at in kept] for row in rows],
        " ".join(notes),
    )


def _row(name: str, one: Zoned) -> list[str]:
    return [
        name,
        whole(one.under),
        whole(one.over),
        f"{one.misplaced:.1f}",
        whole(one.product),
        "" if one.cost is None else whole(one.cost),
    ]
