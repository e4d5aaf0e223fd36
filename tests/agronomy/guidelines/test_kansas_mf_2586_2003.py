"""
Both ways of the edition of 2003, as remembered, against hand arithmetic.

"Soil Test Interpretations and Fertilizer Recommendations", MF-2586, Kansas State
University, 2003. No worked example of it was found; its critical level of 20 ppm was
read, and the removal of wheat, http://www.myfields.info/book/phosphorus-fertility-
management.
"""

import numpy as np
import pytest

from vrp.agronomy.guidelines import settled, shipped
from vrp.agronomy.need import Season, figures, ledger, need_curve
from vrp.errors import GuidelineError

BUILD = shipped()["kansas-mf-2586-2003-build"]
SUFFICIENCY = shipped()["kansas-mf-2586-2003-sufficiency"]


def sufficiency(crop, goal):
    season = Season(crop, goal, "bu/ac")
    return need_curve(SUFFICIENCY, [season], pool=False, build_up=True)


def build(crop, goal, years):
    left = settled(BUILD, method="bray-p1", build_years=years)
    season = Season(crop, goal, BUILD.crops[crop].yield_unit)
    return need_curve(left, [season], pool=False, build_up=True)


@pytest.mark.parametrize(
    ("crop", "goal", "soil_test", "need"),
    [
        # 50 + 0.2 × 160 − 2.5 × 10 − 0.01 × 160 × 10
        ("corn-grain", 160.0, 10.0, 41.0),
        ("corn-grain", 160.0, 0.0, 82.0),
        # 50 + 0.16 × 100 − 2.5 × 8 − 0.008 × 100 × 8
        ("grain-sorghum", 100.0, 8.0, 39.6),
        # 46 + 0.42 × 60 − 2.3 × 10 − 0.021 × 60 × 10
        ("wheat", 60.0, 10.0, 35.6),
        # The equation gives 8.2, the least rate is 15.
        ("corn-grain", 160.0, 18.0, 15.0),
        ("corn-grain", 160.0, 20.0, 0.0),
        ("wheat", 60.0, np.nextafter(20.0, 0.0), 15.0),
    ],
)
def test_sufficiency(crop, goal, soil_test, need):
    """From memory: a + bY + cS + dYS, at least 15 lb below 20 ppm, then none."""
    assert sufficiency(crop, goal).in_unit(soil_test) == pytest.approx(need)


@pytest.mark.parametrize("crop", SUFFICIENCY.crops)
def test_sufficiency_reaches_zero_at_critical(crop):
    """Remembered one by one, the coefficients give 0 at 20 ppm, which was read."""
    terms = SUFFICIENCY.crops[crop].equation

    for goal in (40.0, 100.0, 200.0):
        start = terms.base.value + terms.by_yield.value * goal
        fall = terms.by_test.value + terms.by_both.value * goal
        assert start + 20.0 * fall == pytest.approx(0.0)
    assert terms.critical.value == 20.0
    assert terms.critical.source.status == "read"


def test_sufficiency_ledger():
    """Each term has its line; the least rate is said where it holds."""
    corn = Season("corn-grain", 160.0, "bu/ac")

    at_10 = ledger(SUFFICIENCY, [corn, corn], 10.0, pool=True, build_up=True)
    at_18 = ledger(SUFFICIENCY, [corn], 18.0, pool=False, build_up=True)
    at_20 = ledger(SUFFICIENCY, [corn], 20.0, pool=False, build_up=True)

    assert [(line.step, line.arithmetic) for line in at_10] == [
        ("critical level", "10 < 20"),
        ("base", "50"),
        ("by yield", "0.2 × 160 = 32.0"),
        ("by soil test", "−2.5 × 10 = −25.0"),
        ("by yield and soil test", "−0.01 × 160 × 10 = −16.0"),
        ("later season", "corn-grain: not added"),
        ("need at the zone's test", "50.0 + 32.0 − 25.0 − 16.0 = 41.0"),
    ]
    assert [(line.arithmetic, line.value) for line in at_18[-2:]] == [
        ("50.0 + 32.0 − 45.0 − 28.8 = 8.2", 8.2),
        ("8.2, so 15", 15.0),
    ]
    assert at_18[-1].source.where.startswith("MF-2586")
    assert [line.arithmetic for line in at_20] == ["20 ≥ 20", "0"]


@pytest.mark.parametrize(("years", "need"), [(4, 97.8), (6, 82.8), (8, 75.3)])
def test_build(years, need):
    """From memory: ((20 − 10) × 18 + 160 × 0.33 × N) / N, for 160 bu at 10 ppm."""
    curve = build("corn-grain", 160.0, years)

    assert curve.in_unit(10.0) == pytest.approx(need)
    # 160 × 0.33 from 20 to 30 ppm, none above.
    assert curve.in_unit([20.0, 25.0, 30.0]) == pytest.approx([52.8] * 3)
    assert curve.in_unit([30.1, 31.0]).tolist() == [0.0, 0.0]
    assert curve.critical == 20.0


# From memory, and perhaps made again from the equation: corn over 4 years, lb P2O5/ac.
YIELDS = (60, 100, 140, 180, 220)
REMEMBERED = {
    2.5: (99, 112, 125, 138, 151),
    7.5: (76, 89, 102, 115, 129),
    12.5: (54, 67, 80, 93, 106),
    17.5: (31, 44, 57, 71, 84),
    25: (20, 33, 46, 59, 73),
}


@pytest.mark.parametrize("soil_test", REMEMBERED)
def test_build_table(soil_test):
    """From memory: the table of 4 years within a pound, 116 of it remembered as 115."""
    for goal, printed in zip(YIELDS, REMEMBERED[soil_test], strict=True):
        found = build("corn-grain", float(goal), 4).in_unit(soil_test)
        assert abs(found - printed) <= 0.75


@pytest.mark.parametrize(
    ("crop", "each"),
    [
        ("corn-grain", 0.33),
        ("corn-silage", 3.2),
        ("grain-sorghum", 0.40),
        ("wheat", 0.50),
        ("soybean", 0.80),
        ("alfalfa", 12.0),
    ],
)
def test_build_removal(crop, each):
    """From memory, but for wheat's 0.50 lb a bushel, which was read."""
    curve = build(crop, 10.0, 4)

    assert curve.in_unit(25.0) == pytest.approx(10.0 * each)
    assert (curve.critical, curve.no_need_above) == (20.0, 30.0)
    removal = BUILD.crops[crop].removal
    assert removal.source.status == ("read" if crop == "wheat" else "from-memory")


def test_years_are_asked_for():
    """The printed options are named, and others refused."""
    with pytest.raises(
        GuidelineError, match=r"^need\.build_years is missing: .*4, 6, 8$"
    ):
        settled(BUILD, method="bray-p1")
    with pytest.raises(
        GuidelineError, match=r"^need\.build_years = 5 is not in .*4, 6, 8"
    ):
        settled(BUILD, method="bray-p1", build_years=5)
    with pytest.raises(GuidelineError, match="over 4, 6, 8 years: choose one"):
        need_curve(BUILD, [Season("wheat", 60.0, "bu/ac")], pool=False, build_up=True)
    with pytest.raises(GuidelineError, match=r"^need\.build_years = 4: .* has none"):
        settled(SUFFICIENCY, method="bray-p1", build_years=4)
    with pytest.raises(GuidelineError, match=r"^need\.region = high: .* has none"):
        settled(BUILD, method="bray-p1", build_years=4, region="high")


@pytest.mark.parametrize("guideline", [BUILD, SUFFICIENCY])
def test_status(guideline):
    """A newer edition exists; method, depth and critical level were read."""
    years = 4 if guideline is BUILD else None
    left = settled(guideline, method="bray-p1", build_years=years)
    used = figures(left, [Season("corn-grain", 160.0, "bu/ac")])

    assert guideline.state == "superseded"
    assert {one.name for one in used if one.source.status == "read"} == {
        "critical level",
        "depth",
    }
    assert {one.source.status for one in used} == {"read", "from-memory"}
    assert {one.status for one in guideline.soil_test.methods.values()} == {"read"}
    assert set(guideline.soil_test.methods) == {"bray-p1", "mehlich-3-colorimetric"}
    assert str(guideline.soil_test.depth) == "6 in"
