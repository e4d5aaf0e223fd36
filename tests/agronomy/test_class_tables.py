"""The two forms with a table: what holds whatever the figures."""

import re
from dataclasses import replace
from pathlib import Path

import pytest

from vrp.agronomy.guidelines import parse, settled, shipped
from vrp.agronomy.need import Season, ledger, need_curve
from vrp.errors import GuidelineError

RB209 = shipped()["rb209-2023"]
ONTARIO = shipped()["ontario-811"]
PAGE = Path(__file__).parents[2] / "docs" / "guideline_file.md"
EXAMPLES = re.findall(r"```toml\n(form = .*?)```", PAGE.read_text("utf-8"), re.DOTALL)
ELEMENT, METHODS = (
    next(one for one in EXAMPLES if word in one)
    for word in ('element = "P"', "removal_class")
)


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
