"""The form with figures of the tests' own, against hand arithmetic."""

import re
from pathlib import Path

import pytest

from vrp.agronomy.guidelines import parse, settled
from vrp.agronomy.need import Season, figures, ledger, need_curve
from vrp.errors import GuidelineError
from vrp.evidence import LedgerLine, Source

PAGE = Path(__file__).parents[2] / "docs" / "guideline_file.md"
EXAMPLES = re.findall(r"```toml\n(form = .*?)```", PAGE.read_text("utf-8"), re.DOTALL)
(EQUATION,) = (one for one in EXAMPLES if one.startswith('form = "equation"'))
CORN = Season("corn-grain", 100.0, "bu/ac")
WHEAT = Season("wheat", 50.0, "bu/ac")


def changed(*changes):
    text = EQUATION
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    return parse(text, "mine.toml")


def test_example():
    """
    The page's corn by Olsen: 40 + 0.2 × 100 − 2 × 5 − 0.01 × 100 × 5 = 45 lb.

    By Bray P1 1.5 × 5 and 0.005 × 100 × 5 come off; at least 10 lb below 20 ppm.
    """
    own = changed()
    olsen, bray = (
        need_curve(settled(own, method=method), [CORN], pool=False, build_up=True)
        for method in ("olsen", "bray-p1")
    )

    assert (olsen.in_unit(5.0), bray.in_unit(5.0)) == pytest.approx((45.0, 50.0))
    # 60 − 3 S is 10 at 16.67 ppm.
    assert olsen.in_unit([16.0, 17.0, 19.9, 20.0]) == pytest.approx([12, 10, 10, 0])
    assert olsen.edges == pytest.approx((50.0 / 3.0, 20.0, float("inf")))
    # 60 − 2 S is 20 at 20 ppm: the least rate is never reached.
    assert bray.in_unit([19.9, 20.0]) == pytest.approx([20.2, 0.0])


def test_least_rate_throughout():
    """A least rate above the equation's start holds from 0 on."""
    own = changed(
        ('value = 10, unit = "lb P2O5/ac"', 'value = 90, unit = "lb P2O5/ac"')
    )
    left = settled(own, method="olsen")
    need = need_curve(left, [CORN], pool=False, build_up=True)

    assert need.in_unit([0.0, 19.9, 20.0]).tolist() == [90.0, 90.0, 0.0]
    last = ledger(left, [CORN], 5.0, pool=False, build_up=True)[-1]
    assert (last.arithmetic, last.value) == ("45.0, so 90", 90.0)


def test_one_equation_for_all_methods():
    """The page's wheat has the same for both: (1 − 0.05 × 8) × 50 = 30, 15 at least."""
    own = changed()
    for method in ("olsen", "bray-p1"):
        left = settled(own, method=method)
        need = need_curve(left, [WHEAT], pool=False, build_up=True)
        assert need.in_unit([8.0, 19.0]) == pytest.approx([30.0, 10.0])
        assert "wheat, base" not in {one.name for one in figures(left, [WHEAT])}


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ([("value = -2,", "value = 2,")], "by_test.value: must be at most 0, got 2"),
        (
            [("[crops.wheat.equation]", "[crops.wheat.by_method.morgan]")],
            "'morgan' is not among",
        ),
        (
            [("[crops.wheat.equation]", "[crops.wheat.by_method.olsen]")],
            "by_method: bray-p1 is missing, which soil_test accepts",
        ),
        ([("by_yield = { value = 1,", "# ")], r"equation: give base or by_yield"),
        (
            [('unit = "lb P2O5/bu per ppm"', 'unit = "lb P2O5/bu"')],
            "by_both: must be in lb P2O5/bu per ppm, got 'lb P2O5/bu'",
        ),
        (
            [('critical = { value = 20, unit = "ppm"', "# ")],
            "critical: missing, where the minimum ends",
        ),
    ],
)
def test_refused(changes, message):
    """An equation that rises, never ends or is for no method is refused."""
    with pytest.raises(GuidelineError, match=f"^mine.toml: .*{message}"):
        changed(*changes)


@pytest.mark.parametrize("method", ["olsen", "bray-p1"])
@pytest.mark.parametrize("soil_test", [-1.0, 0.0, 5.0, 16.7, 19.0, 20.0, 40.0])
def test_ledger_ends_with_the_need(method, soil_test):
    """The last line is the need of the curve."""
    left = settled(changed(), method=method)
    curve = need_curve(left, [CORN], pool=False, build_up=True)

    last = ledger(left, [CORN], soil_test, pool=False, build_up=True)[-1]

    assert last.value == pytest.approx(curve.in_unit(soil_test), abs=1e-6)


END, POUNDS, PRINTED = "need at the zone's test", "lb P2O5/ac", Source("read", "page 3")
UNROUNDED = Source("our-choice", "no rounding was read in the guideline")
GIVES = "what the equation gives"


def lines(season, soil_test, *, changes=(), later=(), method="olsen"):
    """Return the ledger of the page's equations."""
    own = settled(changed(*changes), method=method)
    seasons = [season, *later]
    return list(ledger(own, seasons, soil_test, pool=bool(later), build_up=True))


def term(step, arithmetic, value, rule):
    return LedgerLine(step, arithmetic, value, POUNDS, rule, PRINTED)


BY_YIELD, BY_TEST = "for each unit of yield", "for each unit of soil test"
BY_BOTH = "for each unit of yield and of soil test"


def test_ledger_line_by_line():
    """40 + 0.2 × 100 − 2 × 5 − 0.01 × 100 × 5 = 45 lb, each term by itself."""
    assert lines(CORN, 5.0) == [
        LedgerLine("critical level", "5 < 20", 20.0, "ppm", "for corn-grain", PRINTED),
        term("base", "40", 40.0, "whatever the yield"),
        term("by yield", "0.2 × 100 = 20.0", 20.0, BY_YIELD),
        term("by soil test", "−2 × 5 = −10.0", -10.0, BY_TEST),
        term("by yield and soil test", "−0.01 × 100 × 5 = −5.0", -5.0, BY_BOTH),
        LedgerLine(
            END,
            "40.0 + 20.0 − 10.0 − 5.0 = 45.0",
            45.0,
            POUNDS,
            "not rounded",
            UNROUNDED,
        ),
    ]


def test_ledger_of_the_least_rate():
    """60 − 3 × 18 = 6 lb is below the least rate of 10."""
    assert lines(CORN, 18.0)[-2:] == [
        LedgerLine(
            "equation",
            "40.0 + 20.0 − 36.0 − 18.0 = 6.0",
            6.0,
            POUNDS,
            GIVES,
            UNROUNDED,
        ),
        LedgerLine(
            END,
            "6.0, so 10",
            10.0,
            POUNDS,
            "never below the least rate under critical",
            Source("read", "page 4"),
        ),
    ]


def test_ledger_at_the_least_rate():
    """50 bu at 16 ppm: 40 + 10 − 32 − 8 is 10, the least rate itself."""
    *_, before, need = lines(Season("corn-grain", 50.0, "bu/ac"), 16.0)

    assert before.step == "by yield and soil test"
    assert (need.arithmetic, need.rule) == (
        "40.0 + 10.0 − 32.0 − 8.0 = 10.0",
        "not rounded",
    )


def test_ledger_from_the_critical_level_on():
    """At 20 ppm itself nothing is needed."""
    assert lines(CORN, 20.0) == [
        LedgerLine("critical level", "20 ≥ 20", 20.0, "ppm", "for corn-grain", PRINTED),
        LedgerLine(
            END, "0", 0.0, POUNDS, "no need from the critical level on", PRINTED
        ),
    ]


def test_ledger_of_a_test_of_nothing():
    """At 0 ppm, and below it, the terms of the soil test are 0, without a sign."""
    for soil_test in (0.0, -2.0):
        assert [one.arithmetic for one in lines(CORN, soil_test)[1:]] == [
            "40",
            "0.2 × 100 = 20.0",
            "−2 × 0 = 0.0",
            "−0.01 × 100 × 0 = 0.0",
            "40.0 + 20.0 + 0.0 + 0.0 = 60.0",
        ]


def test_ledger_of_half_a_ppm():
    """At 0.5 ppm 1.0 and 0.5 lb come off; 0.8 lb are added for 4 bu."""
    assert lines(CORN, 0.5)[-1].arithmetic == "40.0 + 20.0 − 1.0 − 0.5 = 58.5"
    small = lines(Season("corn-grain", 4.0, "bu/ac"), 0.5)[-1]
    assert small.arithmetic == "40.0 + 0.8 − 1.0 − 0.02 = 39.78"


MINIMUM = "minimum = { value = 10"
NO_LEAST = [(MINIMUM, "# minimum = { value = 10")]
CRITICAL = 'critical = { value = 20, unit = "ppm"'
OPEN = [
    *NO_LEAST,
    ("[crops.wheat.equation]", "[crops.wheat.equation] # the last"),
    (f'{CRITICAL}, source = {{ status = "read", where = "page 3" }} }}\n\n', "\n"),
]


@pytest.mark.parametrize(
    ("soil_test", "steps", "need"),
    [
        # 60 − 3 × 19.9 = 0.3, and 0 at 20 itself, which is no less than 0.
        (19.9, 4, "40.0 + 20.0 − 39.8 − 19.9 = 0.3"),
        (20.0, 4, "40.0 + 20.0 − 40.0 − 20.0 = 0.0"),
        (25.0, 5, "0"),
    ],
)
def test_ledger_without_critical_level_and_least_rate(soil_test, steps, need):
    """Without a printed level the need ends where the equation reaches 0."""
    found = lines(CORN, soil_test, changes=OPEN)

    assert len(found) == steps + 1
    assert found[-1].arithmetic == need


def test_ledger_below_nothing():
    """60 − 3 × 25 = −15: a need below 0 is none, our choice."""
    assert lines(CORN, 25.0, changes=OPEN)[-2:] == [
        LedgerLine(
            "equation",
            "40.0 + 20.0 − 50.0 − 25.0 = −15.0",
            -15.0,
            POUNDS,
            GIVES,
            UNROUNDED,
        ),
        LedgerLine(
            END,
            "0",
            0.0,
            POUNDS,
            "never below 0",
            Source("our-choice", "a need below 0 is none"),
        ),
    ]


def test_curve_without_critical_level():
    """60 − 3 S ends at 20 ppm, which is our choice of a critical level."""
    own = settled(changed(*OPEN), method="olsen")
    need = need_curve(own, [CORN], pool=False, build_up=True)

    assert need.edges == (20.0, float("inf"))
    assert need.critical == 20.0
    assert need.critical_source == Source(
        "our-choice",
        "the guideline names no critical level: where its equation reaches 0",
    )


def test_curve_of_the_page():
    """Three stretches by name, the critical level's source, and no pooling unasked."""
    own = settled(changed(), method="olsen")
    need, pooled = (
        need_curve(own, [CORN], pool=pool, build_up=True) for pool in (False, True)
    )

    assert [need.word(test) for test in (16.6, 16.7, 19.9, 20.0, 50.0)] == [
        "with need",
        "least rate",
        "least rate",
        "no need",
        "no need",
    ]
    assert (need.unit, need.soil_test_unit) == ("lb/ac", "ppm")
    assert (need.critical, need.critical_source, need.pooled) == (20.0, PRINTED, 0)
    assert (need.pooling, pooled.pooling) == ("", "one season at a time")


def test_curve_that_ends_before_its_critical_level():
    """60 − 3 S reaches 0 at 20 ppm, though 30 is called critical and no least rate."""
    own = settled(
        changed(*NO_LEAST, (CRITICAL, CRITICAL.replace("20", "30"))), method="olsen"
    )
    need = need_curve(own, [CORN], pool=False, build_up=True)

    assert need.in_unit([19.0, 20.0, 25.0, 30.0]) == pytest.approx([3.0, 0, 0, 0])
    assert (need.critical, need.edges) == (30.0, (20.0, float("inf")))


def test_later_seasons_are_named():
    """Two later seasons add nothing, by the guideline's rule, before the need."""
    found = lines(CORN, 5.0, later=[WHEAT, CORN])

    assert found[-1].step == END
    assert found[-2] == LedgerLine(
        "later season",
        "wheat, corn-grain: not added",
        0.0,
        POUNDS,
        "one season at a time",
        Source("our-choice", "nothing is printed"),
    )


def test_ledger_in_tonnes():
    """6.277 t/ha of 56 lb are 100.004 bu/ac, and it is said where yield counts."""
    found = lines(Season("corn-grain", 6.277, "t/ha"), 5.0)

    said = "; 6.277 t/ha is 100.004 bu/ac"
    assert [one.rule for one in found[2:5]] == [
        f"{BY_YIELD}{said}",
        BY_TEST,
        f"{BY_BOTH}{said}",
    ]
    assert found[2].arithmetic == "0.2 × 100.004 = 20.0008"
    # −0.01 × 100.004 × 5
    assert found[4].value == -5.0002


def test_figures_of_an_equation():
    """Every term that is printed, the least rate and the depth."""
    own = settled(changed(), method="olsen")

    assert [(one.name, one.printed) for one in figures(own, [CORN])] == [
        ("critical level", "20 ppm"),
        ("corn-grain, base", "40 lb P2O5/ac"),
        ("corn-grain, by yield", "0.2 lb P2O5/bu"),
        ("corn-grain, by soil test", "−2 lb P2O5/ac per ppm"),
        ("corn-grain, by yield and soil test", "−0.01 lb P2O5/bu per ppm"),
        ("least rate", "10 lb P2O5/ac"),
        ("depth", "6 in"),
    ]


def test_equations_keep_build_up():
    """An equation is not parted into removal and build-up."""
    own = settled(changed(), method="olsen")

    with pytest.raises(GuidelineError) as refused:
        need_curve(own, [CORN], pool=False, build_up=False)

    assert str(refused.value) == (
        "'An invented guideline' does not call build-up optional: leave it on"
    )


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        (
            'minimum = { value = 10, unit = "lb P2O5/ac"',
            'minimum = { value = 10, unit = "kg P2O5/ha"',
            "minimum: must be in lb P2O5/ac, got 'kg P2O5/ha'",
        ),
        (
            'base = { value = 40, unit = "lb P2O5/ac"',
            'base = { value = 40, unit = "kg P2O5/ha"',
            "crops.corn-grain.by_method.olsen.base: must be in lb P2O5/ac, got 'kg "
            "P2O5/ha'",
        ),
        (
            'by_yield = { value = 1, unit = "lb P2O5/bu"',
            'by_yield = { value = 1, unit = "lb P2O5/ton"',
            "crops.wheat.equation.by_yield: must be in lb P2O5/bu, got 'lb P2O5/ton'",
        ),
    ],
)
def test_what_does_not_fit_is_told(old, new, message):
    """The key, what it must be, and what it is."""
    with pytest.raises(GuidelineError) as refused:
        changed((old, new))

    assert str(refused.value) == f"mine.toml: {message}"


def test_no_equation():
    """A crop without an equation, for all methods or for each, is refused."""
    head, _, _ = EQUATION.partition("[crops.wheat.equation]")

    with pytest.raises(GuidelineError) as refused:
        parse(head, "mine.toml")

    assert str(refused.value) == (
        "mine.toml: crops.wheat: give equation, or by_method for each method"
    )


def test_equation_without_an_end():
    """A rate whatever the soil test, without a critical level, never ends."""
    head, found, tail = EQUATION.partition("[crops.wheat.equation]")
    flat = head.replace(MINIMUM, f"# {MINIMUM}") + found + tail
    for gone in ("by_both = { value = -0.05", 'critical = { value = 20, unit = "ppm"'):
        before, _, after = flat.rpartition(gone)
        flat = f"{before}# {gone}{after}"

    with pytest.raises(GuidelineError) as refused:
        parse(flat, "mine.toml")

    assert str(refused.value) == (
        "mine.toml: crops.wheat.equation: give critical, or by_test or by_both below "
        "0: "
        "else no end"
    )


def test_ledger_far_below_the_least_rate():
    """60 − 3 × 25.5 = −16.5 lb under a critical level of 30: the least rate of 10."""
    raised = (CRITICAL, CRITICAL.replace("20", "30"))

    before, need = lines(CORN, 25.5, changes=[raised])[-2:]

    assert (before.step, before.value) == ("equation", -16.5)
    assert (need.arithmetic, need.value) == ("−16.5, so 10", 10.0)


def test_ledger_of_one_term():
    """50 × 1 is the whole sum, and is not written twice."""
    found = lines(WHEAT, 5.0, changes=[("by_both = { value = -0.05", "# ")])

    assert [one.arithmetic for one in found] == ["5 < 20", "1 × 50 = 50.0", "50.0"]


def test_later_seasons_that_are_not_pooled():
    """Without pooling nothing is said of later seasons, nor with none of them."""
    own = settled(changed(), method="olsen")

    for seasons, pool in (([CORN, WHEAT], False), ([CORN], True)):
        found = ledger(own, seasons, 5.0, pool=pool, build_up=True)
        assert "later season" not in {one.step for one in found}
