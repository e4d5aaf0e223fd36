"""Steps 2 and 5: the cells of the field, and the zones that tile it."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import cast

import numpy as np
import shapely
from numpy.typing import NDArray

from vrp.errors import InputError
from vrp.pipeline.classing import Classes, min_area, treated_as_one, zones_by
from vrp.pipeline.ground import (
    Estimate,
    Floats,
    Part,
    Question,
    sampled,
)
from vrp.pipeline.setbacks import Taken, exclude
from vrp.plan import Override, Plan
from vrp.spatial.coverage import cell_owners, polygons_from_labels, single_parts, tile
from vrp.spatial.field import LONLAT, Field, reproject
from vrp.spatial.regions import Shape
from vrp.spatial.zones import (
    cut,
    given_polygons,
    grid_polygons,
    zone_order,
)

# Without [zones] cell: the smallest of these with no more cells than MOST_CELLS. Our
# choice: finer than any spreader, and a second's work.
CELLS = {"us": (5.0, 10.0, 20.0, 50.0, 100.0), "metric": (1.0, 2.0, 5.0, 10.0, 20.0)}
MOST_CELLS = 25_000


def cell_size(plan: Plan, field: Field) -> float:
    """Return the side of a cell [m]: the plan's, or by the size of the field."""
    if plan.zones.cell is not None:
        return plan.zones.cell * plan.metres_per_length
    sides = [side * plan.metres_per_length for side in CELLS[plan.units]]
    area = field.outline.area
    return next((side for side in sides if area / side**2 <= MOST_CELLS), sides[-1])


def part_field(
    question: Question, estimate: Estimate, classes: Classes | None
) -> tuple[Part, ...]:
    """Return the ground of the zones, in the order of their numbers."""
    plan, inputs, cells = question.plan, question.inputs, question.cells
    field = inputs.field
    shapes = _shapes(question, estimate, classes)
    overrides: list[Override | None] = [None] * len(shapes)
    drawn = [
        (one, cast("Shape", shapely.union_all(polygons)))
        for one, polygons in zip(plan.override, inputs.overrides, strict=True)
        if polygons is not None
    ]
    if drawn:
        names = [f"override {plan.override.index(one) + 1}" for one, _ in drawn]
        left, pieces = cut(shapes, [shape for _, shape in drawn], names=names)
        both = [*zip(left, overrides, strict=True)]
        both += zip(pieces, [one for one, _ in drawn], strict=True)
        shapes = [shape for shape, _ in both if shape is not None]
        overrides = [one for shape, one in both if shape is not None]

    kept = _tiled(shapes, field, single=plan.zones.parts == "single")
    whole = [cast("Shape", reproject(one, LONLAT, field.crs)) for _, one in kept]
    owner, xy = cell_owners(whole, cells), cells.xy
    basis = [_cells_of(at, owner, one, xy) for at, one in enumerate(whole)]
    taken = exclude(question, shapes)
    if taken is None:
        order = zone_order([shape for _, shape in kept])
        lonlat = [kept[at][1] for at in order]
        by_hand = _with_points(plan, lonlat, [overrides[kept[at][0]] for at in order])
        return tuple(
            Part(whole[at], one, basis[at], override, basis[at], whole[at])
            for at, one, override in zip(order, lonlat, by_hand, strict=True)
        )
    before = [
        Before(kept[at][0], kept[at][1], whole[at], basis[at])
        for at in zone_order([shape for _, shape in kept])
    ]
    return _without_setbacks(question, taken, before, overrides)


def _tiled(
    shapes: Sequence[Shape], field: Field, *, single: bool
) -> list[tuple[int, Shape]]:
    """Return what is left of shapes on the lattice, each with its index."""
    tiles = tile(shapes, field)
    if single:
        return list(single_parts(tiles))
    return [(index, one) for index, one in enumerate(tiles) if one is not None]


@dataclass(frozen=True, slots=True)
class Before:
    """Ground of a zone as it would be without setbacks."""

    index: int  # of the shape that it is of
    lonlat: Shape
    shape: Shape  # field's CRS
    cells: NDArray[np.intp]


def _without_setbacks(
    question: Question,
    taken: Taken,
    before: Sequence[Before],
    set_by_hand: Sequence[Override | None],
) -> tuple[Part, ...]:
    """Return the ground of zones that excluded ground is taken out of, and that."""
    plan, cells, field = question.plan, question.cells, question.inputs.field
    kept = _tiled(taken.shapes, field, single=False)
    if plan.zones.parts == "single":
        # Excluded ground stays together: its reason is one.
        kept = [
            (index, part)
            for index, one in kept
            for part in (
                [one] if taken.why[index] is not None else shapely.get_parts(one)
            )
        ]
    order = zone_order([shape for _, shape in kept])
    numbered = [kept[at] for at in order]
    lonlat = [shape for _, shape in numbered]
    sources = [taken.source[index] for index, _ in numbered]
    # A need by point is of the zone as it would be without water, of all that is left
    # of it: a point that lies on excluded ground, or beyond a ditch, loses nothing.
    by_hand = _with_points(
        plan,
        [one.lonlat for one in before],
        [set_by_hand[one.index] for one in before],
    )
    metres = [cast("Shape", reproject(one, LONLAT, field.crs)) for one in lonlat]
    owner, xy = cell_owners(metres, cells), cells.xy
    parts = []
    for at, (index, degrees) in enumerate(numbered):
        own = _cells_of(at, owner, metres[at], xy)
        was, override = Before(index, degrees, metres[at], own), None
        if sources[at] is not None:
            inside = degrees.point_on_surface()
            of_shape = [i for i, one in enumerate(before) if one.index == sources[at]]
            if of_shape:
                near = min(of_shape, key=lambda i: before[i].lonlat.distance(inside))
                was, override = before[near], by_hand[near]
        parts.append(
            Part(
                metres[at],
                degrees,
                own,
                override,
                was.cells,
                was.shape,
                taken.why[index],
                taken.strip[index],
            )
        )
    return tuple(parts)


def _shapes(
    question: Question, estimate: Estimate, classes: Classes | None
) -> list[Shape]:
    plan, inputs, cells = question.plan, question.inputs, question.cells
    outline, by = inputs.field.outline, zones_by(plan)
    if treated_as_one(plan, estimate):
        return [outline]
    if by == "grid":
        assert plan.zones.side is not None
        return list(
            grid_polygons(outline, side=plan.zones.side * plan.metres_per_length)
        )
    if by == "samples":
        return [shape for _, shape in sampled(inputs)]
    if by == "file":
        assert inputs.zones is not None
        assert plan.zones.file is not None
        drawn, file = list(inputs.zones), plan.zones.file.name
        names = [f"{file} feature {row}" for row in range(1, len(drawn) + 1)]
        return [shape for _, shape in given_polygons(outline, drawn, names=names)]
    assert classes is not None
    # Regions that meet in a corner only come apart as polygons.
    sliver = max(cells.size**2, min_area(plan))
    labels = classes.labels
    return list(polygons_from_labels(labels, cells, outline, sliver=sliver).values())


def _with_points(
    plan: Plan,
    lonlat: list[Shape],
    overrides: list[Override | None],
) -> list[Override | None]:
    """Give overrides by point to the zones that hold them."""
    for number, one in enumerate(plan.override, start=1):
        if one.point is None:
            continue
        point = shapely.Point(one.point)
        zones = [i for i, shape in enumerate(lonlat) if shape.intersects(point)]
        if not zones:
            message = (
                f"override {number}: point {list(one.point)} is in no zone: give "
                "longitude, then latitude, of a place in the field"
            )
            raise InputError(message)
        if overrides[zones[0]] is not None:
            message = (
                f"override {number}: zone {zones[0] + 1} at {list(one.point)} is set "
                "by another override already: keep one"
            )
            raise InputError(message)
        overrides[zones[0]] = one
    return overrides


def _cells_of(
    index: int, owner: NDArray[np.intp], shape: Shape, xy: Floats
) -> NDArray[np.intp]:
    """Return the cells of a zone; one that holds no centre has its nearest cell."""
    cells = np.flatnonzero(owner == index)
    if len(cells) == 0:
        inside = shape.point_on_surface()
        apart = (xy[:, 0] - inside.x) ** 2 + (xy[:, 1] - inside.y) ** 2
        cells = np.array([int(apart.argmin())])
    return cells
