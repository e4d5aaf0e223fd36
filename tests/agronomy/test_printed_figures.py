"""Figures that publications print, a table for each function that gives them."""

from math import log

import pytest

from vrp.agronomy import removal
from vrp.agronomy.forecast import Fall
from vrp.agronomy.forecast_figures import family
from vrp.agronomy.products import Grade
from vrp.units import P2O5_PER_P


@pytest.mark.parametrize(
    ("factor", "printed", "within"),
    [
        # SPES-201NP, Virginia Tech: P × 2.2910 is P2O5, P2O5 × 0.4365 is P.
        (P2O5_PER_P, 2.2910, 0.001),
        (1.0 / P2O5_PER_P, 0.4365, 0.0002),
    ],
)
def test_p_and_p2o5(factor, printed, within):
    """P and P2O5 become one another by the printed factors."""
    assert factor == pytest.approx(printed, abs=within)


@pytest.mark.parametrize(
    ("crop", "figure", "other", "within"),
    [
        # "Long-term nitrogen and phosphorus fertilization of irrigated grain sorghum",
        # Kansas State University, 2021: 0.15 lb of P a bushel is 0.34 lb of P2O5.
        ("sorghum-grain", (0.15, "lb P/bu"), (0.34, "lb P2O5/bu"), 0.005),
        # "Crop removal values", Table 1, Ontario Ministry of Agriculture, 2025: the
        # ends of each range in lb a bushel, and beside them in kg a tonne.
        ("corn-grain", (0.37, "lb P2O5/bu"), (6.6, "kg P2O5/t"), 0.15),
        ("corn-grain", (0.44, "lb P2O5/bu"), (7.9, "kg P2O5/t"), 0.15),
        ("soybean", (0.80, "lb P2O5/bu"), (13.3, "kg P2O5/t"), 0.15),
        ("soybean", (0.88, "lb P2O5/bu"), (14.7, "kg P2O5/t"), 0.15),
        ("winter-wheat", (0.55, "lb P2O5/bu"), (9.1, "kg P2O5/t"), 0.15),
        ("winter-wheat", (0.63, "lb P2O5/bu"), (10.4, "kg P2O5/t"), 0.15),
        ("barley", (0.25, "lb P2O5/bu"), (5.21, "kg P2O5/t"), 0.15),
        ("barley", (0.40, "lb P2O5/bu"), (8.33, "kg P2O5/t"), 0.15),
        # "Fertilizer value of distressed corn harvest", North Dakota State University,
        # 2021: silage of 0.28 % P2O5, 2.8 kg a tonne, is 5.6 lb a ton.
        ("corn-silage", (2.8, "kg P2O5/t"), (5.6, "lb P2O5/ton"), 1e-9),
    ],
)
def test_removal_in_another_unit(crop, figure, other, within):
    """A removal figure becomes the one that is printed in another unit."""
    (value, unit), (printed, wanted) = figure, other

    found = removal.converted(value, unit, wanted=wanted, crop=crop)

    assert found == pytest.approx(printed, abs=within)


@pytest.mark.parametrize(
    ("set_id", "crop", "printed"),
    [
        # The same publications as above: what the ranges and the one figure are.
        ("ontario-2025", "corn-grain", (0.37, 0.44)),
        ("ontario-2025", "soybean", (0.80, 0.88)),
        ("ontario-2025", "winter-wheat", (0.55, 0.63)),
        ("ontario-2025", "barley", (0.25, 0.40)),
        ("kansas-2021", "sorghum-grain", (0.34, 0.34)),
        ("north-dakota-2021", "corn-silage", (5.6, 5.6)),
    ],
)
def test_removal_ships_as_printed(set_id, crop, printed):
    """The sets hold the figures as their publications print them."""
    found = removal.harvest(removal.find(set_id), crop)

    assert found.ends == printed
    assert found.source.status == "read"


@pytest.mark.parametrize(
    ("grade", "p2o5", "product"),
    [
        # Fact sheet ANR-74, Ohio State University Extension, 2019: what 180 bu of corn
        # and 60 bu of soybean take, 110.4 lb by 0.35 and 0.79 lb a bushel, is about
        # 210 lb of 11-52-0 or 240 lb of 18-46-0.
        ("11-52-0", 110.4, 210.0),
        ("18-46-0", 110.4, 240.0),
    ],
)
def test_product_for_p2o5(grade, p2o5, product):
    """The product that brings the P2O5 is the printed one, to 5 lb."""
    assert Grade.parse(grade).product(p2o5) == pytest.approx(product, abs=5.0)


def test_p2o5_in_product():
    """40 lb of 11-52-0 bring 20 lb P2O5 (Canola Council of Canada, 2018, rounded)."""
    _, p2o5, _, _ = Grade.parse("11-52-0").carried(40.0)

    assert p2o5 == pytest.approx(20.0, abs=1.0)


@pytest.mark.parametrize(
    ("name", "percent", "years", "within"),
    [
        # Agricultural & Environmental Letters 10(1), 2025, 56 fields: 8.2 and 4.3 % a
        # year, halved in 8.4 and 15.9 years; the printed rates are rounded.
        ("meta-analysis-fast", 8.2, 8.4, 0.1),
        ("meta-analysis-slow", 4.3, 15.9, 0.3),
    ],
)
def test_halving(name, percent, years, within):
    """Over the printed years the fall halves a test, at the printed rate a year."""
    halving = family("mehlich-3-icp", "ppm").drawdown[name].halving
    fall = Fall(True, halving)

    assert fall.after(100.0, years) == pytest.approx(50.0)
    assert log(2.0) / (percent / 100.0) == pytest.approx(halving, abs=within)
    assert 100.0 * log(100.0 / fall.after(100.0, 1.0)) == pytest.approx(
        percent, abs=0.1
    )
