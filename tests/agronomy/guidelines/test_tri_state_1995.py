"""
Build-up, maintenance and drawdown against what was read and what is remembered.

"Tri-State Fertilizer Recommendations for Corn, Soybeans, Wheat and Alfalfa", Extension
Bulletin E-2567, Michigan State, Ohio State and Purdue Universities, 1995,
https://www.extension.purdue.edu/extmedia/AY/AY-9-32.html.
"""

import pytest

from vrp.agronomy.guidelines import settled, shipped
from vrp.agronomy.need import Season, figures, ledger, need_curve
from vrp.agronomy.plan_checks import superseded

PRINTED = shipped()["tri-state-1995"]
UNITS = {"corn-silage": "ton/ac", "alfalfa": "ton/ac"}


def need(*crops):
    seasons = [Season(crop, goal, UNITS.get(crop, "bu/ac")) for crop, goal in crops]
    return need_curve(PRINTED, seasons, pool=False, build_up=True)


# From memory, and perhaps made again from the equation: Tables 13 to 15, lb P2O5/ac
# by ppm of Bray P1 and yield, to the nearest 5 lb.
REMEMBERED = {
    "corn-grain": (
        (100, 120, 140, 160, 180),
        {
            5: (85, 95, 100, 110, 115),
            10: (60, 70, 75, 85, 90),
            15: (35, 45, 50, 60, 65),
            30: (35, 45, 50, 60, 65),
            35: (20, 20, 25, 30, 35),
            40: (0, 0, 0, 0, 0),
        },
    ),
    "soybean": (
        (30, 40, 50, 60, 70),
        {
            5: (75, 80, 90, 100, 105),
            10: (50, 55, 65, 75, 80),
            15: (25, 30, 40, 50, 55),
            30: (25, 30, 40, 50, 55),
            35: (10, 15, 20, 25, 30),
            40: (0, 0, 0, 0, 0),
        },
    ),
    "wheat": (
        (50, 60, 70, 80, 90),
        {
            15: (80, 90, 95, 100, 105),
            20: (55, 65, 70, 75, 80),
            25: (30, 40, 45, 50, 55),
            40: (30, 40, 45, 50, 55),
            45: (15, 20, 20, 25, 30),
            50: (0, 0, 0, 0, 0),
        },
    ),
}


@pytest.mark.parametrize("crop", REMEMBERED)
def test_tables(crop):
    """From memory: every cell, to the nearest 5 lb, a tie either way."""
    yields, rows = REMEMBERED[crop]
    for soil_test, cells in rows.items():
        for goal, printed in zip(yields, cells, strict=True):
            found = need((crop, float(goal))).in_unit(float(soil_test))
            assert abs(found - printed) <= 2.5 + 1e-9


@pytest.mark.parametrize(
    ("crop", "critical", "limit", "zero"),
    [
        ("corn-grain", 15, 30, 40),
        ("corn-silage", 15, 30, 40),
        ("soybean", 15, 30, 40),
        ("wheat", 25, 40, 50),
        ("alfalfa", 25, 40, 50),
    ],
)
def test_levels(crop, critical, limit, zero):
    """
    Critical at 15 and 25 ppm, none from 40 and 50 ppm on (read).

    The limits, 15 ppm above critical, and the levels of silage are from memory.
    """
    curve = need((crop, 10.0))
    kept = float(curve.in_unit(limit))

    own = PRINTED.crops[crop]
    levels = (own.critical.value, own.limit.value, own.zero.value)
    assert levels == (critical, limit, zero)
    assert (curve.critical, curve.no_need_above) == (critical, zero)
    assert curve.in_unit(critical - 1.0) - kept == pytest.approx(5.0)
    assert curve.in_unit([critical, limit - 0.1]) == pytest.approx([kept, kept])
    assert curve.in_unit(limit + 2.0) == pytest.approx(0.8 * kept)
    assert curve.in_unit([zero, zero + 0.1]).tolist() == [0.0, 0.0]
    assert curve.word(limit + 2.0) == "drawdown"


@pytest.mark.parametrize(
    ("crop", "each"),
    [
        ("corn-grain", 0.37),
        ("corn-silage", 3.3),
        ("soybean", 0.80),
        ("wheat", 0.63),
        ("alfalfa", 13.0),
    ],
)
def test_removal(crop, each):
    """From memory: what a bushel or a ton takes away."""
    curve = need((crop, 10.0))

    assert curve.in_unit(curve.critical) == pytest.approx(10.0 * each)


def test_150_bushels():
    """150 bu of corn take 55 lb: "How much fertilizer will move soil test levels"."""
    assert int(need(("corn-grain", 150.0)).in_unit(20.0)) == 55


@pytest.mark.parametrize(
    ("crop", "goal", "soil_test"), [("corn-grain", 150.0, 40.1), ("wheat", 70.0, 50.1)]
)
def test_none_above(crop, goal, soil_test):
    """Nothing above 40 ppm in corn and soybean, above 50 with wheat (read)."""
    assert need((crop, goal)).in_unit(soil_test) == 0.0


@pytest.mark.parametrize("other", ["wheat", "alfalfa"])
def test_rotation(other):
    """With wheat or alfalfa corn is built up to 25 ppm, and gets none at 50 (read)."""
    curve = need(("corn-grain", 150.0), (other, 5.0))

    assert (curve.critical, curve.no_need_above) == (25.0, 50.0)
    # 55.5 + (25 − 20) × 5; from the remembered limit of 40 ppm half way down at 45.
    assert curve.in_unit([20.0, 40.0, 45.0]) == pytest.approx([80.5, 55.5, 27.75])


def test_ledger():
    """Drawdown can be followed with a pencil: 55.5 × 4 / 10."""
    corn = Season("corn-grain", 150.0, "bu/ac")

    lines = ledger(PRINTED, [corn], 36.0, pool=False, build_up=True)
    (level, none) = ledger(PRINTED, [corn], 40.0, pool=False, build_up=True)

    assert [(line.step, line.arithmetic, line.value) for line in lines] == [
        ("limit", "36 > 30", 30.0),
        ("removal", "150 × 0.37 = 55.5", 55.5),
        ("need at the zone's test", "55.5 × (40 − 36) / (40 − 30) = 22.2", 22.2),
    ]
    assert lines[-1].source.status == "from-memory"
    assert (level.step, level.arithmetic) == ("zero level", "40 ≥ 40")
    assert (none.arithmetic, none.value) == ("0", 0.0)


def test_status():
    """The levels of corn were read, but for the limit and the drawdown itself."""
    used = figures(PRINTED, [Season("corn-grain", 150.0, "bu/ac")])

    assert {one.name: one.source.status for one in used} == {
        "critical level": "read",
        "limit": "from-memory",
        "zero level": "read",
        "drawdown": "from-memory",
        "build-up": "agrees",
        "depth": "from-memory",
        "corn-grain, removal": "agrees",
    }
    assert {str(one.depth) for one in [PRINTED.soil_test]} == {"8 in"}
    assert list(PRINTED.soil_test.methods) == ["bray-p1"]


def test_superseded():
    """The edition of 2020 replaced it, which stops the machine files."""
    (found,) = superseded(PRINTED, place="tri-state-1995")

    assert (found.severity, found.code) == ("stop", "guideline-superseded")
    assert settled(PRINTED, method="bray-p1") == PRINTED
