"""What was written, read back by another library and compared."""

from pathlib import Path

from vrp.errors import VrpError
from vrp.io import machine_shapefile, map_files, record
from vrp.io.agreement import count, cover, same
from vrp.io.folder import RECORD
from vrp.legend import rate_column
from vrp.prescription import Prescription
from vrp.spatial.field import geodesic_area

# Totals may differ by this share between files.
TOTALS = 0.001


def check(out: Path, prescription: Prescription) -> None:
    """Raise where a written file does not say what the prescription says."""
    written = record.read(out)
    wanted = map_files.zone_rows(prescription)
    kept = [one.model_dump() for one in written.zones]
    count(len(wanted), len(kept), place=RECORD)
    for zone, found in zip(wanted, kept, strict=True):
        same(zone, found, place=RECORD)
    map_files.check(out / "map", prescription)

    if prescription.held_back:
        return
    column = rate_column(prescription).upper()
    records = machine_shapefile.read(out / "machine")
    rates = [float(values[column]) for _, values in records]
    if rates != [zone.rate for zone in prescription.zones]:
        raise VrpError(f"machine shapefile: {column} is {rates}, not the zones' rates")
    machine = [shape for shape, _ in records]
    shapes = [zone.geometry for zone in prescription.zones]
    cover(shapes, machine, place="machine shapefile")
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
