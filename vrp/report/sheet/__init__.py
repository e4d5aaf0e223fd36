"""job_sheet.pdf: what the applicator carries."""

import json
from collections.abc import Collection
from pathlib import Path
from typing import Any

from vrp.prescription import Prescription
from vrp.report.sheet.signs import Typesetter
from vrp.report.sheet.views import view
from vrp.report.zone_map import rate_map

_TEMPLATE = Path(__file__).with_name("job_sheet.typ")
# Of the typesetter's own: letters of a drawing as wide as its labels were made for.
_LETTERS = "Libertinus Serif"


def sheet(
    prescription: Prescription, *, digest: str, machine: Collection[str]
) -> bytes:
    """Return the sheet as PDF, with the record's digest and the machine's files."""
    drawn = ""
    if not prescription.held_back:
        drawn = rate_map(prescription).replace("sans-serif", _LETTERS)
    told = view(prescription, digest=digest, machine=machine)
    return Typesetter(_TEMPLATE.read_bytes()).pdf(told, drawn, _as_text)


def _as_text(told: Any) -> str:
    return json.dumps(told, ensure_ascii=False, allow_nan=False, sort_keys=True)
