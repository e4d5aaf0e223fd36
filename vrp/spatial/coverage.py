"""Polygons that tile a field: no gap, no overlap, on one lattice of coordinates."""

from collections.abc import Iterable, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from vrp.errors import VrpError
from vrp.spatial.field import LONLAT, Field, reproject
from vrp.spatial.grid import Cells
from vrp.spatial.regions import NODE, Shape, Shapes, merge_parts, polygon_parts

DECIMALS = 7
LATTICE = 1e-7  # [degree], about 1 cm of latitude
ROUNDS = 4  # our choice: takes the stairs of cells off a border
TOLERANCE = 0.7  # [cells], our choice: a vertex that bends a border by less goes
MARGIN = 4  # [cells] that labels are grown beyond the field, out of reach of TOLERANCE
UNTILED = 1.0  # [m²] of gaps less overlaps that noding may leave or close, and ...
UNTILED_SHARE = 1e-6  # ... as a share of the field


def polygons_from_labels(
    labels: NDArray[np.integer],
    cells: Cells,
    outline: Shape,
    *,
    sliver: float | None = None,
) -> dict[int, shapely.MultiPolygon]:
    """
    Return polygons of labelled cells, smoothed together and cut to the outline.

    Parameters
    ----------
    labels : numpy.ndarray of int, shape (rows, columns)
        Label of each cell, -1 where it has none.
    cells : Cells
        The cells that are labelled.
    outline : shapely.Polygon or shapely.MultiPolygon
        Ground of the field, kept to the vertex. [m]
    sliver : float, optional
        Parts smaller than this join the neighbour with the longest shared border;
        without it the area of a cell. [m²]

    Returns
    -------
    dict of shapely.MultiPolygon
        Ground of each label that keeps any, by label, a coverage of the outline. [m]

    Raises
    ------
    VrpError
        If no cell has a label.

    Notes
    -----
    Labels are first grown beyond the outline to the nearest cell, so that the outline
    itself is never smoothed. Borders have a vertex at every corner of a cell; without
    those neighbours would come apart. `ROUNDS` times each run of border between two
    labels is drawn through the midpoints of its edges, its ends kept. Then vertices
    that span a triangle of less than `TOLERANCE` cells squared with their neighbours
    are dropped from all labels at once. Areas change by some thousandths: what depends
    on them is computed from the polygons.
    """
    present = np.unique(labels[labels >= 0])
    if len(present) == 0:
        message = f"none of {cells.inside.sum()} cells has a label"
        raise VrpError(message)
    if len(present) == 1:
        return {int(present[0]): _multi([outline])}
    grown = _grow(labels)
    keys, shapes = _trace(grown)
    smooth = shapely.coverage_simplify(_rounded(shapes, grown), TOLERANCE)
    origin = np.array([cells.x0 - MARGIN * cells.size, cells.y0 + MARGIN * cells.size])
    scale = np.array([cells.size, -cells.size])
    ground = shapely.transform(smooth, lambda pixel: origin + pixel * scale)
    parts, index = polygon_parts(shapely.intersection(ground, outline))
    smallest = cells.size**2 if sliver is None else sliver
    key, parts = merge_parts(parts, keys[index], min_area=smallest)
    return {int(k): _multi(parts[key == k]) for k in np.unique(key)}


def _grow(labels: NDArray[np.integer]) -> NDArray[np.int32]:
    from scipy.ndimage import distance_transform_edt

    padded = np.pad(labels.astype(np.int32), MARGIN, constant_values=-1)
    nearest = distance_transform_edt(
        padded < 0, return_distances=False, return_indices=True
    )
    grown: NDArray[np.int32] = padded[tuple(nearest)]
    return grown


def _trace(labels: NDArray[np.int32]) -> tuple[NDArray[np.int64], Shapes]:
    from rasterio.features import shapes

    traced = [(int(value), shape) for shape, value in shapes(labels, connectivity=4)]
    polygons = [
        shapely.Polygon(shape["coordinates"][0], shape["coordinates"][1:])
        for _, shape in traced
    ]
    return np.array([key for key, _ in traced]), np.array(polygons, dtype=object)


def _rounded(shapes: Shapes, labels: NDArray[np.int32]) -> Shapes:
    """Return traced cells with their borders rounded, those of neighbours alike."""
    rings, owner = shapely.get_rings(shapely.segmentize(shapes, 1.0), return_index=True)
    corner, ring = shapely.get_coordinates(rings, return_index=True)
    first = np.append(True, ring[1:] != ring[:-1])
    last = np.append(first[1:], True)
    point, ring = corner[~last], ring[~last]
    column, row = point.astype(np.intp).T
    node = _nodes(labels)[row, column]
    for _ in range(ROUNDS):
        begins = np.flatnonzero(np.append(True, ring[1:] != ring[:-1]))
        follows = np.arange(1, len(ring) + 1)
        follows[np.append(begins[1:], len(ring)) - 1] = begins
        middle = (point + point[follows]) / 2.0
        keep = np.column_stack([node, np.ones_like(node)]).ravel()
        point = np.stack([point, middle], axis=1).reshape(-1, 2)[keep]
        node = np.column_stack([node, np.zeros_like(node)]).ravel()[keep]
        ring = np.repeat(ring, 2)[keep]
    turned = shapely.linearrings(point, indices=ring)
    starts = np.flatnonzero(np.diff(owner))
    return np.array(
        [shapely.Polygon(r[0], r[1:]) for r in np.split(turned, starts + 1)],
        dtype=object,
    )


def _nodes(labels: NDArray[np.int32]) -> NDArray[np.bool_]:
    """Return the corners of cells where more than two runs of border meet."""
    around = np.pad(labels, 1, constant_values=-1)
    nw, ne, sw, se = around[:-1, :-1], around[:-1, 1:], around[1:, :-1], around[1:, 1:]
    edges = np.stack([nw != ne, ne != se, se != sw, sw != nw])
    crossing: NDArray[np.bool_] = np.count_nonzero(edges, axis=0) > 2
    return crossing


def _multi(shapes: Iterable[Shape]) -> shapely.MultiPolygon:
    return shapely.MultiPolygon([part for s in shapes for part in shapely.get_parts(s)])


def tile(polygons: Sequence[Shape], field: Field) -> tuple[Shape | None, ...]:
    """
    Return polygons that tile the field exactly, on the lattice of coordinates.

    Parameters
    ----------
    polygons : sequence of shapely.Polygon or shapely.MultiPolygon
        A coverage of the field in its CRS; borders may be apart by `NODE`. [m]
    field : Field
        The field that they cover.

    Returns
    -------
    tuple of shapely.Polygon, shapely.MultiPolygon or None
        One for each polygon, in longitude and latitude, valid, exterior rings
        counter-clockwise; None where nothing is left on the lattice. Every coordinate
        is a multiple of 1e-7 degree, as printed with 7 decimals.

    Raises
    ------
    VrpError
        If the polygons do not cover the field, or what comes out does not tile it.

    Notes
    -----
    All borders are noded in metres, so that no vertex of one polygon lies along an edge
    of another; then noded on the lattice and made into faces. A face belongs to the
    polygon that holds a point inside it (the first, if there are several); one that is
    in the field and in no polygon goes to the neighbour with the longest shared border.
    The union of what is returned is the boundary of the field as it is written.
    """
    shapes = np.array(polygons, dtype=object)
    _check_cover(shapes, field)
    borders = shapely.union_all(shapely.boundary(shapes), grid_size=NODE)
    lines = shapely.get_parts(reproject(borders, field.crs, LONLAT))
    noded = shapely.union_all(lines, grid_size=LATTICE)
    faces = shapely.get_parts(shapely.polygonize([noded]))
    owner = _owners(faces, shapes, field)
    tiles = tuple(_dissolve(faces[owner == i]) for i in range(len(shapes)))
    left = np.array([t for t in tiles if t is not None], dtype=object)
    if not (shapely.coverage_is_valid(left) and shapely.is_valid(left).all()):
        message = f"{field.file}: {len(left)} zones do not tile the field"
        raise VrpError(message)
    return tiles


def _check_cover(shapes: Shapes, field: Field) -> None:
    whole = field.outline.area
    missing = whole - float(shapely.area(shapes).sum())
    if abs(missing) > max(UNTILED, UNTILED_SHARE * whole):
        what = "leave out" if missing > 0 else "overlap by"
        message = (
            f"{field.file}: {len(shapes)} zones {what} {abs(missing):.2f} m² of a "
            f"field of {whole:.0f} m²"
        )
        raise VrpError(message)


def _owners(faces: Shapes, shapes: Shapes, field: Field) -> NDArray[np.intp]:
    lonlat = shapely.MultiPoint(list(shapely.point_on_surface(faces)))
    points = shapely.get_parts(reproject(lonlat, LONLAT, field.crs))
    face, shape = shapely.STRtree(shapes).query(points, predicate="intersects")
    owner = np.full(len(faces), len(shapes), dtype=np.intp)
    np.minimum.at(owner, face, shape)
    owner[owner == len(shapes)] = -1
    gap = np.flatnonzero((owner < 0) & shapely.covers(field.outline, points))
    for i in gap[np.argsort(-shapely.area(faces[gap]), kind="stable")]:
        edge = shapely.boundary(faces[i])
        touching = shapely.STRtree(faces).query(edge, predicate="intersects")
        touching = np.sort(touching[owner[touching] >= 0])
        if len(touching):
            shared = shapely.intersection(shapely.boundary(faces[touching]), edge)
            owner[i] = owner[touching[np.argmax(shapely.length(shared))]]
    return owner


def _dissolve(faces: Shapes) -> Shape | None:
    if len(faces) == 0:
        return None
    whole = shapely.coverage_union_all(faces)
    exact = shapely.transform(whole, lambda degrees: np.round(degrees, DECIMALS))
    parts = shapely.get_parts(shapely.normalize(exact))
    turned = shapely.orient_polygons(parts, exterior_cw=False)
    return turned[0] if len(turned) == 1 else shapely.MultiPolygon(list(turned))


def single_parts(
    shapes: Sequence[Shape | None],
) -> list[tuple[int, shapely.Polygon]]:
    """
    Return polygons of one part each, with the index of the shape they come from.

    Parameters
    ----------
    shapes : sequence of shapely.Polygon, shapely.MultiPolygon or None
        Shapes of one or more parts, in any CRS.

    Returns
    -------
    list of (int, shapely.Polygon)
        The parts in order; none for None.
    """
    return [
        (i, part)
        for i, shape in enumerate(shapes)
        if shape is not None
        for part in shapely.get_parts(shape)
    ]


def cell_owners(
    polygons: Sequence[Shape], cells: Cells, *, nearest: bool = True
) -> NDArray[np.intp]:
    """
    Return in which polygon the centre of each cell lies.

    Parameters
    ----------
    polygons : sequence of shapely.Polygon or shapely.MultiPolygon
        A coverage of the field. [m]
    cells : Cells
        The cells.
    nearest : bool
        Whether a cell whose centre lies in no polygon belongs to the nearest.

    Returns
    -------
    numpy.ndarray of int, shape (m,)
        Index of the polygon that each cell inside belongs to, -1 for none.
    """
    from rasterio import Affine
    from rasterio.features import rasterize

    owner: NDArray[np.intp] = rasterize(
        [(polygon, i) for i, polygon in enumerate(polygons)],
        out_shape=cells.inside.shape,
        transform=Affine(cells.size, 0.0, cells.x0, 0.0, -cells.size, cells.y0),
        fill=-1,
        dtype="int32",
    )[cells.inside].astype(np.intp)
    lost = np.flatnonzero(owner < 0)
    if nearest and len(lost):
        tree = shapely.STRtree(polygons)
        owner[lost] = tree.nearest(shapely.points(cells.xy[lost]))
    return owner
