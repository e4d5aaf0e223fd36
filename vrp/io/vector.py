"""Boundaries and polygons from any vector file that GDAL reads."""

import difflib
import warnings
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from numpy.typing import NDArray

from vrp.errors import InputError
from vrp.spatial.field import LONLAT, Field, fitting_crs, geodesic_area, reproject
from vrp.units import HECTARE

if TYPE_CHECKING:
    from pyproj import CRS

# Our choices: no single field is larger or smaller, and none lies nearer to a pole.
LARGEST_FIELD = 5_000.0  # [ha]
SMALLEST_FIELD = 0.01  # [ha]
NORTHERNMOST = 75.0  # [degrees]
# Our choice: how far a field may lie beyond the area that its CRS is made for.
BEYOND_AREA_OF_USE = 10.0  # [degrees]

SHEETS = {".ods", ".xlsx"}
LINEAR = (shapely.GeometryType.LINESTRING, shapely.GeometryType.MULTILINESTRING)
POLYGONAL = (shapely.GeometryType.POLYGON, shapely.GeometryType.MULTIPOLYGON)


@dataclass(frozen=True, slots=True)
class Layer:
    """What a vector file holds, as it stands there; shapes are None in a mere table."""

    file: str
    rows: tuple[int, ...]
    shapes: NDArray[np.object_] | None
    columns: dict[str, NDArray[Any]]
    crs: "CRS | None"


@dataclass(frozen=True, slots=True)
class Polygons:
    """Polygons of a file in the field's CRS [m], with the numbers asked for."""

    file: str
    rows: tuple[int, ...]
    shapes: NDArray[np.object_]
    columns: dict[str, NDArray[np.float64]]


@dataclass(frozen=True, slots=True)
class Lines:
    """Lines of a file in the field's CRS [m]."""

    file: str
    rows: tuple[int, ...]
    shapes: NDArray[np.object_]

    def names(self) -> list[str]:
        """Return what messages call the lines."""
        return [f"{self.file}, feature {row}" for row in self.rows]


def read_boundary(path: Path) -> Field:
    """Return the field that a boundary file draws; all its polygons are one field."""
    layer = read_layer(path)
    shapes, crs = polygons_of(layer), declared_crs(layer)
    lonlat = as_multipolygon(shapely.union_all(to_lonlat(layer.file, shapes, crs)))
    _check_area(layer.file, lonlat, crs)
    fitting = fitting_crs(lonlat)
    outline = as_multipolygon(reproject(lonlat, LONLAT, fitting))
    return Field(layer.file, lonlat, fitting, outline)


def read_polygons(path: Path, *, field: Field, columns: Sequence[str] = ()) -> Polygons:
    """Return the polygons of a file, feature by feature, in the field's CRS."""
    layer = read_layer(path)
    lonlat = to_lonlat(layer.file, polygons_of(layer), declared_crs(layer))
    shapes = to_field(lonlat, field)
    if not shapely.intersects(shapes, field.outline).any():
        away = float(np.min(shapely.distance(shapes, field.outline)))
        message = (
            f"{layer.file}: none of its {len(shapes)} polygons touches the field in "
            f"{field.file}, and the nearest is {away:,.0f} m away: check the file and "
            "its CRS"
        )
        raise InputError(message)
    numbers = {name: _numbers(layer, name) for name in columns}
    return Polygons(layer.file, layer.rows, shapes, numbers)


def read_lines(path: Path, *, field: Field) -> Lines:
    """Return the lines of a file, feature by feature, in the field's CRS."""
    layer = read_layer(path)
    shapes = _shapes_of(layer, LINEAR, what="line")
    for row, shape in zip(layer.rows, shapes, strict=True):
        if shape.length == 0.0:
            message = f"{layer.file}, feature {row}: is a line without length: draw it"
            raise InputError(message)
    lonlat = to_lonlat(layer.file, shapes, declared_crs(layer))
    return Lines(layer.file, layer.rows, to_field(lonlat, field))


def read_layer(path: Path) -> Layer:
    """Return the one layer of a vector file, or a table, with its CRS if it has one."""
    import pyogrio.errors
    import pyogrio.raw

    if not path.is_file():
        raise InputError(f"{path.name}: there is no such file in {path.parent}")
    # Without it GDAL guesses, and takes a sheet whose numbers are text to have none.
    options = {"HEADERS": "FORCE"} if path.suffix.lower() in SHEETS else {}
    with warnings.catch_warnings():
        # GDAL remarks on measures, open rings and the like; checks come below.
        warnings.simplefilter("ignore")
        try:
            name = _only_layer(path)
            meta, _, wkb, data = pyogrio.raw.read(
                path, layer=name, force_2d=True, **options
            )
        except (
            pyogrio.errors.DataSourceError,
            pyogrio.errors.DataLayerError,
            UnicodeDecodeError,
        ) as exc:
            remedy = "give GeoJSON, GeoPackage or another format that GDAL reads"
            if path.suffix.lower() == ".shp":
                remedy = "give all its parts (.shp, .shx, .dbf, .prj) as exported"
            message = f"{path.name}: cannot be read as a map ({_first_line(exc)})"
            raise InputError(f"{message}: {remedy}") from exc
        shapes = None
        if wkb is not None:
            shapes = np.asarray(shapely.from_wkb(wkb, on_invalid="fix"), dtype=object)
            shapes = shapely.force_2d(shapes)
    columns = dict(zip((str(name) for name in meta["fields"]), data, strict=True))
    length = len(shapes) if shapes is not None else max(map(len, data), default=0)
    if length == 0:
        raise InputError(f"{path.name}: holds no features: export it again")
    crs = _crs(path.name, meta["crs"])
    return Layer(path.name, tuple(range(1, length + 1)), shapes, columns, crs)


def declared_crs(layer: Layer) -> "CRS":
    """Return the CRS that a file declares."""
    if layer.crs is None:
        shapefile = layer.file.lower().endswith(".shp")
        remedy = (
            f"add the {Path(layer.file).stem}.prj that belongs to it"
            if shapefile
            else "export it again with its CRS"
        )
        message = f"{layer.file}: declares no CRS, so its place is unknown: {remedy}"
        raise InputError(message)
    return layer.crs


def parse_crs(text: str, *, file: str) -> "CRS":
    """Return a CRS from what a person writes, such as EPSG:4326."""
    from pyproj import CRS
    from pyproj.exceptions import CRSError

    try:
        crs = CRS.from_user_input(text)
    except CRSError as exc:
        message = (
            f"{file}: crs {text!r} is not known: write a code such as EPSG:4326 for "
            "longitude and latitude"
        )
        raise InputError(message) from exc
    return _usable(file, crs)


def find_column(names: Collection[str], wanted: str, *, file: str, key: str) -> str:
    """Return the column asked for, or name those that there are."""
    if wanted in names:
        return wanted
    lowered = {name.lower(): name for name in names}
    near = difflib.get_close_matches(wanted.lower(), lowered, n=1, cutoff=0.4)
    nearest = f", the nearest {lowered[near[0]]!r}" if near else ""
    listed = ", ".join(names) or "none"
    message = (
        f"{file}: has no column {wanted!r} ({key}): its columns are {listed}{nearest}"
    )
    raise InputError(message)


def polygons_of(layer: Layer) -> NDArray[np.object_]:
    """Return the shapes of a layer that must be whole and valid polygons."""
    shapes = _shapes_of(layer, POLYGONAL, what="polygon")
    for row, shape in zip(layer.rows, shapes, strict=True):
        if not shape.is_valid:
            reason = shapely.is_valid_reason(shape)
            crosses = "Self-intersection" in reason
            what = "crosses or touches itself" if crosses else "is broken"
            message = f"{layer.file}, feature {row}: its outline {what} ({reason})"
            raise InputError(f"{message}: mend the vertex there")
    return shapes


def _shapes_of(
    layer: Layer, kinds: tuple[shapely.GeometryType, ...], *, what: str
) -> NDArray[np.object_]:
    """Return the shapes of a layer that must be there and of a kind."""
    if layer.shapes is None:
        message = f"{layer.file}: holds a table and no {what}s: give a map file"
        raise InputError(message)
    for row, shape in zip(layer.rows, layer.shapes, strict=True):
        if shape is None or shape.is_empty:
            message = f"{layer.file}, feature {row}: has no geometry: draw or remove it"
            raise InputError(message)
        if shapely.get_type_id(shape) not in kinds:
            message = (
                f"{layer.file}, feature {row}: is a {shape.geom_type}, not a {what}: "
                f"draw it as a {what}, or remove the feature"
            )
            raise InputError(message)
        if not np.isfinite(shapely.get_coordinates(shape)).all():
            message = f"{layer.file}, feature {row}: has a coordinate that is no number"
            raise InputError(f"{message}: draw it again")
    return layer.shapes


def to_lonlat(
    file: str, shapes: NDArray[np.object_], crs: "CRS"
) -> NDArray[np.object_]:
    """Return shapes in longitude, latitude, refusing what the CRS cannot hold."""
    x, y = shapely.get_coordinates(shapes).T
    if crs.is_geographic:
        check_degrees(file, x, y)
    elif np.all(np.abs(x) <= 180.0) and np.all(np.abs(y) <= 90.0):
        message = (
            f"{file}: declares {crs_name(crs)}, but {x[0]:g}, {y[0]:g} looks like "
            "degrees: declare EPSG:4326"
        )
        raise InputError(message)
    lonlat = transformed(shapes, crs, LONLAT)
    lon, lat = shapely.get_coordinates(lonlat).T
    lost = ~(np.isfinite(lon) & np.isfinite(lat) & (np.abs(lat) <= NORTHERNMOST))
    if lost.any():
        first = int(np.argmax(lost))
        message = (
            f"{file}: {x[first]:.10g}, {y[first]:.10g} is out of the range of "
            f"{crs_name(crs)}, which it declares: declare the CRS that it is in"
        )
        raise InputError(message)
    return lonlat


def check_degrees(file: str, x: NDArray[np.float64], y: NDArray[np.float64]) -> None:
    """Refuse longitudes and latitudes that no farmland has."""
    bad = (np.abs(x) > 180.0) | (np.abs(y) > NORTHERNMOST)
    if not bad.any():
        return
    first = int(np.argmax(bad))
    place = f"{file}: longitude {x[first]:.10g}, latitude {y[first]:.10g}"
    if np.all(np.abs(x) <= NORTHERNMOST) and np.all(np.abs(y) <= 180.0):
        message = f"{place} look swapped: put the longitude first"
    else:
        message = f"{place} are out of range in degrees: declare the CRS they are in"
    raise InputError(message)


def to_field(lonlat: NDArray[np.object_], field: Field) -> NDArray[np.object_]:
    """Return shapes in longitude, latitude in the field's own CRS [m]."""
    moved = transformed(lonlat, LONLAT, field.crs)
    # A spike of no width that is sound in degrees may cross itself in metres.
    sound = shapely.is_valid(lonlat) & np.isfinite(shapely.bounds(moved)).all(axis=1)
    bent = sound & ~shapely.is_valid(moved)
    moved[bent] = shapely.make_valid(moved[bent])
    return moved


def transformed(
    shapes: NDArray[np.object_], source: "CRS | str", target: "CRS | str"
) -> NDArray[np.object_]:
    """Return an array of shapes in another CRS, x before y in both."""
    from pyproj import Transformer

    transformer = Transformer.from_crs(source, target, always_xy=True)

    def move(xy: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.column_stack(transformer.transform(*xy.T))

    return np.asarray(shapely.transform(shapes, move), dtype=object)


def crs_name(crs: "CRS") -> str:
    """Return a CRS's code, or its name where it has none."""
    return crs.to_string() if crs.to_authority() else crs.name


def as_multipolygon(geometry: shapely.Geometry) -> shapely.MultiPolygon:
    """Return the polygons of a geometry as one."""
    parts = [part for part in shapely.get_parts(geometry) if part.area > 0.0]
    return shapely.MultiPolygon(parts)


def _only_layer(path: Path) -> str | None:
    import pyogrio

    layers = pyogrio.list_layers(path)
    if len(layers) < 2:
        return None
    mapped = [str(name) for name, kind in layers if kind is not None]
    names = mapped or [str(name) for name, _ in layers]
    full = [name for name in names if pyogrio.read_info(path, name)["features"] != 0]
    if len(full) > 1:
        message = (
            f"{path.name}: holds the layers {', '.join(full)}: export the one meant to "
            "a file of its own"
        )
        raise InputError(message)
    return full[0] if full else names[0]


def _first_line(error: Exception) -> str:
    return (
        str(error).split("; It might help", maxsplit=1)[0].splitlines()[0].rstrip(".")
    )


def _crs(file: str, text: str | None) -> "CRS | None":
    return parse_crs(text, file=file) if text else None


def _usable(file: str, crs: "CRS") -> "CRS":
    flat = crs.to_2d()
    if not (flat.is_geographic or flat.is_projected):
        message = (
            f"{file}: {crs.name!r} places nothing on the earth: use a CRS that is "
            "geographic or projected, such as EPSG:4326"
        )
        raise InputError(message)
    return flat


def _check_area(file: str, lonlat: shapely.MultiPolygon, crs: "CRS") -> None:
    hectares = geodesic_area(lonlat) / HECTARE
    if not SMALLEST_FIELD <= hectares <= LARGEST_FIELD:
        message = (
            f"{file}: its polygons cover {hectares:,.4g} ha, beyond {SMALLEST_FIELD:g} "
            f"to {LARGEST_FIELD:,.0f} ha for one field: check that its coordinates are "
            f"in {crs_name(crs)}"
        )
        raise InputError(message)
    use = crs.area_of_use
    if use is None or use.west > use.east:
        return
    lon, lat = lonlat.centroid.x, lonlat.centroid.y
    margin = BEYOND_AREA_OF_USE
    if not (
        use.west - margin <= lon <= use.east + margin
        and use.south - margin <= lat <= use.north + margin
    ):
        message = (
            f"{file}: lies at longitude {lon:.2f}, latitude {lat:.2f}, far outside the "
            f"area of {crs_name(crs)}, {use.name.rstrip('.')}: declare the CRS that it "
            "is in"
        )
        raise InputError(message)


def _numbers(layer: Layer, name: str) -> NDArray[np.float64]:
    find_column(layer.columns, name, file=layer.file, key="column")
    values = np.full(len(layer.rows), np.nan)
    for index, value in enumerate(layer.columns[name]):
        try:
            values[index] = float(value)
        except (TypeError, ValueError):
            values[index] = np.nan
        if not np.isfinite(values[index]):
            shown = repr(value) if isinstance(value, str) and value else "blank"
            message = (
                f"{layer.file}, feature {layer.rows[index]}: {name} is {shown}, not a "
                "number: give its value"
            )
            raise InputError(message)
    return values
