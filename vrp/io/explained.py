"""An output folder as a terminal explains it: its prescription, and places in it."""

from pathlib import Path

import shapely

from vrp.errors import InputError
from vrp.io import record, zone_table
from vrp.io.folder import files_below, mend
from vrp.io.recall import recalled
from vrp.prescription import Prescription


def explained(out: Path) -> Prescription:
    """Return the prescription of an output folder, whose record nobody changed."""
    mend(out.resolve())
    written, found = record.read(out), files_below(out)
    changed = {one.name for one in written.files if found.get(one.name) != one.sha256}
    return recalled(written, out, changed=changed)


def place_in(prescription: Prescription, number: int) -> tuple[float, float] | None:
    """Return longitude and latitude inside a zone; None where its ground is lost."""
    (zone,) = (one for one in prescription.zones if one.number == number)
    return None if zone.geometry.is_empty else zone_table.place(zone)


def zone_at(prescription: Prescription, longitude: float, latitude: float) -> int:
    """
    Return the number of the zone that holds a place, the lowest on a border.

    Raises InputError where none does.
    """
    point = shapely.Point(longitude, latitude)
    for zone in prescription.zones:
        if shapely.intersects(zone.geometry, point):
            return zone.number
    bounds = shapely.total_bounds([one.geometry for one in prescription.zones])
    west, south, east, north = bounds.tolist()
    message = (
        f"--at {longitude} {latitude}: no zone is there; the field lies between "
        f"longitudes {west:.5f} and {east:.5f}, latitudes {south:.5f} and {north:.5f}"
    )
    raise InputError(message)
