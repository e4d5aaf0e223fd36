"""Values of a layer on the cells of a field: of a raster, of points, of polygons."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray

from vrp.spatial.coverage import cell_owners
from vrp.spatial.field import reproject
from vrp.spatial.grid import Cells
from vrp.spatial.regions import Shapes

if TYPE_CHECKING:
    from pyproj import CRS

FINEST = 4  # places a side of a cell that a raster is read at, our choice
SPACINGS = 1.5  # of points that a mean reaches, our choice
_AT_ONCE = 50_000  # cells whose points are sought at a time

_Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class RasterValues:
    """
    Pixels of a raster with north up, NaN where it has none.

    Attributes
    ----------
    name : str
        What messages call it.
    values : numpy.ndarray, shape (rows, columns)
        The pixels, rows from the north.
    west, north : float
        Edges of the first pixel. [crs]
    width, height : float
        Sides of a pixel. [crs]
    crs : pyproj.CRS
        Of the raster.
    """

    name: str
    values: _Floats
    west: float
    north: float
    width: float
    height: float
    crs: "CRS"


@dataclass(frozen=True, slots=True)
class PointValues:
    """
    Values at points.

    Attributes
    ----------
    name : str
        What messages call them.
    xy : numpy.ndarray, shape (n, 2)
        Positions in the field's CRS. [m]
    values : numpy.ndarray, shape (n,)
        Their values, none missing.
    radius : float or None
        How far a point counts, `SPACINGS` of them where not said. [m]
    """

    name: str
    xy: _Floats
    values: _Floats
    radius: float | None


@dataclass(frozen=True, slots=True)
class AreaValues:
    """
    Values of polygons.

    Attributes
    ----------
    name : str
        What messages call them.
    shapes : numpy.ndarray of shapely geometries, shape (n,)
        Polygons in the field's CRS. [m]
    values : numpy.ndarray, shape (n,)
        Their values, none missing.
    """

    name: str
    shapes: Shapes
    values: _Floats


LayerValues = RasterValues | PointValues | AreaValues


def on_cells(layer: LayerValues, cells: Cells, *, crs: "CRS") -> tuple[_Floats, str]:
    """
    Return the values of a layer on cells.

    Parameters
    ----------
    layer : RasterValues, PointValues or AreaValues
        The layer.
    cells : Cells
        The cells.
    crs : pyproj.CRS
        Of the cells.

    Returns
    -------
    values : numpy.ndarray, shape (m,)
        Value of each cell inside, NaN where the layer has none.
    how : str
        How they were found, in words.

    Notes
    -----
    Of a raster a cell takes the bilinear value at its centre; where pixels are smaller
    than cells the mean of up to `FINEST` by `FINEST` places in it. Of points it takes
    the mean of those within the radius, of polygons the one that holds its centre, the
    last of several.
    """
    match layer:
        case RasterValues():
            return _of_raster(layer, cells, crs)
        case PointValues():
            return _of_points(layer, cells)
        case AreaValues():
            owner = cell_owners(layer.shapes.tolist(), cells, nearest=False)
            values = np.where(owner < 0, np.nan, layer.values[owner])
            return values, "of the polygon at the cell's centre"


def filled(values: _Floats, cells: Cells) -> _Floats:
    """
    Return values of cells, those that are missing taken from the nearest cell.

    Parameters
    ----------
    values : numpy.ndarray, shape (m,)
        Value of each cell inside, NaN where it is missing; not everywhere.
    cells : Cells
        The cells.

    Returns
    -------
    numpy.ndarray, shape (m,)
        Values, none missing.
    """
    from scipy.ndimage import distance_transform_edt

    if not np.isnan(values).any():
        return values
    grid = cells.spread(values, np.nan)
    nearest = distance_transform_edt(
        np.isnan(grid), return_distances=False, return_indices=True
    )
    whole: _Floats = grid[tuple(nearest)][cells.inside]
    return whole


def _of_raster(layer: RasterValues, cells: Cells, crs: "CRS") -> tuple[_Floats, str]:
    places = cells.xy
    side = _pixel(layer, places, crs)
    number = int(np.clip(np.ceil(cells.size / side - 1e-6), 1, FINEST))
    shift = ((np.arange(number) + 0.5) / number - 0.5) * cells.size
    total, count = np.zeros(len(places)), np.zeros(len(places))
    for along in shift.tolist():
        for across in shift.tolist():
            place = places + np.array([along, across])
            moved = _moved(place, crs, layer.crs)
            value = _bilinear(layer, moved)
            there = np.isfinite(value)
            total[there] += value[there]
            count += there
    values = np.full(len(places), np.nan)
    np.divide(total, count, out=values, where=count > 0)
    how = "bilinear at the cell's centre"
    return values, how if number == 1 else f"mean of {number**2} places in the cell"


def _pixel(layer: RasterValues, places: _Floats, crs: "CRS") -> float:
    """Return the side of a pixel in the middle of the field [m]."""
    middle = places.mean(axis=0)
    steps = middle + np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]])
    there = _moved(steps, crs, layer.crs) / (layer.width, layer.height)
    pixels_a_metre = np.hypot(*(there[1:] - there[0]).T).mean()
    return float(1.0 / pixels_a_metre)


def _moved(xy: _Floats, source: "CRS", target: "CRS") -> _Floats:
    points = shapely.MultiPoint(xy)
    moved: _Floats = shapely.get_coordinates(reproject(points, source, target))
    return moved


def _bilinear(layer: RasterValues, xy: _Floats) -> _Floats:
    """Return values between the centres of pixels, of the pixel itself at a gap."""
    rows, columns = layer.values.shape
    column = (xy[:, 0] - layer.west) / layer.width - 0.5
    row = (layer.north - xy[:, 1]) / layer.height - 0.5
    inside = (
        (column >= -0.5)
        & (column <= columns - 0.5)
        & (row >= -0.5)
        & (row <= rows - 0.5)
    )
    column, row = np.clip(column, 0, columns - 1), np.clip(row, 0, rows - 1)
    left, top = np.floor(column).astype(int), np.floor(row).astype(int)
    right, low = np.minimum(left + 1, columns - 1), np.minimum(top + 1, rows - 1)
    x, y = column - left, row - top
    pixel = layer.values
    value = (pixel[top, left] * (1 - x) + pixel[top, right] * x) * (1 - y)
    value += (pixel[low, left] * (1 - x) + pixel[low, right] * x) * y
    own = pixel[np.round(row).astype(int), np.round(column).astype(int)]
    found: _Floats = np.where(inside, np.where(np.isnan(value), own, value), np.nan)
    return found


def _of_points(layer: PointValues, cells: Cells) -> tuple[_Floats, str]:
    radius = layer.radius
    if radius is None:
        hull = shapely.convex_hull(shapely.MultiPoint(layer.xy))
        spacing = np.sqrt(hull.area / len(layer.xy))
        radius = float(max(SPACINGS * spacing, cells.size))
    tree = shapely.STRtree(np.asarray(shapely.points(layer.xy)))
    places = cells.xy
    values = np.full(len(places), np.nan)
    for start in range(0, len(places), _AT_ONCE):
        here = np.asarray(shapely.points(places[start : start + _AT_ONCE]))
        cell, point = tree.query(here, predicate="dwithin", distance=radius)
        # In one order, so that sums are the same whatever the tree.
        order = np.lexsort((point, cell))
        cell, point = cell[order], point[order]
        count = np.bincount(cell, minlength=len(here))
        total = np.bincount(cell, layer.values[point], minlength=len(here))
        mean = values[start : start + _AT_ONCE]
        np.divide(total, count, out=mean, where=count > 0)
    return values, f"mean of the points within {radius:.3g} m"
