"""The form with figures of the tests' own, against hand arithmetic."""

from pathlib import Path

import numpy as np
import pytest

from vrp.agronomy.guidelines import parse, settled
from vrp.agronomy.need import Season, figures, ledger, need_curve
from vrp.agronomy.products import Grade
from vrp.errors import GuidelineError
from vrp.evidence import LedgerLine, Source
from vrp.units import LB_AC

OWN = (Path(__file__).parent / "own.toml").read_text("utf-8")
TEST = 'source = { status = "our-choice", where = "test" }'
CORN = Season("corn", 100.0, "bu/ac")


def changed(*changes):
    """Return the tests' own guideline with lines changed."""
    text = OWN
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    return parse(text, "own.toml")


def figure(value, unit="ppm"):
    return f'{{ value = {value}, unit = "{unit}", {TEST} }}'


ZERO = ("removal = ", f"zero = {figure(60)}\nremoval = ")
DRAWDOWN = ("[pooling]", f'[drawdown]\ntext = "straight"\n{TEST}\n[pooling]')
REGIONS = (
    "[crops.corn]",
    f'[regions.north]\nname = "the north"\ncritical = {figure(10)}\n'
    f'limit = {figure(30)}\n[regions.south]\nname = "the south"\n'
    f"critical = {figure(20)}\nlimit = {figure(40)}\n[crops.corn]",
)
NO_LEVELS = (
    f"critical = {figure(20)}\nlimit = {figure(50)}\n",
    "",
)


def test_build_up_that_is_not_optional():
    """A guideline that does not call build-up optional refuses to leave it out."""
    own = parse(OWN, "own.toml")

    with pytest.raises(
        GuidelineError, match=r"^\"A guideline of the tests' own\" does"
    ):
        need_curve(own, [Season("corn", 1.0, "bu/ac")], pool=False, build_up=False)


def test_sixteen_cells():
    """Sixteen soil tests to need and product, by 5 × (20 − S) + 180 × 0.37 by hand."""
    own = parse(OWN, "own.toml")
    need = need_curve(own, [Season("corn", 180, "bu/ac")], pool=False, build_up=True)
    tests = [8, 12, 16, 24, 10, 14, 19, 30, 15, 20, 26, 48, 22, 35, 51, 90]
    rates = [126.6, 106.6, 86.6, 66.6, 116.6, 96.6, 71.6, 66.6]
    rates += [91.6, 66.6, 66.6, 66.6, 66.6, 66.6, 0.0, 0.0]
    product = [275.2, 231.7, 188.3, 144.8, 253.5, 210.0, 155.7, 144.8]
    product += [199.1, 144.8, 144.8, 144.8, 144.8, 144.8, 0.0, 0.0]

    found = need.at(tests) / LB_AC

    assert found == pytest.approx(rates)
    grade = Grade.parse("0-46-0")
    assert [round(grade.product(each), 1) for each in found] == product
    assert 2.5 * found.sum() == pytest.approx(2906.0)
    assert 40.0 * need.in_unit(np.mean(tests)) == pytest.approx(2664.0)
    assert need.in_unit([20.0, 50.0, 51.0]) == pytest.approx([66.6, 66.6, 0.0])


def test_drawdown():
    """Between limit 50 and zero 60 the rate of 37 lb falls in a straight line."""
    own = changed(ZERO, DRAWDOWN)
    need = need_curve(own, [CORN], pool=False, build_up=True)

    found = need.in_unit([49.0, 50.0, 52.5, 59.0, 60.0, 61.0])
    assert found == pytest.approx([37.0, 37.0, 27.75, 3.7, 0.0, 0.0])
    assert (need.no_need_above, need.in_unit(60.0)) == (60.0, 0.0)


def test_drawdown_of_pooled_seasons():
    """A pooled rate falls as a whole: (37 + 37) × 5 / 10."""
    years = f"pooled_years = {figure(2, 'years')}\n[drawdown]"
    own = changed(ZERO, DRAWDOWN, ("[drawdown]", years))

    lines = ledger(own, [CORN, CORN], 55.0, pool=True, build_up=True)

    assert lines[-1].arithmetic == "(37.0 + 37.0) × (60 − 55) / (60 − 50) = 37.0"
    curve = need_curve(own, [CORN, CORN], pool=True, build_up=True)
    assert curve.in_unit([50.0, 55.0]) == pytest.approx([74.0, 37.0])


def test_whole_build_up():
    """5 lb a ppm as a whole over 4 years: (20 − 10) × 5 / 4 and 37 lb of removal."""
    years = f'build_up_years = {{ values = [4], unit = "years", {TEST} }}\n[pooling]'
    own = changed(("[pooling]", years))

    need = need_curve(own, [CORN], pool=False, build_up=True)

    assert need.in_unit([10.0, 20.0]) == pytest.approx([49.5, 37.0])
    assert "build-up years" in {one.name for one in figures(own, [CORN])}


def test_removal_only():
    """Without build-up removal alone is replaced, and there is none to leave out."""
    line = next(one for one in OWN.splitlines() if one.startswith("build_up ="))
    own = changed((line, ""))

    for build_up in (True, False):
        need = need_curve(own, [CORN], pool=False, build_up=build_up)
        assert need.in_unit([5.0, 30.0, 51.0]).tolist() == [37.0, 37.0, 0.0]
        lines = ledger(own, [CORN], 5.0, pool=False, build_up=build_up)
        assert [line.step for line in lines] == [
            "critical level",
            "removal",
            "need at the zone's test",
        ]
    assert need.critical == 20.0


@pytest.mark.parametrize(("region", "below"), [("north", 10.0), ("south", 20.0)])
def test_regions(region, below):
    """Levels follow the region that the plan names."""
    own = changed(REGIONS, NO_LEVELS)
    left = settled(own, method="mehlich-3-icp", region=region)
    need = need_curve(left, [CORN], pool=False, build_up=True)

    assert (need.critical, need.no_need_above) == (below, below + 20.0)
    assert settled(left, method="mehlich-3-icp") == left


def test_regions_are_in_the_figures():
    """A region's levels are among the figures used, and where they hold is said."""
    left = settled(changed(REGIONS, NO_LEVELS), method="olsen", region="south")

    assert {one.name: one.printed for one in figures(left, [CORN])}["limit"] == "40 ppm"
    line = ledger(left, [CORN], 30.0, pool=False, build_up=True)[0]
    assert (line.arithmetic, line.rule) == ("30 ≥ 20", "for the south")


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ([ZERO], "drawdown: missing, how the rate falls to a zero level"),
        (
            [("removal = ", f"zero = {figure(50)}\nremoval = "), DRAWDOWN],
            "zero: must be above the limit of 50 ppm, got 50 ppm",
        ),
        ([REGIONS], r"crops\.corn: give critical and limit, or \[regions\] for all"),
        ([NO_LEVELS], r"crops\.corn: give critical and limit, or \[regions\] for all"),
        (
            [
                (
                    "build_up = ",
                    f'build_up_years = {{ values = [4], unit = "years", {TEST} }}\n#',
                )
            ],
            "build_up_years: needs build_up",
        ),
        (
            [
                (
                    "[pooling]",
                    f'build_up_years = {{ values = [6, 4], unit = "years", {TEST} }}'
                    "\n[pooling]",
                )
            ],
            "build_up_years: values must rise",
        ),
        (
            [
                REGIONS,
                NO_LEVELS,
                (
                    "[crops.corn]",
                    f'[rotation]\ncrops = ["corn"]\ncritical = {figure(20)}\n'
                    f"limit = {figure(50)}\n[crops.corn]",
                ),
            ],
            r"rotation: not together with \[regions\]",
        ),
        (
            [('unit = "ppm"\ndepth', 'unit = "lb/ac"\ndepth')],
            "build_up: must be in lb P2O5/ac per lb/ac, got 'lb P2O5/ac per ppm'",
        ),
    ],
)
def test_refused(changes, message):
    """Levels, years and regions that do not fit together are refused."""
    with pytest.raises(GuidelineError, match=f"^own.toml: .*{message}"):
        changed(*changes)


@pytest.mark.parametrize("soil_test", [-1.0, 0.0, 19.99, 20.0, 50.0, 50.01, 59.9, 60.0])
def test_ledger_ends_with_the_need(soil_test):
    """The last line is the need of the curve, drawdown and all."""
    own = changed(ZERO, DRAWDOWN)
    curve = need_curve(own, [CORN], pool=False, build_up=True)

    last = ledger(own, [CORN], soil_test, pool=False, build_up=True)[-1]

    assert last.value == pytest.approx(curve.in_unit(soil_test), abs=1e-6)


OTHER = 'source = { status = "read", where = "page 9" }'
OURS = Source("our-choice", "test")
UNROUNDED = Source("our-choice", "no rounding was read in the guideline")
END, POUNDS = "need at the zone's test", "lb P2O5/ac"


def line(step, arithmetic, value, rule, *, unit=POUNDS, source=OURS):
    return LedgerLine(step, arithmetic, value, unit, rule, source)


TAKEN = line("removal", "100 × 0.37 = 37.0", 37.0, "yield goal × removal")


@pytest.mark.parametrize(
    ("soil_test", "expected"),
    [
        (
            12.5,
            [
                line("critical level", "12.5 < 20", 20.0, "for corn", unit="ppm"),
                TAKEN,
                line(
                    "build-up",
                    "(20 − 12.5) × 5 = 37.5",
                    37.5,
                    "a year's part of what lifts the test to critical",
                ),
                line(END, "37.0 + 37.5 = 74.5", 74.5, "not rounded", source=UNROUNDED),
            ],
        ),
        # A test below nothing counts as nothing.
        (
            -2.0,
            [
                line("critical level", "-2 < 20", 20.0, "for corn", unit="ppm"),
                TAKEN,
                line(
                    "build-up",
                    "(20 − 0) × 5 = 100.0",
                    100.0,
                    "a year's part of what lifts the test to critical",
                ),
                line(
                    END, "37.0 + 100.0 = 137.0", 137.0, "not rounded", source=UNROUNDED
                ),
            ],
        ),
        # At critical, and at the limit, the crop is maintained.
        (
            20.0,
            [
                line("critical level", "20 ≥ 20", 20.0, "for corn", unit="ppm"),
                TAKEN,
                line(END, "37.0", 37.0, "not rounded", source=UNROUNDED),
            ],
        ),
        (
            50.0,
            [
                line("critical level", "50 ≥ 20", 20.0, "for corn", unit="ppm"),
                TAKEN,
                line(END, "37.0", 37.0, "not rounded", source=UNROUNDED),
            ],
        ),
        (
            50.5,
            [
                line(
                    "limit",
                    "50.5 > 50",
                    50.0,
                    "for corn; strictly above the limit nothing is needed",
                    unit="ppm",
                ),
                line(END, "0", 0.0, "no need above the limit"),
            ],
        ),
    ],
)
def test_ledger_line_by_line(soil_test, expected):
    """Level, removal, build-up and need, each with rule and source, by hand."""
    own = parse(OWN, "own.toml")

    lines = ledger(own, [CORN], soil_test, pool=False, build_up=True)

    assert list(lines) == expected


def test_ledger_of_a_drawdown():
    """37 × (60 − 55) / (60 − 50) = 18.5 between limit and zero; 0 from there on."""
    own = changed(ZERO, DRAWDOWN)

    falling = ledger(own, [CORN], 55.0, pool=False, build_up=True)
    above = ledger(own, [CORN], 60.0, pool=False, build_up=True)

    assert list(falling) == [
        line(
            "limit",
            "55 > 50",
            50.0,
            "for corn; from here the rate falls to 0 at 60 ppm",
            unit="ppm",
        ),
        TAKEN,
        line(END, "37.0 × (60 − 55) / (60 − 50) = 18.5", 18.5, "straight"),
    ]
    assert list(above) == [
        line(
            "zero level",
            "60 ≥ 60",
            60.0,
            "for corn; from this level on nothing is needed",
            unit="ppm",
        ),
        line(END, "0", 0.0, "no need above the zero level"),
    ]


def test_ledger_of_a_whole_build_up():
    """(20 − 10) × 5 as a whole is 12.5 a year over 4 years."""
    years = f'build_up_years = {{ values = [4], unit = "years", {TEST} }}\n[pooling]'
    own = changed(("[pooling]", years))

    lines = ledger(own, [CORN], 10.0, pool=False, build_up=True)

    assert lines[2] == line(
        "build-up",
        "(20 − 10) × 5 / 4 = 12.5",
        12.5,
        "what lifts the test to critical, over 4 years",
    )


def test_years_of_build_up_to_choose():
    """Where several times are printed, one must be chosen, and they are named."""
    years = f'build_up_years = {{ values = [4, 8], unit = "years", {TEST} }}\n[pooling]'
    own = changed(("[pooling]", years))

    with pytest.raises(GuidelineError) as refused:
        need_curve(own, [CORN], pool=False, build_up=True)

    assert str(refused.value) == (
        '"A guideline of the tests\' own" builds up over 4, 8 years: choose one of them'
    )


def test_regions_to_choose():
    """Where levels follow regions, one must be chosen, and they are named."""
    own = changed(REGIONS, NO_LEVELS)

    with pytest.raises(GuidelineError) as refused:
        need_curve(own, [CORN], pool=False, build_up=True)

    assert str(refused.value) == (
        '"A guideline of the tests\' own" tells regions apart: choose one of north, '
        "south"
    )


def test_ledger_without_build_up():
    """What is left out as asked is said, and by which rule."""
    own = changed(
        ("[pooling]", f'[build_up_optional]\ntext = "optional"\n{OTHER}\n[pooling]')
    )

    lines = ledger(own, [CORN], 12.0, pool=False, build_up=False)

    assert list(lines[2:]) == [
        line(
            "build-up",
            "0",
            0.0,
            "left out as asked; the guideline calls it optional",
            source=Source("read", "page 9"),
        ),
        line(END, "37.0", 37.0, "not rounded", source=UNROUNDED),
    ]


SMALL = Season("corn", 90.0, "bu/ac")


def pooled(soil_test, seasons, years=2):
    """Return the lines by a guideline that pools so many years."""
    text = f"pooled_years = {figure(years, 'years')}\n[pooling]"
    own = changed(("[pooling]", text))
    return list(ledger(own, seasons, soil_test, pool=True, build_up=True))


def test_ledger_of_pooled_seasons():
    """100 and 90 bu are pooled, 37 + 33.3; a third season is named and not added."""
    level, taken, later, left_out, need = pooled(30.0, [CORN, SMALL, CORN])

    assert (level.arithmetic, taken) == ("30 ≥ 20", TAKEN)
    assert later == line(
        "later season",
        "90 × 0.37 = 33.3",
        33.3,
        "corn: yield goal × removal, pooled",
    )
    assert left_out == line(
        "later season", "corn: not added", 0.0, "one season at a time"
    )
    assert need == line(
        END, "37.0 + 33.3 = 70.3", 70.3, "not rounded", source=UNROUNDED
    )


def test_nothing_is_pooled_below_critical():
    """Below critical each year gets its own rate, so both later ones are named."""
    lines = pooled(19.0, [CORN, SMALL, CORN])

    assert [one.step for one in lines] == [
        "critical level",
        "removal",
        "build-up",
        "later season",
        END,
    ]
    assert lines[3].arithmetic == "corn, corn: not added"
    assert lines[4].arithmetic == "37.0 + 5.0 = 42.0"


def test_one_season_is_not_pooled():
    """A single season, pooled or not, has no later one."""
    assert [one.step for one in pooled(30.0, [CORN])] == [
        "critical level",
        "removal",
        END,
    ]


def test_ledger_in_tonnes():
    """6.277 t/ha × 1000 / (56 × 0.45359237) × 0.40468564 are 100.004 bu/ac."""
    # 6.277 × 15.93177 = 100.0037; 100.004 × 0.37 = 37.00148.
    own = parse(OWN, "own.toml")

    lines = ledger(
        own, [Season("corn", 6.277, "t/ha")], 30.0, pool=False, build_up=True
    )

    assert lines[1] == line(
        "removal",
        "100.004 × 0.37 = 37.00148",
        37.00148,
        "yield goal × removal; 6.277 t/ha is 100.004 bu/ac",
    )


ROTATION = (
    "[crops.corn]",
    f'[rotation]\ncrops = ["corn"]\ncritical = {figure(30)}\n'
    f"limit = {figure(50)}\n[crops.corn]",
)


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        (
            [(f"critical = {figure(20)}", f"critical = {figure(20, 'lb/ac')}")],
            "crops.corn.critical: must be in ppm, got 'lb/ac'",
        ),
        (
            [(f"limit = {figure(50)}", f"limit = {figure(50, 'lb/ac')}")],
            "crops.corn.limit: must be in ppm, got 'lb/ac'",
        ),
        (
            [ZERO, DRAWDOWN, (f"zero = {figure(60)}", f"zero = {figure(60, 'lb/ac')}")],
            "crops.corn.zero: must be in ppm, got 'lb/ac'",
        ),
        (
            [(f"limit = {figure(50)}", f"limit = {figure(19)}")],
            "crops.corn.limit: must be at least the critical level of 20 ppm, got 19 "
            "ppm",
        ),
        (
            [REGIONS, NO_LEVELS, (f"limit = {figure(30)}", f"limit = {figure(9)}")],
            "regions.north.limit: must be at least the critical level of 10 ppm, got 9 "
            "ppm",
        ),
        (
            [ROTATION, (f"limit = {figure(50)}", f"limit = {figure(29)}")],
            "rotation.limit: must be at least the critical level of 30 ppm, got 29 ppm",
        ),
        (
            [ROTATION, ('crops = ["corn"]', 'crops = ["wheat"]')],
            "rotation.crops: no 'wheat' among the crops",
        ),
        (
            [('"lb P2O5/bu"', '"lb P2O5/ton"')],
            "crops.corn.removal: must be in lb P2O5/bu, got 'lb P2O5/ton'",
        ),
        (
            [("[pooling]", f"pooled_years = {figure(2)}\n[pooling]")],
            "pooled_years: must be in years, got 'ppm'",
        ),
        (
            [ZERO],
            "drawdown: missing, how the rate falls to a zero level",
        ),
        (
            [
                (
                    "build_up = ",
                    f'build_up_years = {{ values = [4], unit = "years", {TEST} }}\n#',
                )
            ],
            "build_up_years: needs build_up, which they divide",
        ),
        # Levels of its own beside those of regions, or half of them.
        (
            [REGIONS, (f"limit = {figure(50)}\n", "")],
            "crops.corn: give critical and limit, or [regions] for all",
        ),
    ],
)
def test_what_does_not_fit_is_told(changes, message):
    """The key, what it must be, and what it is."""
    with pytest.raises(GuidelineError) as refused:
        changed(*changes)

    assert str(refused.value) == f"own.toml: {message}"


def test_limit_at_the_critical_level():
    """A limit may stand at the critical level itself."""
    own = changed((f"limit = {figure(50)}", f"limit = {figure(20)}"))
    need = need_curve(own, [CORN], pool=False, build_up=True)

    assert need.in_unit([19.0, 20.0, 20.01]) == pytest.approx([42.0, 37.0, 0.0])


def test_no_drawdown_yet():
    """At the limit itself, and without a zero level, the whole removal is replaced."""
    with_zero = changed(ZERO, DRAWDOWN)
    without = changed(
        ("[pooling]", f'[drawdown]\ntext = "straight"\n{TEST}\n[pooling]')
    )

    for own, soil_test in ((with_zero, 50.0), (with_zero, 30.0), (without, 30.0)):
        last = ledger(own, [CORN], soil_test, pool=False, build_up=True)[-1]
        assert (last.arithmetic, last.rule) == ("37.0", "not rounded")
    assert "drawdown" not in {one.name for one in figures(without, [CORN])}
    assert "drawdown" in {one.name for one in figures(with_zero, [CORN])}


def test_all_seasons_are_pooled():
    """Where all are covered none is named as left out."""
    assert [one.step for one in pooled(30.0, [CORN, SMALL])] == [
        "critical level",
        "removal",
        "later season",
        END,
    ]


@pytest.mark.parametrize(("seasons", "counted"), [(1, False), (2, True), (3, True)])
def test_years_of_one_application_are_a_figure(seasons, counted):
    """How many years may be pooled counts where two are."""
    own = changed(("[pooling]", f"pooled_years = {figure(2, 'years')}\n[pooling]"))
    found = {one.name: one.printed for one in figures(own, [CORN] * seasons, pool=True)}

    assert found.get("years of one application") == ("2 years" if counted else None)
