"""The page on the balance and the forecast says what the code does."""

import re
import tomllib
from itertools import pairwise
from pathlib import Path

import pytest

from vrp.agronomy.forecast import forecast, published
from vrp.agronomy.forecast_figures import figures
from vrp.plan import PastTest
from vrp.units import LB_AC

PAGE = (Path(__file__).parents[1] / "docs" / "balance_and_forecast.md").read_text(
    "utf-8"
)
ROWS = re.findall(
    r"^\|([^|]*)\| (\d+) lb \| ([\d.]+) \| ([\d.]+) \| ([\d.]+)–([\d.]+) "
    r"\| ([\d.]+) \| ([\d.]+) \|$",
    PAGE,
    re.MULTILINE,
)
# Start [ppm], rate at which the test stands still [lb/ac], change [ppm a year].
SITES = {
    "Webster": (22.0, 36.0, {50: 0.42, 100: 1.92}),
    "Aastad": (10.0, 30.83, {50: 0.69, 100: 2.49}),
}


def test_table_of_minnesota():
    """The page's measured, forecast and straight figures are those of the trial."""
    assert len(ROWS) == 4
    site = ""
    for name, rate, *shown in ROWS:
        site = name.split(",")[0].strip() or site
        start, still, slopes = SITES[site]
        measured, middle, low, high, twenty, eighteen = map(float, shown)
        seasons = [(float(rate) * LB_AC, still * LB_AC)] * 12
        band = forecast(published("bray-p1", "ppm"), start, seasons)[-1]
        assert measured == pytest.approx(start + 12 * slopes[int(rate)], abs=0.05)
        assert (middle, low, high, twenty) == (
            pytest.approx(band.middle, abs=0.06),
            pytest.approx(band.low, abs=0.06),
            pytest.approx(band.high, abs=0.06),
            pytest.approx(band.straight, abs=0.06),
        )
        by_hand = start + 12 * (float(rate) - still) / 18
        assert eighteen == pytest.approx(by_hand, abs=0.06)


def test_history_by_hand():
    """The page's example is a field's past, and its slope is 0.025 ppm a lb."""
    text = re.search(r"```toml\n(\[\[balance.*?)```", PAGE, re.DOTALL)[1]
    past = [PastTest(**one) for one in tomllib.loads(text)["balance"]["history"]]
    balances = [one.applied - one.removed for one in past[1:]]
    moved = [two.soil_test - one.soil_test for one, two in pairwise(past)]
    slope = sum(a * b for a, b in zip(balances, moved, strict=True))
    assert slope / sum(one**2 for one in balances) == pytest.approx(0.025)
    assert "0.025 ppm a lb" in PAGE


def test_figures_that_the_page_names():
    """Holding shares, error and least balance are those of the data."""
    one = figures()
    assert [share.value for share in one.holding.values()] == [0.5, 1.0, 1.5]
    assert f"an error of {one.field_mean.error.value:g} % in each mean" in PAGE
    assert f"less than {one.field_mean.least_balance.value:g} kg/ha" in PAGE
