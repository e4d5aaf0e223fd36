"""Conversion factors, each once, with its source."""

from typing import Literal

System = Literal["us", "metric"]
RateUnit = Literal["lb/ac", "kg/ha"]
YieldUnit = Literal["bu/ac", "ton/ac", "t/ha"]
SoilTestUnit = Literal["ppm", "mg/kg", "mg/L", "lb/ac"]

# International yard and pound agreement, 1959: 0.9144 m and 0.45359237 kg.
INCH = 0.0254  # [m]
FOOT = 0.3048  # [m]
ACRE = 4840 * 0.9144**2  # [m²]
HECTARE = 10_000.0  # [m²]
LB = 0.45359237  # [kg]
SHORT_TON = 2000 * LB  # [kg]
# The liquid gallon of the United States is 231 cubic inches.
GALLON = 231 * INCH**3  # [m³]

LB_AC = LB / (ACRE / HECTARE)  # [kg/ha]
GAL_AC = GALLON * 1000.0 / (ACRE / HECTARE)  # [L/ha]
KG_HA: dict[RateUnit, float] = {"lb/ac": LB_AC, "kg/ha": 1.0}

# Standard atomic weights of the elements, IUPAC, 2021, abridged: P 30.974, O 15.999.
P2O5_PER_P = (2 * 30.974 + 5 * 15.999) / (2 * 30.974)

# A soil test in lb/ac is twice the ppm whatever the depth: labs take an acre furrow
# slice as 2,000,000 lb ("Understanding soil test reports: phosphorus values", Ohio
# State University: 60 lb/ac is 30 ppm).
SOIL_LB_AC_PER_PPM = 2.0


def tonnes_per_hectare(value: float, unit: YieldUnit, bushel_lb: float | None) -> float:
    """Return a yield in t/ha; bushels need their weight [lb]."""
    if unit == "t/ha":
        return value
    kilograms = SHORT_TON if unit == "ton/ac" else (bushel_lb or float("nan")) * LB
    return value * kilograms / 1000.0 / (ACRE / HECTARE)


def soil_test_ppm_or_mg_l(
    value: float, unit: SoilTestUnit
) -> tuple[float, Literal["ppm", "mg/L"]]:
    """Return a soil test by mass [ppm] or by volume [mg/L]; the two never mix."""
    if unit == "mg/L":
        return value, "mg/L"
    return (value / SOIL_LB_AC_PER_PPM if unit == "lb/ac" else value), "ppm"
