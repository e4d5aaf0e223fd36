"""What was written, read back by other libraries and compared with the record."""

import warnings
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from vrp.errors import VrpError
from vrp.io import (
    edits,
    geopackage,
    machine_files,
    map_files,
    page_file,
    record,
    sheet_file,
)
from vrp.io.agreement import Check, Comparison, count, read_through, same, zone_rows
from vrp.io.edits import Adoption
from vrp.io.folder import RECORD, files_below, mend
from vrp.io.recall import recalled
from vrp.io.record import Record
from vrp.prescription import Prescription
from vrp.rates import AREA_DECIMALS

CHANGED = "was changed after vrp wrote it"
MISSING = "is missing"
_SIDECARS = ("-wal", "-journal", "-shm")


@dataclass(frozen=True, slots=True)
class Verified:
    """Whether the files of an output folder agree, and which rates were edited."""

    checks: tuple[Check, ...]
    adoption: Adoption

    @property
    def faults(self) -> tuple[str, ...]:
        """All that differs, a sentence each."""
        return tuple(fault for check in self.checks for fault in check.faults)

    def as_json(self) -> dict[str, Any]:
        """Return the same as plain values."""
        return {
            "agrees": not self.faults,
            "files": [
                {"file": one.file, "compared": one.compared, "faults": list(one.faults)}
                for one in self.checks
            ],
            **self.adoption.as_json(),
        }


def check(out: Path, prescription: Prescription) -> None:
    """Raise where a folder does not say what a prescription says: a defect of vrp's."""
    written, untouched = record.read_any(out)
    for one in _compared(out, written, prescription, untouched=untouched):
        for fault in one.faults:
            raise VrpError(fault)


def verify(out: Path) -> Verified:
    """
    Return whether the files of a folder agree with its record, and write nothing.

    Raises InputError where there is no record that can be read.
    """
    mend(out.resolve())
    written, untouched = record.read_any(out)
    changed = {name for name, _ in _marks(out, written)}
    with warnings.catch_warnings():
        # What a library warns of shows in the values, or is of no account.
        warnings.simplefilter("ignore")
        prescription = recalled(written, out, changed=changed)
        checks = tuple(_compared(out, written, prescription, untouched=untouched))
        of_record = [one for one in checks[0].faults if one.startswith(RECORD)]
        adoption = edits.found(out, prescription, trusted=not of_record)
    return Verified(checks, adoption)


def _compared(
    out: Path, written: Record, prescription: Prescription, *, untouched: bool
) -> Iterator[Check]:
    """Yield every file's check, the record first: the one comparison there is."""
    faults = list(_record(written, prescription))
    if (out / map_files.FOLDER / geopackage.NAME).is_file():
        faults += count(
            written.soil_test.samples,
            len(prescription.samples),
            place=geopackage.NAME,
            things="samples",
        )
    if not untouched:
        faults.insert(0, f"{RECORD} {CHANGED}: its digest is not that of its content")
    yield Check(RECORD, "digest, zones, totals", tuple(faults))

    marks, listed = dict(_marks(out, written)), {one.name for one in written.files}
    done: set[str] = set()
    for one in (
        *map_files.comparisons(prescription),
        *machine_files.comparisons(prescription),
        *page_file.comparisons(prescription),
        *sheet_file.comparisons(prescription),
    ):
        done.update(one.files)
        yield _file(out, prescription, one, marks, listed)
    for name in sorted(listed - done):
        said = (f"{name} {marks[name]}",) if name in marks else ()
        yield Check(name, "bytes", said)
    for name in sorted(set(marks) - listed - done):
        yield Check(name, "the record's list", (f"{name} {marks[name]}",))


def _file(
    out: Path,
    prescription: Prescription,
    one: Comparison,
    marks: Mapping[str, str],
    listed: set[str],
) -> Check:
    faults: list[str] = []
    name = one.files[0]
    gone = [each for each in one.files if not (out / each).is_file()]
    # Of task data the reader itself names what is missing.
    if not gone or "TASKDATA" in name:
        place = Path(name).name
        faults += read_through(one.faults(out, prescription), place=place)
    faults += [f"{name} {marks[name]}" for name in one.files if name in marks]
    faults += [
        f"{name} is not in the record's list of files"
        for name in one.files
        if name not in listed and name not in marks
    ]
    return Check(name, one.compared, tuple(faults))


def _marks(out: Path, written: Record) -> Iterator[tuple[str, str]]:
    """Yield the files that are missing, changed or not listed, with the word for it."""
    known = {one.name: one.sha256 for one in written.files}
    found = files_below(out)
    for name, sha256 in known.items():
        if name not in found:
            yield name, MISSING
        elif found[name] != sha256:
            yield name, CHANGED
    for name in found.keys() - known.keys():
        if name.endswith(_SIDECARS):
            package = name.rsplit("-", 1)[0]
            said = f"shows that another program has {package} open: close it there"
            yield name, said
        else:
            yield name, "is not one of the files that vrp wrote"


def _record(written: Record, prescription: Prescription) -> Iterator[str]:
    """Yield where the record's zones or their sums are not the prescription's."""
    rows, kept = zone_rows(prescription), [one.model_dump() for one in written.zones]
    yield from count(len(rows), len(kept), place=RECORD)
    for row, found in zip(rows, kept, strict=False):
        yield from same(row, found, place=RECORD)
    zones, totals = prescription.zones, written.totals
    for zone in zones:
        total = round(zone.rate * zone.area, 2)
        if abs(total - zone.total) > 0.0101:
            stated = f"{zone.total:.2f} {totals.product_unit} of product"
            yield f"{RECORD}, zone {zone.number}: {stated}; rate × area is {total:.2f}"
    area = round(sum(zone.area for zone in zones), AREA_DECIMALS)
    product = round(sum(zone.total for zone in zones), 2)
    for word, said, summed in (
        ("area", totals.area, area),
        ("product", totals.product, product),
    ):
        if abs(said - summed) > 0.5 * 10**-AREA_DECIMALS:
            yield f"{RECORD}: {word} in all is {said}, and of the zones {summed}"
