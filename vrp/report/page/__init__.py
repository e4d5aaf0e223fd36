"""report.html: the page that an agronomist reads, doubts and signs."""

import base64
import hashlib
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from vrp.prescription import Prescription
from vrp.report.drawings import drawings
from vrp.report.page.views import view
from vrp.report.svg import looks, spelled

if TYPE_CHECKING:
    from jinja2 import Environment

_HERE = Path(__file__).parent
# Letters of one text that the page shows: our choice, so that it stays light.
MOST_LETTERS = 2000


def page(prescription: Prescription, *, digest: str, inputs: Mapping[str, str]) -> str:
    """Return the page, with the record's digest and those of the inputs by name."""
    from markupsafe import Markup

    # All drawings have the same looks: the page holds them once.
    drawn = {
        name.replace(" ", "_"): Markup(text.replace(looks(), ""))
        for name, text in drawings(prescription, linked=True).items()
    }
    script = _bare((_HERE / "page.js").read_text("utf-8"))
    found = (
        _template()
        .get_template("page.html")
        .render(
            it=view(prescription, digest=digest, inputs=inputs),
            drawn=drawn,
            style=Markup((_HERE / "page.css").read_text("utf-8")),
            looks=Markup(looks()),
            script=Markup(script),
            script_digest=_sha256(script),
        )
    )
    return _bare(found) + "\n"


def _bare(text: str) -> str:
    """Return text without blank lines and blanks at their ends."""
    lines = (line.rstrip() for line in text.split("\n"))
    return "\n".join(line for line in lines if line)


def _sha256(script: str) -> str:
    """Return what a browser compares a script with before it runs it."""
    return base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()


@cache
def _template() -> "Environment":
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    return Environment(
        loader=FileSystemLoader(_HERE),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=_told,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def _told(value: object) -> object:
    """Return text, not endless, without signs that hide or turn their neighbours."""
    if not isinstance(value, str) or hasattr(value, "__html__"):
        return value
    held = spelled(value).encode("utf-8", "backslashreplace").decode("utf-8")
    return held if len(held) <= MOST_LETTERS else f"{held[:MOST_LETTERS]}…"
