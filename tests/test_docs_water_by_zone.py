"""The page about what matters for water in each zone."""

import re
from pathlib import Path

import pytest

from vrp.agronomy.indices import index_class
from vrp.agronomy.water_figures import figures
from vrp.units import FOOT, INCH, KG_HA

PAGE = (Path(__file__).parents[1] / "docs" / "water_by_zone.md").read_text("utf-8")
ROWS = re.findall(r"^\| (`[\w-]+`)? ?\| (.*?) \| (.*?) \|$", PAGE, re.M)


def row(name, number=0):
    """Return what the page says stands against a zone, and the limit's status."""
    at = [each[0] for each in ROWS].index(f"`{name}`")
    return ROWS[at + number][1], ROWS[at + number][2]


@pytest.mark.parametrize("number", [0, 1, 2])
def test_very_high(number):
    """The limits to a very high test stand on the page, method by method."""
    one = figures().very_high[number]
    said, status = row("very-high", number)

    assert f"above {one.value:g} {one.unit}" in said
    assert status.startswith(one.source.status)


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("storm-reach", f"{figures().storm_reach.value:g} m"),
        ("storm-reach", f"{figures().storm_reach.value / FOOT:.0f} ft"),
        ("stream-side", f"{figures().stream_side.value:g} m"),
        ("stream-side", f"{figures().stream_side.value / FOOT:.0f} ft"),
        ("slope", f"above {figures().slope.value:g} %"),
        ("rate", f"{figures().rate.value:g} lb/ac"),
        ("rate", f"{figures().rate.value * KG_HA['lb/ac']:.0f} kg/ha"),
        ("shallow", f"{figures().placed_below.value:g} in"),
        ("shallow", f"{figures().placed_below.value * INCH * 100:.2f} cm"),
    ],
)
def test_limits(name, said):
    """Each limit stands on the page in both systems of units."""
    assert said in row(name)[0]


@pytest.mark.parametrize(
    ("name", "status"),
    [
        ("storm-reach", figures().storm_reach.source.status),
        ("stream-side", figures().stream_side.source.status),
        ("slope", figures().slope.source.status),
        ("rate", figures().rate.source.status),
        ("on-top", figures().on_top.source.status),
        ("shallow", figures().placed_below.source.status),
        ("late", figures().late.source.status),
        ("tillage", figures().tillage.source.status),
        ("residue", figures().residue.source.status),
    ],
)
def test_statuses(name, status):
    """What was read, and what was not, stands beside each limit."""
    assert row(name)[1].startswith(status)


def test_index():
    """The classes of Iowa's index on the page are those of the code."""
    for limit, word in ((1, "very low"), (2, "low"), (5, "medium"), (15, "high")):
        assert f"{word} to {limit}" in PAGE
        assert index_class(limit, which="iowa").word == word
