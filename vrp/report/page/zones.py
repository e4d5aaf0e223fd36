"""The zones as a table and as cards, each with its ledger."""

from collections.abc import Callable
from dataclasses import dataclass

from vrp.evidence import LedgerLine, percent, shown, whole
from vrp.legend import Column, columns
from vrp.prescription import Prescription, Zone
from vrp.report.page.waters import Facts, facts_of
from vrp.report.zone_map import card_of

# Zones that have a card with their ledger: our choice, more make the page heavy.
MOST_LEDGERS = 120


@dataclass(frozen=True, slots=True)
class Cell:
    """A figure as it is shown, and as it is."""

    name: str  # of the map's column
    value: str
    text: str


@dataclass(frozen=True, slots=True)
class Row:
    """A zone in the table and on its card; empty cells are None."""

    number: int
    card: str
    soil_class: Cell
    area: Cell
    soil_test: Cell
    low: Cell | None
    high: Cell | None
    short: Cell | None
    need: Cell
    rate: Cell
    applied: Cell
    nitrogen: Cell
    k2o: Cell | None
    sulfur: Cell | None
    total: Cell
    expected: str
    goal: str
    notes: tuple[str, ...]
    ledger: tuple[LedgerLine, ...]
    water: Facts | None
    excluded: str


@dataclass(frozen=True, slots=True)
class ZoneTable:
    """All zones; the largest have their ledgers."""

    rows: tuple[Row, ...]
    interval: bool
    short: bool
    nitrogen: bool
    k2o: bool
    sulfur: bool
    without_ledger: int


def zone_table(prescription: Prescription) -> ZoneTable:
    """Return the zones as text, by number."""
    names = {one.attribute: one for one in columns(prescription)}
    units = {one.zone: one.yield_unit for one in reversed(prescription.seasons)}
    water = facts_of(prescription)
    ordered = sorted(prescription.zones, key=lambda one: (-one.area, one.number))
    told = {zone.number for zone in ordered[:MOST_LEDGERS]}
    messages: dict[int, list[str]] = {}
    for one in prescription.findings:
        if one.zone is not None:
            messages.setdefault(one.zone, []).append(one.message)
    return ZoneTable(
        tuple(
            _row(
                zone,
                names,
                notes=messages.get(zone.number, []),
                goal=f"{zone.yield_goal:g} {units.get(zone.number, '')}".strip(),
                water=water.get(zone.number),
                told=zone.number in told,
            )
            for zone in prescription.zones
        ),
        "soil_test_low" in names,
        "probability_short" in names,
        any(zone.nitrogen for zone in prescription.zones),
        "k2o" in names,
        "sulfur" in names,
        max(0, len(ordered) - MOST_LEDGERS),
    )


def _row(
    zone: Zone,
    names: dict[str, Column],
    *,
    notes: list[str],
    goal: str,
    water: Facts | None,
    told: bool,
) -> Row:
    def cell(attribute: str, said: Callable[[float], str]) -> Cell:
        value = getattr(zone, attribute)
        return Cell(names[attribute].name, repr(value), said(value))

    def cell_or_none(attribute: str, said: Callable[[float], str]) -> Cell | None:
        if getattr(zone, attribute) is None:
            return None
        return cell(attribute, said)

    return Row(
        zone.number,
        card_of(zone),
        Cell(names["soil_class"].name, zone.soil_class, zone.soil_class),
        cell("area", _tenths),
        cell("soil_test", _tenths),
        cell_or_none("soil_test_low", _tenths),
        cell_or_none("soil_test_high", _tenths),
        cell_or_none("probability_short", percent),
        cell("need", whole),
        cell("rate", _rate),
        cell("applied", whole),
        cell("nitrogen", whole),
        cell_or_none("k2o", whole),
        cell_or_none("sulfur", whole),
        cell("total", whole),
        "" if zone.expected_need is None else whole(zone.expected_need),
        goal,
        tuple(notes),
        zone.ledger if told else (),
        water if told else None,
        zone.excluded or "",
    )


def _tenths(value: float) -> str:
    return f"{value:,.1f}"


def _rate(value: float) -> str:
    return shown(value, most=2)
