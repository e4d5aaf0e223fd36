"""Regions of cells and parts of polygons, and which neighbour a small one joins."""

from heapq import heapify, heappop, heappush

import numpy as np
import shapely
from numpy.typing import NDArray

Shape = shapely.Polygon | shapely.MultiPolygon
Shapes = NDArray[np.object_]
Borders = tuple[NDArray[np.integer], NDArray[np.integer], NDArray[np.float64]]

NODE = 1e-4  # [m]; borders closer than this are one border
SHARED = 1e-3  # [m]; a shorter shared border is a touch in a point


def connected_regions(labels: NDArray[np.integer]) -> NDArray[np.int32]:
    """
    Return the connected regions of cells with the same label.

    Parameters
    ----------
    labels : numpy.ndarray of int, shape (rows, columns)
        Label of each cell, negative where it has none.

    Returns
    -------
    numpy.ndarray of int, shape (rows, columns)
        Region of each cell, counted from 0 by first cell, row by row; -1 where there is
        none. Cells connect where they share an edge.
    """
    from scipy.ndimage import label

    rows, columns = labels.shape
    has = labels >= 0
    # Every second pixel is a cell, those between link cells that are alike: one pass
    # connects all labels, however many there are.
    linked = np.zeros((2 * rows - 1, 2 * columns - 1), dtype=bool)
    linked[::2, ::2] = has
    linked[1::2, ::2] = (labels[1:] == labels[:-1]) & has[1:]
    linked[::2, 1::2] = (labels[:, 1:] == labels[:, :-1]) & has[:, 1:]
    ids: NDArray[np.int32] = label(linked, output=np.int32)[0][::2, ::2]
    return ids - np.int32(1)


def cell_borders(ids: NDArray[np.int32]) -> Borders:
    """
    Return the lengths of border that regions of cells share.

    Parameters
    ----------
    ids : numpy.ndarray of int, shape (rows, columns)
        Region of each cell, as `connected_regions` numbers them.

    Returns
    -------
    first, second : numpy.ndarray of int, shape (p,)
        Pairs of regions, each once.
    border : numpy.ndarray, shape (p,)
        Edges of cells that they share.
    """
    number = int(ids.max()) + 1
    codes = []
    for one, other in ((ids[1:], ids[:-1]), (ids[:, 1:], ids[:, :-1])):
        border = (one != other) & (one >= 0) & (other >= 0)
        a, b = one[border].astype(np.int64), other[border].astype(np.int64)
        codes.append(np.minimum(a, b) * number + np.maximum(a, b))
    pair, edges = np.unique(np.concatenate(codes), return_counts=True)
    return pair // number, pair % number, edges.astype(np.float64)


def polygon_parts(shapes: Shapes) -> tuple[Shapes, NDArray[np.intp]]:
    """
    Return the polygons that shapes consist of, lines and points left out.

    Parameters
    ----------
    shapes : numpy.ndarray of shapely.Geometry, shape (n,)
        Shapes, collections too.

    Returns
    -------
    parts : numpy.ndarray of shapely.Polygon, shape (k,)
        Their polygons in order.
    index : numpy.ndarray of int, shape (k,)
        Index of the shape that each comes from.
    """
    parts, index = shapely.get_parts(shapes, return_index=True)
    inner, outer = shapely.get_parts(parts, return_index=True)
    keep = (shapely.get_type_id(inner) == 3) & (shapely.area(inner) > 0.0)
    return inner[keep], index[outer][keep]


def union_of(shapes: Shapes) -> Shape:
    """
    Return the union of shapes that touch, noded so that no slit is left.

    Parameters
    ----------
    shapes : numpy.ndarray of shapely.Polygon or shapely.MultiPolygon, shape (n,)
        Shapes. [m]

    Returns
    -------
    shapely.Polygon or shapely.MultiPolygon
        Their union, on a lattice of `NODE`. [m]
    """
    return gather(np.array([shapely.union_all(shapes, grid_size=NODE)], dtype=object))


def gather(shapes: Shapes) -> Shape:
    """
    Return shapes that do not overlap as one.

    Parameters
    ----------
    shapes : numpy.ndarray of shapely.Polygon or shapely.MultiPolygon, shape (n,)
        Shapes of at least one polygon.

    Returns
    -------
    shapely.Polygon or shapely.MultiPolygon
        The polygon, where there is one, or all of them.
    """
    parts = polygon_parts(shapes)[0].tolist()
    return parts[0] if len(parts) == 1 else shapely.MultiPolygon(parts)


def merge_parts(
    parts: Shapes,
    keys: NDArray[np.integer],
    *,
    min_area: float,
) -> tuple[NDArray[np.integer], Shapes]:
    """
    Return the parts of a coverage, the small ones joined to a neighbour.

    Parameters
    ----------
    parts : numpy.ndarray of shapely.Polygon, shape (n,)
        Parts that may touch and do not overlap. [m]
    keys : numpy.ndarray of int, shape (n,)
        To what each part belongs.
    min_area : float
        Parts smaller than this join the neighbour with the longest shared border and
        take its key; a part that borders on none stays. [m²]

    Returns
    -------
    keys : numpy.ndarray of int, shape (k,)
        To what each part that is left belongs.
    parts : numpy.ndarray of shapely.Polygon, shape (k,)
        The parts that are left, in the order of the first of what they are made of.
    """
    area = shapely.area(parts)
    small = np.flatnonzero(area < min_area)
    if len(small) == 0:
        return keys, parts
    root = join_small(
        area,
        label=keys,
        mean=np.zeros(len(parts)),
        borders=shared_borders(parts, small),
        min_area=min_area,
    )
    whole = np.flatnonzero(root == np.arange(len(parts)))
    size = np.bincount(root, minlength=len(parts))
    merged = parts.copy()
    for i in np.flatnonzero(size > 1):
        merged[i] = union_of(parts[root == i])
    left, index = polygon_parts(merged[whole])
    return keys[whole][index], left


def shared_borders(parts: Shapes, some: NDArray[np.integer]) -> Borders:
    """
    Return the lengths of border that some parts share with others.

    Parameters
    ----------
    parts : numpy.ndarray of shapely.Polygon, shape (n,)
        Parts that may touch and do not overlap. [m]
    some : numpy.ndarray of int, shape (k,)
        Indices of the parts whose neighbours are asked for.

    Returns
    -------
    first, second : numpy.ndarray of int, shape (p,)
        Pairs of parts, each once.
    border : numpy.ndarray, shape (p,)
        Length that they share, to the millimetre. [m]
    """
    near = shapely.buffer(parts[some], NODE, quad_segs=2)
    pair, other = shapely.STRtree(parts).query(near, predicate="intersects")
    one = some[pair]
    is_some = np.zeros(len(parts), dtype=bool)
    is_some[some] = True
    once = (one != other) & ((one < other) | ~is_some[other])
    pair, one, other = pair[once], one[once], other[once]
    common = shapely.intersection(shapely.boundary(parts[other]), near[pair])
    border = np.round(shapely.length(common), 3)
    long = border > SHARED
    return one[long], other[long], border[long]


def join_small(
    area: NDArray[np.float64],
    *,
    label: NDArray[np.integer],
    mean: NDArray[np.float64],
    borders: Borders,
    min_area: float,
) -> NDArray[np.intp]:
    """
    Return the region that each region ends in, when small ones join a neighbour.

    Parameters
    ----------
    area : numpy.ndarray, shape (n,)
        Area of each region. [m²]
    label : numpy.ndarray of int, shape (n,)
        Label of each; no two neighbours share one.
    mean : numpy.ndarray, shape (n,)
        Mean value of each, for ties.
    borders : tuple of numpy.ndarray, shape (p,)
        Pairs of neighbours, each once: index of the one, of the other, and the length
        of border that they share.
    min_area : float
        Regions smaller than this join a neighbour. [m²]

    Returns
    -------
    numpy.ndarray of int, shape (n,)
        Index of the region that each ends in and whose label it takes.

    Notes
    -----
    The smallest goes first, to the neighbour with the longest shared border; among
    equals to the nearest mean, then to the lowest index. Neighbours that come to share
    a label become one region. This repeats until none is too small; a region without
    neighbour stays.
    """
    regions = _Regions(area, label, mean)
    regions.connect(borders)
    heap = [(a, i) for i, a in enumerate(regions.area) if a < min_area]
    heapify(heap)
    while heap:
        a, i = heappop(heap)
        stale = regions.root[i] != i or regions.area[i] != a
        if stale or not regions.neighbours[i]:
            continue
        target = regions.join(i)
        if regions.area[target] < min_area:
            heappush(heap, (regions.area[target], target))
    root = np.array(regions.root, dtype=np.intp)
    while not np.array_equal(root, root[root]):
        root = root[root]
    return root


class _Regions:
    """Regions and their borders while some are joined to others."""

    def __init__(
        self,
        area: NDArray[np.float64],
        label: NDArray[np.integer],
        mean: NDArray[np.float64],
    ) -> None:
        self.root = list(range(len(area)))
        self.area: list[float] = area.tolist()
        self.label: list[int] = label.tolist()
        self.total: list[float] = (mean * area).tolist()
        self.neighbours: list[dict[int, float]] = [{} for _ in self.root]

    def connect(self, borders: Borders) -> None:
        """Take over which regions share a border, and how much of one."""
        first, second, length_of = (column.tolist() for column in borders)
        for one, other, length in zip(first, second, length_of, strict=True):
            self.neighbours[one][other] = length
            self.neighbours[other][one] = length

    def join(self, i: int) -> int:
        """Join a region to the best of its neighbours and return what they become."""
        around = self.neighbours[i]
        mean = self.total[i] / self.area[i]
        target = min(
            around,
            key=lambda j: (-around[j], abs(self.total[j] / self.area[j] - mean), j),
        )
        alike = [j for j in around if self.label[j] == self.label[target]]
        self._absorb(target, i)
        for j in alike:
            if j != target:
                few, many = sorted((j, target), key=lambda k: len(self.neighbours[k]))
                self._absorb(many, few)
                target = many
        return target

    def _absorb(self, keep: int, gone: int) -> None:
        self.root[gone] = keep
        self.area[keep] += self.area[gone]
        self.total[keep] += self.total[gone]
        for j, length in self.neighbours[gone].items():
            around = self.neighbours[j]
            del around[gone]
            if j != keep:
                around[keep] = around.get(keep, 0.0) + length
                self.neighbours[keep][j] = around[keep]
        self.neighbours[gone] = {}
