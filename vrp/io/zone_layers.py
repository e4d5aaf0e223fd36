"""Layers that zones are drawn from: rasters, points or polygons, with their values."""

import math
import warnings
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from vrp.errors import InputError
from vrp.io import vector
from vrp.plan import ZoneLayer
from vrp.spatial.field import LONLAT, Field, reproject
from vrp.spatial.layer_values import AreaValues, LayerValues, PointValues, RasterValues

RASTERS = {".tif", ".tiff", ".vrt", ".asc", ".img", ".jp2"}
MOST_PIXELS = 50_000_000  # our choice: a metre's pixels on the largest field
_POINTS = (shapely.GeometryType.POINT, shapely.GeometryType.MULTIPOINT)

_Floats = NDArray[np.float64]


def read_zone_layer(
    asked: ZoneLayer, *, field: Field, metres_per_length: float
) -> LayerValues | None:
    """Return what a file holds about the field; None for the map's own soil test."""
    path = asked.file
    if path is None:
        return None
    if path.suffix.lower() in RASTERS:
        _refuse(asked, {"column": asked.column, "radius": asked.radius}, "a raster")
        return _raster(path, asked.band or 1, field)
    _refuse(asked, {"band": asked.band}, "a vector file")
    layer = vector.read_layer(path)
    if asked.column is None:
        columns = ", ".join(layer.columns) or "none"
        message = (
            f"zones.layers: {path.name}: say which column: it has {columns}, such as "
            f'{{ file = "{path.name}", column = "…" }}'
        )
        raise InputError(message)
    if layer.shapes is None:
        message = (
            f"zones.layers: {path.name}: holds a table without shapes: give points or "
            "polygons, such as GeoJSON, or a GeoTIFF"
        )
        raise InputError(message)
    values = _numbers(layer, asked.column)
    name = f"{path.name} {asked.column}"
    if _is_point(layer.shapes):
        return _points(layer, values, asked, field, metres_per_length)
    _refuse(asked, {"radius": asked.radius}, "polygons")
    shapes = vector.polygons_of(layer)
    known = np.isfinite(values)
    lonlat = vector.to_lonlat(layer.file, shapes, vector.declared_crs(layer))
    ground = vector.to_field(lonlat, field)
    here = known & shapely.intersects(ground, field.outline)
    if not here.any():
        raise InputError(_elsewhere(layer.file, field))
    return AreaValues(name, ground[here], values[here])


def _refuse(asked: ZoneLayer, given: dict[str, object], what: str) -> None:
    for key, value in given.items():
        if value is not None:
            assert asked.file is not None
            message = f"zones.layers: {asked.file.name}: {what} has no {key}: leave it"
            raise InputError(f"{message} out")


def _is_point(shapes: NDArray[np.object_]) -> bool:
    first = next((one for one in shapes if one is not None), None)
    return first is not None and shapely.get_type_id(first) in _POINTS


def _points(
    layer: vector.Layer,
    values: _Floats,
    asked: ZoneLayer,
    field: Field,
    metres_per_length: float,
) -> PointValues:
    assert layer.shapes is not None
    there = ~(shapely.is_missing(layer.shapes) | shapely.is_empty(layer.shapes))
    there &= np.isfinite(values)
    if not there.any():
        message = f"{layer.file}: column {asked.column!r} has no numbers at any point"
        raise InputError(f"{message}: export it again")
    points = shapely.centroid(layer.shapes[there])
    lonlat = vector.to_lonlat(layer.file, points, vector.declared_crs(layer))
    xy = shapely.get_coordinates(vector.to_field(lonlat, field))
    radius = None if asked.radius is None else asked.radius * metres_per_length
    # Beyond the outline by as far as a point can count.
    rim = 50.0 if radius is None else radius
    near = shapely.contains_xy(field.outline.buffer(rim), *xy.T)
    if not near.any():
        raise InputError(_elsewhere(layer.file, field))
    name = f"{layer.file} {asked.column}"
    return PointValues(name, xy[near], values[there][near], radius)


def _numbers(layer: vector.Layer, column: str) -> _Floats:
    """Return a column of numbers, NaN where it is blank."""
    key = "zones.layers column"
    vector.find_column(layer.columns, column, file=layer.file, key=key)
    values = np.full(len(layer.rows), np.nan)
    for index, value in enumerate(layer.columns[column]):
        if value is None or (isinstance(value, str) and not value.strip()):
            continue
        try:
            values[index] = float(value)
        except (TypeError, ValueError) as exc:
            message = (
                f"{layer.file}, feature {layer.rows[index]}: {column} is "
                f"{str(value)[:40]!r}, not a number: clusters take numbers only"
            )
            raise InputError(message) from exc
    values[~np.isfinite(values)] = np.nan
    return values


def _raster(path: Path, band: int, field: Field) -> RasterValues:
    import rasterio
    from rasterio.errors import NotGeoreferencedWarning, RasterioIOError

    if not path.is_file():
        raise InputError(f"{path.name}: there is no such file in {path.parent}")
    with warnings.catch_warnings():
        # What has no place on the ground is refused below.
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        try:
            with rasterio.open(path) as source:
                return _window(source, path.name, band, field)
        except RasterioIOError as exc:
            message = f"{path.name}: cannot be read as a raster ({exc})"
            raise InputError(f"{message}: give a GeoTIFF") from exc


def _window(source: Any, name: str, band: int, field: Field) -> RasterValues:
    from pyproj import CRS
    from rasterio.windows import Window

    if source.crs is None:
        raise InputError(f"{name}: declares no CRS: export it with its CRS")
    if not 1 <= band <= source.count:
        message = f"{name}: has {source.count} bands, and band {band} is asked for"
        raise InputError(f"{message}: give one that there is")
    ground = source.transform
    if ground.b or ground.d or ground.a <= 0.0 or ground.e >= 0.0:
        raise InputError(f"{name}: is turned or mirrored: export it with north up")
    declared = CRS.from_user_input(source.crs)
    crs = declared.sub_crs_list[0] if declared.is_compound else declared.to_2d()
    bounds = shapely.bounds(reproject(field.lonlat, LONLAT, crs))
    west, south, east, north = bounds.tolist()
    # With a rim of two pixels, as far as there are any.
    first = max(math.floor((west - ground.c) / ground.a) - 2, 0)
    last = min(math.ceil((east - ground.c) / ground.a) + 2, source.width)
    upper = max(math.floor((north - ground.f) / ground.e) - 2, 0)
    lower = min(math.ceil((south - ground.f) / ground.e) + 2, source.height)
    if last <= first or lower <= upper:
        raise InputError(_elsewhere(name, field))
    if (last - first) * (lower - upper) > MOST_PIXELS:
        count = (last - first) * (lower - upper)
        message = (
            f"{name}: has {count:,} pixels on the field, more than {MOST_PIXELS:,}: "
            "give a coarser raster"
        )
        raise InputError(message)
    window = Window(first, upper, last - first, lower - upper)
    read = source.read(band, window=window, masked=True)
    values = np.ma.filled(read.astype(np.float64), np.nan)
    values[~np.isfinite(values)] = np.nan
    return RasterValues(
        name if source.count == 1 else f"{name} band {band}",
        values,
        ground.c + first * ground.a,
        ground.f + upper * ground.e,
        ground.a,
        -ground.e,
        crs,
    )


def _elsewhere(name: str, field: Field) -> str:
    return (
        f"{name}: holds nothing on the field in {field.file}: check the file and its "
        "CRS"
    )
