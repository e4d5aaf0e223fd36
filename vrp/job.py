"""One field, from its file to a folder that stands whole."""

import os
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from vrp.agronomy.guidelines import Guideline, settled
from vrp.errors import InputError
from vrp.io import (
    folder,
    machine_files,
    map_files,
    page_file,
    record,
    rule_file,
    sheet_file,
    verify,
)
from vrp.io.elevation import read_slope
from vrp.io.field_file import FieldFile, read_field_file
from vrp.io.guideline_file import find
from vrp.io.samples import read_samples
from vrp.io.vector import read_boundary, read_lines, read_polygons
from vrp.io.water_file import read_water
from vrp.io.zone_layers import read_zone_layer
from vrp.pipeline import Areas, Inputs, build
from vrp.plan import CreditMap, Plan, SampleTable, YieldMap
from vrp.prescription import Prescription
from vrp.report.page import page
from vrp.report.sheet import sheet
from vrp.spatial.barriers import part_by_lines
from vrp.spatial.field import Field
from vrp.spatial.regions import Shape
from vrp.spatial.slope import Terrain
from vrp.water_plan import IndexMap

_SHAPEFILE = (".shp", ".shx", ".dbf", ".prj", ".cpg")


def run(
    field_file: Path, *, out: Path | None = None, overwrite: bool = False
) -> tuple[Prescription, Path]:
    """Build one field; return what came out and the folder that it stands in."""
    asked = read_field_file(field_file)
    out = (out or asked.path.parent / "out").resolve()
    folder.refuse_inputs(out, _input_files(asked))
    with folder.lock(out):
        new = folder.stage(out, overwrite=overwrite)
        try:
            prescription = build(asked.plan, _read(asked.plan))
            prescription = _write(new, prescription, asked)
            verify.check(new, prescription)
            folder.swap(new, out)
        finally:
            folder.discard(new)
    return prescription, out


def _read(plan: Plan) -> Inputs:
    field = read_boundary(plan.boundary)
    name, guideline = _guideline(plan)
    found = read_samples(plan.samples, field, metres_per_length=plan.metres_per_length)
    zones = None
    if plan.zones.file is not None:
        zones = read_polygons(plan.zones.file, field=field).shapes
    overrides = tuple(
        None if one.file is None else read_polygons(one.file, field=field).shapes
        for one in plan.override
    )
    yields = tuple(_yields(one.yield_goal, field) for one in plan.season)
    apart: tuple[Shape, ...] = ()
    if plan.samples.barriers is not None:
        lines = read_lines(plan.samples.barriers, field=field)
        shapes, names = lines.shapes.tolist(), lines.names()
        apart = part_by_lines(field.outline, shapes, names=names)
    return Inputs(
        field,
        found.samples,
        found.used_outside,
        found.dropped,
        found.notes,
        name,
        guideline,
        zones,
        overrides,
        yields,
        tuple(_credit(one.p2o5, field) for one in plan.credit),
        found.layers,
        apart,
        terrain=_terrain(plan, field),
        p_index=_p_index(plan, field),
        zone_layers=tuple(
            read_zone_layer(one, field=field, metres_per_length=plan.metres_per_length)
            for one in plan.zones.layers
        ),
        rules=rule_file.find_all(_rules(plan)),
        water=()
        if plan.water is None
        else tuple(read_water(one, field=field) for one in plan.water.features),
    )


def _p_index(plan: Plan, field: Field) -> Areas | None:
    asked = _index_map(plan)
    if asked is None:
        return None
    areas = _areas(asked, field)
    wrong = np.flatnonzero(~(areas.values >= 0.0))
    _refuse(areas, asked.column, wrong, "an index must be 0 or more")
    return areas


def _index_map(plan: Plan) -> IndexMap | None:
    if plan.water is None or plan.water.p_index is None:
        return None
    value = plan.water.p_index.value
    return value if isinstance(value, IndexMap) else None


def _terrain(plan: Plan, field: Field) -> Terrain | None:
    water = plan.water
    if water is None or water.elevation is None:
        return None
    return read_slope(water.elevation, field=field, unit=water.elevation_unit)


def _rules(plan: Plan) -> tuple[str, ...]:
    return () if plan.water is None else plan.water.rules


def _guideline(plan: Plan) -> tuple[str, Guideline]:
    if plan.need.guideline is None:
        from vrp.agronomy.guidelines import shipped

        crops, method = {one.crop for one in plan.season}, plan.samples.counted_method
        fitting = [
            name
            for name, one in shipped().items()
            if crops <= set(one.crops)
            and method in one.soil_test.methods
            and one.state == "current"
        ]
        fit = ", ".join(fitting) or "none that ships; vrp guidelines lists them"
        message = (
            f"need.guideline is missing; those with {', '.join(sorted(crops))} by "
            f"{method}: {fit}"
        )
        raise InputError(message)
    name, printed = find(plan.need.guideline)
    _refuse_needless(plan.samples, printed, name=name)
    need = plan.need
    guideline = settled(
        printed,
        method=plan.samples.counted_method,
        region=need.region,
        build_years=need.build_years,
    )
    return name, guideline


def _refuse_needless(samples: SampleTable, guideline: Guideline, *, name: str) -> None:
    """Refuse a conversion from a method that the guideline was made for."""
    if samples.convert is not None and samples.method in guideline.soil_test.methods:
        message = (
            f"samples.convert = {samples.convert!r}: {name} has figures for "
            f"{samples.method} itself: leave convert out"
        )
        raise InputError(message)


def _yields(goal: float | YieldMap, field: Field) -> Areas | None:
    if not isinstance(goal, YieldMap):
        return None
    areas = _areas(goal, field)
    wrong = np.flatnonzero(~(areas.values > 0.0))
    _refuse(areas, goal.column, wrong, "a yield goal must be above 0")
    return areas


def _credit(p2o5: float | CreditMap | None, field: Field) -> Areas | None:
    if not isinstance(p2o5, CreditMap):
        return None
    areas = _areas(p2o5, field)
    wrong = np.flatnonzero(~(areas.values >= 0.0))
    _refuse(areas, p2o5.column, wrong, "a credit must be 0 or more")
    return areas


def _areas(asked: YieldMap | CreditMap | IndexMap, field: Field) -> Areas:
    read = read_polygons(asked.file, field=field, columns=(asked.column,))
    return Areas(read.file, read.rows, read.shapes, read.columns[asked.column])


def _refuse(areas: Areas, column: str, wrong: NDArray[np.intp], remedy: str) -> None:
    if len(wrong):
        place, value = areas.names()[wrong[0]], areas.values[wrong[0]]
        raise InputError(f"{place}: {column} is {value:g}; {remedy}")


def _write(new: Path, prescription: Prescription, asked: FieldFile) -> Prescription:
    """Write all files; return the prescription with what became of its grid."""
    try:
        map_files.write(new / "map", prescription)
        if not prescription.held_back:
            grid = machine_files.write(new / "machine", prescription)
            prescription = replace(prescription, grid=grid)
        inputs = {
            _from_field(path, asked): folder.digest(path)
            for path in _input_files(asked)
            if path.exists()
        }
        signed = record.signed(prescription, inputs=inputs)
        if asked.plan.files.report:
            text = page(prescription, digest=signed.digest, inputs=inputs)
            page_file.write(new, text)
        if asked.plan.files.job_sheet:
            machine = folder.files_below(new / machine_files.FOLDER)
            made = sheet(prescription, digest=signed.digest, machine=machine)
            sheet_file.write(new, made)
        record.write(new, signed, files=folder.files_below(new))
    except OSError as exc:
        raise InputError(f"{new.parent}: cannot be written: {exc.strerror}") from exc
    return prescription


def _from_field(path: Path, asked: FieldFile) -> str:
    """Return the way to a file from the field file's folder: files may share a name."""
    return Path(os.path.relpath(path, asked.path.parent)).as_posix()


def _input_files(asked: FieldFile) -> Iterator[Path]:
    plan = asked.plan
    named = [
        asked.path,
        asked.farm,
        plan.boundary,
        plan.samples.file,
        plan.samples.points,
        plan.samples.barriers,
        plan.zones.file,
        None if plan.water is None else plan.water.elevation,
        None if (indices := _index_map(plan)) is None else indices.file,
        *(() if plan.water is None else (one.file for one in plan.water.features)),
        *(one.file for one in plan.zones.layers),
        *(one.file for one in plan.override),
        *(
            one.yield_goal.file
            for one in plan.season
            if isinstance(one.yield_goal, YieldMap)
        ),
        *(one.p2o5.file for one in plan.credit if isinstance(one.p2o5, CreditMap)),
    ]
    texts = (plan.need.guideline or "", *_rules(plan))
    named += [Path(one) for one in texts if one.endswith(".toml")]
    for path in named:
        if path is not None and path.suffix.lower() == ".shp":
            yield from (path.with_suffix(suffix) for suffix in _SHAPEFILE)
        elif path is not None:
            yield path
