"""Laboratory results and where they were taken, from tables and map files."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray

from vrp.agronomy.layers import Layers
from vrp.errors import InputError
from vrp.io import vector
from vrp.io.layers import layers_note, put_together
from vrp.io.table import Table, column_of, numbers, read_table
from vrp.plan import SampleTable
from vrp.spatial.field import LONLAT, Field, Samples

if TYPE_CHECKING:
    from pyproj import CRS

# What no soil has; beyond it a column is another quantity or a slip of the keyboard.
BOUNDS = {
    "ph": (2.0, 11.0, ""),
    "organic_matter": (0.0, 100.0, " %"),
    "bray_p2": (0.0, 10_000.0, ""),
}
# Our choice: a composite's polygon that covers less of the field is none of it. [m²]
LEAST_OVERLAP = 1.0
# What a change of CRS may move a point that stands on the boundary. [m]
ON_THE_EDGE = 0.01

_Coordinates = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class SampleSet:
    """
    Samples that belong to a field, and what reading them brought up.

    `used_outside` and `dropped` hold the rows of samples outside the boundary: those
    within one typical spacing (`spacing` [m]) are used, those further out are not.
    `notes` are sentences on how the files were understood. `layers` are those of each
    sample, where rows are layers of a core.
    """

    samples: Samples
    used_outside: tuple[int, ...]
    dropped: tuple[int, ...]
    spacing: float
    notes: tuple[str, ...]
    layers: tuple[Layers, ...] = ()


def read_samples(
    table: SampleTable, field: Field, *, metres_per_length: float
) -> SampleSet:
    """Return the samples of a field: results, each with its place on the ground."""
    results = read_table(table.file)
    values = _soil_tests(results, table)
    extra = {key: getattr(table, key) for key in BOUNDS}
    columns = {key: _bounded(results, name, key) for key, name in extra.items() if name}
    layered = table.depth_from is not None
    ids = _ids(results, table.id, alone=not layered) if table.id else ()
    ids = ids or ("",) * len(results.rows)
    places, unused = _places(results, ids, table)
    distance, metres = _distances(places, field, table)
    notes = _notes(results, places, unused)
    layers: tuple[Layers, ...] = ()
    rows = np.array(results.rows)
    if layered:
        cores = put_together(
            results,
            ids,
            table,
            values=values,
            columns=columns,
            places=metres,
            metric=metres_per_length == 1.0,
        )
        first, layers = cores.first, cores.layers
        values, columns = cores.value, cores.columns
        ids = tuple(ids[index] for index in first)
        places, rows = places.take(first), rows[first]
        distance, metres = distance[first], metres[first]
        notes = (*notes, layers_note(cores, table, results.file))
    spacing = _spacing(metres, field)
    keep = distance <= (spacing if table.kind == "point" else 0.0)
    if not keep.any():
        nearest = int(np.argmin(distance))
        away = f"{distance[nearest] / metres_per_length:,.0f} "
        away += "m" if metres_per_length == 1.0 else "ft"
        raise InputError(_all_outside(places, nearest, away, metres, field))
    numbered = tuple(rows.tolist())
    samples = Samples(results.file, numbered, ids, metres, values, columns)
    return SampleSet(
        samples.take(keep),
        tuple(rows[keep & (distance > 0.0)].tolist()),
        tuple(rows[~keep].tolist()),
        spacing,
        notes,
        tuple(layers[index] for index in np.flatnonzero(keep)) if layers else (),
    )


def _notes(
    results: Table, places: "_Places", unused: tuple[str, ...]
) -> tuple[str, ...]:
    file = places.table.file
    notes = [results.note]
    if places.table is not results:
        notes.append(places.table.note)
    if unused:
        notes.append(
            f"{file}: positions without a result ({len(unused)}): {_few(unused)}"
        )
    return tuple(note for note in notes if note)


@dataclass(frozen=True, slots=True)
class _Places:
    """A shape for each result, in the CRS of the file that places it."""

    table: Table
    index: NDArray[np.intp]
    shapes: NDArray[np.object_]
    crs: "CRS"

    def place(self, index: int) -> str:
        return self.table.place(int(self.index[index]))

    def take(self, which: NDArray[np.intp]) -> "_Places":
        return _Places(self.table, self.index[which], self.shapes[which], self.crs)


def _places(
    results: Table, ids: tuple[str, ...], table: SampleTable
) -> tuple[_Places, tuple[str, ...]]:
    if table.points is None:
        shapes, crs = _shapes(results, table)
        return _Places(results, np.arange(len(ids)), shapes, crs), ()
    positions = read_table(table.points)
    index, unused = _join(results, ids, positions, table)
    shapes, crs = _shapes(positions, table)
    return _Places(positions, index, shapes[index], crs), unused


def _soil_tests(results: Table, table: SampleTable) -> NDArray[np.float64]:
    name = table.soil_test
    values = numbers(results, name, key="soil_test")
    out = "the row" if table.depth_from is None else "every row of the sample"
    for index, value in enumerate(values.tolist()):
        if np.isnan(value):
            message = f"{results.place(index)}: {name} is blank"
            raise InputError(f"{message}: give its value or remove {out}")
        if value < 0.0:
            message = f"{results.place(index)}: {name} is {value:g}, below 0"
            raise InputError(f"{message}: give its value or remove {out}")
    return values


def _bounded(table: Table, name: str, key: str) -> NDArray[np.float64]:
    low, high, unit = BOUNDS[key]
    values = numbers(table, name, key=key)
    beyond = (values < low) | (values > high)
    if beyond.any():
        first = int(np.argmax(beyond))
        message = (
            f"{table.place(first)}: {name} is {values[first]:g}{unit}, outside {low:g} "
            f"to {high:g}{unit}: correct it, or leave it blank"
        )
        raise InputError(message)
    return values


def _ids(table: Table, name: str, *, alone: bool = True) -> tuple[str, ...]:
    column = column_of(table, name, key="id")
    ids = tuple(_id(value) for value in column)
    seen: dict[str, int] = {}
    for index, text in enumerate(ids):
        if not text:
            message = f"{table.place(index)}: {name} is blank: give the sample's id"
            raise InputError(message)
        if text in seen and alone:
            message = (
                f"{table.place(index)}: {name} {text!r} stands in {table.word} "
                f"{table.rows[seen[text]]} already: give each sample an id of its own, "
                "or name depth_from and depth_to where rows are layers of a core"
            )
            raise InputError(message)
        seen[text] = index
    return ids


def _id(value: object) -> str:
    if value is None or value != value:  # noqa: PLR0124 -- NaN is a blank id
        return ""
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return str(value).strip()


def _join(
    results: Table, ids: tuple[str, ...], positions: Table, table: SampleTable
) -> tuple[NDArray[np.intp], tuple[str, ...]]:
    """Return which position belongs to each result, and the ids of those left over."""
    if table.id is None:
        message = (
            f"{positions.file}: positions are joined to {results.file} by id: name the "
            "column that both have, id = ..."
        )
        raise InputError(message)
    where = {text: at for at, text in enumerate(_ids(positions, table.id))}
    known = set(ids)
    unused = tuple(text for text in where if text not in known)
    lost = [index for index, text in enumerate(ids) if text not in where]
    if lost:
        named = _few([ids[index] for index in lost])
        over = (
            f"; {positions.file} has {_few(unused)} without a result" if unused else ""
        )
        message = (
            f"{results.file}: {len(lost)} of {len(ids)} results have no position in "
            f"{positions.file}, {table.id} {named} (first in {results.word} "
            f"{results.rows[lost[0]]}){over}: write each id alike in both files"
        )
        raise InputError(message)
    return np.array([where[text] for text in ids], dtype=np.intp), unused


def _few(ids: Iterable[str]) -> str:
    listed = list(ids)
    more = ", …" if len(listed) > 5 else ""
    return ", ".join(repr(text) for text in listed[:5]) + more


def _shapes(located: Table, table: SampleTable) -> tuple[NDArray[np.object_], "CRS"]:
    layer = located.layer
    if layer is None or layer.shapes is None:
        return _xy(located, table)
    if table.x or table.y:
        message = (
            f"{located.file}: has positions of its own, so x and y have no use: remove "
            "them from [samples]"
        )
        raise InputError(message)
    crs = _declared(layer, table.crs)
    if table.kind != "point":
        return vector.polygons_of(layer), crs
    shapes: list[shapely.Geometry] = []
    for index, shape in enumerate(layer.shapes):
        points = [] if shape is None else list(shapely.get_parts(shape))
        if len(points) != 1 or shapely.get_type_id(points[0]) != 0:
            kind = "nothing" if shape is None or shape.is_empty else shape.geom_type
            message = (
                f"{located.place(index)}: is {kind}, not a point: give points, or set "
                'kind = "cell" or "zone" for polygons'
            )
            raise InputError(message)
        shapes.append(points[0])
    return np.array(shapes, dtype=object), crs


def _declared(layer: vector.Layer, text: str | None) -> "CRS":
    if text is None:
        return vector.declared_crs(layer)
    given = vector.parse_crs(text, file=layer.file)
    if layer.crs is not None and not given.equals(layer.crs, ignore_axis_order=True):
        message = (
            f"{layer.file}: declares {vector.crs_name(layer.crs)}, while crs in "
            f"[samples] is {text!r}: remove crs"
        )
        raise InputError(message)
    return given


def _xy(located: Table, table: SampleTable) -> tuple[NDArray[np.object_], "CRS"]:
    listed = ", ".join(located.columns)
    if table.kind != "point":
        message = (
            f'{located.file}: kind = "{table.kind}" needs polygons: give points = a '
            "map file of polygons and id = the column that joins them"
        )
        raise InputError(message)
    if not (table.x and table.y):
        message = (
            f"{located.file}: has no positions without x and y, or points and id: name "
            f"its columns ({listed}) in [samples]"
        )
        raise InputError(message)
    if table.crs is None:
        message = (
            f"{located.file}: {table.x} and {table.y} have no CRS: write crs = "
            f'"{LONLAT}" for longitude and latitude, or the code that they are in'
        )
        raise InputError(message)
    crs = vector.parse_crs(table.crs, file=located.file)
    both = []
    for key, name in (("x", table.x), ("y", table.y)):
        column = numbers(located, name, key=key)
        if np.isnan(column).any():
            place = located.place(int(np.argmax(np.isnan(column))))
            message = f"{place}: {name} is blank: give the position or remove the row"
            raise InputError(message)
        both.append(column)
    return np.asarray(shapely.points(*both), dtype=object), crs


def _distances(
    places: _Places, field: Field, table: SampleTable
) -> tuple[NDArray[np.float64], NDArray[np.object_]]:
    """Return how far outside the field each shape lies, and the shapes [m]."""
    shapes, crs = places.shapes, places.crs
    distance, metres = _measured(shapes, crs, field)
    if not np.any(distance == 0.0):
        _refuse_mistaken(places, field, table)
    lost = ~np.isfinite(distance)
    x, y = shapely.get_coordinates(shapely.centroid(shapes)).T
    if crs.is_geographic:
        lost |= (np.abs(x) > 180.0) | (np.abs(y) > 90.0)
    if lost.any():
        first = int(np.argmax(lost))
        message = (
            f"{places.place(first)}: {x[first]:.10g}, {y[first]:.10g} is out of the "
            f"range of {vector.crs_name(crs)}: correct it, or the CRS"
        )
        raise InputError(message)
    return distance, metres


def _measured(
    shapes: NDArray[np.object_], crs: "CRS", field: Field
) -> tuple[NDArray[np.float64], NDArray[np.object_]]:
    metres = vector.to_field(vector.transformed(shapes, crs, LONLAT), field)
    distance = np.full(len(metres), np.inf)
    sound = np.array([np.isfinite(shape.bounds).all() for shape in metres])
    measured = shapely.distance(metres[sound], field.outline)
    distance[sound] = np.where(measured < ON_THE_EDGE, 0.0, measured)
    if shapely.get_dimensions(shapes[0]) == 2:
        within = shapely.area(shapely.intersection(metres[sound], field.outline))
        touching = np.maximum(distance[sound], np.nextafter(0.0, 1.0))
        distance[sound] = np.where(within < LEAST_OVERLAP, touching, 0.0)
    return distance, metres


def _refuse_mistaken(places: _Places, field: Field, table: SampleTable) -> None:
    """Refuse positions that would lie in the field if a common slip were mended."""
    named = f'x = "{table.x}" and y = "{table.y}"' if table.x else "its coordinates"
    x, y = shapely.get_coordinates(places.shapes).T
    if places.crs.is_projected and np.all((np.abs(x) <= 180.0) & (np.abs(y) <= 90.0)):
        message = (
            f"{places.table.file}: {x[0]:.10g}, {y[0]:.10g} looks like degrees and not "
            f'like {vector.crs_name(places.crs)}: write crs = "{LONLAT}"'
        )
        raise InputError(message)
    west = "write west longitudes below 0"
    slips: tuple[tuple[Callable[[_Coordinates], _Coordinates], str, str], ...] = (
        (lambda xy: xy[:, ::-1], "x and y swapped", f"swap {named}"),
        (lambda xy: xy * [-1.0, 1.0], "a minus before x", west),
    )
    for mend, slip, remedy in slips:
        mended = np.asarray(shapely.transform(places.shapes, mend), dtype=object)
        distance, _ = _measured(mended, places.crs, field)
        share = float(np.mean(distance == 0.0))
        if share >= 0.5:
            message = (
                f"{places.table.file}: no sample lies in {field.file} as the file "
                f"stands, but {share:.0%} do with {slip}: {remedy}, unless "
                f"{field.file} is the one in error"
            )
            raise InputError(message)


def _spacing(metres: NDArray[np.object_], field: Field) -> float:
    """Return the median distance from a sample to its nearest neighbour [m]."""
    places = np.unique(shapely.get_coordinates(shapely.centroid(metres)), axis=0)
    if len(places) < 2:
        return float(np.sqrt(field.outline.area))
    points = np.asarray(shapely.points(places), dtype=object)
    _, distance = shapely.STRtree(points).query_nearest(
        points, exclusive=True, return_distance=True, all_matches=False
    )
    return float(np.median(distance))


def _all_outside(
    places: _Places,
    nearest: int,
    away: str,
    metres: NDArray[np.object_],
    field: Field,
) -> str:
    lonlat = vector.transformed(metres[[nearest]], field.crs, LONLAT)[0]
    there, here = shapely.centroid(lonlat), shapely.centroid(field.lonlat)
    return (
        f"{places.table.file}: none of its {len(metres)} samples lies in {field.file}; "
        f"the nearest ({places.place(nearest)}) is {away} away, at {there.x:.4f}, "
        f"{there.y:.4f} when read as {vector.crs_name(places.crs)}, while the field is "
        f"at {here.x:.4f}, {here.y:.4f} ({LONLAT}): check the files and the CRS"
    )
