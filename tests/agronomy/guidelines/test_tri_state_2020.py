"""
Build-up and maintenance against print and against hand arithmetic.

"Tri-State Fertilizer Recommendations for Corn, Soybean, Wheat, and Alfalfa", Bulletin
974, Ohio State University Extension, 2020, https://agcrops.osu.edu/node/3478 and
https://agcrops.osu.edu/node/3486; and its fact sheet ANR-74, 2019,
https://ohioline.osu.edu/factsheet/anr-74.
"""

import numpy as np
import pytest

from vrp.agronomy.guidelines import shipped
from vrp.agronomy.need import Season, figures, ledger, need_curve
from vrp.agronomy.products import Grade
from vrp.errors import GuidelineError

TRI_STATE = shipped()["tri-state-2020"]
CORN = Season("corn-grain", 180.0, "bu/ac")
SOYBEAN = Season("soybean", 60.0, "bu/ac")
WHEAT = Season("wheat", 80.0, "bu/ac")
ALFALFA = Season("alfalfa", 5.0, "ton/ac")
SILAGE = Season("corn-silage", 20.0, "ton/ac")


def curve(*seasons, pool=False, build_up=True):
    return need_curve(TRI_STATE, seasons, pool=pool, build_up=build_up)


@pytest.mark.parametrize(
    ("season", "critical"), [(CORN, 20), (SOYBEAN, 20), (WHEAT, 30), (ALFALFA, 30)]
)
def test_critical(season, critical):
    """Build-up ends at 20 ppm for corn and soybean, 30 for wheat and alfalfa."""
    need = curve(season)
    below, at, above = need.in_unit([critical - 1.0, critical, critical + 1.0])

    assert need.critical == TRI_STATE.crops[season.crop].critical.value == critical
    assert (below - at, at - above) == pytest.approx((5.0, 0.0))


@pytest.mark.parametrize(
    ("season", "limit"), [(CORN, 40), (SOYBEAN, 40), (WHEAT, 50), (ALFALFA, 50)]
)
def test_limit(season, limit):
    """Strictly above the limit nothing is needed; at it the crop is maintained."""
    need = curve(season)
    at, above = need.in_unit([limit, np.nextafter(limit, np.inf)])

    assert at > above == 0.0
    assert need.no_need_above == TRI_STATE.crops[season.crop].limit.value == limit
    assert (need.word(limit), need.word(limit + 0.1)) == (
        "maintenance",
        "above the limit",
    )
    assert need.word(need.critical) == "maintenance"
    assert need.word(need.critical - 0.1) == "below critical"


def test_silage():
    """From memory: 20 tons of silage take 20 × 3.1 = 62 lb; critical 20, limit 40."""
    need = curve(SILAGE)

    assert (need.critical, need.no_need_above) == (20.0, 40.0)
    assert need.in_unit([18.0, 20.0, 40.0]) == pytest.approx([72.0, 62.0, 62.0])


def test_removal_and_depth():
    """From memory: a bushel of wheat takes 0.50 lb; samples are of 8 in."""
    assert curve(WHEAT).in_unit(30.0) == pytest.approx(80.0 * 0.50)
    assert str(TRI_STATE.soil_test.depth) == "8 in"
    assert str(TRI_STATE.pooled_years) == "4 years"


def test_no_need_at_41_ppm():
    """Corn needs nothing at 41 ppm: there is no drawdown band."""
    assert curve(CORN).at(41.0) == 0.0


def test_hand_arithmetic():
    """180 bu at 10 ppm: 180 × 0.35 + (20 − 10) × 5 = 113 lb; alfalfa: 5 × 12 = 60."""
    assert curve(CORN).in_unit(10.0) == pytest.approx(113.0)
    assert curve(CORN).at(10.0) == pytest.approx(113.0 * 1.120851, rel=1e-6)
    assert curve(ALFALFA).in_unit(40.0) == pytest.approx(60.0)


def test_rotation_total():
    """180 bu of corn and 60 bu of soybean take 100 to 120 lb (ANR-74)."""
    assert 100.0 <= curve(CORN, SOYBEAN, pool=True).in_unit(30.0) <= 120.0


@pytest.mark.parametrize(("grade", "product"), [("11-52-0", 210), ("18-46-0", 240)])
def test_rotation_product(grade, product):
    """The middle of those 100 to 120 lb is 210 lb of 11-52-0, 240 of 18-46-0."""
    assert round(Grade.parse(grade).product(110.0), -1) == product


@pytest.mark.parametrize("other", [WHEAT, ALFALFA])
def test_rotation_rule(other):
    """With wheat or alfalfa in the rotation corn is built up to 30 ppm."""
    need = curve(CORN, other)

    assert need.critical == 30.0
    assert need.no_need_above == 50.0
    assert need.in_unit(25.0) == pytest.approx(63.0 + 25.0)
    assert (
        "wheat or alfalfa"
        in ledger(TRI_STATE, [CORN, SOYBEAN], 25.0, pool=False, build_up=True)[0].rule
    )


def test_pooling():
    """Later seasons are added from the critical level to the limit, and not below."""
    pooled, alone = curve(CORN, SOYBEAN, pool=True), curve(CORN, SOYBEAN)
    tests = [10.0, 19.9, 20.0, 40.0, 41.0]

    difference = pooled.in_unit(tests) - alone.in_unit(tests)

    assert difference == pytest.approx([0.0, 0.0, 48.0, 48.0, 0.0])
    assert (pooled.pooled, alone.pooled) == (1, 0)
    assert "every year" in pooled.pooling


def test_pooling_ends_after_four_years():
    """One maintenance application covers up to 4 years."""
    need = curve(*[SOYBEAN] * 6, pool=True)

    assert need.in_unit(30.0) == pytest.approx(4 * 48.0)
    assert need.pooled == 3
    lines = ledger(TRI_STATE, [SOYBEAN] * 6, 30.0, pool=True, build_up=True)
    assert [line.step for line in lines].count("later season") == 4
    assert lines[-2].arithmetic == "soybean, soybean: not added"


def test_build_up_is_optional():
    """Without build-up a poor soil gets the removal alone; the bulletin allows that."""
    assert curve(CORN, build_up=False).in_unit([5.0, 30.0]) == pytest.approx([63, 63])
    lines = ledger(TRI_STATE, [CORN], 5.0, pool=False, build_up=False)
    assert [line.value for line in lines] == [20.0, 63.0, 0.0, 63.0]


def test_ledger():
    """Each line can be followed with a pencil."""
    corn = Season("corn-grain", 200.0, "bu/ac")

    lines = ledger(TRI_STATE, [corn, SOYBEAN], 14.3, pool=False, build_up=True)

    assert [(line.step, line.arithmetic, line.value, line.unit) for line in lines] == [
        ("critical level", "14.3 < 20", 20.0, "ppm"),
        ("removal", "200 × 0.35 = 70.0", 70.0, "lb P2O5/ac"),
        ("build-up", "(20 − 14.3) × 5 = 28.5", 28.5, "lb P2O5/ac"),
        ("need at the zone's test", "70.0 + 28.5 = 98.5", 98.5, "lb P2O5/ac"),
    ]
    assert [line.source.status for line in lines] == [
        "read",
        "agrees",
        "agrees",
        "our-choice",
    ]


@pytest.mark.parametrize("pool", [False, True])
@pytest.mark.parametrize("soil_test", [5.0, 19.99, 20.0, 33.0, 40.0, 40.1, 80.0])
def test_ledger_ends_with_the_need(soil_test, pool):
    """The last line is the need of the curve, in the guideline's unit."""
    lines = ledger(TRI_STATE, [CORN, SOYBEAN], soil_test, pool=pool, build_up=True)

    need = curve(CORN, SOYBEAN, pool=pool).in_unit(soil_test)
    assert lines[-1].step == "need at the zone's test"
    assert lines[-1].value == pytest.approx(need)


def test_ledger_above_the_limit():
    """Above the limit the ledger says so and ends with 0."""
    limit, need = ledger(TRI_STATE, [CORN], 40.1, pool=False, build_up=True)

    assert (limit.arithmetic, need.arithmetic, need.value) == ("40.1 > 40", "0", 0.0)


def test_yield_in_another_unit():
    """10 t/ha of corn is 159.3 bu/ac of 56 lb, and the ledger says so."""
    metric = Season("corn-grain", 10.0, "t/ha")

    # 10,000 kg/ha ÷ 62.768 kg/ha a bushel of 56 lb an acre.
    assert curve(metric).in_unit(30.0) == pytest.approx(159.32 * 0.35, rel=1e-4)
    removal = ledger(TRI_STATE, [metric], 30.0, pool=False, build_up=True)[1]
    assert removal.arithmetic == "159.318 × 0.35 = 55.7613"
    assert removal.rule.endswith("10 t/ha is 159.318 bu/ac")


@pytest.mark.parametrize(
    ("season", "message"),
    [
        (Season("corn", 1.0, "bu/ac"), r"^crop 'corn' is not in .*did you mean 'corn-"),
        (
            Season("wheat", 0.0, "bu/ac"),
            "^wheat: yield goal of 0 bu/ac must be above 0",
        ),
        (
            Season("wheat", -5.0, "bu/ac"),
            "^wheat: yield goal of -5 bu/ac must be above",
        ),
        (
            Season("wheat", float("nan"), "bu/ac"),
            "^wheat: yield goal of nan bu/ac must",
        ),
        (
            Season("alfalfa", 5.0, "bu/ac"),
            "alfalfa: .* no weight of a bushel; .*ton/ac",
        ),
    ],
)
def test_refusals(season, message):
    """What cannot be computed is refused with crop, value and remedy."""
    with pytest.raises(GuidelineError, match=message):
        curve(season)


def test_no_season():
    """A need takes at least one crop, and a soil test that is there."""
    with pytest.raises(GuidelineError, match="at least one crop"):
        curve()
    with pytest.raises(GuidelineError, match="soil test is missing"):
        ledger(TRI_STATE, [CORN], float("nan"), pool=False, build_up=True)


def test_figures():
    """The figures that a need rests on are counted once each, with their status."""
    used = {one.name: one for one in figures(TRI_STATE, [CORN, WHEAT])}

    assert used["critical level"].printed == "30 ppm"
    assert used["critical level"].source.status == "read"
    assert used["limit"].source.status == "from-memory"
    assert "wheat, removal" not in used
    assert "wheat, removal" in {
        one.name for one in figures(TRI_STATE, [CORN, WHEAT], pool=True)
    }
