"""Units of a soil test."""

import numpy as np
import pytest

from vrp.agronomy.soil_test import in_unit
from vrp.errors import InputError


@pytest.mark.parametrize(
    ("value", "unit", "wanted", "expected"),
    [
        (60.0, "lb/ac", "ppm", 30.0),
        (22.0, "mg/kg", "ppm", 22.0),
        (22.0, "ppm", "ppm", 22.0),
        (22.0, "mg/L", "mg/L", 22.0),
        (30.0, "ppm", "lb/ac", 60.0),
    ],
)
def test_unit(value, unit, wanted, expected):
    """60 lb/ac is 30 ppm whatever the depth (Ohio State University); ppm is mg/kg."""
    assert in_unit([value], unit, wanted=wanted, place="s.csv") == [expected]


def test_missing():
    """A missing test stays missing."""
    found = in_unit([np.nan, 4.0], "lb/ac", wanted="ppm", place="s.csv")

    assert np.isnan(found).tolist() == [True, False]


@pytest.mark.parametrize(
    ("unit", "wanted"), [("mg/L", "ppm"), ("ppm", "mg/L"), ("lb/ac", "mg/L")]
)
def test_volume_is_not_mass(unit, wanted):
    """A test by volume of soil is never converted to one by mass."""
    message = rf"^s.csv: the soil test is in {unit} .* uses {wanted} .*not converted"
    with pytest.raises(InputError, match=message):
        in_unit([20.0], unit, wanted=wanted, place="s.csv")


@pytest.mark.parametrize(
    ("unit", "wanted", "said"),
    [
        (
            "mg/L",
            "ppm",
            "mg/L (by volume of soil), the guideline uses ppm (by mass of soil): the "
            "two are not converted; ask the laboratory for ppm, or choose a guideline "
            "that uses mg/L",
        ),
        (
            "lb/ac",
            "mg/L",
            "lb/ac (by mass of soil), the guideline uses mg/L (by volume of soil): the "
            "two are not converted; ask the laboratory for mg/L, or choose a guideline "
            "that uses lb/ac",
        ),
    ],
)
def test_volume_is_not_mass_in_a_sentence(unit, wanted, said):
    """Both units, what they count by, and the remedy stand in one sentence."""
    with pytest.raises(InputError) as refused:
        in_unit([20.0], unit, wanted=wanted, place="s.csv")

    assert str(refused.value) == f"s.csv: the soil test is in {said}"
