"""
Its classes by method and its rates against what was read and what is remembered.

"A General Guide for Crop Nutrient and Limestone Recommendations in Iowa", PM 1688, Iowa
State University Extension and Outreach, 2013. The optimum classes:
https://crops.extension.iastate.edu/cropnews/2016/10/high-yields-low-grain-prices-manage-
phosphorus-and-potassium-wisely.
"""

import pytest

from vrp.agronomy.guidelines import settled, shipped
from vrp.agronomy.need import Season, figures, ledger, need_curve

PRINTED = shipped()["iowa-pm-1688-2013"]
METHODS = ("bray-p1", "mehlich-3-colorimetric", "mehlich-3-icp", "olsen")
WORDS = ("very low", "low", "optimum", "high", "very high")


def need(crop, goal, method):
    season = Season(crop, goal, "bu/ac")
    left = settled(PRINTED, method=method)
    return need_curve(left, [season], pool=False, build_up=True)


@pytest.mark.parametrize("crop", PRINTED.crops)
@pytest.mark.parametrize(
    ("method", "low", "high"),
    [
        ("bray-p1", 16, 20),
        ("mehlich-3-colorimetric", 16, 20),
        ("mehlich-3-icp", 26, 35),
        ("olsen", 10, 13),
    ],
)
def test_optimum(crop, method, low, high):
    """Optimum is 16 to 20, 26 to 35 or 10 to 13 ppm, by method (article of 2016)."""
    curve = need(crop, 100.0, method)

    tests = [low - 0.6, low - 0.5, float(low), float(high), high + 0.4, high + 0.5]
    assert [curve.word(test) for test in tests] == [
        "low",
        "optimum",
        "optimum",
        "optimum",
        "optimum",
        "high",
    ]
    assert (curve.critical, curve.critical_source.status) == (low - 0.5, "our-choice")


@pytest.mark.parametrize("crop", PRINTED.crops)
@pytest.mark.parametrize(
    ("method", "uppers"),
    [
        ("bray-p1", (10, 15, 20, 30)),
        ("mehlich-3-colorimetric", (10, 15, 20, 30)),
        ("mehlich-3-icp", (15, 25, 35, 45)),
        ("olsen", (5, 9, 13, 18)),
    ],
)
def test_other_limits(crop, method, uppers):
    """From memory: where very low, low and high end."""
    curve = need(crop, 100.0, method)

    # Half a ppm above the last whole one is rounded up (our choice).
    assert curve.edges[:-1] == tuple(upper + 0.5 for upper in uppers)
    assert [curve.word(float(upper)) for upper in uppers] == list(WORDS[:-1])
    assert [curve.word(upper + 1.0) for upper in uppers] == list(WORDS[1:])


@pytest.mark.parametrize(
    ("crop", "goal", "rates"),
    [("corn-grain", 180.0, (100, 75, 58, 0, 0)), ("soybean", 55.0, (80, 60, 40, 0, 0))],
)
def test_tables(crop, goal, rates):
    """From memory: Tables 3 and 4 at their usual yields, to the whole pound."""
    for method, tests in (
        ("bray-p1", (5.0, 13.0, 18.0, 25.0, 40.0)),
        ("mehlich-3-icp", (5.0, 20.0, 30.0, 40.0, 60.0)),
        ("olsen", (3.0, 7.0, 11.0, 16.0, 30.0)),
    ):
        curve = need(crop, goal, method)
        assert [round(float(each)) for each in curve.in_unit(tests)] == list(rates)
    assert PRINTED.crops[crop].rates.values == rates


def test_rate_in_optimum_is_removal():
    """Optimum gets yield × removal (read); classes below it do not follow the yield."""
    small, large = (need("corn-grain", goal, "bray-p1") for goal in (150.0, 200.0))

    # 150 × 0.32 and 200 × 0.32
    assert (small.in_unit(18.0), large.in_unit(18.0)) == pytest.approx((48.0, 64.0))
    assert small.in_unit(5.0) == large.in_unit(5.0) == 100.0


def test_removal_of_500_acres():
    """250 ac of 200 bu corn and of 50 bu soybean take over 12.5 short tons (2019)."""
    corn, soybean = (PRINTED.crops[crop].removal.value for crop in PRINTED.crops)

    tons = 250.0 * (200.0 * corn + 50.0 * soybean) / 2000.0
    assert 12.5 < tons < 13.0
    # From memory.
    assert (corn, soybean) == (0.32, 0.73)


def test_removal_never_passes_the_class_below():
    """300 bu take 96 lb, and optimum gets no more than the 75 of low (our choice)."""
    left = settled(PRINTED, method="bray-p1")
    corn = Season("corn-grain", 300.0, "bu/ac")

    lines = ledger(left, [corn], 18.0, pool=False, build_up=True)

    assert [(line.step, line.arithmetic, line.value) for line in lines] == [
        ("class", "18 ppm → 18 → optimum", 18.0),
        ("removal", "300 × 0.32 = 96.0", 96.0),
        ("need at the zone's test", "96, so 75", 75.0),
    ]
    assert lines[-1].source.status == "our-choice"


def test_ledger():
    """Optimum shows the removal, low the printed rate."""
    left = settled(PRINTED, method="olsen")
    corn = Season("corn-grain", 180.0, "bu/ac")

    optimum = ledger(left, [corn, corn], 11.4, pool=True, build_up=True)
    low = ledger(left, [corn], 7.0, pool=False, build_up=True)

    assert [line.arithmetic for line in optimum] == [
        "11.4 ppm → 11 → optimum",
        "180 × 0.32 = 57.6",
        "corn-grain: not added",
        "57.6",
    ]
    assert [line.arithmetic for line in low] == [
        "7 ppm → 7 → low",
        "Corn, grain, low: 75",
        "75",
    ]
    assert optimum[-1].source.status == "read"


def test_status():
    """The edition of 2023 replaced it; the methods and the depth were read."""
    left = settled(PRINTED, method="olsen")
    used = figures(left, [Season("corn-grain", 180.0, "bu/ac")])

    assert {one.name: one.source.status for one in used} == {
        "classes": "from-memory",
        "critical level": "our-choice",
        "depth": "read",
        "corn-grain, rates": "from-memory",
        "corn-grain, class of removal": "read",
        "corn-grain, removal": "agrees",
    }
    assert (PRINTED.state, tuple(PRINTED.soil_test.methods)) == ("superseded", METHODS)
    assert str(PRINTED.soil_test.depth) == "6 in"
