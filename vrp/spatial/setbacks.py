"""Ground that is kept from water features: how far it reaches, and what it leaves."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from vrp.spatial.regions import NODE, Shape, Shapes, gather, polygon_parts

# Chords in a quarter of a circle. Drawn about the circle and not in it, they reach at
# most 0.02 % too far and never too short.
CHORDS = 64
# Our choice: less ground left beside a setback is no ground to treat. [m²]
SLIVER = 1.0
HALF_ROUND = 2e7  # [m]


@dataclass(frozen=True, slots=True)
class WaterFeatures:
    """
    Features of a file, each of a kind, in the field's CRS.

    Attributes
    ----------
    file : str
        Name of the file, for messages.
    rows : tuple of int, length n
        Number of each feature in it, from 1.
    kinds : tuple of str, length n
        What each is: ``stream``, ``well`` and so on.
    shapes : numpy.ndarray of shapely.Geometry, shape (n,)
        Points, lines, polygons or collections of them. [m]
    """

    file: str
    rows: tuple[int, ...]
    kinds: tuple[str, ...]
    shapes: Shapes


@dataclass(frozen=True, slots=True)
class Setbacks:
    """
    Ground of a field that gets nothing, and ground where no machine is driven.

    Attributes
    ----------
    kept : tuple of shapely.Polygon, shapely.MultiPolygon or None
        For each group of features the ground within its distance; what several reach
        belongs to the first. None where none is reached. [m]
    strip : shapely.Polygon, shapely.MultiPolygon or None
        Ground beyond `kept` from which a spreader would throw into it. [m]
    """

    kept: tuple[Shape | None, ...]
    strip: Shape | None


def reach(shapes: Shapes, *, distance: float) -> shapely.Geometry:
    """
    Return all ground that is nearer to features than a distance.

    Parameters
    ----------
    shapes : numpy.ndarray of shapely.Geometry, shape (n,)
        Points, lines or polygons in a CRS that is true to scale. [m]
    distance : float
        How far. [m]

    Returns
    -------
    shapely.Geometry
        Polygons, those of the features included; empty where there is no ground. [m]

    Notes
    -----
    Round ends and corners are drawn by chords that touch the circle from outside, so
    that no place of the ground left over is nearer than the distance.

    Examples
    --------
    >>> well = np.array([shapely.Point(0.0, 0.0)], dtype=object)
    >>> round(reach(well, distance=10.0).area / (np.pi * 10.0**2), 3)
    1.0
    """
    radius = distance / math.cos(math.pi / (4.0 * CHORDS))
    around = shapely.buffer(shapes, radius, quad_segs=CHORDS)
    whole: shapely.Geometry = shapely.union_all(around)
    return whole


def setbacks(
    outline: Shape, groups: Sequence[tuple[Shapes, float]], *, throw: float
) -> Setbacks:
    """
    Return the ground of a field that distances keep.

    Parameters
    ----------
    outline : shapely.Polygon or shapely.MultiPolygon
        Ground of the field. [m]
    groups : sequence of (numpy.ndarray of shapely.Geometry, float)
        Features, and how far to keep from them. [m]
    throw : float
        How far a machine throws to its side. [m]

    Returns
    -------
    Setbacks
        What each group keeps, and the strip beside all of it.

    Notes
    -----
    Distances count from the features, wherever the outline runs: where it lies farther
    from them nothing is cut. A distance of 0 keeps polygons themselves, and of points
    and lines nothing but the strip: what is thrown would fall into them.
    """
    taken: shapely.Geometry = shapely.MultiPolygon()
    thrown: shapely.Geometry = shapely.MultiPolygon()
    kept: list[Shape | None] = []
    for shapes, distance in groups:
        counted = polygon_parts(shapes)[0] if distance == 0.0 else shapes
        if len(counted):
            near = _within(counted, outline, distance=distance)
            kept.append(_ground(_without(near, taken)))
            taken = shapely.union(taken, near, grid_size=NODE)
        else:
            kept.append(None)
        if throw > 0.0:
            wider = _within(shapes, outline, distance=distance + throw)
            thrown = shapely.union(thrown, wider, grid_size=NODE)
    strip = _ground(_without(thrown, taken)) if throw > 0.0 else None
    return Setbacks(tuple(kept), strip)


def take_out(
    polygons: Sequence[Shape], excluded: Sequence[Shape | None]
) -> tuple[list[Shape | None], list[Shape | None]]:
    """
    Take excluded ground out of polygons that tile a field.

    Parameters
    ----------
    polygons : sequence of shapely.Polygon or shapely.MultiPolygon
        Polygons that tile the field. [m]
    excluded : sequence of shapely.Polygon, shapely.MultiPolygon or None
        Ground that is taken out, apart from each other and inside the field. [m]

    Returns
    -------
    polygons, excluded : list of shapely.Polygon, shapely.MultiPolygon or None
        What is left of the polygons, and the excluded ground, which together tile the
        field; None for what is gone.

    Notes
    -----
    Excluded ground is never joined to a polygon, however little it is. Less than
    `SLIVER` of a polygon that the cut leaves beside it is excluded as well.
    """
    out = [(index, one) for index, one in enumerate(excluded) if one is not None]
    if not out:
        return list(polygons), list(excluded)
    whole = shapely.union_all([one for _, one in out])
    shapes = np.array(polygons, dtype=object)
    parts, owner = polygon_parts(shapely.difference(shapes, whole, grid_size=NODE))
    grown: dict[int, list[shapely.Geometry]] = {index: [one] for index, one in out}
    small = shapely.area(parts) < SLIVER
    beside = shapely.distance(parts, whole) <= NODE
    for part in parts[small & beside]:
        apart = [float(shapely.distance(part, one)) for _, one in out]
        grown[out[int(np.argmin(apart))][0]].append(part)
    stays = ~(small & beside)
    left = [
        gather(parts[stays & (owner == index)])
        if (stays & (owner == index)).any()
        else None
        for index in range(len(polygons))
    ]
    taken = [
        _ground(shapely.union_all(grown[index], grid_size=NODE))
        if index in grown and len(grown[index]) > 1
        else one
        for index, one in enumerate(excluded)
    ]
    return left, taken


def edge(ground: Sequence[Shape], field: Sequence[Shape]) -> shapely.Geometry:
    """
    Return where ground ends inside a field.

    Parameters
    ----------
    ground : sequence of shapely.Polygon or shapely.MultiPolygon
        Some of the polygons that tile the field, on one lattice of coordinates.
    field : sequence of shapely.Polygon or shapely.MultiPolygon
        All of them.

    Returns
    -------
    shapely.Geometry
        Lines, empty where the ground ends with the field.
    """
    around = shapely.boundary(shapely.coverage_union_all(list(ground)))
    outline = shapely.boundary(shapely.coverage_union_all(list(field)))
    inner: shapely.Geometry = shapely.line_merge(shapely.difference(around, outline))
    return inner


def nearest(shapes: Shapes, outline: Shape) -> NDArray[np.float64]:
    """
    Return how far each feature is from a field.

    Parameters
    ----------
    shapes : numpy.ndarray of shapely.Geometry, shape (n,)
        Features. [m]
    outline : shapely.Polygon or shapely.MultiPolygon
        Ground of the field. [m]

    Returns
    -------
    numpy.ndarray, shape (n,)
        Distances, 0 where a feature touches the field; half the earth round where the
        field's CRS does not reach. [m]
    """
    apart: NDArray[np.float64] = shapely.distance(shapes, outline)
    return np.where(np.isfinite(apart), apart, HALF_ROUND)


def _within(shapes: Shapes, outline: Shape, *, distance: float) -> shapely.Geometry:
    # On a lattice: what rounding leaves along an edge would reach to the water.
    around = reach(shapes, distance=distance)
    return _areal(shapely.intersection(around, outline, grid_size=NODE))


def _without(ground: shapely.Geometry, other: shapely.Geometry) -> shapely.Geometry:
    return _areal(shapely.difference(ground, other, grid_size=NODE))


def _areal(geometry: shapely.Geometry) -> shapely.Geometry:
    """Return the polygons of a geometry, without lines and points where it touched."""
    parts, _ = polygon_parts(np.array([geometry], dtype=object))
    return shapely.MultiPolygon(parts.tolist())


def _ground(geometry: shapely.Geometry) -> Shape | None:
    """Return the polygons of a geometry, None where it has none."""
    shapes = np.array([geometry], dtype=object)
    return gather(shapes) if len(polygon_parts(shapes)[0]) else None
