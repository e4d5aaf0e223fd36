"""The form with points of the tests' own, against hand arithmetic."""

import re
from pathlib import Path

import pytest

from vrp.agronomy.guidelines import parse
from vrp.agronomy.need import Season, ledger, need_curve
from vrp.errors import GuidelineError

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
