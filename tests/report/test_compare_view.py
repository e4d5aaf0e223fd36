"""Guidelines side by side: what the tables say, and that they fit."""

import io
import json
from pathlib import Path

import pytest

from vrp.agronomy.comparison import compare
from vrp.agronomy.guidelines import parse, shipped
from vrp.report import compare_view

SHIPPED = shipped()
OWN = (Path(__file__).parents[1] / "data" / "own-guideline.toml").read_text("utf-8")
THREE = {
    name: SHIPPED[name] for name in ("ontario-811", "rb209-2023", "tri-state-2020")
}


def printed(comparison, *, encoding=None):
    if encoding is None:
        file = io.StringIO()
        compare_view.show(comparison, file=file)
        return file.getvalue()
    raw = io.BytesIO()
    file = io.TextIOWrapper(raw, encoding=encoding, errors="backslashreplace")
    compare_view.show(comparison, file=file)
    file.flush()
    return raw.getvalue().decode(encoding)


def corn(guidelines=THREE, **options):
    return compare(guidelines, "corn-grain", yield_goal=200, system="us", **options)


def rows(text):
    """Return the cells of each line."""
    return [line.split() for line in text.splitlines()]


def test_cells():
    """A row a soil test, a column a guideline; a step shows both of its needs."""
    both = THREE | {"own": parse(OWN, "own")}

    text = rows(printed(corn(both, method="mehlich-3-icp")))

    # 5 × (20 − 10) + 200 × 0.35, and with 0.37; limits are 40 and 50 ppm.
    assert ["10", "120", "124"] in text
    assert ["20", "70", "74"] in text
    assert ["40", "70→0", "74"] in text
    assert ["45", "0", "74"] in text
    assert ["50", "0", "74→0"] in text
    assert ["year", "2020", "2026"] in text
    assert ["state", "current", "current"] in text


def test_each_method_is_headed():
    """Without a method each block says which, and in which unit."""
    text = printed(corn())

    assert "mehlich-3-icp: Mehlich-3, read by ICP, in ppm" in text
    assert "olsen: Olsen (sodium bicarbonate), in ppm" in text


def test_conversion_is_stated():
    """Where kg/ha were converted it says by how much; where none were, nothing."""
    assert "1 kg/ha is 0.8922 lb/ac" in printed(corn())
    assert "converted" not in printed(corn(method="mehlich-3-icp"))


def test_who_is_not_there():
    """Below the tables stand those that take another method, and those without."""
    text = " ".join(printed(corn(method="mehlich-3-icp")).split())

    assert "By other methods: ontario-811 (olsen)." in text
    assert "Without corn-grain: rb209-2023." in text


def test_marks():
    """What was not read in print is marked at its guideline, and listed by status."""
    text = " ".join(printed(corn()).split())

    assert "ontario-811*" in text
    assert "from memory: depth 6 in" in text
    assert "our choice: critical level 12.5 ppm" in text


def test_superseded():
    """An edition that was superseded says so above its needs."""
    old = parse(OWN.replace('state = "current"', 'state = "superseded"'), "own")

    text = rows(printed(corn(THREE | {"own": old}, method="mehlich-3-icp")))

    assert ["state", "current", "superseded"] in text


def test_edge_belongs_to_one_side():
    """At 40 ppm exactly Tri-State still maintains; RB209 counts 9.5 as Index 1."""
    wheat = compare(THREE, "winter-wheat", yield_goal=8, system="metric")

    assert "Exactly there a holds: tri-state-2020." in printed(corn()).replace("\n", "")
    assert "Exactly there b holds: rb209-2023." in printed(wheat).replace("\n", "")


def test_depths():
    """Where the depths of one table differ it says so; at one depth it does not."""
    shallow = parse(OWN.replace("value = 8, unit", "value = 6, unit"), "own")
    same = {"one": parse(OWN, "own"), "two": parse(OWN, "own")}

    said = "Depths differ: the same ground does not test the same"
    assert said in printed(corn({"one": parse(OWN, "own"), "two": shallow}))
    assert said not in printed(corn(same))


def test_yield_goals():
    """A goal in another unit is shown as the guideline's, an odd one as such."""
    wheat = compare(THREE, "winter-wheat", yield_goal=119, system="us")
    much = compare(THREE, "corn-grain", yield_goal=400, system="us")

    assert "119 bu/ac is 8.003 t/ha" in printed(wheat)
    said = " ".join(printed(much).split())
    assert "400 bu/ac lies outside the plausible 60 to 320 bu/ac" in said


@pytest.mark.parametrize("crop", ["corn-grain", "winter-wheat", "soybean", "alfalfa"])
def test_tables_fit(crop):
    """Whatever ships, no line is wider than 80, and no guideline is lost."""
    found = compare(SHIPPED, crop, yield_goal=60, system="us")

    text = printed(found)

    assert max(map(len, text.splitlines())) <= 80
    years = [row[1:] for row in rows(text) if row[:1] == ["year"]]
    assert sum(map(len, years)) == sum(len(block.columns) for block in found.blocks)


def test_many_columns_are_parted():
    """Twelve guidelines stand in several tables, each with every row."""
    many = {f"guideline-{number:02d}": parse(OWN, "own") for number in range(12)}

    text = printed(corn(many))

    assert max(map(len, text.splitlines())) <= 80
    assert "mehlich-3-icp, in ppm, continued" in text
    tens = [row for row in rows(text) if row[:1] == ["10"]]
    assert len(tens) > 1
    assert sum(row.count("124") for row in tens) == 12


def test_plain_terminals():
    """A terminal without arrows gets -> for them, and as many columns."""
    text = printed(corn(method="mehlich-3-icp"), encoding="ascii")

    assert "70->0" in text
    assert "\\u2192" not in text


def test_hostile_names():
    """Characters of a file's name that would steer a terminal are spelled out."""
    text = printed(corn({"own\x1b[31m": parse(OWN, "own")}))

    assert "\x1b" not in text
    assert "\\u001b[31m" in "".join(text.split())


def test_json():
    """The same as JSON: needs beside each soil test, statuses, and who is not there."""
    file = io.StringIO()
    compare_view.as_json(corn(method="mehlich-3-icp"), file=file)

    facts = json.loads(file.getvalue())

    assert (facts["unit"], facts["yield_unit"]) == ("lb/ac", "bu/ac")
    assert facts["other_methods"] == {"ontario-811": ["olsen"]}
    assert facts["lacking"] == ["rb209-2023"]
    ((column,),) = [block["columns"] for block in facts["blocks"]]
    needs = {one["soil_test"]: one for one in column["need"]}
    assert needs[10]["at"] == 120
    assert (needs[40]["below"], needs[40]["at"], needs[40]["above"]) == (70, 70, 0)
    depth = {"name": "depth", "printed": "8 in", "status": "from-memory"}
    assert depth | {"where": "Bulletin 974"} in column["not_read"]
