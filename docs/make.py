"""
Write what is made from the code: docs/findings.md and the JSON Schemas that ship.

    python docs/make.py
"""

import json
from pathlib import Path

from vrp.agronomy import guidelines
from vrp.agronomy.checks import Limit, checks
from vrp.io import field_file, record

ROOT = Path(__file__).parents[1]
SCHEMAS = ROOT / "vrp" / "io" / "schemas"

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


def files() -> dict[Path, str]:
    """Return every file that this script writes."""
    schemas = {
        "field": field_file.schema(),
        "guideline": guidelines.schema(),
        "record": record.schema(),
    }
    return {ROOT / "docs" / "findings.md": findings()} | {
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
