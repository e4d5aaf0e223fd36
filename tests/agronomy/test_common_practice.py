"""Facts of common practice, quoted without a source, beside our figures."""

import pytest

from vrp.agronomy.guidelines import shipped
from vrp.agronomy.products import Grade
from vrp.agronomy.soil_test import in_unit
from vrp.units import P2O5_PER_P


def test_ppm_to_pounds():
    """Common practice: 10 ppm in a 0–6 inch test is 20 lb P, or 46 lb P2O5, an acre."""
    pounds = float(in_unit([10.0], "ppm", wanted="lb/ac", place="field")[0])

    assert pounds == 20.0
    assert pounds * 2.3 == pytest.approx(46.0)
    assert pounds * P2O5_PER_P == pytest.approx(46.0, abs=0.2)


def test_p_to_p2o5():
    """Common practice: P × 2.3 is P2O5."""
    assert round(P2O5_PER_P, 1) == 2.3


def test_corn_removal():
    """Common practice: of 127 lb P2O5 in 250 bu of corn 87 leave with the grain."""
    removal = shipped()["tri-state-2020"].crops["corn-grain"].removal

    assert 250.0 * removal.value == pytest.approx(87.0, abs=1.0)


@pytest.mark.parametrize(("grade", "percent"), [("11-52-0", 52.0), ("18-46-0", 46.0)])
def test_grades(grade, percent):
    """Common practice: these two carry 52 and 46 % P2O5."""
    assert Grade.parse(grade).p2o5 == percent
