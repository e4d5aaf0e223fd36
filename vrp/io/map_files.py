"""The files of map/: those that the plan asks for, written and read back."""

from pathlib import Path

import numpy as np
import shapely

from vrp.errors import VrpError
from vrp.io import geojson, geopackage, raster, style, zone_table
from vrp.io.agreement import count, cover, same
from vrp.legend import columns, plain, soil_test_column
from vrp.prescription import Prescription


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


def check(folder: Path, prescription: Prescription) -> None:
    """Raise where a file does not say what the prescription says."""
    asked = prescription.plan.files.map
    if "geojson" in asked:
        _check_geojson(folder, prescription)
    if "geopackage" in asked:
        _check_geopackage(folder, prescription)
    if "style" in asked:
        _check_style(folder, prescription)
    if "csv" in asked:
        _check_zone_table(folder, prescription)
    if "raster" in asked:
        _check_raster(folder, prescription)


def zone_rows(prescription: Prescription) -> list[dict[str, object]]:
    """Return what stands in the columns of each zone."""
    asked = columns(prescription)
    return [{one.name: one.of(zone) for one in asked} for zone in prescription.zones]


def _check_geojson(folder: Path, prescription: Prescription) -> None:
    path, rows = folder / geojson.NAME, zone_rows(prescription)
    features = _by_gdal(path)
    count(len(rows), len(features), place=path.name)
    own = geojson.read(path)
    for row, feature, again in zip(rows, features, own, strict=True):
        same(row, feature, place=f"{path.name} by GDAL")
        same(row, again[1], place=path.name)
    shapes = [zone.geometry for zone in prescription.zones]
    cover(shapes, [shape for shape, _ in own], place=path.name)


def _by_gdal(path: Path) -> list[dict[str, object]]:
    import pyogrio.raw

    meta, _, _, values = pyogrio.raw.read(path)
    rows = zip(*(column.tolist() for column in values), strict=True)
    return [dict(zip(meta["fields"], row, strict=True)) for row in rows]


def _check_geopackage(folder: Path, prescription: Prescription) -> None:
    path, rows = folder / geopackage.NAME, zone_rows(prescription)
    zones = geopackage.read(path, geopackage.ZONES)
    count(len(rows), len(zones), place=path.name)
    for row, (_, found) in zip(rows, zones, strict=True):
        same(row, found, place=path.name)
    shapes = [zone.geometry for zone in prescription.zones]
    cover(shapes, [shape for shape, _ in zones], place=path.name)

    samples = geopackage.read(path, geopackage.SAMPLES)
    column, given = soil_test_column(prescription), prescription.samples
    count(len(given), len(samples), place=path.name, things="samples")
    for one, (point, found) in zip(given, samples, strict=True):
        wanted = {"row": one.row, "id": plain(one.id), column: one.soil_test}
        same(wanted, found, place=f"{path.name}, samples")
        place = shapely.get_coordinates(point).tolist()
        if place != [[one.longitude, one.latitude]]:
            message = f"{path.name}: the sample of row {one.row} lies elsewhere"
            raise VrpError(message)

    boundary = geopackage.read(path, geopackage.BOUNDARY)
    count(1, len(boundary), place=path.name, things="boundary")
    if not shapely.equals(boundary[0][0], shapely.union_all(shapes)):
        raise VrpError(f"{path.name}: the boundary is not the union of the zones")


def _check_style(folder: Path, prescription: Prescription) -> None:
    for name in (style.SLD, style.QML):
        classes = style.read(folder / name)
        for zone in prescription.zones:
            held = sum(low < zone.rate <= high for low, high in classes)
            if held != 1:
                message = f"{name}: zone {zone.number} is in {held} classes, not 1"
                raise VrpError(message)


def _check_zone_table(folder: Path, prescription: Prescription) -> None:
    path, rows = folder / zone_table.NAME, zone_rows(prescription)
    table = zone_table.read(path)
    count(len(rows), len(table), place=path.name)
    for row, found, zone in zip(rows, table, prescription.zones, strict=True):
        cells = {name: str(zone_table.cell(value)) for name, value in row.items()}
        same(cells, found, place=path.name)
        place = shapely.Point(float(found["longitude"]), float(found["latitude"]))
        if not zone.geometry.intersects(place):
            message = f"{path.name}: the place of zone {zone.number} is not in it"
            raise VrpError(message)


def _check_raster(folder: Path, prescription: Prescription) -> None:
    surface = prescription.soil_test_map
    if surface is None:
        return
    bands = raster.read(folder / raster.NAME)
    wanted = (surface.estimate, surface.error, surface.short)
    names = raster.band_names(prescription)
    for band, values, (name, _) in zip(bands, wanted, names, strict=True):
        if not np.array_equal(band.values, values, equal_nan=True):
            raise VrpError(f"{raster.NAME}: {name} reads back otherwise")
