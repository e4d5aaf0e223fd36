"""What the page for a first run shows is what the commands print."""

import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from vrp.cli import main

ROOT = Path(__file__).parents[1]
PAGE = (ROOT / "docs" / "getting_started.md").read_text("utf-8")
SHOWN = {line.rstrip() for line in PAGE.splitlines()}

# What the page says to fill in.
FILLED = {
    "# year = 2027": "year = 2027",
    '# method = "…"': 'method = "mehlich-3-icp"',
    '# unit = "…"': 'unit = "ppm"',
    "# depth = 8": "depth = 8",
    "# sampled =": "sampled =",
    "# crop =": "crop =",
    "# yield_goal": "yield_goal",
    '# guideline = "…"': 'guideline = "tri-state-2020"',
    "# grade": "grade",
    "# min_rate": "min_rate",
    "# step": "step",
}
GRID = '\n[zones]\nby = "grid"\nside = 660\n'
ZONE = re.search(r"vrp explain my_field/out --zone (\d+)", PAGE)[1]
OVERRIDE = re.search(r"\[\[override\]\]\npoint = .*?(?=```)", PAGE, re.DOTALL)[0]


@pytest.fixture
def run(tmp_path, monkeypatch):
    """Run commands beside a copy of the sample field that the page uses."""
    for name in ("boundary.geojson", "samples.csv"):
        copy = tmp_path / "sample_fields" / "us" / name
        copy.parent.mkdir(parents=True, exist_ok=True)
        copy.write_bytes((ROOT / "sample_fields" / "us" / name).read_bytes())
    monkeypatch.chdir(tmp_path)

    def printed(*arguments):
        done = CliRunner().invoke(main, arguments)
        assert done.exit_code == 0, done.output
        lines = [line.rstrip() for line in done.output.splitlines()]
        return [one for one in lines if one and not one.startswith("Written:")]

    return printed


def test_page_shows_what_is_printed(run):
    """Field file, builds, ledgers: every line is on the page."""
    where = "sample_fields/us/"
    files = (
        "--boundary",
        f"{where}boundary.geojson",
        "--samples",
        f"{where}samples.csv",
    )
    run("new", "my_field", *files)
    path = Path("my_field/field.toml")
    text = path.read_text("utf-8")
    assert {line.rstrip() for line in text.splitlines()} <= SHOWN
    for left_open, filled in FILLED.items():
        assert left_open in text
        text = text.replace(left_open, filled)

    for added in ("", GRID, OVERRIDE):
        path.write_text(text + "\n" + added, "utf-8")
        printed = run("build", "my_field")
        table = printed if added == "" else printed[: printed.index(_after(printed))]
        assert set(table) <= SHOWN
        if added != GRID:
            ledger = run("explain", "my_field/out", "--zone", ZONE)
            assert set(ledger[-10:]) <= SHOWN


def _after(printed):
    """Return the line that comes after the table."""
    return next(line for line in printed if line.startswith(("stop", "warn", "note")))
