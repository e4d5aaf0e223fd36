"""How a field is parted: by bands of a value, by a grid, by polygons that are given."""

from collections.abc import Sequence
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray

from vrp.errors import InputError
from vrp.spatial.grid import Cells
from vrp.spatial.regions import (
    Shape,
    Shapes,
    cell_borders,
    connected_regions,
    gather,
    join_small,
    merge_parts,
    polygon_parts,
    shared_borders,
    union_of,
)

TOUCH = 1.0  # [m²], our choice: with less ground than this a polygon misses the field
MOST_OVERLAP = 0.01  # of the smaller of two polygons, our choice
MOST_UNCOVERED = 0.01  # of the field, our choice
MOST_SQUARES = 10_000  # our choice: more than any spreader takes


def band_labels(
    values: NDArray[np.floating],
    cuts: Sequence[float],
    *,
    closed: Literal["left", "right"],
) -> NDArray[np.intp]:
    """
    Band of each value, counted from 0.

    Parameters
    ----------
    values : numpy.ndarray, shape (m,)
        Values; NaN where missing.
    cuts : sequence of float
        Where one band ends and the next begins, ascending.
    closed : {"left", "right"}
        To which band a value on a cut belongs: ``right`` to the lower, ``left`` to the
        upper.

    Returns
    -------
    numpy.ndarray of int, shape (m,)
        Number of cuts below the value, -1 where it is missing.

    Examples
    --------
    >>> band_labels(np.array([19.0, 20.0, 21.0]), [20.0], closed="right").tolist()
    [0, 0, 1]
    >>> band_labels(np.array([19.0, 20.0, 21.0]), [20.0], closed="left").tolist()
    [0, 1, 1]
    """
    wide = values.astype(np.float64)
    bands = np.digitize(wide, np.asarray(cuts, np.float64), right=closed == "right")
    return np.where(np.isnan(wide), -1, bands)


def merge_small(
    labels: NDArray[np.integer],
    values: NDArray[np.floating],
    cells: Cells,
    *,
    min_area: float,
) -> NDArray[np.integer]:
    """
    Return the labels of cells, the small regions joined to a neighbour.

    Parameters
    ----------
    labels : numpy.ndarray of int, shape (rows, columns)
        Label of each cell, negative where it has none.
    values : numpy.ndarray, shape (m,)
        Values of the cells inside, for ties.
    cells : Cells
        The cells.
    min_area : float
        Connected regions smaller than this join the neighbour with the longest shared
        border, the smallest first; among equals the one with the nearest mean value. A
        region without neighbour stays. [m²]

    Returns
    -------
    numpy.ndarray of int, shape (rows, columns)
        Labels, no region smaller than `min_area` but those without neighbour.
    """
    ids = connected_regions(labels)
    has = ids >= 0
    id_of = ids[has]
    count = np.bincount(id_of)
    if len(count) < 2 or count.min() * cells.size**2 >= min_area:
        return labels
    label = np.empty(len(count), dtype=labels.dtype)
    label[id_of] = labels[has]
    known = cells.spread(values.astype(np.float64), np.nan)[has]
    mean = np.bincount(id_of, weights=known) / count
    root = join_small(
        count * np.float64(cells.size**2),
        label=label,
        mean=mean,
        borders=cell_borders(ids),
        min_area=min_area,
    )
    merged = labels.copy()
    merged[has] = label[root][id_of]
    return merged


def grid_polygons(
    outline: Shape, *, side: float, min_area: float | None = None
) -> list[shapely.Polygon]:
    """
    Return the squares of a grid along the field's long side, cut to the outline.

    Parameters
    ----------
    outline : shapely.Polygon or shapely.MultiPolygon
        Ground of the field. [m]
    side : float
        Side of a square. [m]
    min_area : float, optional
        Pieces smaller than this join the neighbour with the longest shared border,
        those without neighbour stay; without it half a square, our choice. [m²]

    Returns
    -------
    list of shapely.Polygon
        A coverage of the outline, each within one connected part of it. [m]

    Raises
    ------
    InputError
        If the grid has more than `MOST_SQUARES` squares.

    Notes
    -----
    The grid lies along the long side of the smallest rectangle around the outline, with
    its centre on that rectangle's, so that what is left over is shared by both ends.
    """
    origin, along, across, shape = _grid_frame(outline, side)
    rows, columns = shape
    if rows * columns > MOST_SQUARES:
        message = (
            f"the grid has {rows * columns:,} squares over the field, more than "
            f"{MOST_SQUARES:,}: give a longer side"
        )
        raise InputError(message)
    row, column = np.divmod(np.arange(rows * columns), columns)
    corners = np.array([[0, 0], [1, 0], [1, 1], [0, 1]])
    u = (column[:, None] + corners[:, 0]) * side
    v = (row[:, None] + corners[:, 1]) * side
    squares = shapely.polygons(origin + u[..., None] * along + v[..., None] * across)
    pieces, _ = polygon_parts(shapely.intersection(squares, outline))
    smallest = side**2 / 2.0 if min_area is None else min_area
    return list(merge_parts(pieces, np.arange(len(pieces)), min_area=smallest)[1])


def _grid_frame(
    outline: Shape, side: float
) -> tuple[
    NDArray[np.float64], NDArray[np.float64], NDArray[np.float64], tuple[int, int]
]:
    rectangle = shapely.get_coordinates(shapely.minimum_rotated_rectangle(outline))
    edges = np.diff(rectangle[:3], axis=0)
    length = np.hypot(*edges.T)
    along, long, short = edges[0] / length[0], length[0], length[1]
    if short > long * (1.0 + 1e-9):
        along, long, short = edges[1] / length[1], length[1], length[0]
    if along[0] < -1e-9 or (abs(along[0]) <= 1e-9 and along[1] < 0.0):
        along = -along
    across = np.array([-along[1], along[0]])
    columns, rows = (max(1, int(np.ceil(n / side - 1e-6))) for n in (long, short))
    centre = rectangle[:4].mean(axis=0)
    origin = centre - side / 2.0 * (columns * along + rows * across)
    return origin, along, across, (rows, columns)


def given_polygons(
    outline: Shape,
    polygons: Sequence[Shape],
    *,
    names: Sequence[str] | None = None,
    gaps: Literal["fill", "leave"] = "fill",
) -> list[tuple[int, Shape]]:
    """
    Return polygons as they were drawn, made to tile the field.

    Parameters
    ----------
    outline : shapely.Polygon or shapely.MultiPolygon
        Ground of the field. [m]
    polygons : sequence of shapely.Polygon or shapely.MultiPolygon
        The polygons, in the field's CRS. [m]
    names : sequence of str, optional
        What messages call them; without it "polygon 1" and so on.
    gaps : str
        ``fill``: ground in no polygon goes to a neighbour; ``leave``: it stays bare.

    Returns
    -------
    list of (int, shapely.Polygon or shapely.MultiPolygon)
        Index of each polygon with the ground that it gets, in order, a coverage of the
        outline where gaps are filled. [m]

    Raises
    ------
    InputError
        If a polygon crosses itself or misses the field, if two overlap by more than
        `MOST_OVERLAP` of the smaller, or if gaps to be filled are more than
        `MOST_UNCOVERED` of the field.

    Notes
    -----
    Ground in two polygons goes to the first. A piece of ground in none goes to the
    polygon with the longest shared border, or to the nearest where none touches it.
    """
    called = _names(polygons, names)
    drawn = _apart(_clipped(outline, polygons, called), called)
    if gaps == "leave":
        return _fill(drawn, np.empty(0, dtype=object))
    holes, _ = polygon_parts(
        np.array([shapely.difference(outline, shapely.union_all(drawn))], dtype=object)
    )
    bare = float(shapely.area(holes).sum())
    if bare > MOST_UNCOVERED * outline.area:
        message = (
            f"the polygons leave {100 * bare / outline.area:.1f} % of the field "
            "uncovered, more than "
            f"{100 * MOST_UNCOVERED:g} %: draw polygons for that ground, or "
            "leave it out of the boundary"
        )
        raise InputError(message)
    return _fill(drawn, holes)


def cut(
    polygons: Sequence[Shape],
    cutters: Sequence[Shape],
    *,
    sliver: float = TOUCH,
    names: Sequence[str] | None = None,
) -> tuple[list[Shape | None], list[Shape | None]]:
    """
    Cut polygons drawn by hand out of those that tile the field.

    Parameters
    ----------
    polygons : sequence of shapely.Polygon or shapely.MultiPolygon
        A coverage of the field. [m]
    cutters : sequence of shapely.Polygon or shapely.MultiPolygon
        Polygons that become pieces of their own; where two overlap the first counts.
    sliver : float
        Parts smaller than this join the neighbour with the longest shared border, be it
        of a polygon or of a cutter. [m²]
    names : sequence of str, optional
        What messages call the cutters; without it "polygon 1" and so on.

    Returns
    -------
    remains : list of shapely.Polygon, shapely.MultiPolygon or None
        What is left of each polygon, None where nothing is. [m]
    pieces : list of shapely.Polygon, shapely.MultiPolygon or None
        What each cutter gets of the field, None where a sliver went elsewhere. [m]

    Raises
    ------
    InputError
        If a cutter crosses itself or misses the field, or two overlap by more than
        `MOST_OVERLAP` of the smaller.
    """
    called = _names(cutters, names)
    field = union_of(np.array(polygons, dtype=object))
    pieces = _apart(_clipped(field, cutters, called), called)
    remains = shapely.difference(
        np.array(polygons, dtype=object), shapely.union_all(pieces)
    )
    parts, index = polygon_parts(np.concatenate([remains, pieces]))
    key, parts = merge_parts(parts, index, min_area=sliver)
    shapes = [
        gather(parts[key == i]) if (key == i).any() else None
        for i in range(len(polygons) + len(cutters))
    ]
    return shapes[: len(polygons)], shapes[len(polygons) :]


def _names(polygons: Sequence[Shape], names: Sequence[str] | None) -> Sequence[str]:
    return names or [f"polygon {i + 1}" for i in range(len(polygons))]


def _clipped(ground: Shape, polygons: Sequence[Shape], names: Sequence[str]) -> Shapes:
    shapes = np.array(polygons, dtype=object)
    for i in np.flatnonzero(~shapely.is_valid(shapes)).tolist():
        reason = shapely.is_valid_reason(shapes[i])
        message = (
            f"{names[i]}: {reason}: draw its outline so that it never crosses itself"
        )
        raise InputError(message)
    clipped = shapely.intersection(shapes, ground)
    outside = np.flatnonzero(shapely.area(clipped) < TOUCH).tolist()
    if outside:
        first = ", ".join(names[i] for i in outside[:3])
        message = (
            f"{len(outside)} of {len(shapes)} polygons lie outside the field "
            f"({first}{', …' if len(outside) > 3 else ''}): take them out, or check "
            "the CRS of their file and of the boundary"
        )
        raise InputError(message)
    return clipped


def _apart(shapes: Shapes, names: Sequence[str]) -> Shapes:
    one, other = shapely.STRtree(shapes).query(shapes, predicate="intersects")
    one, other = one[one < other], other[one < other]
    common = shapely.area(shapely.intersection(shapes[one], shapes[other]))
    smaller = np.minimum(shapely.area(shapes[one]), shapely.area(shapes[other]))
    bad = np.flatnonzero(common > MOST_OVERLAP * smaller)
    if len(bad):
        worst = int(bad[np.argmax(common[bad])])
        pair = [names[int(i)] for i in (one[worst], other[worst])]
        message = (
            f"{pair[0]} and {pair[1]} overlap by "
            f"{100 * common[worst] / smaller[worst]:.1f} % of the smaller, more than "
            f"{100 * MOST_OVERLAP:g} %: draw them side by side"
        )
        raise InputError(message)
    apart = shapes.copy()
    for i in np.unique(other[common > 0.0]):
        before = one[(other == i) & (common > 0.0)]
        apart[i] = shapely.difference(shapes[i], shapely.union_all(shapes[before]))
    return apart


def _fill(drawn: Shapes, gaps: Shapes) -> list[tuple[int, Shape]]:
    parts, index = polygon_parts(np.concatenate([drawn, gaps]))
    key = np.where(index < len(drawn), index, -1)
    bare = np.flatnonzero(key < 0)
    if len(bare):
        first, second, border = shared_borders(parts, bare)
        for i in bare:
            at, other = (first, second) if (first == i).any() else (second, first)
            rows = at == i
            near = other[rows][key[other[rows]] >= 0]
            if len(near):
                length = border[rows][key[other[rows]] >= 0]
                key[i] = key[near[np.argmax(length)]]
            else:
                key[i] = int(np.argmin(shapely.distance(drawn, parts[i])))
    return [(i, union_of(parts[key == i])) for i in range(len(drawn))]


def zone_order(tiles: Sequence[Shape]) -> NDArray[np.intp]:
    """
    Order in which zones are numbered.

    Parameters
    ----------
    tiles : sequence of shapely.Polygon or shapely.MultiPolygon
        Zones in longitude, latitude.

    Returns
    -------
    numpy.ndarray of int, shape (n,)
        Index of the zone that comes first, second and so on: north to south, then west
        to east, by a point inside each, to 1e-5 degree, about a metre.

    Examples
    --------
    >>> zone_order([shapely.box(0, 0, 1, 1), shapely.box(0, 1, 1, 2)]).tolist()
    [1, 0]
    """
    inside = shapely.point_on_surface(np.array(tiles, dtype=object))
    lon, lat = np.round(shapely.get_coordinates(inside).T, 5)
    return np.lexsort((lon, -lat))
