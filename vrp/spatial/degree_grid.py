"""Cells between meridians and parallels, as machines on board read a map."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray

if TYPE_CHECKING:
    from pyproj import Geod

# A ten-millionth of a degree is about a centimetre; a cell's side is kept far finer,
# since a row of thousands adds up.
ORIGIN_DECIMALS = 7
SIDE_DECIMALS = 12

Shape = shapely.Polygon | shapely.MultiPolygon
Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class DegreeGrid:
    """
    Cells aligned to north; rows go from south to north, columns from west to east.

    Attributes
    ----------
    south : float
        South edge of the first row. [degree]
    west : float
        West edge of the first column. [degree]
    north_side : float
        Side of a cell along a meridian. [degree]
    east_side : float
        Side of a cell along a parallel. [degree]
    rows : int
        Number of rows.
    columns : int
        Number of columns.
    """

    south: float
    west: float
    north_side: float
    east_side: float
    rows: int
    columns: int

    @property
    def count(self) -> int:
        """
        Number of cells.

        Returns
        -------
        int
            Rows times columns.
        """
        return self.rows * self.columns

    def cell_areas(self) -> NDArray[np.float64]:
        """
        Area of a cell in each row, on the WGS 84 ellipsoid.

        Returns
        -------
        numpy.ndarray, shape (rows,)
            Areas, from the south. [m²]

        Notes
        -----
        The product of the two radii of curvature at the middle of the row.
        """
        middle = self.south + (np.arange(float(self.rows)) + 0.5) * self.north_side
        north, east = metres_per_degree(middle)
        areas: NDArray[np.float64] = north * self.north_side * east * self.east_side
        return areas

    def owners(self, shapes: Sequence[Shape]) -> NDArray[np.int32]:
        """
        Return in which shape the centre of each cell lies.

        Parameters
        ----------
        shapes : sequence of shapely.Polygon or shapely.MultiPolygon
            In longitude, latitude (EPSG:4326).

        Returns
        -------
        numpy.ndarray of int, shape (rows, columns)
            Index of the shape, -1 for none.
        """
        from rasterio import Affine
        from rasterio.features import rasterize

        north = self.south + self.rows * self.north_side
        drawn: NDArray[np.int32] = rasterize(
            [(shape, index) for index, shape in enumerate(shapes)],
            out_shape=(self.rows, self.columns),
            # Drawn as rasters are, from the north, and turned over.
            transform=Affine(
                self.east_side, 0.0, self.west, 0.0, -self.north_side, north
            ),
            fill=-1,
            dtype="int32",
        )
        return drawn[::-1]

    def touching(self, shape: shapely.Geometry) -> NDArray[np.bool_]:
        """
        Return which cells a shape touches, be it by a corner.

        Parameters
        ----------
        shape : shapely.Geometry
            In longitude, latitude (EPSG:4326).

        Returns
        -------
        numpy.ndarray of bool, shape (rows, columns)
            Whether any of a cell is in it.
        """
        found = np.zeros((self.rows, self.columns), dtype=bool)
        if shapely.is_empty(shape):
            return found
        west, south, east, north = shapely.bounds(shape).tolist()
        columns = np.arange(
            max(0, math.floor((west - self.west) / self.east_side) - 1),
            min(self.columns, math.ceil((east - self.west) / self.east_side) + 1),
        )
        rows = np.arange(
            max(0, math.floor((south - self.south) / self.north_side) - 1),
            min(self.rows, math.ceil((north - self.south) / self.north_side) + 1),
        )
        if not (len(rows) and len(columns)):
            return found
        x = self.west + columns * self.east_side
        y = self.south + rows * self.north_side
        inside, near = self._drawn(
            shape,
            south=float(y[0]),
            west=float(x[0]),
            like=found[np.ix_(rows, columns)],
        )
        row, column = np.nonzero(near & ~inside)
        boxes = shapely.box(
            x[column], y[row], x[column] + self.east_side, y[row] + self.north_side
        )
        shapely.prepare(shape)
        inside[row, column] = shapely.intersects(shape, boxes)
        found[np.ix_(rows, columns)] = inside
        return found

    def _drawn(
        self, shape: shapely.Geometry, *, south: float, west: float, like: Mask
    ) -> tuple[Mask, Mask]:
        """Return cells with their centre in a polygon, and all that it may touch."""
        from rasterio import Affine
        from rasterio.features import rasterize
        from scipy.ndimage import binary_dilation

        north = south + like.shape[0] * self.north_side
        place = Affine(self.east_side, 0.0, west, 0.0, -self.north_side, north)

        def drawn(*, all_touched: bool) -> Mask:
            cells = rasterize(
                [(shape, 1)],
                out_shape=like.shape,
                transform=place,
                fill=0,
                dtype="uint8",
                all_touched=all_touched,
            )
            return np.asarray(cells[::-1] == 1)

        inside = np.zeros_like(like)
        if isinstance(shape, shapely.Polygon | shapely.MultiPolygon):
            inside = drawn(all_touched=False)
        # A cell further, so that no rounding leaves one out.
        near = binary_dilation(drawn(all_touched=True), structure=np.ones((3, 3)))
        return inside, np.asarray(near)


def cover(shape: shapely.Geometry, *, side: float) -> DegreeGrid:
    """
    Return cells of about a side that cover a shape, from its south-west corner.

    Parameters
    ----------
    shape : shapely.Geometry
        In longitude, latitude (EPSG:4326).
    side : float
        Side of a cell at the middle of the shape. [m]

    Returns
    -------
    DegreeGrid
        Its numbers rounded, so that they can be written as they are.
    """
    west, south, east, north = shapely.bounds(shape).tolist()
    per_north, per_east = metres_per_degree(np.array([(south + north) / 2.0]))
    tall = round(side / float(per_north[0]), SIDE_DECIMALS)
    wide = round(side / float(per_east[0]), SIDE_DECIMALS)
    scale = 10.0**ORIGIN_DECIMALS
    south = round(math.floor(round(south * scale, 3)) / scale, ORIGIN_DECIMALS)
    west = round(math.floor(round(west * scale, 3)) / scale, ORIGIN_DECIMALS)
    return DegreeGrid(
        south,
        west,
        tall,
        wide,
        max(1, math.ceil((north - south) / tall)),
        max(1, math.ceil((east - west) / wide)),
    )


def metres_per_degree(
    latitude: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """
    Length of a degree on the WGS 84 ellipsoid.

    Parameters
    ----------
    latitude : numpy.ndarray, shape (n,)
        Where. [degree]

    Returns
    -------
    along_meridian : numpy.ndarray, shape (n,)
        Of latitude. [m]
    along_parallel : numpy.ndarray, shape (n,)
        Of longitude. [m]
    """
    ellipsoid, phi = _ellipsoid(), np.radians(latitude)
    bend = 1.0 - ellipsoid.es * np.sin(phi) ** 2
    meridian = ellipsoid.a * (1.0 - ellipsoid.es) / bend**1.5
    parallel = ellipsoid.a / np.sqrt(bend) * np.cos(phi)
    return np.radians(meridian), np.radians(parallel)


@lru_cache(maxsize=1)
def _ellipsoid() -> "Geod":
    from pyproj import Geod

    return Geod(ellps="WGS84")
