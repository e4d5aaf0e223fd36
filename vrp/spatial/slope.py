"""Slope of the ground from heights on a grid."""

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

# Of a zone's ground, so that a mean stands for it. Our choice.
LEAST_COVERED = 0.5


@dataclass(frozen=True, slots=True)
class Terrain:
    """
    Slope where a raster of heights covers the field.

    Attributes
    ----------
    file : str
        Name of the raster, for messages.
    xy : numpy.ndarray, shape (n, 2)
        Centres of its cells in the field's CRS. [m]
    slope : numpy.ndarray, shape (n,)
        Slope at each. [percent]
    cell : float
        Side of a cell, the mean of both. [m]
    heights : str
        Unit of the heights, and who says so.
    """

    file: str
    xy: NDArray[np.float64]
    slope: NDArray[np.float64]
    cell: float
    heights: str


def slope_percent(
    heights: NDArray[np.float64], *, width: float, height: float
) -> NDArray[np.float64]:
    r"""
    Return the slope at every cell from its eight neighbours.

    Parameters
    ----------
    heights : numpy.ndarray, shape (rows, columns)
        Heights, NaN where there is none. [m]
    width, height : float
        Sides of a cell along a row and along a column. [m]

    Returns
    -------
    numpy.ndarray, shape (rows, columns)
        Slope, NaN on the rim and beside what is missing. [percent]

    Notes
    -----
    Third-order finite difference. With neighbours

    .. math:: \begin{matrix} a & b & c \\ d & e & f \\ g & h & i \end{matrix}

    the rise along the row is :math:`((c + 2f + i) - (a + 2d + g)) / 8w`, and along the
    column likewise; the slope is 100 times the length of the two.

    References
    ----------
    "Hill shading and the reflectance map", Proceedings of the IEEE 69, 14–47, 1981
    (from memory; it agrees with the program gdaldem of GDAL).

    Examples
    --------
    A plane that rises 1 m in every 20 m to the east:

    >>> plane = np.array([[0.0, 1.0, 2.0]] * 3)
    >>> float(slope_percent(plane, width=20.0, height=20.0)[1, 1])
    5.0
    """
    found = np.full(heights.shape, np.nan)
    if min(heights.shape) < 3:
        return found
    top, middle, bottom = heights[:-2], heights[1:-1], heights[2:]
    rows = top + 2.0 * middle + bottom
    east = (rows[:, 2:] - rows[:, :-2]) / (8.0 * width)
    columns = heights[:, :-2] + 2.0 * heights[:, 1:-1] + heights[:, 2:]
    south = (columns[2:] - columns[:-2]) / (8.0 * height)
    # The cell itself is in neither sum: where it is missing there is no slope.
    itself = np.where(np.isnan(middle[:, 1:-1]), np.nan, 0.0)
    found[1:-1, 1:-1] = 100.0 * np.hypot(east, south) + itself
    return found


def mean_slope(
    terrain: Terrain, shape: shapely.Polygon | shapely.MultiPolygon
) -> float | None:
    """
    Return the mean slope of a zone.

    Parameters
    ----------
    terrain : Terrain
        Slope of the field.
    shape : shapely.Polygon or shapely.MultiPolygon
        The zone, in the field's CRS.

    Returns
    -------
    float or None
        Mean over the cells with their centre in it; of a zone that holds no centre,
        the slope of the nearest cell within a cell's side. None where less than
        `LEAST_COVERED` of the zone has a slope. [percent]
    """
    xy = terrain.xy
    if len(xy) == 0:
        return None
    inside = shapely.intersects_xy(shape, xy[:, 0], xy[:, 1])
    count = int(np.count_nonzero(inside))
    expected = shape.area / terrain.cell**2
    if count >= LEAST_COVERED * expected and count > 0:
        return float(terrain.slope[inside].mean())
    if expected <= 1.0 / LEAST_COVERED:
        within = shape.point_on_surface()
        apart = np.hypot(xy[:, 0] - within.x, xy[:, 1] - within.y)
        nearest = int(apart.argmin())
        if apart[nearest] <= terrain.cell:
            return float(terrain.slope[nearest])
    return None
