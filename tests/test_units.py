"""Conversion factors against printed ones."""

import pytest

from vrp.units import (
    ACRE,
    FOOT,
    INCH,
    LB,
    LB_AC,
    P2O5_PER_P,
    SHORT_TON,
    soil_test_ppm_or_mg_l,
    tonnes_per_hectare,
)


@pytest.mark.parametrize(
    ("factor", "printed"),
    [
        # NIST Special Publication 811, 2008, appendix B.8, from memory.
        (ACRE, 4046.856),  # international acre; the survey acre is 4046.873
        (FOOT, 0.3048),
        (INCH, 0.0254),
        (LB, 0.45359237),
        (SHORT_TON, 907.18474),
        # Common practice: 1 lb/ac is 1.12085 kg/ha.
        (LB_AC, 1.12085),
    ],
)
def test_factors(factor, printed):
    """A factor agrees with the printed one to the digits that are printed."""
    assert factor == pytest.approx(printed, rel=3e-6)


def test_phosphorus_to_p2o5():
    """P is 43.64 % of P2O5, and P × 2.29 is P2O5 (common practice)."""
    assert round(P2O5_PER_P, 2) == 2.29
    assert round(100.0 / P2O5_PER_P, 2) == 43.64


@pytest.mark.parametrize(
    ("value", "unit", "bushel", "expected"),
    [
        # By hand: 200 × 56 lb = 11,200 lb/ac × 1.12085 = 12.5535 t/ha; 60 × 60 lb.
        (200.0, "bu/ac", 56.0, 12.5535),
        (60.0, "bu/ac", 60.0, 4.03506),
        (8.0, "ton/ac", None, 17.9336),
        (8.0, "t/ha", None, 8.0),
    ],
)
def test_yields(value, unit, bushel, expected):
    """Bushels weigh what their crop's weigh; a ton of an acre is a short ton."""
    assert tonnes_per_hectare(value, unit, bushel) == pytest.approx(expected, rel=1e-5)


def test_bushels_without_weight_are_no_yield():
    """A bushel of unknown weight gives no number."""
    assert tonnes_per_hectare(200.0, "bu/ac", None) != pytest.approx(0.0)
    assert str(tonnes_per_hectare(200.0, "bu/ac", None)) == "nan"


def test_soil_tests_by_mass_and_volume():
    """60 lb/ac is 30 ppm whatever the depth; mg/kg is ppm; mg/L is neither."""
    assert soil_test_ppm_or_mg_l(60.0, "lb/ac") == (30.0, "ppm")
    assert soil_test_ppm_or_mg_l(30.0, "mg/kg") == (30.0, "ppm")
    assert soil_test_ppm_or_mg_l(30.0, "mg/L") == (30.0, "mg/L")
