"""Rates that someone edited in a file, and what a field file needs to adopt them."""

import json
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import shapely

from vrp.evidence import shown
from vrp.io import geojson, geopackage, machine_files, machine_shapefile, map_files
from vrp.io.agreement import UNREADABLE, known
from vrp.io.zone_table import place
from vrp.legend import area_unit, plain, product_rate_unit, product_unit, rate_column
from vrp.prescription import Prescription, Zone
from vrp.spreading import Spreading, need_met, product_rate

Found = dict[int, tuple[shapely.Geometry, Any]]  # ground and rate of each zone


@dataclass(frozen=True, slots=True)
class Edit:
    """A zone's rate in a file, other than in the record."""

    zone: int
    files: tuple[str, ...]
    was: float  # product [lb/ac, kg/ha, gal/ac or L/ha]
    now: float
    product: float  # more in the zone [lb, kg, gal or L]
    unit: str  # of the rates


@dataclass(frozen=True, slots=True)
class Adoption:
    """Edited rates, what is to be said of them, and lines for the field file."""

    edits: tuple[Edit, ...] = ()
    sentences: tuple[str, ...] = ()
    lines: str = ""

    def as_json(self) -> dict[str, Any]:
        """Return the same as plain values."""
        return {
            "edits": [asdict(one) for one in self.edits],
            "said": list(self.sentences),
            "field_file": self.lines,
        }


def found(out: Path, prescription: Prescription, *, trusted: bool) -> Adoption:
    """Return the rates that files have otherwise, as far as one can be adopted."""
    refused: list[str] = []
    edited: list[Edit] = []
    for name, count, zones in _files(out, prescription):
        if count != len(prescription.zones) or not _as_built(zones, prescription):
            said = f"{name}: zones were moved, added or deleted"
            refused.append(f"{said}, so no override is offered from it.")
        else:
            edited += _edits(name, zones, prescription)
    together = _together(edited)
    if not together:
        return Adoption((), tuple(refused), "")
    sentences = [_sentence(one, prescription) for one in together]
    sentences.append(_in_all(together, prescription))
    blocks: list[str] = []
    if not trusted:
        refused.append("The record itself was changed, so no override is offered.")
    else:
        for number in dict.fromkeys(one.zone for one in together):
            said_too, block = _adopted(
                [one for one in together if one.zone == number], prescription
            )
            refused += said_too
            blocks += block
    return Adoption(tuple(together), (*sentences, *refused), "\n".join(blocks))


def _as_built(zones: Found, prescription: Prescription) -> bool:
    return known(prescription) and all(
        one.number in zones and shapely.equals(zones[one.number][0], one.geometry)
        for one in prescription.zones
    )


def _files(out: Path, prescription: Prescription) -> Iterator[tuple[str, int, Found]]:
    """Yield the zones of each file that holds them, with how many it holds."""
    column, asked = rate_column(prescription), prescription.plan.files
    folder, path = Path(map_files.FOLDER), Path()
    try:
        if "geojson" in asked.map:
            path = folder / geojson.NAME
            features = geojson.read(out / path)
            yield path.as_posix(), len(features), _numbered(features, column)
    except UNREADABLE:
        pass  # said where that file is compared, as are the other two
    try:
        if "geopackage" in asked.map:
            path = folder / geopackage.NAME
            with geopackage.opened(out / path) as base:
                features = geopackage.rows(base, geopackage.ZONES)
            yield path.as_posix(), len(features), _numbered(features, column)
    except UNREADABLE:
        pass
    try:
        if "shapefile" in asked.machine and not prescription.held_back:
            folder = Path(machine_files.FOLDER)
            path = machine_shapefile.path(folder, prescription.plan)
            records = machine_shapefile.read_by_pyshp(out / path)
            of_zone = machine_files.matched(prescription, [one for one, _ in records])
            zones = {
                zone.number: (records[at][0], records[at][1][column.upper()])
                for zone, at in zip(prescription.zones, of_zone, strict=True)
                if at is not None
            }
            yield path.as_posix(), len(records), zones
    except UNREADABLE:
        pass


def _numbered(features: Sequence[tuple[Any, Any]], column: str) -> Found:
    return {row["zone"]: (shape, row[column]) for shape, row in features}


def _edits(name: str, zones: Found, prescription: Prescription) -> Iterator[Edit]:
    unit = product_rate_unit(prescription)
    for zone in prescription.zones:
        now = zones[zone.number][1]
        if isinstance(now, (int, float)) and 0.0 <= now < float("inf"):
            now = float(now)
            if now != zone.rate:
                more = round((now - zone.rate) * zone.area, 2)
                yield Edit(zone.number, (name,), zone.rate, now, more, unit)


def _together(edited: list[Edit]) -> list[Edit]:
    """Return edits in the order of the zones, those that are alike as one."""
    files: dict[tuple[int, float], list[Edit]] = {}
    for one in edited:
        files.setdefault((one.zone, one.now), []).append(one)
    return [
        Edit(
            alike[0].zone,
            tuple(name for one in alike for name in one.files),
            alike[0].was,
            alike[0].now,
            alike[0].product,
            alike[0].unit,
        )
        for _, alike in sorted(files.items())
    ]


def _sentence(one: Edit, prescription: Prescription) -> str:
    difference, unit = one.now - one.was, product_unit(prescription)
    area = _zone(one, prescription).area
    return (
        f"Zone {one.zone}: {shown(one.now)} {one.unit} in place of {shown(one.was)}, "
        f"{_more(difference, one.unit)}; {_more(one.product, unit)} product on "
        f"{area:.1f} {area_unit(prescription)} ({', '.join(one.files)})."
    )


def _in_all(together: Sequence[Edit], prescription: Prescription) -> str:
    """Return what the edits add up to, where no zone was edited to two rates."""
    every = (
        "Every other file has the record's rates still: only a build carries an edit "
        "to all."
    )
    if len({one.zone for one in together}) < len(together):
        return every
    more = sum(one.product for one in together)
    total, unit = prescription.totals.zones.product, product_unit(prescription)
    return (
        f"In all {_more(more, unit)} product, {total + more:,.0f} {unit} in place of "
        f"{total:,.0f}. {every}"
    )


def _more(difference: float, unit: str) -> str:
    word = "more" if difference > 0.0 else "less"
    return f"{shown(abs(difference), most=2)} {unit} {word}"


def _zone(one: Edit, prescription: Prescription) -> Zone:
    return next(zone for zone in prescription.zones if zone.number == one.zone)


def _adopted(
    edited: Sequence[Edit], prescription: Prescription
) -> tuple[list[str], list[str]]:
    """Return what keeps a zone's edit from being adopted, or the lines that do it."""
    one, plan, name = edited[0], prescription.plan, f"Zone {edited[0].zone}"
    if len(edited) > 1:
        rates = " and ".join(shown(each.now) for each in edited)
        said = f"{name} was edited to {rates} {one.unit}: no override until it is one."
        return [said], []
    low, high = plan.machine.min_rate, plan.machine.max_rate
    for beyond, key, bound in (
        (high is not None and one.now > high, "max_rate", high or 0.0),
        (0.0 < one.now < low, "min_rate", low),
    ):
        if beyond:
            said = f"{name}: {shown(one.now)} {one.unit} is beyond machine.{key}"
            return [f"{said}, {shown(bound)}, so no override: edit one of them."], []
    spreading = Spreading.of(plan, product=plan.product)
    asked, zone = one.now, _zone(one, prescription)
    if zone.excluded is not None:
        said = f"{name} is excluded ({zone.excluded}), so no override: mend [water]."
        return [said], []
    notes: list[str] = []
    held = product_rate(asked * spreading.carries, spreading).rate
    if held != asked:
        step = f"the spreader's step of {shown(spreading.step)}"
        notes.append(
            f"{name}: {shown(asked)} {one.unit} becomes {shown(held)} by {step}."
        )
    need = shown(need_met(held, spreading), most=9)
    if any(line.step == "override" for line in zone.ledger):
        notes.append(
            f"{name} has an override already: change its p2o5 to {need} and its reason."
        )
        return notes, []
    longitude, latitude = place(zone)
    reason = f"{shown(held)} {one.unit} in place of {shown(one.was)}, edited in "
    reason += ", ".join(one.files)
    worked = f"{shown(held)} × {shown(spreading.p2o5)}"
    if spreading.density is not None:
        worked += f" × {shown(spreading.density)}"
    lines = (
        f"[[override]]  # zone {one.zone}",
        f"point = [{longitude}, {latitude}]",
        f"p2o5 = {need}  # {spreading.unit} of P2O5: {worked}",
        f"reason = {json.dumps(plain(reason), ensure_ascii=False)}",
        "",
    )
    return notes, ["\n".join(lines)]
