"""A built field on the day of application: its record held to the day."""

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from vrp.agronomy.ready import (
    Day,
    Forecast,
    Readiness,
    judge,
    looks_at_ground,
    unheard,
)
from vrp.agronomy.water import GENERAL, rule_set
from vrp.io.day_file import Told, told
from vrp.io.folder import mend
from vrp.io.record import Record, read
from vrp.plan import spread_of
from vrp.units import FOOT


def readiness(out: Path, *, file: Path | None, options: Mapping[str, Any]) -> Readiness:
    """Return what the rules that a record names say of the day."""
    mend(out.resolve())
    record = read(out)
    day = told(file, options, units=record.units)
    planned = spread_of(record.product, record.application)
    spread = replace(planned, growing_crop=day.growing_crop)
    if day.injected:
        spread = replace(spread, method="deep-band")
    elif day.worked_in is not None:
        spread = replace(spread, method="incorporated", worked_in=day.worked_in)
    rules = record.rules
    if not looks_at_ground(rules, spread):
        rules = (*rules, rule_set(GENERAL))
    zones, kept = _spread_zones(record), _kept(record)
    us = record.units == "us"
    size = 1.0 if us else FOOT
    return Readiness(
        field=record.field.name,
        grade=record.product.grade,
        material=spread.material,
        zones=tuple(number for number, _ in zones),
        area=round(sum(area for _, area in zones), 2),
        area_unit="ac" if us else "ha",
        rules=tuple(one.id for one in rules),
        named=bool(record.rules),
        kept=tuple((kind, round(far * size, 2)) for kind, far in kept.items()),
        length_unit="ft" if us else "m",
        judged=judge(
            rules,
            spread,
            _day(day, record),
            system=record.units,
            kept=kept,
            planned=planned,
        )
        if zones
        else (),
        planned=tuple(
            one
            for one in record.findings
            if one.holds_back
            or one.code.startswith("rule-")
            or one.code == "setback-below-rule"
        ),
        also=tuple(
            (one.id, said.text, said.source) for one in rules for said in one.also
        )
        if zones
        else (),
        unheard=unheard(rules, spread, _day(day, record)) if zones else (),
    )


def _spread_zones(record: Record) -> list[tuple[int, float]]:
    """Return number and area of the zones that get product."""
    area, rates = "area_ac", ("rate_lb_ac", "rate_gpa")
    if record.units == "metric":
        area, rates = "area_ha", ("rate_kg_ha", "rate_l_ha")
    rows = [one.model_dump() for one in record.zones]
    return [
        (row["zone"], float(row[area]))
        for row in rows
        if any(row.get(rate, 0.0) > 0.0 for rate in rates)
    ]


def _kept(record: Record) -> dict[str, float]:
    """Return the least distance that the map keeps from each kind of feature [ft]."""
    kept: dict[str, float] = {}
    size = 1.0 if record.units == "us" else 1.0 / FOOT
    for one in () if record.water is None else record.water.setbacks:
        # A boundary that was drawn with the distance keeps what it comes within.
        said = one.nearest if one.distance is None else one.distance
        far = said * size
        kept[one.kind] = min(far, kept.get(one.kind, far))
    return kept


def _day(day: Told, record: Record) -> Day:
    planned = None if record.application is None else record.application.date
    return Day(
        day=day.date or planned,
        forecast=tuple(
            Forecast(rain=one.rain, hours=one.hours, chance=one.chance)
            for one in day.forecast
        ),
        frozen=day.frozen,
        snow=day.snow,
        saturated=day.saturated,
    )
