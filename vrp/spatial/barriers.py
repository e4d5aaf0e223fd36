"""A field parted by lines across which its soil is not continuous."""

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from vrp.errors import InputError

# Our choice: a line that ends this near to the outline, or to another line, was meant
# to reach it. [m]
REACH = 1.0


def part_by_lines(
    outline: shapely.MultiPolygon | shapely.Polygon,
    lines: Sequence[shapely.LineString | shapely.MultiLineString],
    *,
    names: Sequence[str],
) -> tuple[shapely.Polygon, ...]:
    """
    Part a field by lines.

    Parameters
    ----------
    outline : shapely.MultiPolygon or shapely.Polygon
        Ground of the field in a projected CRS. [m]
    lines : sequence of shapely.LineString or shapely.MultiLineString
        Barriers, in the same CRS. [m]
    names : sequence of str
        What messages call them.

    Returns
    -------
    tuple of shapely.Polygon
        Parts that tile the outline, two or more; each polygon of the outline that no
        line crosses is a part of its own.

    Raises
    ------
    InputError
        If a line does not cross the field, or a piece of it over `REACH` long at either
        end, or all of it, parts nothing.

    Examples
    --------
    >>> field, lane = shapely.box(0, 0, 30, 10), shapely.LineString([(20, 0), (20, 10)])
    >>> [part.area for part in part_by_lines(field, [lane], names=["lane"])]
    [200.0, 100.0]
    """
    reaching = [_lengthened(line) for line in lines]
    noded = shapely.union_all([outline.boundary, *reaching])
    pieces = shapely.get_parts(shapely.polygonize([noded]))
    shapely.prepare(outline)
    inside = shapely.contains(outline, shapely.point_on_surface(pieces))
    parts = pieces[inside]
    borders = shapely.union_all(shapely.boundary(parts))
    for line, long, name in zip(lines, reaching, names, strict=True):
        within = shapely.intersection(long, outline).length
        # Overlay moves a point by far less than this.
        beside = borders.buffer(1e-6)
        loose = shapely.difference(shapely.intersection(long, outline), beside).length
        if within <= 2.0 * REACH:
            away = line.distance(outline)
            message = (
                f"{name}: does not cross the field (it is {away:,.0f} m away): draw "
                "the barrier across it"
            )
            raise InputError(message)
        if loose > 2.0 * REACH:
            message = (
                f"{name}: {loose:,.0f} m of it inside the field do not cut it in two: "
                "draw it from boundary to boundary, or to another barrier"
            )
            raise InputError(message)
    middles = shapely.get_coordinates(shapely.centroid(parts))
    order = np.lexsort((-middles[:, 1], middles[:, 0]))
    return tuple(parts[order].tolist())


def part_of(
    parts: Sequence[shapely.Polygon | shapely.MultiPolygon], xy: NDArray[np.float64]
) -> NDArray[np.int64]:
    """
    Tell which part places lie in.

    Parameters
    ----------
    parts : sequence of shapely.Polygon or shapely.MultiPolygon
        From `part_by_lines`. [m]
    xy : numpy.ndarray, shape (n, 2)
        Places. [m]

    Returns
    -------
    numpy.ndarray of int, shape (n,)
        Number of the part, from 0: of the first where a place lies on a barrier, and of
        the nearest where it lies in none.

    Examples
    --------
    >>> halves = [shapely.box(0, 0, 5, 5), shapely.box(5, 0, 10, 5)]
    >>> part_of(halves, np.array([[1.0, 1.0], [5.0, 2.0], [9.0, 9.0]])).tolist()
    [0, 0, 1]
    """
    found = np.full(len(xy), -1, dtype=np.int64)
    for number, part in enumerate(parts):
        shapely.prepare(part)
        open_ = np.flatnonzero(found < 0)
        found[open_[shapely.intersects_xy(part, *xy[open_].T)]] = number
    for at in np.flatnonzero(found < 0):
        found[at] = int(np.argmin(shapely.distance(parts, shapely.Point(xy[at]))))
    return found


def _lengthened(
    barrier: shapely.LineString | shapely.MultiLineString,
) -> shapely.MultiLineString:
    """Draw the ends of lines on by `REACH`, unless a line is closed."""
    longer = []
    for line in shapely.get_parts(barrier):
        xy = shapely.get_coordinates(line)
        if not line.is_closed:
            ends = []
            for end, before in ((xy[0], xy[1]), (xy[-1], xy[-2])):
                along = end - before
                ends.append(end + along * (REACH / np.hypot(*along)))
            xy = np.vstack([ends[0], xy, ends[1]])
        longer.append(shapely.LineString(xy))
    return shapely.MultiLineString(longer)
