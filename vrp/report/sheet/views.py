"""What the sheet says of a run, as text; its words stand in the template."""

from collections.abc import Callable, Collection, Iterator
from pathlib import PurePosixPath
from typing import Any

from vrp.agronomy.cautions import Caution, Where
from vrp.agronomy.products import BulkDensity, Grade, known
from vrp.agronomy.water import RuleSet
from vrp.agronomy.water_bearing import bearing
from vrp.evidence import shown, whole
from vrp.legend import (
    area_unit,
    product_rate_unit,
    product_unit,
    rate_column,
    rate_unit,
)
from vrp.plan import Plan, spread_of
from vrp.prescription import Prescription, WaterFacts, Zone
from vrp.report.load import as_tons, load, taken, thrown
from vrp.report.page.views import Told, told
from vrp.report.setback_view import kept_out
from vrp.report.svg import cut, spelled
from vrp.report.terminal import verdict_sentence
from vrp.units import FOOT, LB

Figure = dict[str, str]  # as it is meant, and as it is read

# Our choice: more zones stand three abreast, without what the rate carries.
_LONGEST, _BLOCK = 16, 8
# Our choice: a sheet of two pages has no room for more.
_MOST_FINDINGS, _MOST_ALIKE, _MOST_LETTERS = 8, 3, 400


def view(
    prescription: Prescription, *, digest: str, machine: Collection[str]
) -> dict[str, Any]:
    """Return what the sheet says; nothing of rates where a finding holds them back."""
    plan, field = prescription.plan, prescription.plan.field
    name = field.name if field.year is None else f"{field.name} {field.year}"
    found: dict[str, Any] = {
        "title": f"Job sheet: {name}",
        "name": name,
        "short-name": cut(name, size=1.0, room=36.0),
        "below": [
            cut(one, size=1.0, room=36.0)
            for one in (field.farm, field.client)
            if one is not None
        ],
        "paper": "us-letter" if plan.units == "us" else "a4",
        "digest": digest[:8],
        "held-back": prescription.held_back,
        "stops": [
            _finding(one) | {"remedy": one.remedy}
            for one in told(prescription.findings)
            if one.holds_back
        ],
        "spelled": [],
        "zones": [],
    }
    if not prescription.held_back:
        found |= _work(prescription, machine)
    made: dict[str, Any] = _plain(found)
    return made


def _work(prescription: Prescription, machine: Collection[str]) -> dict[str, Any]:
    plan, totals, zones = prescription.plan, prescription.totals, prescription.zones
    # The verdict is told in its own sentence.
    doubts = [
        one
        for one in told(prescription.findings)
        if one.severity != "note" and not one.code.startswith("verdict-")
    ]
    many = len(zones) > _LONGEST
    rows = min(_BLOCK, -(-len(zones) // 3)) if many else len(zones)
    return {
        "units": {
            "area": area_unit(prescription),
            "rate": rate_unit(prescription),
            "spread": product_rate_unit(prescription),
            "product": product_unit(prescription),
            "length": "ft" if plan.units == "us" else "m",
        },
        "product": {
            "grade": plan.product.grade,
            "form": plan.product.form,
            "s": None if plan.product.s is None else shown(plan.product.s, most=2),
        },
        "load": _load(prescription),
        "settings": [
            {"name": name, **facts} for name, facts in _settings(prescription)
        ],
        "map-told": f"Map of the zones with their rates: {_map_told(prescription)}",
        "zones": [_zone(one) for one in zones],
        "rows": rows,
        "excluded": any(one.excluded for one in zones),
        "nutrients": {
            "p2o5": not many and any(one.applied for one in zones),
            "nitrogen": not many and any(one.nitrogen for one in zones),
        },
        "other-nutrients": [
            name
            for name, values in (
                ("K2O", [one.k2o for one in zones]),
                ("S", [one.sulfur for one in zones]),
            )
            if any(values)
        ],
        "totals": {
            "area": _figure(totals.area, _tenths),
            "product": _figure(totals.zones.product, whole),
            "mean": _mean(prescription),
            "applied": whole(totals.zones.p2o5_applied / totals.area),
            "nitrogen": whole(totals.zones.nitrogen / totals.area),
        },
        "files": _files(machine),
        "column": rate_column(prescription).upper() if _shape(machine) else None,
        "water": _water(prescription),
        "rules": list(_rules(prescription)),
        "cautions": {
            where: [one.text for one in prescription.cautions if _beside(one) == where]
            for where in (*_BESIDE, "day")
        },
        "verdict": verdict_sentence(prescription),
        "findings": [_finding(one) for one in doubts[:_MOST_FINDINGS]],
        "more-findings": max(0, len(doubts) - _MOST_FINDINGS),
    }


# What stands elsewhere: that it is a draft, below the field's name; of the day, there.
_MOVED = {"draft": "", "on-the-day": "day", "rules-not-named": "day"}
_BESIDE: tuple[Where, ...] = ("machine", "water", "product", "placement", "general")


def _beside(caution: Caution) -> str:
    """Return which part of the sheet a caution stands in."""
    return _MOVED.get(caution.code, caution.where)


def _load(prescription: Prescription) -> dict[str, Any]:
    margin, unit = prescription.plan.machine.margin, product_unit(prescription)
    product, beside = taken(prescription), thrown(prescription)
    spread = [one for one in prescription.zones if one.rate > 0.0]
    found: dict[str, Any] = {
        "area": _tenths(sum(one.area for one in spread)),
        "rates": _ends([one.rate for one in spread]),
        "taken": _figure(product, whole),
        "thrown": _figure(beside, whole) if beside else None,
        "tons": as_tons(product, unit),
        "margin": None,
        "nothing": not spread,
    }
    if margin is not None:
        loaded = load(prescription)
        found["margin"] = shown(margin, most=2)
        found["product"] = _figure(loaded, whole)
        found["margin-tons"] = as_tons(loaded, unit)
    return found


def _ends(values: list[float]) -> str:
    ends = dict.fromkeys((min(values), max(values))) if values else {0.0: None}
    return " to ".join(shown(one, most=2) for one in ends)


def _settings(prescription: Prescription) -> Iterator[tuple[str, dict[str, str]]]:
    plan = prescription.plan
    machine, product = plan.machine, plan.product
    length = "ft" if plan.units == "us" else "m"
    spread, area = product_rate_unit(prescription), area_unit(prescription)
    rates = [one.rate for one in prescription.zones if one.rate > 0.0]
    bare = [one for one in prescription.zones if one.rate == 0.0]

    def with_unit(value: float, unit: str) -> dict[str, str]:
        return {"value": f"{shown(value, most=2)} {unit}"}

    yield "lowest", with_unit(min(rates, default=0.0), spread)
    yield "highest", with_unit(max(rates, default=0.0), spread)
    if machine.step is None:
        yield "whole_rates", {}
    else:
        yield "step", with_unit(machine.step, spread)
    if machine.min_rate:
        yield "min_rate", with_unit(machine.min_rate, spread)
    if machine.max_rate is not None:
        yield "max_rate", with_unit(machine.max_rate, spread)
    if bare:
        yield "nothing", {"value": f"{_tenths(sum(one.area for one in bare))} {area}"}
    yield "outside", with_unit(0.0, spread)
    yield "default_rate", with_unit(machine.default_rate, spread)
    if machine.swath is None:
        yield "no_swath", {}
    else:
        yield "swath", with_unit(machine.swath, length)
    if machine.border:
        yield "border", {}
    yield "form", {"value": product.form}
    if product.density is not None:
        unit = "lb/gal" if plan.units == "us" else "kg/L"
        yield "density", with_unit(product.density, unit)
    plain = known(Grade.parse(product.grade))
    bulk = None if plain is None else plain.bulk_density
    if bulk is not None and product.form == "granular":
        yield "bulk_density", {"value": _bulk(bulk, plan), "also": bulk.source.status}


def _bulk(density: BulkDensity, plan: Plan) -> str:
    if plan.units == "us":
        return f"{density.low:g}–{density.high:g} {density.unit}"
    # To tens, as wide as such a range is.
    ends = (round(one * LB / FOOT**3, -1) for one in (density.low, density.high))
    return f"{'–'.join(f'{one:.0f}' for one in ends)} kg/m3"


def _map_told(prescription: Prescription) -> str:
    unit = product_rate_unit(prescription)
    said = [
        f"zone {zone.number} {shown(zone.rate, most=2)} {unit}"
        for zone in prescription.zones[:_LONGEST]
    ]
    more = len(prescription.zones) - _LONGEST
    return ", ".join(said) + (f" and {more} more, in the table" if more > 0 else "")


def _zone(zone: Zone) -> dict[str, Any]:
    return {
        "zone": zone.number,
        "area": _figure(zone.area, _tenths),
        "rate": _figure(zone.rate, _rate),
        "total": _figure(zone.total, whole),
        "applied": _figure(zone.applied, whole),
        "nitrogen": _figure(zone.nitrogen, whole),
        "excluded": zone.excluded is not None,
        "nothing": zone.rate == 0.0,
    }


def _mean(prescription: Prescription) -> str:
    totals = prescription.totals
    # A pound is little, a gallon is not.
    decimals = 1 if product_unit(prescription) == "gal" else 0
    return f"{totals.zones.product / totals.area:,.{decimals}f}"


def _shape(machine: Collection[str]) -> str | None:
    """Return the name of the shapefile among the machine's files."""
    names = (PurePosixPath(one) for one in machine)
    return next((one.name for one in names if one.suffix == ".shp"), None)


def _files(machine: Collection[str]) -> dict[str, Any]:
    return {
        "shapefile": _shape(machine),
        "task-data": any(one.endswith("/TASKDATA.XML") for one in machine),
    }


def _water(prescription: Prescription) -> dict[str, Any]:
    water = prescription.water
    if water is None:
        return {"rows": [], "said": []}
    return {"rows": list(_setbacks(water)), "said": kept_out(prescription)}


def _setbacks(water: WaterFacts) -> Iterator[dict[str, str | None]]:
    def told_or_none(value: float | None) -> str | None:
        return None if value is None else shown(value, most=1)

    for one in water.setbacks:
        yield {
            "kind": one.kind,
            "file": one.file,
            "distance": told_or_none(one.distance),
            "no-drive": told_or_none(one.no_drive),
            "nearest": f"{one.nearest:,.0f}",
        }


def _rules(prescription: Prescription) -> Iterator[dict[str, str]]:
    """Yield the rules of the day that bind what is spread, as far as that is told."""
    plan = prescription.plan
    spread = spread_of(plan.product, plan.application)
    for one in prescription.rules:
        for rule in _daily(one):
            found = bearing(rule, spread)
            if found.binds:
                text = rule.text[:1].upper() + rule.text[1:]
                yield {"text": text, "set": one.id, "place": one.place}


def _daily(rules: RuleSet) -> Iterator[Any]:
    yield from (*rules.rain, *rules.ground, *rules.season)


def _finding(one: Told) -> dict[str, str | None]:
    said = "; ".join(one.messages[:_MOST_ALIKE])
    more = len(one.messages) - _MOST_ALIKE
    if more > 0:
        said += f"; and {more} more"
    return {"code": one.code, "said": said, "accepted": one.accepted or None}


def _figure(value: float, said: Callable[[float], str]) -> Figure:
    return {"value": repr(value), "text": said(value)}


def _tenths(value: float) -> str:
    return f"{value:,.1f}"


def _rate(value: float) -> str:
    return shown(value, most=2)


def _plain(found: Any) -> Any:
    """Return texts that neither hide nor turn what is beside them, nor are endless."""
    if isinstance(found, str):
        held = spelled(found).encode("utf-8", "backslashreplace").decode("utf-8")
        return held if len(held) <= _MOST_LETTERS else f"{held[:_MOST_LETTERS]}…"
    if isinstance(found, dict):
        return {key: _plain(value) for key, value in found.items()}
    if isinstance(found, list):
        return [_plain(value) for value in found]
    return found
