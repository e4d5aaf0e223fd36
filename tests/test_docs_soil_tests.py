"""The page about soil tests."""

import re
from pathlib import Path

import pytest

from vrp.agronomy.checks import checks
from vrp.agronomy.conversions import conversions
from vrp.agronomy.soil_test import METHODS

PAGE = (Path(__file__).parents[1] / "docs" / "soil_tests.md").read_text("utf-8")
ROWS = {
    row.split("|")[1].strip(" `"): row for row in re.findall(r"^\| `.*$", PAGE, re.M)
}


@pytest.mark.parametrize("name", conversions())
def test_every_line_is_shown(name):
    """Each conversion stands in the table with its figures, region and limits."""
    line, row = conversions()[name], ROWS[name]

    figure = line.factor if line.factor is not None else line.divisor
    assert f" {figure:g} " in row
    assert (f"− {-line.intercept:g} |" in row) == (line.intercept < 0.0)
    assert line.region.removesuffix(" in Ohio, in its reports until July 2005") in row
    for bounds in (line.range, line.soil):
        limits = () if bounds is None else (bounds.above, bounds.least, bounds.most)
        for limit in limits:
            assert limit is None or f"{limit:g}" in row


def test_no_other_line_is_shown():
    """The table holds no conversion that does not ship."""
    shown = {name for name in ROWS if "from" in name}

    assert shown == set(conversions())


def test_every_method_is_explained():
    """Each method that a plan may name has its row."""
    named = set(re.findall(r"`([\w-]+)`", "".join(ROWS.values())))

    assert set(METHODS) <= named


def test_limits_are_those_of_the_findings():
    """The limits that the page names are those that bring the findings up."""
    tied, stratified = checks()["phosphorus-tied-up"], checks()["soil-test-stratified"]

    assert f"strong Bray of {tied.at('us').value:g} ppm or more" in PAGE
    assert tied.also is not None
    assert f"of {tied.also.value:g} ppm or less" in PAGE
    assert f"above {stratified.far('us').value:g} is" in PAGE
    assert f"above pH {checks()['method-ph'].at('us').value:g}, Bray below" in PAGE


def test_findings_that_the_page_names_exist():
    """A code that the page names is one of the register."""
    codes = set(re.findall(r"`((?:[a-z0-9]+-){1,4}[a-z0-9]+)`", PAGE))

    assert codes - set(METHODS) - set(conversions()) <= set(checks())
