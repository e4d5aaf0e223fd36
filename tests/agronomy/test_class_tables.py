"""The two forms with a table: what holds whatever the figures."""

import re
from dataclasses import replace
from pathlib import Path

import pytest

from vrp.agronomy.guidelines import parse, settled, shipped
from vrp.agronomy.need import Season, ledger, need_curve
from vrp.errors import GuidelineError
from vrp.evidence import LedgerLine, Source

RB209 = shipped()["rb209-2023"]
ONTARIO = shipped()["ontario-811"]
PAGE = Path(__file__).parents[2] / "docs" / "guideline_file.md"
EXAMPLES = re.findall(r"```toml\n(form = .*?)```", PAGE.read_text("utf-8"), re.DOTALL)
ELEMENT, METHODS, INDEX, PLAIN = (
    next(one for one in EXAMPLES if word in one)
    for word in (
        'element = "P"',
        "removal_class",
        "crops.winter-wheat.removed",
        "31 ppm and more",
    )
)
END = "need at the zone's test"
CITED = 'source = { status = "read", where = "page 9" }'


@pytest.mark.parametrize("guideline", [RB209, ONTARIO])
def test_tables_keep_build_up(guideline):
    """A table's rates are not parted into removal and build-up."""
    crop = next(iter(guideline.crops))
    season = Season(crop, 8.0, guideline.crops[crop].yield_unit, "left")

    with pytest.raises(GuidelineError, match="does not call build-up optional"):
        need_curve(guideline, [season], pool=False, build_up=False)


@pytest.mark.parametrize("guideline", [RB209, ONTARIO])
def test_tables_pool_nothing(guideline):
    """No rule for pooling was found, so later seasons add nothing, and it is said."""
    crop = next(iter(guideline.crops))
    season = Season(crop, 8.0, guideline.crops[crop].yield_unit, "left")
    both = [season, replace(season, yield_goal=9.0)]

    pooled = need_curve(guideline, both, pool=True, build_up=True)
    alone = need_curve(guideline, both, pool=False, build_up=True)

    assert pooled.at(5.0) == alone.at(5.0)
    assert (pooled.pooled, "later seasons add nothing" in pooled.pooling) == (0, True)


def test_methods():
    """Each method has its own classes: 12 ppm are optimum by Olsen, low by Bray P1."""
    own = parse(METHODS, "mine.toml")
    season = Season("soybean", 50.0, "bu/ac")
    olsen, bray = (
        need_curve(settled(own, method=each), [season], pool=False, build_up=True)
        for each in ("olsen", "bray-p1")
    )

    assert (olsen.word(12.0), bray.word(12.0)) == ("optimum", "low")
    # 50 × 0.73 in optimum, the printed 60 in low.
    assert (olsen.in_unit(12.0), bray.in_unit(12.0)) == pytest.approx((36.5, 60.0))
    assert (olsen.critical, bray.critical) == (9.5, 15.5)
    with pytest.raises(GuidelineError, match="tells methods of soil test apart"):
        need_curve(own, [season], pool=False, build_up=True)


def test_element():
    """Rates of P, the element, are 2.2913 times as much P2O5, once and at the end."""
    own = parse(ELEMENT, "mine.toml")
    same = parse(
        ELEMENT.replace('element = "P"', "").replace("kg P/", "kg P2O5/"), "mine.toml"
    )
    season = Season("winter-wheat", 8.0, "t/ha")
    as_p, as_p2o5 = (
        need_curve(one, [season], pool=False, build_up=True) for one in (own, same)
    )

    tests = [2.0, 5.0, 8.0, 12.0]
    # Standard atomic weights: P 30.974, O 15.999.
    factor = (2 * 30.974 + 5 * 15.999) / (2 * 30.974)
    assert as_p.in_unit(tests) == pytest.approx(factor * as_p2o5.in_unit(tests))
    assert as_p.at(2.0) == pytest.approx(factor * (45.0 + 1.5 * 3.8))
    units = [
        line.unit for line in ledger(own, [season], 2.0, pool=False, build_up=True)
    ]
    assert units == ["", "kg P/ha", "kg P/ha", "kg P/ha", "kg P2O5/ha"]


@pytest.mark.parametrize(
    ("text", "old", "new", "message"),
    [
        (ELEMENT, 'element = "P"', "", "rates: must be in kg P2O5/ha, got 'kg P/ha'"),
        (ELEMENT, "kg P/t", "kg P2O5/t", "offtake: must be in kg P/t, got 'kg P2O5/t'"),
        (
            ELEMENT,
            'classes = ["Index 4"]',
            'classes = ["4"]',
            "ph_rule.classes: no '4'",
        ),
        (
            ELEMENT,
            'classes = ["Index 3"]',
            'classes = ["3"]',
            "surplus.classes: no '3'",
        ),
        (ELEMENT, "at_or_above = 7.0", "", "give below or at_or_above"),
        (ELEMENT, "rate = 20", "rate = 20\nadd = 20", "give add or rate"),
        (
            ELEMENT,
            'crops = ["winter-wheat"]',
            'crops = ["oats"]',
            "ph_rule.crops: no 'oats' among the crops",
        ),
        (
            ELEMENT,
            'also = ["wheat"]',
            'also = ["winter-wheat"]',
            "also: 'winter-wheat' stands twice",
        ),
        (
            METHODS,
            'word = "optimum"',
            'word = "best"',
            "removal_class: no 'best' among",
        ),
        (METHODS, "removal = {", "#", "removal_class and removal go together"),
        (
            METHODS,
            "by_method.bray-p1]",
            "by_method.morgan]",
            "by_method: 'morgan' is not among soil_test.methods",
        ),
        (
            METHODS,
            "methods.bray-p1 =",
            "methods.morgan =",
            "by_method: 'bray-p1' is not among soil_test.methods",
        ),
    ],
)
def test_refused(text, old, new, message):
    """A table that does not hold together is refused."""
    assert old in text

    with pytest.raises(GuidelineError, match=f"^mine.toml: .*{message}"):
        parse(text.replace(old, new, 1), "mine.toml")


def page(number, *, status="read"):
    return Source(status, f"page {number}")


def lines(text, season, soil_test, *, method=None, later=()):
    """Return the ledger of an example of the page."""
    own = parse(text, "mine.toml")
    if method is not None:
        own = settled(own, method=method)
    seasons = [season, *later]
    return list(ledger(own, seasons, soil_test, pool=bool(later), build_up=True))


KG, ELEMENTAL, POUNDS = "kg P2O5/ha", "kg P/ha", "lb P2O5/ac"
ADJUSTED = "(yield goal − printed yield) × offtake"
NOT_AGAIN = "not rounded again, never below 0"


def test_index_table_line_by_line():
    """12.5 is 13 mg/L and low: 80 printed for 8 t, (6 − 8) × 6.5 less, so 67 kg."""
    found = lines(INDEX, Season("winter-wheat", 6.0, "t/ha", "left"), 12.5)

    assert found == [
        LedgerLine(
            "class",
            "12.5 mg/L → 13 → low",
            13.0,
            "",
            "rounded half up to a whole number, then classed",
            Source("our-choice", "classes are whole numbers"),
        ),
        LedgerLine(
            "printed rate",
            "Winter wheat, low: 80",
            80.0,
            KG,
            "printed for 8 t/ha, residue left",
            page(4),
        ),
        LedgerLine(
            "yield adjustment", "(6 − 8) × 6.5 = −13.0", -13.0, KG, ADJUSTED, page(3)
        ),
        LedgerLine(END, "80 − 13.0 = 67.0", 67.0, KG, NOT_AGAIN, page(3)),
    ]


@pytest.mark.parametrize(
    ("goal", "adjustment", "need"),
    [
        (8.0, "(8 − 8) × 7 = 0.0", "85 + 0.0 = 85.0"),
        (8.1, "(8.1 − 8) × 7 = 0.7", "85 + 0.7 = 85.7"),
    ],
)
def test_adjustment_that_takes_nothing_off(goal, adjustment, need):
    """At the printed yield and just above it nothing is taken off."""
    found = lines(INDEX, Season("winter-wheat", goal, "t/ha", "removed"), 5.0)

    assert found[1].rule == "printed for 8 t/ha, residue removed"
    assert [one.arithmetic for one in found[2:]] == [adjustment, need]


def test_above_the_target_nothing_is_adjusted():
    """26 mg/L are above the target class: the printed 0 stands, whatever the yield."""
    found = lines(INDEX, Season("winter-wheat", 12.0, "t/ha", "left"), 26.0)

    assert [(one.step, one.arithmetic, one.value) for one in found] == [
        ("class", "26 mg/L → 26 → high", 26.0),
        ("printed rate", "Winter wheat, high: 0", 0.0),
        (END, "0", 0.0),
    ]


def test_adjustment_in_bushels():
    """119 bu/ac of 60 lb are 8.003 t/ha, so 0.003 × 6.5 = 0.0195 kg are added."""
    # 119 × 60 × 0.45359237 / 0.40468564 = 8002.88 kg/ha.
    season = Season("winter-wheat", 119.0, "bu/ac", "left")

    found = ledger(RB209, [season], 5.0, pool=False, build_up=True)

    assert (found[2].arithmetic, found[2].rule) == (
        "(8.003 − 8) × 6.5 = 0.0195",
        f"{ADJUSTED}; 119 bu/ac is 8.003 t/ha",
    )
    assert (found[3].arithmetic, found[3].value) == (
        "110 + 0.0195 = 110.0195",
        110.0195,
    )


def test_element_line_by_line():
    """45 + 1.5 × 3.8 = 50.7 kg of P are 50.7 × 2.291325 = 116.1702 kg of P2O5."""
    found = lines(ELEMENT, Season("winter-wheat", 8.0, "t/ha"), 2.25)

    assert found == [
        LedgerLine(
            "class",
            "2.25 mg/L → Index 1",
            2.25,
            "",
            "as it is",
            Source("our-choice", "the Index is printed to 0.1 mg/L"),
        ),
        LedgerLine(
            "printed rate",
            "Winter wheat, Index 1: 45",
            45.0,
            ELEMENTAL,
            "printed for 6.5 t/ha",
            page(4),
        ),
        LedgerLine(
            "yield adjustment",
            "(8 − 6.5) × 3.8 = 5.7",
            5.7,
            ELEMENTAL,
            ADJUSTED,
            page(3),
        ),
        LedgerLine(
            "need as P, the element",
            "45 + 5.7 = 50.7",
            50.7,
            ELEMENTAL,
            NOT_AGAIN,
            page(3),
        ),
        # 50.7 × 141.943 / 61.948 = 116.1702
        LedgerLine(
            END,
            "50.7 × 2.291325 = 116.1702",
            116.1702,
            KG,
            "P, the element, to P2O5",
            Source("read", "standard atomic weights of the elements, IUPAC, 2021"),
        ),
    ]


def soybean(goal, unit="bu/ac"):
    return Season("soybean", goal, unit)


def test_printed_class_line_by_line():
    """5 ppm by Olsen is low: 60 lb as printed, whatever the yield."""
    assert lines(METHODS, soybean(50.0), 5.0, method="olsen") == [
        LedgerLine(
            "class",
            "5 ppm → 5 → low",
            5.0,
            "",
            "rounded half up to a whole number, then classed",
            Source("our-choice", "classes are whole numbers"),
        ),
        LedgerLine(
            "printed rate",
            "Soybean, low: 60",
            60.0,
            POUNDS,
            "whatever the yield",
            page(2),
        ),
        LedgerLine(END, "60", 60.0, POUNDS, "as printed", page(2)),
    ]


@pytest.mark.parametrize(
    ("season", "removal", "need"),
    [
        # 50 × 0.73 = 36.5 in optimum.
        (
            soybean(50.0),
            LedgerLine(
                "removal",
                "50 × 0.73 = 36.5",
                36.5,
                POUNDS,
                "yield goal × removal",
                page(3),
            ),
            LedgerLine(END, "36.5", 36.5, POUNDS, "removal in this class", page(2)),
        ),
        # 100 × 0.73 = 73 is more than the 60 of the class below.
        (
            soybean(100.0),
            LedgerLine(
                "removal",
                "100 × 0.73 = 73.0",
                73.0,
                POUNDS,
                "yield goal × removal",
                page(3),
            ),
            LedgerLine(
                END,
                "73, so 60",
                60.0,
                POUNDS,
                "removal, never above the rate of the class below",
                Source("our-choice", "no need may rise with the soil test"),
            ),
        ),
        # 3,300 kg/ha / (60 × 0.45359237) × 0.40468564 = 49.070; × 0.73 = 35.8211.
        (
            soybean(3.3, "t/ha"),
            LedgerLine(
                "removal",
                "49.07 × 0.73 = 35.8211",
                35.8211,
                POUNDS,
                "yield goal × removal; 3.3 t/ha is 49.07 bu/ac",
                page(3),
            ),
            LedgerLine(
                END, "35.8211", 35.8211, POUNDS, "removal in this class", page(2)
            ),
        ),
    ],
)
def test_class_of_removal_line_by_line(season, removal, need):
    """In the class of removal the harvest decides, up to the class below's rate."""
    assert lines(METHODS, season, 12.0, method="olsen")[1:] == [removal, need]


@pytest.mark.parametrize(
    ("soil_test", "said"),
    [
        (0.3, "0.3 ppm → 0 → low"),
        (-3.0, "-3 ppm → 0 → low"),
        (9.49, "9.49 ppm → 9 → low"),
        (9.5, "9.5 ppm → 10 → optimum"),
        (13.5, "13.5 ppm → 14 → high"),
    ],
)
def test_half_goes_up(soil_test, said):
    """A half goes up, and what an estimate finds below nothing counts as nothing."""
    assert (
        lines(METHODS, soybean(50.0), soil_test, method="olsen")[0].arithmetic == said
    )


def test_later_seasons_are_named():
    """Two later seasons add nothing, by the guideline's rule, before the need."""
    found = lines(
        METHODS,
        soybean(50.0),
        5.0,
        method="olsen",
        later=[soybean(40.0), soybean(60.0)],
    )

    assert [one.step for one in found[:2]] == ["class", "printed rate"]
    assert found[2] == LedgerLine(
        "later season",
        "soybean, soybean: not added",
        0.0,
        POUNDS,
        "one season at a time",
        Source("our-choice", "nothing is printed"),
    )
    assert found[3].step == END


def test_pooling_is_told_where_it_was_asked_for():
    """Without pooling the curve says nothing of it."""
    own = settled(parse(METHODS, "mine.toml"), method="olsen")
    asked, not_asked = (
        need_curve(own, [soybean(50.0)], pool=pool, build_up=True).pooling
        for pool in (True, False)
    )

    assert (asked, not_asked) == ("one season at a time", "")


@pytest.mark.parametrize(
    ("residue", "said"),
    [
        (
            None,
            "winter-wheat: the guideline tells residue left and removed apart; say "
            'residue = "left" or residue = "removed"',
        ),
        (
            "removed",
            "winter-wheat: the guideline has no figure for residue removed; it has one "
            "for residue left",
        ),
        (
            "left",
            "winter-wheat: the guideline has no figure for residue left; it has one "
            "for "
            "residue removed",
        ),
    ],
)
def test_fate_of_residue_without_a_row(residue, said):
    """A fate that must be told, or has no row, is refused with what there is."""
    text = INDEX
    if residue is not None:
        head, left, removed = re.split(r"(?=\[crops\.winter-wheat\.\w)", text)
        text = head + (left if residue == "removed" else removed)
    own = parse(text, "mine.toml")
    season = Season("winter-wheat", 8.0, "t/ha", residue)

    with pytest.raises(GuidelineError) as refused:
        need_curve(own, [season], pool=False, build_up=True)

    assert str(refused.value) == said


@pytest.mark.parametrize(
    ("text", "old", "new", "message"),
    [
        (
            INDEX,
            'target = { value = 16, unit = "mg/L"',
            'target = { value = 16, unit = "ppm"',
            "target: must be in mg/L, got 'ppm'",
        ),
        (
            INDEX,
            'critical = { value = 15.5, unit = "mg/L"',
            'critical = { value = 15.5, unit = "ppm"',
            "critical: must be in mg/L, got 'ppm'",
        ),
        (
            INDEX,
            'uppers = [15, 25]\nunit = "mg/L"',
            'uppers = [15, 25]\nunit = "ppm"',
            "classes: must be in mg/L, got 'ppm'",
        ),
        (
            INDEX,
            "rates = { values = [80, 50, 0]",
            "rates = { values = [80, 50]",
            "crops.winter-wheat.left.rates: one rate for each of the 3 classes, got 2",
        ),
        (
            INDEX,
            'printed_yield = { value = 8, unit = "t/ha"',
            'printed_yield = { value = 8, unit = "bu/ac"',
            "crops.winter-wheat: printed_yield: must be in t/ha, got 'bu/ac'",
        ),
        (
            METHODS,
            'uppers = [9, 13], unit = "ppm"',
            'uppers = [9, 13], unit = "mg/L"',
            "crops.soybean.by_method.olsen.classes: must be in ppm, got 'mg/L'",
        ),
        (
            METHODS,
            'critical = { value = 9.5, unit = "ppm"',
            'critical = { value = 9.5, unit = "mg/L"',
            "crops.soybean.by_method.olsen.critical: must be in ppm, got 'mg/L'",
        ),
        (
            METHODS,
            'removal = { value = 0.73, unit = "lb P2O5/bu"',
            'removal = { value = 0.73, unit = "lb P2O5/ton"',
            "crops.soybean.removal: must be in lb P2O5/bu, got 'lb P2O5/ton'",
        ),
        (
            METHODS,
            'rates = { values = [60, 40, 0], unit = "lb P2O5/ac"',
            'rates = { values = [60, 40, 0], unit = "kg P2O5/ha"',
            "crops.soybean.rates: must be in lb P2O5/ac, got 'kg P2O5/ha'",
        ),
        (
            METHODS,
            'removal_class = { word = "optimum"',
            '# removal_class = { word = "optimum"',
            "crops.soybean: removal_class and removal go together",
        ),
        # Classes of its own, whole or half, beside those by method.
        (
            METHODS,
            'removal_class = { word = "optimum"',
            f'critical = {{ value = 9.5, unit = "ppm", {CITED} }}\n'
            'removal_class = { word = "optimum"',
            "crops.soybean: give classes and critical, or by_method for each method",
        ),
        (
            METHODS,
            'removal_class = { word = "optimum"',
            f'critical = {{ value = 9.5, unit = "ppm", {CITED} }}\n'
            'classes = { words = ["low", "optimum", "high"], uppers = [9, 13], unit = '
            f'"ppm", {CITED} }}\nremoval_class = {{ word = "optimum"',
            "crops.soybean: give classes and critical, or by_method for each method",
        ),
        (
            ELEMENT,
            "at_or_above = 7.0",
            "at_or_above = 7.0\nbelow = 5.0",
            "ph_rule.0: give below or at_or_above, one of the two",
        ),
        (
            ELEMENT,
            "rate = 20",
            "# rate = 20",
            "ph_rule.0: give add or rate, one of the two",
        ),
        (
            PLAIN,
            'uppers = [12, 30], unit = "ppm"',
            'uppers = [12, 30], unit = "mg/L"',
            "crops.corn-grain.classes: must be in ppm, got 'mg/L'",
        ),
        (
            PLAIN,
            'critical = { value = 12.5, unit = "ppm"',
            'critical = { value = 12.5, unit = "mg/L"',
            "crops.corn-grain.critical: must be in ppm, got 'mg/L'",
        ),
        (
            PLAIN,
            "critical = { value = 12.5",
            "# critical = { value = 12.5",
            "crops.corn-grain: give classes and critical, or by_method for each method",
        ),
        (
            PLAIN,
            "classes = {",
            "# classes = {",
            "crops.corn-grain: give classes and critical, or by_method for each method",
        ),
    ],
)
def test_what_does_not_fit_is_told(text, old, new, message):
    """The key, what it must be, and what it is."""
    assert old in text

    with pytest.raises(GuidelineError) as refused:
        parse(text.replace(old, new, 1), "mine.toml")

    assert str(refused.value) == f"mine.toml: {message}"
