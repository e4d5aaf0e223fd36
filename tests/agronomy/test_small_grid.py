"""A small grid of soil tests to rates of need and product, worked by hand."""

import numpy as np
import pytest

from vrp.agronomy.guidelines import parse
from vrp.agronomy.need import Season, need_curve
from vrp.agronomy.products import Grade

# 180 bu of corn at 0.37 lb ("New grain P and K concentration values for Illinois field
# crops", Crop, Forage and Turfgrass Management, 2019) is 66.6 lb; the limits and the
# build-up are those of the trade in Ohio. Worked by hand: below 20 ppm
# 5 × (20 − test) + 66.6, to 50 ppm 66.6, above it 0.
CITED = 'source = { status = "our-choice", where = "this test" }'


def figure(value, unit):
    """Return a figure as TOML."""
    return f'{{ value = {value}, unit = "{unit}", {CITED} }}'


OWN = f"""
form = "build-up-maintenance"
title = "A small grid"
publisher = "Nobody"
number = "1"
year = 2026
url = "https://example.org"
read_on = 2026-11-25
state = "current"
unit = "lb/ac"
build_up = {figure(5, "lb P2O5/ac per ppm")}

[pooling]
text = "none"
{CITED}

[soil_test]
unit = "ppm"
depth = {figure(8, "in")}
rounding = {{ rule = "as-is", {CITED} }}

[soil_test.methods]
mehlich-3-icp = {{ status = "our-choice", where = "this test" }}

[crops.corn-grain]
name = "Corn"
yield_unit = "bu/ac"
bushel = {figure(56, "lb/bu")}
plausible = {{ low = 60, high = 320, {CITED} }}
critical = {figure(20, "ppm")}
limit = {figure(50, "ppm")}
removal = {figure(0.37, "lb P2O5/bu")}
"""

TESTS = [[8, 12, 16, 24], [10, 14, 19, 30], [15, 20, 26, 48], [22, 35, 51, 90]]
NEEDS = [
    [126.6, 106.6, 86.6, 66.6],
    [116.6, 96.6, 71.6, 66.6],
    [91.6, 66.6, 66.6, 66.6],
    [66.6, 66.6, 0.0, 0.0],
]
# Of 0-46-0.
PRODUCT = [
    [275.2, 231.7, 188.3, 144.8],
    [253.5, 210.0, 155.7, 144.8],
    [199.1, 144.8, 144.8, 144.8],
    [144.8, 144.8, 0.0, 0.0],
]


@pytest.fixture(scope="module")
def curve():
    """Return the need of the invented guideline."""
    corn = Season("corn-grain", 180.0, "bu/ac")
    return need_curve(parse(OWN, "own"), [corn], pool=False, build_up=True)


def test_needs_and_product(curve):
    """Sixteen cells of 2.5 acres get the needs and product that a pencil gives."""
    needs = curve.in_unit(TESTS)

    assert needs == pytest.approx(np.array(NEEDS), abs=0.001)
    grade = Grade.parse("0-46-0")
    product = [[grade.product(need) for need in row] for row in needs.tolist()]
    assert np.array(product) == pytest.approx(np.array(PRODUCT), abs=0.05)
    assert 2.5 * needs.sum() == pytest.approx(2906.0, abs=0.05)


def test_uniform_beside_it(curve):
    """One rate at the mean, 27.5 ppm, gives 7 cells too little and 2 too much."""
    mean, needs = float(np.mean(TESTS)), curve.in_unit(TESTS)
    uniform = float(curve.in_unit(mean))

    assert (mean, round(uniform, 6)) == (27.5, 66.6)
    assert 40.0 * uniform == pytest.approx(2664.0)
    assert int((needs > uniform + 1e-9).sum()) == 7
    assert int((needs < uniform - 1e-9).sum()) == 2


@pytest.mark.parametrize(("test", "need"), [(20.0, 66.6), (50.0, 66.6), (51.0, 0.0)])
def test_at_the_limits(curve, test, need):
    """At a limit the ground is maintained; above the last one nothing is needed."""
    assert float(curve.in_unit(test)) == pytest.approx(need)
