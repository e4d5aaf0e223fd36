"""Whether what was read back says what was meant: every difference a sentence."""

import math
import sqlite3
import struct
import warnings
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import shapely

from vrp.errors import VrpError
from vrp.legend import area_unit, columns, product_unit, rate_column
from vrp.prescription import Prescription
from vrp.spatial.field import LONLAT, geodesic_area

Shapes = Sequence[shapely.Geometry]
Rows = Sequence[Mapping[str, Any]]
Faults = Callable[[Path, Prescription], Iterator[str]]  # in an output folder

# The total of a file's rates on its shapes may differ by this share.
TOTALS = 0.001
# Half of the last decimal of an area, and what its computation may differ by.
AREA = 0.6e-5

# What readers raise on a file that is broken; a fault of vrp's own is none of these
# alone, but a build refuses either.
UNREADABLE = (
    VrpError,
    OSError,
    ValueError,
    TypeError,
    LookupError,
    AttributeError,
    RuntimeError,
    SyntaxError,  # of XML
    struct.error,
    sqlite3.Error,
    shapely.errors.ShapelyError,
)


@dataclass(frozen=True, slots=True)
class Comparison:
    """What can be compared in a file, or in files that are one."""

    files: tuple[str, ...]  # by their way from the output folder, the main one first
    compared: str
    faults: Faults


@dataclass(frozen=True, slots=True)
class Check:
    """What was compared in a file, and how it differs."""

    file: str
    compared: str
    faults: tuple[str, ...]


def read_through(faults: Iterator[str], *, place: str) -> Iterator[str]:
    """Yield faults, and as the last one that a file cannot be read."""
    found: list[str] = []
    try:
        # What a library warns of shows in the values, or is of no account.
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            for fault in faults:
                found.append(fault)
    except KeyError as exc:
        found.append(f"{place} cannot be read: it holds no {exc}")
    except UNREADABLE as exc:
        found.append(f"{place} cannot be read: {exc}")
    yield from found


def zone_rows(prescription: Prescription) -> list[dict[str, object]]:
    """Return what stands in the columns of each zone."""
    asked = columns(prescription)
    return [{one.name: one.of(zone) for one in asked} for zone in prescription.zones]


def count(
    wanted: int, found: int, *, place: str, things: str = "zones"
) -> Iterator[str]:
    """Yield that something is missing or too many."""
    if found != wanted:
        yield f"{place} holds {found} of {wanted} {things}"


def same(
    wanted: Mapping[str, object], found: Mapping[str, object], *, place: str
) -> Iterator[str]:
    """Yield where a column of a zone, or of a sample by its row, reads otherwise."""
    first = next(iter(wanted))
    for name, value in wanted.items():
        if name not in found:
            yield f"{place}, {first} {wanted[first]}: has no {name}, not {value!r}"
        elif _known(found[name]) != value:
            reads = f"{name} reads {_known(found[name])!r}, not {value!r}"
            yield f"{place}, {first} {wanted[first]}: {reads}"


def _known(value: object) -> object:
    """Return a value; blank numbers are NaN to some libraries, and None to others."""
    return None if isinstance(value, float) and math.isnan(value) else value


def numbered(prescription: Prescription, found: Rows, *, place: str) -> Iterator[str]:
    """Yield zones that are missing, added, there twice or in another order."""
    wanted = [zone.number for zone in prescription.zones]
    numbers = [_known(row.get("zone")) for row in found]
    held = Counter(numbers)
    without = [str(one) for one in wanted if one not in held]
    if without:
        named = f"zone {', '.join(without)} is missing"
        yield f"{place} holds {len(found)} of {len(wanted)} zones: {named}"
    for number, times in held.items():
        if number is None:
            yield f"{place} holds {times} features without a zone"
        elif number not in wanted:
            yield f"{place} holds zone {number}, which the record has not"
        elif times > 1:
            yield f"{place} holds zone {number} in {times} features, not 1"
    if numbers != wanted and Counter(wanted) == held:
        yield f"{place} holds the zones in another order"


def zones(
    prescription: Prescription, found: Sequence[tuple[Any, Any]], *, place: str
) -> Iterator[str]:
    """Yield where zones with their columns, matched by number, are not as built."""
    rows = [row for _, row in found]
    yield from numbered(prescription, rows, place=place)
    by_number = {row.get("zone"): (shape, row) for shape, row in found}
    pairs = [
        (row, *by_number[row["zone"]])
        for row in zone_rows(prescription)
        if row["zone"] in by_number
    ]
    for wanted, _, row in pairs:
        yield from same(wanted, row, place=place)
    if len(pairs) == len(prescription.zones) == len(found):
        shapes = [shape for _, shape, _ in pairs]
        yield from ground(prescription, shapes, place=place)
        column = rate_column(prescription)
        rates = [row.get(column) for _, _, row in pairs]
        yield from carried(prescription, rates, shapes, place=place)


def both_ways(rows: Rows, others: Rows, *, place: str) -> Iterator[str]:
    """Yield where two libraries read the same columns of one file otherwise."""
    yield from count(len(rows), len(others), place=place)
    for row, other in zip(rows, others, strict=False):
        plain = {name: _known(value) for name, value in row.items()}
        yield from same(plain, other, place=place)


def ground(prescription: Prescription, found: Shapes, *, place: str) -> Iterator[str]:
    """Yield zones of another shape, and where zones do not tile the field."""
    wanted = [zone.geometry for zone in prescription.zones]
    if known(prescription) and _swapped(wanted, found):
        yield f"{place}: longitude and latitude are swapped"
        return
    unit = area_unit(prescription)
    for zone, shape in zip(prescription.zones, found, strict=True):
        if shape is None or shapely.is_empty(shape):
            yield f"{place}: zone {zone.number} has no ground"
            continue
        if not isinstance(shape, shapely.Polygon | shapely.MultiPolygon):
            kind = type(shape).__name__
            yield f"{place}: zone {zone.number} is a {kind}, not a polygon"
            continue
        if not shape.is_valid:
            why = shapely.is_valid_reason(shape)
            yield f"{place}: zone {zone.number} is no valid polygon: {why}"
            continue
        area = geodesic_area(shape) / prescription.plan.square_metres_per_area
        reads = f"{area:.5f} {unit}, not {zone.area:.5f}"
        if known(prescription) and not shapely.equals(zone.geometry, shape):
            yield f"{place}: zone {zone.number} reads back in another shape: {reads}"
        elif abs(area - zone.area) > AREA:
            yield f"{place}: zone {zone.number} has {reads}"
    yield from tiles(found, place=place)


def known(prescription: Prescription) -> bool:
    """Return whether the zones' ground is known, which the record does not hold."""
    return not any(zone.geometry.is_empty for zone in prescription.zones)


def _swapped(wanted: Shapes, found: Shapes) -> bool:
    ground, field = shapely.GeometryCollection(list(found)), shapely.union_all(wanted)
    turned = shapely.transform(ground, lambda xy: xy[:, ::-1])
    box = shapely.box(*shapely.bounds(turned)) if not turned.is_empty else turned
    return bool(
        not shapely.box(*shapely.bounds(field)).intersects(ground.envelope)
        and box.intersects(field)
    )


def tiles(found: Shapes, *, place: str) -> Iterator[str]:
    """Yield that zones overlap, or have borders that do not meet."""
    if not all(_is_ground(shape) for shape in found):
        return  # said, zone by zone
    if not shapely.coverage_is_valid(found):
        overlap = sum(map(geodesic_area, found)) - geodesic_area(
            shapely.union_all(found)
        )
        said = f": they overlap by {overlap:.2f} m²" if overlap > 0.005 else ""
        yield f"{place}: the zones do not tile the field{said}"


def _is_ground(shape: Any) -> bool:
    """Return whether a shape is one that has an area."""
    polygon = isinstance(shape, shapely.Polygon | shapely.MultiPolygon)
    return polygon and bool(shape.is_valid)


def carried(
    prescription: Prescription, rates: Sequence[Any], shapes: Shapes, *, place: str
) -> Iterator[str]:
    """Yield that rates on their ground are not the record's total."""
    if not all(isinstance(rate, (int, float)) for rate in rates):
        return  # said, zone by zone
    per = prescription.plan.square_metres_per_area
    product = sum(
        rate * geodesic_area(shape) / per
        for rate, shape in zip(rates, shapes, strict=True)
        if _is_ground(shape)
    )
    total = prescription.totals.zones.product
    # Areas and products in the record are rounded to their printed decimals.
    rounding = sum(0.5e-5 * rate + 0.005 for rate in rates)
    if abs(product - total) > TOTALS * total + rounding:
        carries = f"{product:.1f} {product_unit(prescription)} of product"
        yield f"{place} carries {carries}, not {total:.1f}"


def lonlat(crs: object, *, place: str) -> Iterator[str]:
    """Yield that a file is not in longitude and latitude on WGS 84."""
    from pyproj import CRS

    if not crs:
        yield f"{place} states no CRS, not {LONLAT}"
        return
    found = CRS.from_user_input(crs)
    if not found.equals(CRS.from_user_input(LONLAT), ignore_axis_order=True):
        yield f"{place} is in {found.name}, not {LONLAT}"


def extent(
    wanted: Sequence[float], found: Sequence[float], *, place: str
) -> Iterator[str]:
    """Yield that a stated extent is not that of the shapes."""
    if list(map(float, found)) != list(map(float, wanted)):
        stated, true = (
            ", ".join(f"{one:.7f}" for one in each) for each in (found, wanted)
        )
        yield f"{place} states the extent {stated}, not {true}"
