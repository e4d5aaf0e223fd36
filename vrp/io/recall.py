"""The prescription again, from what a folder holds of it and nothing else."""

from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import fields, replace
from pathlib import Path
from typing import Any, TypeVar

import pydantic
import shapely

from vrp.errors import InputError
from vrp.io import (
    geojson,
    geopackage,
    machine_files,
    machine_shapefile,
    map_files,
    page_file,
    raster,
    sheet_file,
    style,
    zone_table,
)
from vrp.io.agreement import AREA, UNREADABLE
from vrp.io.folder import RECORD
from vrp.io.record import Record, TotalsRecord, UniformRecord, ZoneRecord
from vrp.legend import every_column, soil_test_column
from vrp.plan import Plan
from vrp.prescription import (
    Amounts,
    Prescription,
    Sample,
    Totals,
    WaterFacts,
    Zone,
)
from vrp.spatial.field import geodesic_area
from vrp.units import INCH

Kind = TypeVar("Kind", Amounts, Prescription, Totals, WaterFacts)
Shapes = tuple[shapely.Geometry, ...]
Names = Collection[str]  # of files, by their way from the output folder
Polygons = shapely.Polygon | shapely.MultiPolygon

# What the record does not hold of a plan: paths and headings of its inputs.
_NOT_KEPT = "not kept"
_MAP = {
    "geojson": geojson.NAME,
    "geopackage": geopackage.NAME,
    "style": style.QML,
    "csv": zone_table.NAME,
    "raster": raster.NAME,
}
_PLAN = pydantic.TypeAdapter(Plan)


def recalled(record: Record, out: Path, *, changed: Names) -> Prescription:
    """
    Return the prescription that a folder's record tells of.

    The record has no ground: that of the zones comes from a file whose bytes are still
    those that were written, or else from one whose zones have the record's areas. Where
    there is none it is empty. The surface stays with its raster. A record that lacks
    what it must hold is refused.
    """
    bare = _prescription(record, _plan(record))
    shapes = _ground(bare, record, out, changed)
    zones = tuple(
        _zone(one, shape, bare) for one, shape in zip(record.zones, shapes, strict=True)
    )
    return replace(bare, zones=zones, samples=_samples(bare, out))


def _plan(record: Record) -> Plan:
    listed = {one.name for one in record.files}
    soil_test, seasons = record.soil_test, record.seasons
    per_depth = INCH * 100.0 if record.units == "us" else 1.0
    machine = []
    if record.task_data is not None:
        machine.append("task-data")
    if any(name.endswith(".shp") for name in listed):
        machine.append("shapefile")
    files: dict[str, Any] = {
        "map": [key for key, name in _MAP.items() if f"map/{name}" in listed],
        "report": page_file.NAME in listed,
        "job_sheet": sheet_file.NAME in listed,
    }
    if not files["map"]:
        del files["map"]
    if machine:
        files["machine"] = machine
    if record.task_data is not None:
        files["task_data_version"] = record.task_data.version
    try:
        return _PLAN.validate_python(
            {
                "units": record.units,
                "boundary": _NOT_KEPT,
                "field": record.field,
                "samples": {
                    "file": _NOT_KEPT,
                    "soil_test": _NOT_KEPT,
                    "method": soil_test.counted_as,
                    "unit": soil_test.unit,
                    "depth": soil_test.depth_cm / per_depth,
                },
                "season": [
                    {"crop": one.crop, "yield_goal": one.yield_goal}
                    for one in seasons
                    if one.zone == seasons[0].zone
                ],
                "product": record.product,
                "application": record.application,
                "machine": record.machine,
                "files": files,
            }
        )
    except pydantic.ValidationError as exc:
        where = ".".join(map(str, exc.errors()[0]["loc"]))
        message = f"{RECORD}: {where}: {exc.errors()[0]['msg']}; build the field again"
        raise InputError(message) from exc


def _prescription(record: Record, plan: Plan) -> Prescription:
    """Return the prescription but for its zones and samples."""
    sums: dict[str, Any] = {
        "zones": _amounts(record.totals),
        "uniform": _amounts(record.totals.uniform),
        "uniform_rate": record.totals.uniform.rate,
        "composite": record.totals.uniform.composite,
    }
    facts: dict[str, Any] = {
        "plan": plan,
        "samples": (),
        "zones": (),
        "totals": _like(Totals, record.totals, sums),
        "soil_test_map": None,
        "grid": record.task_data,
        "water": None,
    }
    if record.water is not None:
        facts["water"] = _like(WaterFacts, record.water, {"lines": None})
    return _like(Prescription, record, facts)


def _like(kind: type[Kind], kept: object, known: dict[str, Any]) -> Kind:
    """Return a thing whose other facts the record has by the same names."""
    names = [one.name for one in fields(kind) if one.name not in known]
    return kind(**known, **{name: getattr(kept, name) for name in names})


def _amounts(sums: TotalsRecord | UniformRecord) -> Amounts:
    return _like(Amounts, sums, {})


def _zone(one: ZoneRecord, shape: shapely.Geometry, bare: Prescription) -> Zone:
    row = one.model_dump()
    columns = every_column(bare)
    needed = {"area", "soil_test", "need", "rate", "applied", "nitrogen", "total"}
    for column in columns:
        value = row.get(column.name)
        kinds = (str,) if column.decimals is None else (int, float)
        absent = value is None and column.attribute not in needed
        if not (absent or isinstance(value, kinds)):
            said = f"zone {one.zone}: {column.name} is {value!r}"
            raise InputError(f"{RECORD}, {said}; build the field again")
    found: dict[str, Any] = {each.attribute: row.get(each.name) for each in columns}
    found |= {"geometry": shape, "yield_goal": one.yield_goal, "ledger": one.ledger}
    found["excluded"] = one.excluded
    return Zone(**found, expected_need=one.expected_need)


def _ground(bare: Prescription, record: Record, out: Path, changed: Names) -> Shapes:
    """Return the zones' ground, from the file that can be trusted most."""
    per = bare.plan.square_metres_per_area
    column = next(one.name for one in every_column(bare) if one.attribute == "area")
    numbers = [one.zone for one in record.zones]
    areas = [one.model_dump().get(column) for one in record.zones]
    found = list(_grounds(bare, out, numbers))
    for name, shapes in found:
        if name not in changed and len(shapes) == len(numbers):
            return shapes
    for _, shapes in found:
        if len(shapes) == len(numbers) and all(
            isinstance(area, (int, float))
            and abs(geodesic_area(shape) / per - area) <= AREA
            for shape, area in zip(shapes, areas, strict=True)
        ):
            return shapes
    return (shapely.MultiPolygon(),) * len(numbers)


def _grounds(
    bare: Prescription, out: Path, numbers: Sequence[int]
) -> Iterator[tuple[str, Shapes]]:
    """Yield the zones' shapes by the name of each file that has any to read."""

    def numbered(features: Sequence[tuple[Any, Any]]) -> Shapes:
        by_number = {row.get("zone"): shape for shape, row in features}
        return tuple(by_number[number] for number in numbers)

    def in_package(path: Path) -> Shapes:
        with geopackage.opened(path) as base:
            return numbered(geopackage.rows(base, geopackage.ZONES))

    folder = Path(machine_files.FOLDER)
    readers: tuple[tuple[Path, Callable[[Path], Shapes]], ...] = (
        (
            Path(map_files.FOLDER) / geojson.NAME,
            lambda path: numbered(geojson.read(path)),
        ),
        (Path(map_files.FOLDER) / geopackage.NAME, in_package),
        (machine_shapefile.path(folder, bare.plan), machine_shapefile.shapes),
    )
    for name, read in readers:
        try:
            shapes = read(out / name)
            solid = [isinstance(one, Polygons) and one.is_valid for one in shapes]
        except UNREADABLE:
            continue  # said where that file is compared
        if all(solid):
            yield name.as_posix(), shapes


def _samples(bare: Prescription, out: Path) -> tuple[Sample, ...]:
    """Return the samples as SQLite reads them, none where they cannot be read."""
    if "geopackage" not in bare.plan.files.map:
        return ()
    column = soil_test_column(bare)
    try:
        with geopackage.opened(out / map_files.FOLDER / geopackage.NAME) as base:
            found = geopackage.rows(base, geopackage.SAMPLES)
        return tuple(
            Sample(row["row"], row["id"], *_position(point), row[column])
            for point, row in found
        )
    except UNREADABLE:
        return ()  # said where that file is compared


def _position(point: shapely.Geometry) -> tuple[float, float]:
    ((longitude, latitude),) = shapely.get_coordinates(point).tolist()
    return longitude, latitude
