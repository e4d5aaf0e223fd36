"""
Its table against print.

"Agronomy Guide for Field Crops", Publication 811, Ontario Ministry of Agriculture, Food
and Rural Affairs, the corn table as reprinted in 2025,
https://ontariograinfarmer.ca/?p=14066.
"""

import numpy as np
import pytest

from vrp.agronomy.guidelines import shipped
from vrp.agronomy.need import Season, need_curve

ONTARIO = shipped()["ontario-811"]

# Publication 811, Table 1: last ppm of each class, kg P2O5/ha, and lb/ac beside it.
CORN = [
    (3, 110, 99),
    (5, 100, 90),
    (7, 90, 81),
    (9, 70, 63),
    (12, 50, 45),
    (15, 20, 18),
    (20, 20, 18),
    (30, 20, 18),
    (60, 0, 0),
    (300, 0, 0),
]


def ontario(goal=180.0):
    season = Season("corn-grain", goal, "bu/ac")
    return need_curve(ONTARIO, [season], pool=False, build_up=True)


@pytest.mark.parametrize(("upper", "kilograms", "pounds"), CORN)
def test_ontario_class(upper, kilograms, pounds):
    """Each class gives its kg/ha; the lb/ac printed beside are those × 0.9."""
    assert ontario().at(float(upper)) == kilograms
    assert pounds == pytest.approx(0.9 * kilograms)


def test_ontario_edges():
    """From the next whole ppm on, rounded half up, the next class holds."""
    rates = [kilograms for _, kilograms, _ in CORN]
    edges = np.array([upper + 0.5 for upper, _, _ in CORN[:-1]])

    assert ontario().at(edges).tolist() == rates[1:]
    assert ontario().at(np.nextafter(edges, 0.0)).tolist() == rates[:-1]


def test_ontario_report():
    """The sample report: Olsen 22 ppm, 180 bu/ac, 20 kg/ha; yield changes nothing."""
    # https://ontario.ca/page/interpreting-your-soil-test-results
    assert ontario().at(22.0) == ontario(goal=250.0).at(22.0) == 20.0


def test_ontario_depth():
    """From memory: samples are of 6 in."""
    assert str(ONTARIO.soil_test.depth) == "6 in"


def test_ontario_levels():
    """The lowest rate that is not zero begins above 12 ppm, which is our critical."""
    need = ontario()

    assert (need.critical, need.critical_source.status) == (12.5, "our-choice")
    assert need.no_need_above == 30.5
    assert need.word(10.4) == "10–12 ppm"
    assert need.edges[:-1] == (3.5, 5.5, 7.5, 9.5, 12.5, 15.5, 20.5, 30.5, 60.5)
