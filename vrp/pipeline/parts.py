"""Steps 2 and 5: the cells of the field, and the zones that tile it."""

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
from vrp.pipeline.setbacks import exclude
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

    taken = exclude(question, shapes)
    overrides = [None if at is None else overrides[at] for at in taken.source]
    tiles = tile(taken.shapes, field)
    kept: list[tuple[int, Shape]] = [
        (index, one) for index, one in enumerate(tiles) if one is not None
    ]
    if plan.zones.parts == "single":
        # Excluded ground stays together: its reason is one.
        whole = {index: one for index, one in kept if taken.why[index] is not None}
        kept = [one for one in single_parts(tiles) if one[0] not in whole]
        kept += whole.items()
    order = zone_order([shape for _, shape in kept])
    numbered = [kept[at] for at in order]
    lonlat = [shape for _, shape in numbered]
    why = [taken.why[index] for index, _ in numbered]
    overrides = _with_points(
        plan,
        lonlat,
        [overrides[index] for index, _ in numbered],
        excluded=[one is not None for one in why],
    )

    metres = [cast("Shape", reproject(one, LONLAT, field.crs)) for one in lonlat]
    owner, xy = cell_owners(metres, cells), cells.xy
    return tuple(
        Part(
            metres[at],
            lonlat[at],
            _cells_of(at, owner, metres[at], xy),
            overrides[at],
            why[at],
            taken.strip[numbered[at][0]],
        )
        for at in range(len(numbered))
    )


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
    *,
    excluded: list[bool],
) -> list[Override | None]:
    """Give overrides by point to the zones that hold them, but to no excluded one."""
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
        if excluded[zones[0]]:
            continue  # said among the findings
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
