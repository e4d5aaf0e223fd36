"""A field on the ground: its outline, its samples, and the CRS to measure them in."""

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray

from vrp.errors import InputError

if TYPE_CHECKING:
    from pyproj import CRS, Geod, Transformer

LONLAT = "EPSG:4326"
WIDEST = 0.5  # [degree], our choice: 55 km, more than any field and most farms


@dataclass(frozen=True, slots=True)
class Field:
    """
    The ground of one field.

    Attributes
    ----------
    file : str
        Name of the boundary file, for messages.
    lonlat : shapely.MultiPolygon
        Outline in longitude, latitude (EPSG:4326), holes left out.
    crs : pyproj.CRS
        Projected CRS that fits the field, in metres.
    outline : shapely.MultiPolygon
        The same outline in `crs`. [m]
    """

    file: str
    lonlat: shapely.MultiPolygon
    crs: "CRS"
    outline: shapely.MultiPolygon


@dataclass(frozen=True, slots=True)
class Samples:
    """
    Laboratory results on the ground, in the order of their file.

    Attributes
    ----------
    file : str
        Name of the file of results, for messages.
    rows : tuple of int, length n
        Row of each result as its file shows it: a heading is row 1. Of a core in layers
        it is the first of its rows.
    ids : tuple of str, length n
        Sample ids, empty where the file has none.
    shape : numpy.ndarray of shapely geometries, shape (n,)
        Points, or the polygons of composites, in the field's CRS. [m]
    value : numpy.ndarray, shape (n,)
        Soil test in the unit of the plan; of a core in layers their mean.
    columns : dict of numpy.ndarray, shape (n,)
        Further columns by the plan's word (``ph``, ``organic_matter``, ``bray_p2``),
        NaN where blank. Where cores are in layers also ``stratification``, the top
        layer over the mean, ``top_layer``, its soil test, and ``top_layer_depth``, its
        thickness [cm], NaN for a core that was not cut.
    """

    file: str
    rows: tuple[int, ...]
    ids: tuple[str, ...]
    shape: NDArray[np.object_]
    value: NDArray[np.float64]
    columns: dict[str, NDArray[np.float64]]

    @property
    def xy(self) -> NDArray[np.float64]:
        """
        Return the positions of points, or the centroids of polygons.

        Returns
        -------
        numpy.ndarray, shape (n, 2)
            Positions. [m]
        """
        return shapely.get_coordinates(shapely.centroid(self.shape))

    def take(self, keep: NDArray[np.bool_] | NDArray[np.intp]) -> "Samples":
        """
        Return some of the samples.

        Parameters
        ----------
        keep : numpy.ndarray of bool or int
            Which ones, by mask or by index.

        Returns
        -------
        Samples
            Those, in the order asked for.
        """
        index = np.arange(len(self.rows))[keep]
        return Samples(
            self.file,
            tuple(self.rows[i] for i in index),
            tuple(self.ids[i] for i in index),
            self.shape[index],
            self.value[index],
            {name: column[index] for name, column in self.columns.items()},
        )


def fitting_crs(lonlat: shapely.Geometry) -> "CRS":
    """
    Projected CRS that fits a field.

    Parameters
    ----------
    lonlat : shapely.Geometry
        Anything that covers the field, in longitude, latitude (EPSG:4326).

    Returns
    -------
    pyproj.CRS
        Transverse Mercator on WGS 84, scale 1 on a central meridian through the field.

    Raises
    ------
    InputError
        If the coordinates are not longitudes and latitudes, lie beyond 84 degrees, or
        are more than `WIDEST` apart.

    Notes
    -----
    Our choice over the zones of UTM: scale is true to 1e-6 within 9 km of the meridian,
    and no field lies across the edge of a zone.
    """
    from pyproj import CRS

    west, south, east, north = shapely.bounds(lonlat)
    if not (-180.0 <= west <= east <= 180.0 and -84.0 <= south <= north <= 84.0):
        message = (
            f"coordinates {west:g}, {south:g} to {east:g}, {north:g} are not a "
            "longitude and a latitude in degrees: declare the CRS that they are in"
        )
        raise InputError(message)
    if max(east - west, north - south) > WIDEST:
        message = (
            f"coordinates {west:g}, {south:g} to {east:g}, {north:g} are too far apart "
            f"for one field, more than {WIDEST:g} degree: take out what lies elsewhere"
        )
        raise InputError(message)
    lon, lat = round((west + east) / 2.0, 2), round((south + north) / 2.0, 2)
    return CRS.from_proj4(
        f"+proj=tmerc +lat_0={lat} +lon_0={lon} +k=1 +x_0=0 +y_0=0 +datum=WGS84 "
        "+units=m +no_defs +type=crs"
    )


def reproject(
    geometry: shapely.Geometry, source: "CRS | str", target: "CRS | str"
) -> shapely.Geometry:
    """
    Geometry in another CRS, x before y in both.

    Parameters
    ----------
    geometry : shapely.Geometry
        In `source`.
    source, target : pyproj.CRS or str
        From which, to which.

    Returns
    -------
    shapely.Geometry
        In `target`, vertex by vertex.
    """
    transform = _transformer(source, target).transform
    return shapely.transform(geometry, lambda xy: np.column_stack(transform(*xy.T)))


@lru_cache(maxsize=16)
def _transformer(source: "CRS | str", target: "CRS | str") -> "Transformer":
    from pyproj import Transformer

    return Transformer.from_crs(source, target, always_xy=True)


def geodesic_area(lonlat: shapely.Geometry) -> float:
    """
    Area on the WGS 84 ellipsoid.

    Parameters
    ----------
    lonlat : shapely.Geometry
        Polygon or multipolygon in longitude, latitude (EPSG:4326).

    Returns
    -------
    float
        Area, holes left out, whatever the winding. [m²]
    """
    return sum(_ring_areas(part) for part in shapely.get_parts(lonlat))


def _ring_areas(polygon: shapely.Polygon) -> float:
    holes = sum(_ring_area(ring) for ring in polygon.interiors)
    return _ring_area(polygon.exterior) - holes


def _ring_area(ring: shapely.LinearRing) -> float:
    lon, lat = shapely.get_coordinates(ring).T
    return abs(_ellipsoid().polygon_area_perimeter(lon, lat)[0])


@lru_cache(maxsize=1)
def _ellipsoid() -> "Geod":
    from pyproj import Geod

    return Geod(ellps="WGS84")
