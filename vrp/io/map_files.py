"""The files of map/: those that the plan asks for, written, read back and compared."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import shapely

from vrp.io import geojson, geopackage, raster, style, zone_table
from vrp.io.agreement import (
    Comparison,
    Faults,
    both_ways,
    count,
    extent,
    known,
    lonlat,
    numbered,
    same,
    zone_rows,
    zones,
)
from vrp.legend import plain, soil_test_column
from vrp.prescription import Prescription
from vrp.spatial.field import LONLAT, reproject

FOLDER = "map"


def write(folder: Path, prescription: Prescription) -> None:
    """Make the folder and write what the plan asks for."""
    asked, surface = prescription.plan.files.map, prescription.soil_test_map
    folder.mkdir()
    if "geojson" in asked:
        geojson.write(folder / geojson.NAME, prescription)
    if "geopackage" in asked:
        geopackage.write(folder / geopackage.NAME, prescription)
    if "style" in asked:
        style.write(folder, prescription)
    if "csv" in asked:
        zone_table.write(folder / zone_table.NAME, prescription)
    if "raster" in asked and surface is not None:
        raster.write(folder / raster.NAME, prescription, surface)
        style.write_soil_test(folder, prescription, surface)


def comparisons(prescription: Prescription) -> tuple[Comparison, ...]:
    """Return what can be compared in the files that the plan asks for."""
    asked, rows = prescription.plan.files.map, "zones, shapes, CRS, total"
    found = []
    if "geojson" in asked:
        found.append(_comparison(geojson.NAME, rows, _geojson))
    if "geopackage" in asked:
        layers = "zones, samples, CRS, styles"
        found.append(_comparison(geopackage.NAME, layers, _geopackage))
    if "style" in asked:
        found.append(_comparison(style.SLD, "classes against rates", _sld))
        found.append(_comparison(style.QML, "classes against rates", _qml))
    if "csv" in asked:
        found.append(_comparison(zone_table.NAME, "columns, places", _zone_table))
    if "raster" in asked and prescription.surface is not None:
        found.append(_comparison(raster.NAME, "bands, cells, extent, CRS", _raster))
        colours = "colours against the raster"
        found.append(_comparison(style.SOIL_TEST, colours, _soil_test_style))
    return tuple(found)


def _comparison(name: str, compared: str, faults: Faults) -> Comparison:
    return Comparison((f"{FOLDER}/{name}",), compared, faults)


def _geojson(out: Path, prescription: Prescription) -> Iterator[str]:
    path = out / FOLDER / geojson.NAME
    own, stated = geojson.read(path), geojson.extents(path)
    yield from zones(prescription, own, place=path.name)
    crs, rows = geojson.read_by_gdal(path)
    yield from both_ways([row for _, row in own], rows, place=f"{path.name} by GDAL")
    yield from lonlat(crs, place=path.name)
    shapes = [shape for shape, _ in own]
    wholes = [shapely.GeometryCollection(shapes), *shapes]
    for box, shape in zip(stated, wholes, strict=True):
        if box is not None:
            yield from extent(shapely.bounds(shape).tolist(), box, place=path.name)


def _geopackage(out: Path, prescription: Prescription) -> Iterator[str]:
    path = out / FOLDER / geopackage.NAME
    place = path.name
    with geopackage.opened(path) as base:
        found = geopackage.rows(base, geopackage.ZONES)
        samples = geopackage.rows(base, geopackage.SAMPLES)
        boundary = geopackage.rows(base, geopackage.BOUNDARY)
        described = geopackage.described(base)
        excluded: geopackage.Features = ()
        if geopackage.EXCLUDED in described:
            excluded = geopackage.rows(base, geopackage.EXCLUDED)
        styles = geopackage.styles(base)
    yield from zones(prescription, found, place=place)
    yield from _samples(prescription, samples, place=place)
    yield from count(1, len(boundary), place=place, things="boundary")
    if known(prescription):
        union = shapely.union_all([zone.geometry for zone in prescription.zones])
        if not boundary or not shapely.equals(boundary[0][0], union):
            yield f"{place}: the boundary is not the union of the zones"
    yield from _excluded(prescription, excluded, place=place)
    layers = {
        geopackage.ZONES: found,
        geopackage.SAMPLES: samples,
        geopackage.BOUNDARY: boundary,
    }
    if excluded:
        layers[geopackage.EXCLUDED] = excluded
    for name, own in layers.items():
        crs, again = geopackage.read(path, name)
        here = f"{place}, {name}"
        alike = f"{here}, by GDAL"
        yield from both_ways(
            [row for _, row in own], [row for _, row in again], place=alike
        )
        if [shape for shape, _ in own] != [shape for shape, _ in again]:
            yield f"{alike}: the shapes read otherwise"
        yield from lonlat(crs, place=here)
        code, box = described[name]
        if code != 4326:
            yield f"{here} states the CRS {code}, not 4326"
        bounds = shapely.total_bounds([shape for shape, _ in own]).tolist()
        yield from extent(bounds, box, place=here)
    for kind, text in styles.items():
        yield from _classes(prescription, style.classes(text), place=f"{place}, {kind}")


def _excluded(
    prescription: Prescription,
    found: tuple[tuple[shapely.Geometry, dict[str, object]], ...],
    *,
    place: str,
) -> Iterator[str]:
    out = [zone for zone in prescription.zones if zone.excluded is not None]
    yield from count(len(out), len(found), place=place, things="excluded zones")
    for zone, (shape, row) in zip(out, found, strict=False):
        wanted = {"zone": zone.number, "reason": plain(zone.excluded or "")}
        yield from same(wanted, row, place=f"{place}, excluded")
        if known(prescription) and not shapely.equals(shape, zone.geometry):
            yield f"{place}: excluded zone {zone.number} has another shape"


def _samples(
    prescription: Prescription,
    found: tuple[tuple[shapely.Geometry, dict[str, object]], ...],
    *,
    place: str,
) -> Iterator[str]:
    column, given = soil_test_column(prescription), prescription.samples
    yield from count(len(given), len(found), place=place, things="samples")
    for one, (point, row) in zip(given, found, strict=False):
        wanted = {"row": one.row, "id": plain(one.id), column: one.soil_test}
        yield from same(wanted, row, place=f"{place}, samples")
        lies = shapely.get_coordinates(point).tolist()
        if lies != [[one.longitude, one.latitude]]:
            yield f"{place}: the sample of row {one.row} lies elsewhere"


def _sld(out: Path, prescription: Prescription) -> Iterator[str]:
    text = (out / FOLDER / style.SLD).read_text("utf-8")
    yield from _classes(prescription, style.classes(text), place=style.SLD)


def _qml(out: Path, prescription: Prescription) -> Iterator[str]:
    text = (out / FOLDER / style.QML).read_text("utf-8")
    yield from _classes(prescription, style.classes(text), place=style.QML)


def _classes(
    prescription: Prescription,
    classes: tuple[tuple[float, float], ...],
    *,
    place: str,
) -> Iterator[str]:
    for zone in prescription.zones:
        held = sum(low < zone.rate <= high for low, high in classes)
        if held != 1:
            rate = f"zone {zone.number}, with the rate {zone.rate:g},"
            yield f"{place}: {rate} is in {held} classes, not 1"


def _zone_table(out: Path, prescription: Prescription) -> Iterator[str]:
    path, rows = out / FOLDER / zone_table.NAME, zone_rows(prescription)
    table = zone_table.read(path)
    held = [{"zone": zone_table.number(row)} for row in table]
    yield from numbered(prescription, held, place=path.name)
    by_number = {one["zone"]: row for one, row in zip(held, table, strict=True)}
    for row, zone in zip(rows, prescription.zones, strict=True):
        found = by_number.get(zone.number)
        if found is None:
            continue
        cells = {name: str(zone_table.cell(value)) for name, value in row.items()}
        yield from same(cells, found, place=path.name)
        place = shapely.Point(float(found["longitude"]), float(found["latitude"]))
        if not (zone.geometry.is_empty or zone.geometry.intersects(place)):
            yield f"{path.name}: the place of zone {zone.number} is not in it"


def _raster(out: Path, prescription: Prescription) -> Iterator[str]:
    place, found = raster.NAME, raster.read(out / FOLDER / raster.NAME)
    names = raster.band_names(prescription)
    yield from count(len(names), len(found.bands), place=place, things="bands")
    for (name, unit), band in zip(names, found.bands, strict=False):
        wanted = f"{name} [{unit}]" if unit else name
        if band.description != wanted:
            yield f"{place}: a band is called {band.description!r}, not {wanted!r}"
    side = prescription.cell * prescription.plan.metres_per_length
    east, north = found.cell
    if abs(east - side) > 1e-6 * side or abs(north - side) > 1e-6 * side:
        yield f"{place} has cells of {east:g} by {north:g} m, not {side:g}"
    if not found.crs:
        yield f"{place} states no CRS"
    elif known(prescription):
        field = shapely.union_all([zone.geometry for zone in prescription.zones])
        yield from _raster_extent(
            reproject(field, LONLAT, found.crs), found.bounds, side
        )
    surface = prescription.soil_test_map
    if surface is None:
        return  # read from the folder alone: the bytes are held to the record's
    for band, values, (name, _) in zip(
        found.bands,
        (surface.estimate, surface.error, surface.short),
        names,
        strict=True,
    ):
        if not np.array_equal(band.values, values, equal_nan=True):
            yield f"{place}: {name} reads back otherwise"
    if (found.bounds[0], found.bounds[3]) != (surface.west, surface.north):
        yield f"{place} does not begin where the surface does"


def _raster_extent(
    field: shapely.Geometry, bounds: tuple[float, ...], side: float
) -> Iterator[str]:
    """Yield the sides on which a raster ends short of the field, or runs on."""
    # A cell's edge lies at most a cell beyond; a centimetre is the zones' lattice.
    sides = ("west", "south", "east", "north")
    outward = (-1.0, -1.0, 1.0, 1.0)
    for word, sign, edge, end in zip(
        sides, outward, bounds, shapely.bounds(field).tolist(), strict=True
    ):
        beyond = sign * (edge - end)
        if not -0.1 <= beyond <= side + 0.1:
            off = "beyond the field" if beyond > 0.0 else "short of the field"
            yield f"{raster.NAME} ends {abs(beyond):.1f} m {off} in the {word}"


def _soil_test_style(out: Path, prescription: Prescription) -> Iterator[str]:
    low, high = style.ends((out / FOLDER / style.SOIL_TEST).read_text("utf-8"))
    surface = prescription.soil_test_map
    estimate = (
        raster.read(out / FOLDER / raster.NAME).bands[0].values
        if surface is None
        else surface.estimate
    )
    least, most = float(np.nanmin(estimate)), float(np.nanmax(estimate))
    if not low <= least <= most <= high:
        colours = f"colours go from {low:g} to {high:g}"
        yield f"{style.SOIL_TEST}: {colours}, the raster from {least:g} to {most:g}"
