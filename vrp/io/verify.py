"""What was written, read back by another library and compared."""

from pathlib import Path

from vrp.io import machine_files, map_files, record
from vrp.io.agreement import count, same
from vrp.io.folder import RECORD
from vrp.prescription import Prescription


def check(out: Path, prescription: Prescription) -> None:
    """Raise where a written file does not say what the prescription says."""
    written = record.read(out)
    wanted = map_files.zone_rows(prescription)
    kept = [one.model_dump() for one in written.zones]
    count(len(wanted), len(kept), place=RECORD)
    for zone, found in zip(wanted, kept, strict=True):
        same(zone, found, place=RECORD)
    map_files.check(out / "map", prescription)

    if not prescription.held_back:
        machine_files.check(out / "machine", prescription)
