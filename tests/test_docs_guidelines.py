"""The page about the guidelines that ship."""

import re
from collections import Counter
from pathlib import Path

import pytest

from vrp.agronomy.figures import walk
from vrp.agronomy.guidelines import shipped

PAGE = (Path(__file__).parents[1] / "docs" / "guidelines.md").read_text("utf-8")
SHIPPED = shipped()


def rows(heading):
    """Return the rows of the tables below a heading, by their first cell."""
    section = re.search(rf"^{heading}$(.*?)(?=^##? |\Z)", PAGE, re.M | re.S)[1]
    return re.findall(r"^\| `(.*?)` \| (.*) \|$", section, re.MULTILINE)


def test_every_guideline_is_listed():
    """The page lists what ships, the superseded ones apart."""
    current = PAGE.partition("Superseded, and a stop")[0]
    listed = {name for name, _ in rows("## What ships")}

    assert listed == set(SHIPPED)
    for name, one in SHIPPED.items():
        assert (f"| `{name}` |" in current) == (one.state == "current")


@pytest.mark.parametrize("name", SHIPPED)
def test_counts(name):
    """The page counts the figures of each file by status as the file has them."""
    counted = next(
        cells for row, cells in rows("## How far they were checked") if row == name
    )
    found = Counter(one.source.status for one in walk(SHIPPED[name]))

    assert [int(cell) for cell in counted.split(" | ")] == [
        found[status] for status in ("read", "agrees", "from-memory", "our-choice")
    ]
    assert set(found) <= {"read", "agrees", "from-memory", "our-choice"}


def test_what_a_row_says_was_not_read():
    """A guideline with nothing that agrees, or nothing from memory, is not said to."""
    meaning = rows("## How far they were checked")[len(SHIPPED) :]

    assert {name for name, _ in meaning} == set(SHIPPED)
    for name, cells in meaning:
        found = {one.source.status for one in walk(SHIPPED[name])}
        assert (cells.split(" | ")[1] == "none") == ("agrees" not in found)
