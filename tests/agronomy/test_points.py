"""The form with points of the tests' own, against hand arithmetic."""

import re
from pathlib import Path

import pytest

from vrp.agronomy.guidelines import parse
from vrp.agronomy.need import Season, figures, ledger, need_curve
from vrp.errors import GuidelineError
from vrp.evidence import LedgerLine, Source

PAGE = Path(__file__).parents[2] / "docs" / "guideline_file.md"
EXAMPLES = re.findall(r"```toml\n(form = .*?)```", PAGE.read_text("utf-8"), re.DOTALL)
(POINTS,) = (one for one in EXAMPLES if one.startswith('form = "points"'))
WHEAT = Season("wheat", 60.0, "bu/ac")


@pytest.mark.parametrize(
    ("soil_test", "pounds"), [(-1, 80), (0, 80), (5, 70), (20, 40), (50, 10), (60, 0)]
)
def test_between_points(soil_test, pounds):
    """80 at 0, 40 at 20 and 0 at 60 lb/ac: 70 at 5 and 10 at 50; the ledger agrees."""
    own = parse(POINTS, "mine.toml")
    curve = need_curve(own, [WHEAT], pool=False, build_up=True)

    last = ledger(own, [WHEAT], float(soil_test), pool=False, build_up=True)[-1]

    assert curve.in_unit(float(soil_test)) == pytest.approx(pounds)
    assert last.value == pytest.approx(pounds)


def test_last_rate_ends():
    """A last point that is not 0 is reached from below; from it on there is no need."""
    own = parse(POINTS.replace("[80, 40, 0]", "[80, 40, 20]"), "mine.toml")

    curve = need_curve(own, [WHEAT], pool=False, build_up=True)

    assert curve.in_unit([59.999, 60.0]) == pytest.approx([20.0, 0.0], abs=1e-3)
    assert curve.no_need_above == 60.0


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("[0, 20, 60]", "[5, 20, 60]", "points: tests must begin at 0, got 5"),
        ("[0, 20, 60]", "[0, 60, 20]", "points: tests must rise, got 60 before 20"),
        ("[80, 40, 0]", "[80, 90, 0]", "must not rise .* got 90 after 80"),
        ("[80, 40, 0]", "[80, 0]", "values: one rate for each of the 3 tests, got 2"),
        (
            'test_unit = "lb/ac"',
            'test_unit = "ppm"',
            "points.test_unit: must be in lb/ac, got 'ppm'",
        ),
    ],
)
def test_refused(old, new, message):
    """Points that do not follow each other are refused."""
    assert old in POINTS

    with pytest.raises(GuidelineError, match=f"^mine.toml: .*{message}"):
        parse(POINTS.replace(old, new, 1), "mine.toml")


END, POUNDS, PRINTED = "need at the zone's test", "lb P2O5/ac", Source("read", "page 3")
NOWHERE = Source("our-choice", "nothing is printed")
STRAIGHT = "between two printed soil tests the rate lies on the straight line"


@pytest.mark.parametrize(
    ("soil_test", "both", "arithmetic", "value"),
    [
        (
            5.0,
            "soil test 0: 80; soil test 20: 40",
            "80 − (5 − 0) × (80 − 40) / (20 − 0) = 70.0",
            70.0,
        ),
        (
            0.5,
            "soil test 0: 80; soil test 20: 40",
            "80 − (0.5 − 0) × (80 − 40) / (20 − 0) = 79.0",
            79.0,
        ),
        # A printed soil test begins the stretch above it.
        (
            20.0,
            "soil test 20: 40; soil test 60: 0",
            "40 − (20 − 20) × (40 − 0) / (60 − 20) = 40.0",
            40.0,
        ),
        # 40 − 13.33333 = 26.66667; what an estimate finds below nothing is nothing.
        (
            33.33333,
            "soil test 20: 40; soil test 60: 0",
            "40 − (33.3333 − 20) × (40 − 0) / (60 − 20) = 26.66667",
            26.66667,
        ),
        (
            -1.0,
            "soil test 0: 80; soil test 20: 40",
            "80 − (0 − 0) × (80 − 40) / (20 − 0) = 80.0",
            80.0,
        ),
    ],
)
def test_ledger_between_points(soil_test, both, arithmetic, value):
    """The points on both sides, then the straight line between them."""
    own = parse(POINTS, "mine.toml")

    assert ledger(own, [WHEAT], soil_test, pool=False, build_up=True) == (
        LedgerLine(
            "printed points",
            both,
            None,
            POUNDS,
            "Wheat: the printed points on both sides, whatever the yield",
            PRINTED,
        ),
        LedgerLine(END, arithmetic, value, POUNDS, STRAIGHT, NOWHERE),
    )


@pytest.mark.parametrize(
    ("soil_test", "said"), [(60.0, "60 ≥ 60"), (75.5, "75.5 ≥ 60")]
)
def test_ledger_from_the_last_point_on(soil_test, said):
    """From the last printed soil test on nothing is needed."""
    own, rule = parse(POINTS, "mine.toml"), "no need from the last printed soil test on"

    assert ledger(own, [WHEAT], soil_test, pool=False, build_up=True) == (
        LedgerLine("printed points", said, 60.0, "lb/ac", rule, PRINTED),
        LedgerLine(END, "0", 0.0, POUNDS, rule, PRINTED),
    )


def test_later_seasons_are_named():
    """Two later seasons add nothing, by the guideline's rule, before the need."""
    own = parse(POINTS, "mine.toml")

    found = ledger(own, [WHEAT] * 3, 5.0, pool=True, build_up=True)

    assert [one.step for one in found] == ["printed points", "later season", END]
    assert found[1] == LedgerLine(
        "later season",
        "wheat, wheat: not added",
        0.0,
        POUNDS,
        "one season at a time",
        NOWHERE,
    )
    assert [
        [one.step for one in ledger(own, seasons, 5.0, pool=pool, build_up=True)]
        for seasons, pool in (([WHEAT], True), ([WHEAT] * 3, False))
    ] == [["printed points", END]] * 2


def test_curve_of_points():
    """Each stretch is named by its ends and begins with its lower one."""
    own = parse(POINTS, "mine.toml")
    need = need_curve(own, [WHEAT], pool=False, build_up=True)

    assert [need.word(test) for test in (0.0, 19.9, 20.0, 59.9, 60.0)] == [
        "0 to 20 lb/ac",
        "0 to 20 lb/ac",
        "20 to 60 lb/ac",
        "20 to 60 lb/ac",
        "60 lb/ac and more",
    ]
    assert (need.critical, need.critical_source, need.pooled) == (60.0, PRINTED, 0)
    assert (need.unit, need.soil_test_unit, need.closed) == ("lb/ac", "lb/ac", "left")
    assert need.pooling == ""
    pooled = need_curve(own, [WHEAT] * 2, pool=True, build_up=True)
    assert pooled.pooling == "one season at a time"


def test_points_keep_build_up():
    """Printed rates are not parted into removal and build-up."""
    own = parse(POINTS, "mine.toml")

    with pytest.raises(GuidelineError) as refused:
        need_curve(own, [WHEAT], pool=False, build_up=False)

    assert str(refused.value) == (
        "'An invented guideline' does not call build-up optional: leave it on"
    )


def test_figures_of_points():
    """Critical level, points, the rule between them and the depth, as printed."""
    own = parse(POINTS, "mine.toml")

    assert [(one.name, one.printed) for one in figures(own, [WHEAT])] == [
        ("critical level", "60 lb/ac"),
        (
            "wheat, points",
            "80 at 0, 40 at 20, 0 at 60 lb/ac, lb P2O5/ac",
        ),
        ("between points", STRAIGHT),
        ("depth", "6 in"),
    ]


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        (
            'critical = { value = 60, unit = "lb/ac"',
            'critical = { value = 60, unit = "ppm"',
            "crops.wheat.critical: must be in lb/ac, got 'ppm'",
        ),
        (
            'values = [80, 40, 0], unit = "lb P2O5/ac"',
            'values = [80, 40, 0], unit = "kg P2O5/ha"',
            "crops.wheat.points: must be in lb P2O5/ac, got 'kg P2O5/ha'",
        ),
    ],
)
def test_what_does_not_fit_is_told(old, new, message):
    """The key, what it must be, and what it is."""
    assert old in POINTS

    with pytest.raises(GuidelineError) as refused:
        parse(POINTS.replace(old, new, 1), "mine.toml")

    assert str(refused.value) == f"mine.toml: {message}"
