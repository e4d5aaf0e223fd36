"""record.json: everything about a run, for other programs and for the file."""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import fields
from functools import cache
from importlib.metadata import version
from pathlib import Path
from typing import Annotated, Any, Literal

import pydantic
from pydantic import ConfigDict
from pydantic.dataclasses import dataclass

from vrp.agronomy.cautions import Caution
from vrp.agronomy.water import RuleSet, plain_rules
from vrp.agronomy.water_facts import ZoneWater
from vrp.errors import InputError
from vrp.evidence import Finding, LedgerLine
from vrp.io.folder import RECORD, mend
from vrp.legend import columns
from vrp.plan import Application, FieldName, Machine, Product
from vrp.prescription import (
    Amounts,
    DrawnZones,
    GuidelineFacts,
    MachineGrid,
    Prescription,
    ProductFacts,
    SeasonFacts,
    Setback,
    SurfaceFacts,
    ZoningFacts,
)
from vrp.units import System

FORMAT = 1
_LIBRARIES = (
    "vrp",
    "numpy",
    "pyproj",
    "rasterio",
    "scikit-learn",
    "scipy",
    "shapely",
)


@dataclass(frozen=True, slots=True)
class NamedDigest:
    """A file and the sha256 of its bytes."""

    name: str
    sha256: str


@dataclass(frozen=True, slots=True)
class SoilTestRecord:
    """What the laboratory measured, on how many samples, and what it counts as."""

    method: str
    counted_as: str
    expressed_as: str
    computed_from: str | None
    convert: str | None
    unit: str
    depth_cm: float
    sampled: str | None
    samples: int


class ZoneRecord(pydantic.BaseModel):
    """A zone: the columns of the map by the same names, and the ledger."""

    model_config = ConfigDict(extra="allow", frozen=True)

    zone: int
    stp_class: str
    stp_lo: float | None
    stp_hi: float | None
    p_short: float | None
    note: str
    yield_goal: float
    expected_need: float | None
    ledger: tuple[LedgerLine, ...]
    excluded: str | None


@dataclass(frozen=True, slots=True)
class UniformRecord:
    """The same ground at the guideline's rate for the field's composite."""

    composite: float
    rate: float
    p2o5_need: float
    p2o5_applied: float
    nitrogen: float
    product: float
    cost: float | None


@dataclass(frozen=True, slots=True)
class TotalsRecord:
    """Sums over the zones."""

    area: float
    p2o5_need: float
    p2o5_applied: float
    nitrogen: float
    product: float
    cost: float | None
    unit: str
    product_unit: str
    need_low: float | None
    need_high: float | None
    excluded_area: float
    uniform: UniformRecord


@dataclass(frozen=True, slots=True)
class WaterRecord:
    """What distances from water keep out; the lines stand in the map's files."""

    setbacks: tuple[Setback, ...]
    throw: float | None
    kept_area: float
    kept_p2o5: float
    kept_product: float
    strip_area: float
    strip_product: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """The whole record."""

    format: Literal[1]
    digest: Annotated[str, pydantic.Field(pattern="^[0-9a-f]{64}$")]
    files: tuple[NamedDigest, ...]
    field: FieldName
    inputs: tuple[NamedDigest, ...]
    software: dict[str, str]
    units: System
    seed: int
    cell: float
    product: Product
    application: Application | None
    machine: Machine
    task_data: MachineGrid | None
    soil_test: SoilTestRecord
    surface: SurfaceFacts | None
    drawn: DrawnZones | None
    guideline: GuidelineFacts
    zones: tuple[ZoneRecord, ...]
    totals: TotalsRecord
    products: tuple[ProductFacts, ...]
    rules: tuple[RuleSet, ...]
    cautions: tuple[Caution, ...]
    findings: tuple[Finding, ...]
    water: WaterRecord | None
    water_zones: tuple[ZoneWater, ...]
    seasons: tuple[SeasonFacts, ...]
    zoning: ZoningFacts | None


_RECORD = pydantic.TypeAdapter(Record)


@dataclass(frozen=True, slots=True)
class Signed:
    """What a record says but for its list of files, and the sha256 of it."""

    digest: str
    content: dict[str, Any]


def signed(prescription: Prescription, *, inputs: Mapping[str, str]) -> Signed:
    """Return a record before the files that print its digest are written."""
    content = {"format": FORMAT} | _signed(prescription, inputs)
    return Signed(digest_of(content), content)


def write(folder: Path, asked: Signed, *, files: Mapping[str, str]) -> None:
    """Write record.json, whose files are by then in the folder."""
    own = {"format": FORMAT, "digest": asked.digest, "files": _named(files)}
    record = own | asked.content
    text = json.dumps(record, ensure_ascii=False, indent=1, allow_nan=False)
    (folder / RECORD).write_text(text + "\n", "utf-8", newline="\n")


def read(folder: Path) -> Record:
    """Return the record of an output folder, which nobody changed."""
    record, untouched = read_any(folder)
    if not untouched:
        path = folder / RECORD
        message = f"{path}: was changed after vrp wrote it; build the field again"
        raise InputError(message)
    return record


def read_any(folder: Path) -> tuple[Record, bool]:
    """Return the record of an output folder, and whether its digest is its own."""
    path = folder / RECORD
    try:
        text = path.read_text("utf-8")
    except OSError as exc:
        raise InputError(
            f"{folder}: holds no record.json; vrp build writes it"
        ) from exc
    except UnicodeDecodeError as exc:
        message = f"{path}: is no text in UTF-8; build the field again"
        raise InputError(message) from exc
    try:
        record = _RECORD.validate_json(text)
    except pydantic.ValidationError as exc:
        first = exc.errors()[0]
        place = ".".join(str(key) for key in first["loc"]) or "the file"
        message = (
            f"{path}: is no record as this version of vrp writes it: {place}: "
            f"{first['msg']}; build the field again"
        )
        raise InputError(message) from exc
    return record, digest_of(json.loads(text)) == record.digest


def zones(folder: Path, *, number: int | None) -> tuple[ZoneRecord, ...]:
    """Return the zones of an output folder, or the one asked for."""
    mend(folder.resolve())
    found = read(folder).zones
    if number is None:
        return found
    if not any(one.zone == number for one in found):
        raise InputError(f"{folder}: has no zone {number}; it has 1 to {len(found)}")
    return tuple(one for one in found if one.zone == number)


def as_json(found: tuple[ZoneRecord, ...]) -> str:
    """Return zones as JSON, as the record has them."""
    plain = [one.model_dump(mode="json") for one in found]
    return json.dumps(plain, ensure_ascii=False, indent=1, allow_nan=False)


def digest_of(record: Mapping[str, Any]) -> str:
    """Return the sha256 of a record without its digest and its list of files."""
    bare = {key: value for key, value in record.items() if key not in _UNSIGNED}
    text = json.dumps(bare, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


_UNSIGNED = ("digest", "files")


def schema() -> dict[str, Any]:
    """Return the JSON Schema of a record."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **_RECORD.json_schema(),
        "title": "vrp record",
    }


def _signed(prescription: Prescription, inputs: Mapping[str, str]) -> dict[str, Any]:
    plan, totals = prescription.plan, prescription.totals
    uniform = {"composite": totals.composite, "rate": totals.uniform_rate}
    return {
        "field": _plain(FieldName, plan.field),
        "inputs": _named(inputs),
        "software": {name: version(name) for name in _LIBRARIES},
        "units": plan.units,
        "seed": plan.zones.seed,
        "cell": prescription.cell,
        "product": _plain(Product, plan.product),
        "application": _plain(Application | None, plan.application),
        "machine": _plain(Machine, plan.machine),
        "task_data": _plain(MachineGrid | None, prescription.grid),
        "soil_test": {
            "method": plan.samples.method,
            "counted_as": plan.samples.counted_method,
            "expressed_as": plan.samples.expressed_as or "P",
            "computed_from": plan.samples.computed_from,
            "convert": plan.samples.convert,
            "unit": plan.samples.unit,
            "depth_cm": round(plan.sample_depth, 2),
            "sampled": None
            if plan.samples.sampled is None
            else str(plan.samples.sampled),
            "samples": len(prescription.samples),
        },
        "surface": _plain(SurfaceFacts | None, prescription.surface),
        "drawn": _plain(DrawnZones | None, prescription.drawn),
        "guideline": _plain(GuidelineFacts, prescription.guideline),
        "zones": _zones(prescription),
        "totals": {
            "area": totals.area,
            **_plain(Amounts, totals.zones),
            "unit": totals.unit,
            "product_unit": totals.product_unit,
            "need_low": totals.need_low,
            "need_high": totals.need_high,
            "excluded_area": totals.excluded_area,
            "uniform": uniform | _plain(Amounts, totals.uniform),
        },
        "products": [_plain(ProductFacts, one) for one in prescription.products],
        "rules": [plain_rules(one) for one in prescription.rules],
        "cautions": [_plain(Caution, one) for one in prescription.cautions],
        "findings": [_plain(Finding, one) for one in prescription.findings],
        "water": _water(prescription),
        "water_zones": [_plain(ZoneWater, one) for one in prescription.water_zones],
        "seasons": [_plain(SeasonFacts, one) for one in prescription.seasons],
        "zoning": _plain(ZoningFacts | None, prescription.zoning),
    }


def _zones(prescription: Prescription) -> list[dict[str, Any]]:
    names = columns(prescription)
    return [
        {one.name: one.of(zone) for one in names}
        | {
            "stp_lo": zone.soil_test_low,
            "stp_hi": zone.soil_test_high,
            "p_short": zone.probability_short,
            "yield_goal": zone.yield_goal,
            "expected_need": zone.expected_need,
            "ledger": [_plain(LedgerLine, line) for line in zone.ledger],
            "excluded": zone.excluded,
        }
        for zone in prescription.zones
    ]


def _water(prescription: Prescription) -> dict[str, Any] | None:
    water = prescription.water
    if water is None:
        return None
    figures = {one.name: getattr(water, one.name) for one in fields(WaterRecord)}
    found: dict[str, Any] = _plain(WaterRecord, WaterRecord(**figures))
    return found


def _named(digests: Mapping[str, str]) -> list[dict[str, str]]:
    return [
        {"name": name, "sha256": sha256} for name, sha256 in sorted(digests.items())
    ]


def _plain(kind: Any, value: object) -> Any:
    return _adapter(kind).dump_python(value, mode="json")


@cache
def _adapter(kind: Any) -> pydantic.TypeAdapter[Any]:
    """Return what turns a kind into plain values: made once, it takes milliseconds."""
    return pydantic.TypeAdapter(kind)
