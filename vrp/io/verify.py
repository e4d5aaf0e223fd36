"""What was written, read back by another library and compared."""

from collections.abc import Mapping, Sequence
from pathlib import Path

import shapely

from vrp.errors import VrpError
from vrp.io import geojson, machine_shapefile, record
from vrp.legend import columns, rate_column
from vrp.prescription import Prescription
from vrp.spatial.field import geodesic_area

# Totals may differ by this share between files.
TOTALS = 0.001


def check(out: Path, prescription: Prescription) -> None:
    """Raise where a written file does not say what the prescription says."""
    written = record.read(out)
    wanted = [
        {one.name: one.of(zone) for one in columns(prescription)}
        for zone in prescription.zones
    ]
    kept = [one.model_dump() for one in written.zones]
    if len(kept) != len(wanted):
        raise VrpError(f"record.json holds {len(kept)} of {len(wanted)} zones")
    for zone, found in zip(wanted, kept, strict=True):
        _same(zone, found, place="record.json")

    shapes = [zone.geometry for zone in prescription.zones]
    features = _by_gdal(out / "map" / "rates.geojson")
    if len(features) != len(shapes):
        raise VrpError(f"rates.geojson holds {len(features)} of {len(shapes)} zones")
    own = geojson.read(out / "map" / "rates.geojson")
    for zone, feature, again in zip(wanted, features, own, strict=True):
        _same(zone, feature, place="rates.geojson by GDAL")
        _same(zone, again[1], place="rates.geojson")
    _cover(shapes, [shape for shape, _ in own], place="rates.geojson")

    if prescription.held_back:
        return
    column = rate_column(prescription).upper()
    records = machine_shapefile.read(out / "machine")
    rates = [float(values[column]) for _, values in records]
    if rates != [zone.rate for zone in prescription.zones]:
        raise VrpError(f"machine shapefile: {column} is {rates}, not the zones' rates")
    machine = [shape for shape, _ in records]
    _cover(shapes, machine, place="machine shapefile")
    area = prescription.plan.square_metres_per_area
    product = sum(
        rate * geodesic_area(shape) / area
        for rate, shape in zip(rates, machine, strict=True)
    )
    total = prescription.totals.zones.product
    # Areas and products in the record are rounded to their printed decimals.
    rounding = sum(0.5e-5 * rate + 0.005 for rate in rates)
    if abs(product - total) > TOTALS * total + rounding:
        message = f"machine shapefile carries {product:.1f} of product, not {total:.1f}"
        raise VrpError(message)


def _by_gdal(path: Path) -> list[dict[str, object]]:
    import pyogrio.raw

    meta, _, _, values = pyogrio.raw.read(path)
    rows = zip(*(column.tolist() for column in values), strict=True)
    return [dict(zip(meta["fields"], row, strict=True)) for row in rows]


def _same(
    wanted: Mapping[str, object], found: Mapping[str, object], *, place: str
) -> None:
    for name, value in wanted.items():
        if found.get(name) != value:
            reads = f"{name} reads {found.get(name)!r}, not {value!r}"
            message = f"{place}, zone {wanted['zone']}: {reads}"
            raise VrpError(message)


def _cover(
    wanted: Sequence[shapely.Geometry],
    found: Sequence[shapely.Geometry],
    *,
    place: str,
) -> None:
    for number, (zone, shape) in enumerate(zip(wanted, found, strict=True), start=1):
        if not shapely.equals(zone, shape):
            raise VrpError(f"{place}: zone {number} reads back in another shape")
    if not shapely.coverage_is_valid(found):
        raise VrpError(f"{place}: the zones do not tile the field")
