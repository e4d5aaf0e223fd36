"""The files of machine/: those that the plan asks for, written and compared."""

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from vrp.io import machine_shapefile, taskdata, taskdata_compare
from vrp.io.agreement import (
    Comparison,
    both_ways,
    carried,
    count,
    extent,
    ground,
    known,
    lonlat,
)
from vrp.legend import rate_column
from vrp.prescription import MachineGrid, Prescription

FOLDER = "machine"
_SHAPEFILE = (".shp", ".shx", ".dbf", ".prj", ".cpg")


def write(folder: Path, prescription: Prescription) -> MachineGrid | None:
    """Make the folder and write what the plan asks for; return the task data's grid."""
    asked = prescription.plan.files
    folder.mkdir()
    if "shapefile" in asked.machine:
        machine_shapefile.write(folder, prescription)
    if "task-data" not in asked.machine:
        return None
    version = asked.task_data_version
    (grid,) = taskdata.write(folder, [prescription], version=version)
    return grid


def comparisons(prescription: Prescription) -> tuple[Comparison, ...]:
    """Return what can be compared in the files that the plan asks for."""
    asked, found = prescription.plan.files.machine, []
    if prescription.held_back:
        return ()
    if "shapefile" in asked:
        stem = machine_shapefile.file_name(prescription.plan)
        names = tuple(f"{FOLDER}/{stem}{suffix}" for suffix in _SHAPEFILE)
        compared = "rates, shapes, CRS, total"
        found.append(Comparison(names, compared, _shapefile))
    if "task-data" in asked:
        names = ("TASKDATA.XML", "GRD00001.bin")
        below = tuple(f"{FOLDER}/TASKDATA/{name}" for name in names)
        compared = "cells, rates, ground, total"
        found.append(Comparison(below, compared, _task_data))
    return tuple(found)


def matched(
    prescription: Prescription, shapes: Sequence[shapely.Geometry]
) -> tuple[int | None, ...]:
    """
    Return which record of the shapefile is each zone's, None where none is.

    A record has no number: it is the zone's that has the same ground. Where the ground
    is not known the order counts.
    """
    zones = prescription.zones
    if not known(prescription):
        return tuple(at if at < len(shapes) else None for at in range(len(zones)))
    places = [zone.geometry.representative_point() for zone in zones]
    holds = [np.flatnonzero(shapely.intersects(list(shapes), one)) for one in places]
    return tuple(int(each[0]) if len(each) else None for each in holds)


def _shapefile(out: Path, prescription: Prescription) -> Iterator[str]:
    path = machine_shapefile.path(out / FOLDER, prescription.plan)
    place = "machine shapefile"
    whole = True
    for name, held, stated in machine_shapefile.sizes(path):
        if held != stated:
            yield f"{name} holds {held} bytes, not the {stated} that its head states"
            whole = False
    if not whole:
        return
    own = machine_shapefile.read_by_pyshp(path)
    yield from _records(prescription, own, place=place)
    bounds = shapely.total_bounds([shape for shape, _ in own]).tolist()
    yield from extent(bounds, machine_shapefile.extent(path), place=place)
    if path.with_suffix(".cpg").read_text("utf-8").strip() != "UTF-8":
        yield f"{path.stem}.cpg states another encoding than UTF-8"
    # Before GDAL, which reads nothing where it makes nothing of the CRS.
    yield from lonlat(path.with_suffix(".prj").read_text("utf-8"), place=place)
    again = machine_shapefile.read(path)
    yield from both_ways(
        [row for _, row in own], [row for _, row in again], place=f"{place} by GDAL"
    )
    for number, ((shape, _), (other, _)) in enumerate(
        zip(own, again, strict=False), start=1
    ):
        if not shapely.equals(shape, other):
            yield f"{place} by GDAL: record {number} has another shape"


def _records(
    prescription: Prescription,
    records: Sequence[tuple[shapely.Geometry, dict[str, Any]]],
    *,
    place: str,
) -> Iterator[str]:
    zones, shapes = prescription.zones, [shape for shape, _ in records]
    yield from count(len(zones), len(records), place=place)
    if len(zones) == len(records):
        faults = list(ground(prescription, shapes, place=place))
        yield from faults
        if any(fault.endswith("swapped") for fault in faults):
            return
    column, grade = rate_column(prescription).upper(), prescription.plan.product.grade
    of_zone = matched(prescription, shapes)
    for zone, at in zip(zones, of_zone, strict=True):
        if at is None:
            yield f"{place}: zone {zone.number} is missing"
            continue
        row = records[at][1]
        for name, wanted in ((column, zone.rate), ("PRODUCT", grade)):
            if row.get(name) != wanted:
                reads = f"{name} reads {row.get(name)!r}, not {wanted!r}"
                yield f"{place}, zone {zone.number}: {reads}"
    numbers = [at for at in of_zone if at is not None]
    if len(numbers) == len(records) and numbers != sorted(numbers):
        yield f"{place} holds the zones in another order"
    rates = [row.get(column) for _, row in records]
    yield from carried(prescription, rates, shapes, place=place)


def _task_data(out: Path, prescription: Prescription) -> Iterator[str]:
    if not known(prescription):
        return
    for fault in taskdata_compare.compare(out / FOLDER, [prescription]):
        yield f"task data: {fault}"
