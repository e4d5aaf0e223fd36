"""job_sheet.pdf: written as it is; what it was set from is attached, and read back."""

import json
import re
import zlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from vrp.errors import InputError
from vrp.io.agreement import Comparison, numbered, zone_rows
from vrp.io.folder import RECORD
from vrp.io.page_file import Shown, same_figure
from vrp.legend import columns
from vrp.prescription import Prescription

NAME = "job_sheet.pdf"
_DIGITS = 8  # of the record's digest
# Where the stream of an attached file begins, as ISO 32000 writes one. Where it ends
# its own format knows: any byte may stand before the line that closes it.
_ATTACHED = re.compile(rb"<<[^>]*/Type\s*/EmbeddedFile\b.*?>>\s*stream\r?\n", re.DOTALL)
_FIGURES = ("area", "rate", "total", "applied", "nitrogen")  # of a zone


def write(out: Path, made: bytes) -> None:
    """Write the sheet into an output folder."""
    (out / NAME).write_bytes(made)


def read(path: Path) -> dict[str, Any]:
    """Return what a sheet was set from."""
    content = path.read_bytes()
    found = _ATTACHED.search(content)
    if found is None:
        raise InputError(f"{path}: holds no figures of a job sheet")
    try:
        unpacked = zlib.decompressobj().decompress(content[found.end() :])
        held: dict[str, Any] = json.loads(unpacked)
    except (zlib.error, ValueError) as exc:
        raise InputError(f"{path}: its figures cannot be unpacked") from exc
    return held


def comparisons(prescription: Prescription) -> tuple[Comparison, ...]:
    """Return what can be compared in the sheet, where the plan asks for one."""
    if not prescription.plan.files.job_sheet:
        return ()
    return (Comparison((NAME,), "zones, rates, totals, digest", _faults),)


def _faults(out: Path, prescription: Prescription) -> Iterator[str]:
    held = read(out / NAME)
    own = json.loads((out / RECORD).read_text("utf-8"))["digest"][:_DIGITS]
    if held["digest"] != own:
        yield f"{NAME} is of the record {held['digest']}, not {own}"
    if held["held-back"] != prescription.held_back:
        yield f"{NAME}: whether a stop finding holds it back is not as in the record"
    if prescription.held_back:
        if held["zones"]:
            yield f"{NAME} has rates, though a stop finding holds them back"
        return
    yield from numbered(prescription, held["zones"], place=NAME)
    names = {one.attribute: one.name for one in columns(prescription)}
    rows = {row["zone"]: row for row in zone_rows(prescription)}
    for one in held["zones"]:
        place = f"{NAME}, zone {one['zone']}"
        row = rows.get(one["zone"], {})
        for attribute in _FIGURES:
            name, figure = names[attribute], Shown(**one[attribute])
            yield from same_figure(name, figure, row.get(name), place=place)
    totals = prescription.totals
    for name, wanted in (("area", totals.area), ("product", totals.zones.product)):
        figure = Shown(**held["totals"][name])
        yield from same_figure(name, figure, wanted, place=f"{NAME}, in all")
