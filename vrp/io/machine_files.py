"""The files of machine/: those that the plan asks for, written and read back."""

from pathlib import Path

from vrp.errors import VrpError
from vrp.io import machine_shapefile, taskdata, taskdata_compare
from vrp.io.agreement import cover
from vrp.legend import rate_column
from vrp.prescription import MachineGrid, Prescription
from vrp.spatial.field import geodesic_area

# The shapefile's total may differ by this share.
TOTALS = 0.001


def write(folder: Path, prescription: Prescription) -> MachineGrid | None:
    """Make the folder and write what the plan asks for; return the task data's grid."""
    asked = prescription.plan.files
    folder.mkdir()
    if "shapefile" in asked.machine:
        machine_shapefile.write(folder, prescription)
    if "task-data" not in asked.machine:
        return None
    version = asked.task_data_version
    (grid,) = taskdata.write(folder, [prescription], version=version)
    return grid


def check(folder: Path, prescription: Prescription) -> None:
    """Raise where a file does not say what the prescription says."""
    asked = prescription.plan.files.machine
    if "shapefile" in asked:
        _check_shapefile(folder, prescription)
    if "task-data" in asked:
        for fault in taskdata_compare.compare(folder, [prescription]):
            raise VrpError(f"task data: {fault}")


def _check_shapefile(folder: Path, prescription: Prescription) -> None:
    column = rate_column(prescription).upper()
    records = machine_shapefile.read(folder)
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
