"""Heights of the ground from any raster that GDAL reads, as slope on the field."""

import math
import warnings
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
import shapely

from vrp.errors import InputError
from vrp.spatial.field import LONLAT, Field, reproject
from vrp.spatial.slope import Terrain, slope_percent
from vrp.units import FOOT

if TYPE_CHECKING:
    from pyproj import CRS

HeightUnit = Literal["m", "ft"]

# Finer cells are averaged to about this: a furrow is no slope. Our choice [m].
FINEST = 5.0
# Coarser ones say little of a zone. Our choice [m].
COARSEST = 100.0

# What rasters call their heights' unit, in lower case.
_CALLED: dict[str, HeightUnit] = {
    "m": "m",
    "metre": "m",
    "meter": "m",
    "metres": "m",
    "meters": "m",
    "ft": "ft",
    "foot": "ft",
    "feet": "ft",
    "us survey foot": "ft",
    "us survey feet": "ft",
    "ftus": "ft",
    "us-ft": "ft",
}


def read_slope(path: Path, *, field: Field, unit: HeightUnit | None) -> Terrain:
    """Return the slope of the ground around a field from a raster of heights."""
    import rasterio
    from rasterio.errors import NotGeoreferencedWarning, RasterioIOError

    if not path.is_file():
        raise InputError(f"{path.name}: there is no such file in {path.parent}")
    with warnings.catch_warnings():
        # What has no place on the ground is refused below.
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        try:
            with rasterio.open(path) as source:
                return _read(source, path.name, field, unit)
        except RasterioIOError as exc:
            message = f"{path.name}: cannot be read as a raster ({exc})"
            raise InputError(f"{message}: give a GeoTIFF of heights") from exc


def _read(source: Any, name: str, field: Field, unit: HeightUnit | None) -> Terrain:
    from pyproj import CRS

    if source.crs is None:
        raise InputError(f"{name}: declares no CRS: export it with its CRS")
    if source.count != 1:
        raise InputError(
            f"{name}: has {source.count} bands: give a raster of heights alone"
        )
    to_ground = source.transform
    if to_ground.b or to_ground.d or to_ground.a <= 0.0 or to_ground.e >= 0.0:
        raise InputError(f"{name}: is turned or mirrored: export it with north up")
    declared = CRS.from_user_input(source.crs)
    factor, heights = _unit(source, declared, name, unit)
    crs = declared.to_2d()
    if declared.is_compound:
        crs = declared.sub_crs_list[0]
    outline = reproject(field.lonlat, LONLAT, crs)
    width, height = _cell(outline, crs, to_ground.a, -to_ground.e)
    if max(width, height) > COARSEST:
        raise InputError(
            f"{name}: cells of {max(width, height):,.0f} m are too coarse for a "
            f"slope: give cells of {COARSEST:g} m or finer"
        )
    many = (max(1, round(FINEST / width)), max(1, round(FINEST / height)))
    window = _window(source, outline, many, name, field)
    values = _heights(source, window, many) * factor
    if np.isnan(values).all():
        raise InputError(f"{name}: holds no heights on the field in {field.file}")
    width, height = width * many[0], height * many[1]
    slope = slope_percent(values, width=width, height=height)
    rows, columns = np.indices(slope.shape)
    x = to_ground.c + to_ground.a * (window.col_off + (columns + 0.5) * many[0])
    y = to_ground.f + to_ground.e * (window.row_off + (rows + 0.5) * many[1])
    points = shapely.points(x.ravel(), y.ravel())
    there = np.isfinite(slope.ravel())
    moved = shapely.get_coordinates(_moved(points[there], crs, field))
    return Terrain(
        name, moved, slope.ravel()[there], math.sqrt(width * height), heights
    )


def _moved(points: Any, crs: "CRS", field: Field) -> Any:
    return reproject(reproject(points, crs, LONLAT), LONLAT, field.crs)


def _heights(source: Any, window: Any, many: tuple[int, int]) -> Any:
    from rasterio.enums import Resampling

    shape = (int(window.height) // many[1], int(window.width) // many[0])
    read = source.read(
        1,
        window=window,
        out_shape=shape,
        masked=True,
        resampling=Resampling.average,
    )
    return np.ma.filled(read.astype(np.float64), np.nan)


def _window(
    source: Any, outline: Any, many: tuple[int, int], name: str, field: Field
) -> Any:
    """Return the part of a raster with the field in it, and a rim of two cells."""
    from rasterio.windows import Window

    to_ground = source.transform
    west, south, east, north = outline.bounds
    first = math.floor((west - to_ground.c) / to_ground.a) - 2 * many[0]
    last = math.ceil((east - to_ground.c) / to_ground.a) + 2 * many[0]
    upper = math.floor((north - to_ground.f) / to_ground.e) - 2 * many[1]
    lower = math.ceil((south - to_ground.f) / to_ground.e) + 2 * many[1]
    first, upper = max(first, 0), max(upper, 0)
    last, lower = min(last, source.width), min(lower, source.height)
    wide = (last - first) // many[0] * many[0]
    high = (lower - upper) // many[1] * many[1]
    if wide < 3 * many[0] or high < 3 * many[1]:
        raise InputError(
            f"{name}: does not cover the field in {field.file}: check the file and "
            "its CRS"
        )
    return Window(first, upper, wide, high)


def _cell(outline: Any, crs: "CRS", width: float, height: float) -> tuple[float, float]:
    """Return the sides of a cell on the ellipsoid [m], whatever the CRS."""
    from pyproj import Geod

    x, y = outline.centroid.x, outline.centroid.y
    ends = reproject(
        shapely.MultiPoint([(x, y), (x + width, y), (x, y + height)]), crs, LONLAT
    )
    (lon, lat), (east_lon, east_lat), (north_lon, north_lat) = shapely.get_coordinates(
        ends
    ).tolist()
    ellipsoid = Geod(ellps="WGS84")
    return (
        float(ellipsoid.inv(lon, lat, east_lon, east_lat)[2]),
        float(ellipsoid.inv(lon, lat, north_lon, north_lat)[2]),
    )


def _unit(
    source: Any, crs: "CRS", name: str, given: HeightUnit | None
) -> tuple[float, str]:
    """Return metres in a unit of height, and the unit with who says so."""
    called = _called(source, crs)
    stated = None if called is None else _CALLED.get(called.strip().lower())
    if called is not None and stated is None:
        raise InputError(
            f"{name}: says that its heights are in {called!r}: export it in metres or "
            "feet"
        )
    if stated is None and given is None:
        raise InputError(
            f"{name}: does not say the unit of its heights: write "
            'water.elevation_unit = "m" or "ft"'
        )
    if stated is not None and given is not None and stated != given:
        raise InputError(
            f"{name}: says that its heights are in {stated}, water.elevation_unit says "
            f"{given}: correct the one that is wrong"
        )
    told = "the plan" if stated is None else "the file"
    unit = given if stated is None else stated
    return (FOOT if unit == "ft" else 1.0), f"{unit}, as {told} says"


def _called(source: Any, crs: "CRS") -> str | None:
    """Return what a raster, or its vertical CRS, calls the unit of its heights."""
    if source.units[0]:
        return str(source.units[0])
    for part in crs.sub_crs_list:
        if part.is_vertical:
            return str(part.axis_info[0].unit_name)
    return None
