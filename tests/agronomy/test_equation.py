"""The form with figures of the tests' own, against hand arithmetic."""

import re
from pathlib import Path

import pytest

from vrp.agronomy.guidelines import parse, settled
from vrp.agronomy.need import Season, figures, ledger, need_curve
from vrp.errors import GuidelineError

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
