"""
Build-up by supplying power, against what was read and what is remembered.

"Illinois Agronomy Handbook", chapter 8, University of Illinois Extension, 2009; levels
of the high region at https://www.farmprogress.com/crop-chemicals/maintaining-optimum-
nutrient-levels-critical-corn-and-soybean-growers; removal in "New grain P and K
concentration values for Illinois field crops", article 180090,
https://experts.illinois.edu/en/publications/new-grain-p-and-k-concentration-values-for-
illinois-field-crops.
"""

from importlib.resources import files

import numpy as np
import pytest

from vrp.agronomy.guidelines import parse, settled, shipped
from vrp.agronomy.need import Season, figures, ledger, need_curve
from vrp.errors import GuidelineError

PRINTED = shipped()["illinois-2009"]
TEXT = (files("vrp.agronomy") / "data" / "guidelines" / "illinois-2009.toml").read_text(
    "utf-8"
)
OLDER = parse(
    TEXT.replace("value = 0.37", "value = 0.43")
    .replace("value = 0.75", "value = 0.85")
    .replace("value = 0.46", "value = 0.90"),
    "older removal",
)


def need(crop, goal, region, guideline=PRINTED):
    left = settled(guideline, method="bray-p1", region=region)
    season = Season(crop, goal, "bu/ac")
    return need_curve(left, [season], pool=False, build_up=True)


# From memory: handbook, table 8.5, lb P2O5/ac a year by lb/ac of Bray P1, for low,
# medium and high supplying power.
REMEMBERED = {
    4: (103, 92, 81), 6: (99, 88, 76), 8: (94, 83, 72), 10: (90, 79, 68),
    12: (86, 74, 63), 14: (81, 70, 58), 16: (76, 65, 54), 18: (72, 61, 50),
    20: (68, 56, 45), 22: (63, 52, 40), 24: (58, 47, 36), 26: (54, 43, 32),
    28: (50, 38, 27), 30: (45, 34, 22), 32: (40, 29, 18), 34: (36, 25, 14),
    36: (32, 20, 9), 38: (27, 16, 4), 40: (22, 11, 0), 42: (18, 7, 0),
    44: (14, 2, 0), 45: (11, 0, 0), 46: (9, 0, 0), 48: (4, 0, 0), 50: (0, 0, 0),
}  # fmt: skip


@pytest.mark.parametrize("soil_test", REMEMBERED)
def test_table_of_build_up(soil_test):
    """From memory: table 8.5, whole pounds of build-up, half a pound either way."""
    for region, pounds in zip(
        ("low", "medium", "high"), REMEMBERED[soil_test], strict=True
    ):
        curve = need("corn-grain", 100.0, region)
        found = curve.in_unit(float(soil_test)) - curve.in_unit(curve.critical)
        assert abs(found - pounds) <= 0.5


@pytest.mark.parametrize(
    ("asked", "soil_test", "build_up", "removal"),
    [
        (("corn-grain", 140.0, "high"), 30.0, 22, 60),
        (("soybean", 40.0, "low"), 20.0, 68, 34),
        (("corn-grain", 150.0, "low"), 90.0, 0, 0),
    ],
)
def test_examples(asked, soil_test, build_up, removal):
    """From memory: handbook, examples 1 to 3, with the removal of before 2017."""
    curve = need(*asked, guideline=OLDER)

    total = curve.in_unit(soil_test)
    kept = curve.in_unit(curve.critical) if soil_test < curve.critical else 0.0
    assert abs(kept - removal) <= 0.5
    assert abs(total - kept - build_up) <= 0.5


def test_high_region():
    """High supply: build-up ends at 40 lb/ac and maintenance at 60 (read)."""
    curve = need("corn-grain", 200.0, "high")
    below, at, limit, above = curve.in_unit([39.0, 40.0, 60.0, np.nextafter(60, 99)])

    assert (curve.critical, curve.no_need_above, curve.soil_test_unit) == (
        40.0,
        60.0,
        "lb/ac",
    )
    # 9 lb a lb/ac over 4 years.
    assert (below - at, at, limit, above) == pytest.approx((2.25, 74.0, 74.0, 0.0))


@pytest.mark.parametrize(
    ("region", "critical", "limit"), [("medium", 45, 65), ("low", 50, 70)]
)
def test_other_regions(region, critical, limit):
    """From memory: 45 and 50 lb/ac, maintained for another 20."""
    curve = need("soybean", 60.0, region)

    assert (curve.critical, curve.no_need_above) == (critical, limit)


def test_none_above_70():
    """Fields above 70 lb/ac are those to leave out (release of 2004, read)."""
    assert need("corn-grain", 200.0, "low").in_unit(71.0) == 0.0


@pytest.mark.parametrize(
    ("crop", "each"), [("corn-grain", 0.37), ("soybean", 0.75), ("wheat", 0.46)]
)
def test_removal(crop, each):
    """A bushel takes 0.37 lb of corn, 0.75 of soybean, 0.46 of wheat (read)."""
    assert need(crop, 100.0, "high").in_unit(50.0) == pytest.approx(100.0 * each)


@pytest.mark.parametrize(
    ("crop", "percent"), [("corn-grain", 14), ("soybean", 12), ("wheat", 49)]
)
def test_removal_fell(crop, percent):
    """
    Corn fell by 14 and soybean by 12 % from the older removal (read).

    The 22 % printed for wheat do not fit 0.90, which is from memory: it fell by 49 %.
    """
    now, then = (one.crops[crop].removal.value for one in (PRINTED, OLDER))

    assert round(100.0 * (1.0 - now / then)) == percent


def test_ledger():
    """Build-up is shown as the whole over its years."""
    corn = Season("corn-grain", 200.0, "bu/ac")
    left = settled(PRINTED, method="bray-p1", region="high")

    lines = ledger(left, [corn], 30.16, pool=False, build_up=True)

    assert [(line.step, line.arithmetic) for line in lines] == [
        ("target", "30.16 < 40"),
        ("removal", "200 × 0.37 = 74.0"),
        ("build-up", "(40 − 30.16) × 9 / 4 = 22.14"),
        ("need at the zone's test", "74.0 + 22.14 = 96.14"),
    ]
    assert lines[0].rule == "for high supplying power"
    assert (lines[0].unit, lines[2].unit) == ("lb/ac", "lb P2O5/ac")


def test_region_is_asked_for():
    """Without a region the three are named."""
    with pytest.raises(
        GuidelineError, match=r"^need\.region is missing: .* high, medium, low$"
    ):
        settled(PRINTED, method="bray-p1")
    with pytest.raises(
        GuidelineError, match=r"^need\.region = hihg is .*'high': it has"
    ):
        settled(PRINTED, method="bray-p1", region="hihg")
    with pytest.raises(GuidelineError, match="tells regions apart: choose one of high"):
        need_curve(PRINTED, [Season("wheat", 60.0, "bu/ac")], pool=False, build_up=True)


def test_build_up_stays():
    """The handbook was not found to call build-up optional, so it is not left out."""
    left = settled(PRINTED, method="bray-p1", region="high", build_years=4)

    with pytest.raises(GuidelineError, match="does not call build-up optional"):
        need_curve(left, [Season("wheat", 60.0, "bu/ac")], pool=False, build_up=False)


def test_status():
    """What was read is told apart from what is remembered."""
    left = settled(PRINTED, method="bray-p1", region="high")
    used = figures(left, [Season("corn-grain", 200.0, "bu/ac")])

    assert {one.name: one.source.status for one in used} == {
        "target": "read",
        "limit": "agrees",
        "build-up": "agrees",
        "build-up years": "from-memory",
        "depth": "from-memory",
        "corn-grain, removal": "read",
    }
    assert (PRINTED.state, str(PRINTED.soil_test.depth)) == ("current", "7 in")
