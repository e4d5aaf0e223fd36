"""Task data compared with the prescriptions that it stands for."""

from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np
import shapely
from numpy.typing import NDArray

from vrp.errors import VrpError
from vrp.io.taskdata_read import CodeGrid, Task, Treatment, read
from vrp.legend import product_rate_unit
from vrp.prescription import Prescription
from vrp.spatial.field import geodesic_area
from vrp.units import GALLON, HECTARE, LB

# Share that the field's product may differ; a little more, since the areas of cells are
# computed here in another way than where they were written.
_TOTAL = 0.00501
# About a centimetre: a cell's centre so near a border may lie on either side [degree].
_ON_BORDER = 1e-7

_SI = {
    "lb": ("kg", LB),
    "kg": ("kg", 1.0),
    "gal": ("L", 1000.0 * GALLON),
    "L": ("L", 1.0),
}
# The finest difference of two rates, by the product's measure [kg/ha or L/ha].
_STEP = {"lb": 0.01, "kg": 0.01, "gal": 0.0001, "L": 0.0001}


def compare(folder: Path, prescriptions: Sequence[Prescription]) -> list[str]:
    """Return what the task data below a folder says otherwise than prescriptions."""
    try:
        data = read(folder)
    except VrpError as exc:
        return [str(exc)]
    if len(data.tasks) != len(prescriptions):
        return [f"{len(data.tasks)} tasks stand for {len(prescriptions)} fields"]
    return [
        f"task {task.name}: {fault}"
        for task, one in zip(data.tasks, prescriptions, strict=True)
        for fault in _faults(task, one)
    ]


def _faults(task: Task, prescription: Prescription) -> Iterator[str]:
    plan, zones = prescription.plan, prescription.zones
    shapes = [zone.geometry for zone in zones]
    yield from _of_ground(task, shapely.union_all(shapes))
    for word, code, rate in (
        ("default", task.default, plan.machine.default_rate),
        ("position-lost", task.position_lost, plan.machine.default_rate),
        ("out-of-field", task.outside, 0.0),
    ):
        for fault in _of_rate(task.treatments[code], rate, prescription):
            yield f"{word} zone: {fault}"

    codes, owners = task.grid.codes, _owners(task.grid, shapes)
    if not (owners >= 0).any():
        yield _elsewhere(task.grid, shapes)
        return
    rated, owners = _touching(task.grid, owners, prescription)
    yield from _of_excluded(task, rated)
    if not _covers(task.grid, shapes):
        yield "the grid ends short of the field"
    wrong = _misplaced(task, codes, owners, shapes)
    if wrong:
        turned = _misplaced(task, codes[::-1], owners, shapes)
        if sum(turned.values()) < sum(wrong.values()):
            yield "the rows of the grid run from north to south"
            return
    for place, count in wrong.items():
        yield f"{count} cells {place} hold another code"
    stands: dict[int, int] = {}
    for index, zone in enumerate(zones):
        held = codes[owners == index]
        if not held.size:
            continue  # smaller than a cell
        code = _most(held)
        if code in stands:
            yield f"zones {stands[code]} and {zone.number} share code {code}"
        stands[code] = zone.number
        for fault in _of_rate(task.treatments[code], zone.rate, prescription):
            yield f"zone {zone.number}: {fault}"

    total = prescription.totals.zones.product
    carried = task.product / _SI[plan.measure][1]
    rounding = 0.005 * len(zones)  # of the record's products
    if abs(carried - total) > _TOTAL * total + rounding:
        yield f"the grid carries {carried:.1f} {plan.measure}, not {total:.1f}"


def _of_ground(task: Task, field: shapely.Geometry) -> Iterator[str]:
    if not shapely.equals(task.boundary, field):
        turned = shapely.transform(task.boundary, lambda xy: xy[:, ::-1])
        if shapely.intersects(turned, field):
            yield "north and east of the boundary are swapped"
        else:
            yield "the boundary is not that of the zones"
    area = geodesic_area(field)
    if abs(task.area - area) > 1.0:
        yield f"the field's area reads {task.area:.0f} m², not {area:.0f}"


def _of_rate(one: Treatment, rate: float, prescription: Prescription) -> Iterator[str]:
    """Yield what a terminal would apply or show otherwise than asked."""
    plan, unit = prescription.plan, product_rate_unit(prescription)
    measure, factor = _SI[plan.measure]
    if one.measure != measure:
        yield f"DDI {one.ddi:04X} sets {one.measure}, and the product is in {measure}"
        return
    asked = rate * factor / (plan.square_metres_per_area / HECTARE)
    if abs(one.rate - asked) > 0.5001 * _STEP[plan.measure]:
        share = one.rate / asked if asked else 1.0
        times = f", {share:.3g} of it" if abs(share - 1.0) > 0.01 else ""
        yield f"rate reads {one.rate:.7g} {measure}/ha, not {asked:.7g}{times}"
    if one.unit != unit or one.shown != rate:
        yield f"the driver sees {one.shown:g} {one.unit}, not {rate:g} {unit}"
    if not one.product.startswith(plan.product.grade):
        yield f"product is called {one.product!r}, not {plan.product.grade}"


def _owners(grid: CodeGrid, shapes: Sequence[shapely.Geometry]) -> NDArray[np.int64]:
    """Return in which shape the centre of each cell lies, -1 for none."""
    east, north = grid.centres
    owners = np.full(grid.codes.shape, -1)
    for index, shape in enumerate(shapes):
        left, low, right, high = shapely.bounds(shape)
        rows = slice(*np.searchsorted(north, (low, high)))
        columns = slice(*np.searchsorted(east, (left, right)))
        shapely.prepare(shape)
        within = shapely.contains_xy(shape, east[None, columns], north[rows, None])
        owners[rows, columns][within] = index
    return owners


def _of_excluded(task: Task, touch: NDArray[np.bool_]) -> Iterator[str]:
    spread = [code for code, one in task.treatments.items() if one.rate > 0.0]
    wet = int(np.isin(task.grid.codes[touch], spread).sum())
    if wet:
        yield f"{wet} cells that touch excluded ground have a rate"


def _touching(
    grid: CodeGrid, owners: NDArray[np.int64], prescription: Prescription
) -> tuple[NDArray[np.bool_], NDArray[np.int64]]:
    """Return which cells of zones touch excluded ground, and the owners without."""
    zones = prescription.zones
    out = [zone.geometry for zone in zones if zone.excluded is not None]
    touch = np.zeros(owners.shape, dtype=bool)
    if not out:
        return touch, owners
    kept = np.array([zone.excluded is None for zone in zones])
    row, column = np.nonzero((owners >= 0) & kept[owners])
    east, north = grid.centres
    boxes = shapely.box(
        east[column] - grid.east_side / 2.0,
        north[row] - grid.north_side / 2.0,
        east[column] + grid.east_side / 2.0,
        north[row] + grid.north_side / 2.0,
    )
    _, near = shapely.STRtree(boxes).query(
        [shapely.union_all(out)], predicate="dwithin", distance=_ON_BORDER
    )
    left = owners.copy()
    left[row[near], column[near]] = -2  # of no zone: only their rate is looked at
    deep = shapely.union_all(out).buffer(-_ON_BORDER)
    inside = near[shapely.intersects(boxes[near], deep)]
    touch[row[inside], column[inside]] = True
    return touch, left


def _misplaced(
    task: Task,
    codes: NDArray[np.uint8],
    owners: NDArray[np.int64],
    shapes: Sequence[shapely.Geometry],
) -> dict[str, int]:
    """Return how many cells of each zone, and outside, do not hold its code."""
    east, north = task.grid.centres
    border = shapely.union_all([shapely.boundary(shape) for shape in shapes])
    shapely.prepare(border)
    found = {}
    for index in range(-1, len(shapes)):
        mine = owners == index
        if not mine.any():
            continue
        wanted = task.outside if index < 0 else _most(codes[mine])
        row, column = np.nonzero(mine & (codes != wanted))
        points = shapely.points(east[column], north[row])
        count = int((~shapely.dwithin(border, points, _ON_BORDER)).sum())
        if count:
            found["outside the field" if index < 0 else f"of zone {index + 1}"] = count
    return found


def _most(codes: NDArray[np.uint8]) -> int:
    return int(np.bincount(codes).argmax())


def _covers(grid: CodeGrid, shapes: Sequence[shapely.Geometry]) -> bool:
    west, south, east, north = shapely.total_bounds(shapes).tolist()
    rows, columns = grid.codes.shape
    return bool(
        grid.west <= west + _ON_BORDER
        and grid.south <= south + _ON_BORDER
        and grid.west + columns * grid.east_side >= east - _ON_BORDER
        and grid.south + rows * grid.north_side >= north - _ON_BORDER
    )


def _elsewhere(grid: CodeGrid, shapes: Sequence[shapely.Geometry]) -> str:
    west, south, _, _ = shapely.total_bounds(shapes).tolist()
    if abs(grid.south - west) + abs(grid.west - south) < 1.0:
        return "north and east of the grid are swapped"
    return f"the grid begins at {grid.south} north, {grid.west} east, off the field"
