"""
Write what is made from the code: findings, outputs of commands, JSON Schemas.

    python docs/make.py
"""

import json
import re
from contextlib import chdir
from pathlib import Path
from tempfile import TemporaryDirectory

from click.testing import CliRunner

from vrp.agronomy import guidelines, water
from vrp.agronomy.cautions import every_caution
from vrp.agronomy.checks import Limit, checks
from vrp.cli import main
from vrp.io import field_file, record

ROOT = Path(__file__).parents[1]
SCHEMAS = ROOT / "vrp" / "io" / "schemas"
COMPARING = ROOT / "docs" / "comparing_guidelines.md"
# A command on a page, and what the page shows of what it prints.
SHOWN = re.compile(r"(```sh\nvrp (.*?)\n```\n\n```text\n)(.*?)(?=\n```)", re.DOTALL)

CAUTIONS = """# Cautions

What to mind with a map stands beside its figures: in the terminal in few words, in the
report and the record in full. What is known of the product's own grade, its handling
and its seed safety, stands with the product ([which](products.md)). This page is made
from `vrp/agronomy/data/cautions.toml` by `docs/make.py`.
"""

HEAD = """# Findings

A finding is something that a person must look at before driving. A `stop` holds the
machine files back until the field file accepts it with a reason:

```toml
[accept]
soil-test-method = "side-by-side tests on this farm agree"
```

The reason is recorded and printed. A `warn` or a `note` holds nothing back. This page
is made from `vrp/agronomy/data/checks.toml` by `docs/make.py`.
"""


def findings() -> str:
    """Return the page of findings."""
    pages = [HEAD]
    for code, check in checks().items():
        lines = [f"## {code}\n", f"{check.meaning} {_sentence(check.remedy)}\n"]
        limits = _limits(check.limit, check.limit_metric)
        if check.also is not None:
            limits += f" with {check.also.value:g} {check.also.unit}"
        lines.append(f"- severity: {check.severity}{limits}")
        if check.beyond is not None:
            lines.append(f"- {check.beyond.severity} where {check.beyond.when}")
        lines.append(f"- source: {check.source.status}; {check.source.where}\n")
        pages.append("\n".join(lines))
    return "\n".join(pages)


def cautions() -> str:
    """Return the page of cautions."""
    pages = [CAUTIONS]
    for one, when in every_caution():
        lines = [f"## {one.code}\n", f"{one.text}\n"]
        lines.append(f"- beside: {one.where}; comes up: {when}")
        lines.append(f"- source: {one.source.status}; {one.source.where}\n")
        pages.append("\n".join(lines))
    return "\n".join(pages)


def comparing() -> str:
    """Return the page about comparing guidelines with what its commands print now."""
    return SHOWN.sub(_printed, COMPARING.read_text("utf-8"))


def _printed(found: re.Match[str]) -> str:
    """Return a command with its output, from the line that the page begins with."""
    with TemporaryDirectory() as folder, chdir(folder):
        done = CliRunner().invoke(main, found[2].split(), catch_exceptions=False)
    lines = [line.rstrip() for line in done.stdout.rstrip().splitlines()]
    return found[1] + "\n".join(lines[lines.index(found[3].splitlines()[0]) :])


def files() -> dict[Path, str]:
    """Return every file that this script writes."""
    schemas = {
        "field": field_file.schema(),
        "guideline": guidelines.schema(),
        "record": record.schema(),
        "rules": water.schema(),
    }
    pages = {
        ROOT / "docs" / "findings.md": findings(),
        ROOT / "docs" / "cautions.md": cautions(),
        COMPARING: comparing(),
    }
    return pages | {
        SCHEMAS / f"{name}.schema.json": json.dumps(schema, indent=1) + "\n"
        for name, schema in schemas.items()
    }


def _limits(us: Limit | None, metric: Limit | None) -> str:
    shown = [f"{one.value:g} {one.unit}".strip() for one in (us, metric) if one]
    return f", limit {' or '.join(shown)}" if shown else ""


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}."


if __name__ == "__main__":
    for path, text in files().items():
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, "utf-8", newline="\n")
