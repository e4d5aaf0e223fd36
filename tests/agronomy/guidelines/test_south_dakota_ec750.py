"""
Its equations, as remembered, against hand arithmetic.

"Fertilizer Recommendations Guide", EC750, South Dakota State University Extension,
2023, https://extension.sdstate.edu/fertilizer-recommendation-guide. No worked example
of it was found.
"""

import pytest

from vrp.agronomy.guidelines import settled, shipped
from vrp.agronomy.need import Season, figures, ledger, need_curve
from vrp.errors import GuidelineError

PRINTED = shipped()["south-dakota-ec750"]


def need(crop, goal, method):
    season = Season(crop, goal, "bu/ac")
    left = settled(PRINTED, method=method)
    return need_curve(left, [season], pool=False, build_up=True)


@pytest.mark.parametrize(
    ("crop", "method", "goal", "soil_test", "pounds"),
    [
        # (0.700 − 0.044 × 5.5) × 150
        ("corn-grain", "olsen", 150.0, 5.5, 68.7),
        # (0.700 − 0.035 × 8) × 150
        ("corn-grain", "bray-p1", 150.0, 8.0, 63.0),
        # (1.071 − 0.067 × 9.5) × 60
        ("wheat", "olsen", 60.0, 9.5, 26.07),
        # (1.071 − 0.054 × 10) × 60
        ("wheat", "bray-p1", 60.0, 10.0, 31.86),
        # (1.55 − 0.14 × 5.5) × 50
        ("soybean", "olsen", 50.0, 5.5, 39.0),
        # (1.55 − 0.10 × 8) × 50
        ("soybean", "bray-p1", 50.0, 8.0, 37.5),
        ("corn-grain", "olsen", 150.0, 16.0, 0.0),
        ("corn-grain", "olsen", 150.0, 0.0, 105.0),
    ],
)
def test_equation(crop, method, goal, soil_test, pounds):
    """From memory: (k − s × test) × yield goal, never below 0."""
    assert need(crop, goal, method).in_unit(soil_test) == pytest.approx(pounds)


@pytest.mark.parametrize(
    ("crop", "method", "end"),
    [
        ("corn-grain", "olsen", 15.9),
        ("corn-grain", "bray-p1", 20.0),
        ("wheat", "olsen", 16.0),
        ("wheat", "bray-p1", 19.8),
        ("soybean", "olsen", 11.1),
        ("soybean", "bray-p1", 15.5),
    ],
)
def test_where_it_ends(crop, method, end):
    """From memory: about where the very high class begins, soybean a class before."""
    curve = need(crop, 100.0, method)

    assert round(curve.no_need_above, 1) == end
    assert curve.critical == curve.no_need_above
    assert curve.critical_source.status == "our-choice"
    assert curve.in_unit([end + 0.1, 80.0]).tolist() == [0.0, 0.0]


def test_ledger():
    """The terms stand one by one; below 0 is 0."""
    left = settled(PRINTED, method="olsen")
    corn = Season("corn-grain", 150.0, "bu/ac")

    lines = ledger(left, [corn], 5.5, pool=False, build_up=True)
    rich = ledger(left, [corn], 20.0, pool=False, build_up=True)

    assert [(line.step, line.arithmetic) for line in lines] == [
        ("by yield", "0.7 × 150 = 105.0"),
        ("by yield and soil test", "−0.044 × 150 × 5.5 = −36.3"),
        ("need at the zone's test", "105.0 − 36.3 = 68.7"),
    ]
    assert [(line.arithmetic, line.value) for line in rich[-2:]] == [
        ("105.0 − 132.0 = −27.0", -27.0),
        ("0", 0.0),
    ]


def test_metric_goal():
    """9,415 kg/ha ÷ 62.7677 kg/ha a bushel of 56 lb an acre are 149.998 bu/ac."""
    left = settled(PRINTED, method="olsen")

    line = ledger(
        left, [Season("corn-grain", 9.415, "t/ha")], 5.5, pool=False, build_up=True
    )[0]

    assert line.arithmetic == "0.7 × 149.998 = 104.9986"
    assert line.rule.endswith("; 9.415 t/ha is 149.998 bu/ac")


def test_methods():
    """Olsen and Bray P1 have their own figures; another method has none."""
    assert set(PRINTED.soil_test.methods) == {"olsen", "bray-p1"}
    with pytest.raises(
        GuidelineError,
        match=r"has no figures for soil tests by Mehlich-3, read by ICP: it has them "
        r"for Olsen \(sodium bicarbonate\) or Bray P1$",
    ):
        settled(PRINTED, method="mehlich-3-icp")
    with pytest.raises(
        GuidelineError, match=r"tells methods .* apart: choose one of ol"
    ):
        need_curve(PRINTED, [Season("wheat", 60.0, "bu/ac")], pool=False, build_up=True)


def test_not_parted():
    """An equation has no build-up to leave out."""
    left = settled(PRINTED, method="olsen")

    with pytest.raises(GuidelineError, match="does not call build-up optional"):
        need_curve(left, [Season("wheat", 60.0, "bu/ac")], pool=False, build_up=False)


def test_status():
    """Coefficients are from memory; methods and depth were read."""
    used = figures(settled(PRINTED, method="olsen"), [Season("wheat", 60.0, "bu/ac")])

    assert {one.name: one.source.status for one in used} == {
        "wheat, by yield": "from-memory",
        "wheat, by yield and soil test": "from-memory",
        "depth": "read",
    }
    assert (PRINTED.state, str(PRINTED.soil_test.depth)) == ("current", "6 in")
    assert {one.status for one in PRINTED.soil_test.methods.values()} == {"read"}
