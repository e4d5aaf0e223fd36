"""Names and units of the columns that files and pages share."""

import re
from dataclasses import dataclass

from vrp.prescription import Prescription, Zone

# Control characters, and those that turn the direction of the text around them.
HIDDEN = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028-\u202e\u2066-\u2069]")

_SOIL_TEST = {"ppm": "stp_ppm", "mg/L": "stp_mg_l", "lb/ac": "stp_lb_ac"}


@dataclass(frozen=True, slots=True)
class Column:
    """One column of the zones, in every file alike."""

    name: str
    meaning: str
    unit: str
    attribute: str
    decimals: int | None  # None: text

    def of(self, zone: Zone) -> float | int | str | None:
        """Return the zone's value."""
        value: float | int | str | None = getattr(zone, self.attribute)
        return value


def plain(text: str) -> str:
    """Return text with the characters that would steer a terminal spelled out."""
    return HIDDEN.sub(lambda found: f"\\u{ord(found[0]):04x}", text)


def area_unit(prescription: Prescription) -> str:
    """Return the plan's unit of area."""
    return "ac" if prescription.plan.units == "us" else "ha"


def mass_unit(prescription: Prescription) -> str:
    """Return the plan's unit of mass."""
    return "lb" if prescription.plan.units == "us" else "kg"


def rate_unit(prescription: Prescription) -> str:
    """Return the plan's unit of mass per area."""
    return f"{mass_unit(prescription)}/{area_unit(prescription)}"


def product_unit(prescription: Prescription) -> str:
    """Return what the product is measured in: lb, kg, gal or L."""
    return prescription.plan.measure


def product_rate_unit(prescription: Prescription) -> str:
    """Return the unit of the product's rate."""
    return f"{product_unit(prescription)}/{area_unit(prescription)}"


def rate_column(prescription: Prescription) -> str:
    """Return the name of the column that a spreader uses."""
    measure = product_unit(prescription)
    if measure == "gal":
        return "rate_gpa"
    return f"rate_{measure.lower()}_{area_unit(prescription)}"


def columns(prescription: Prescription) -> tuple[Column, ...]:
    """Return the columns of the zones, the absent ones left out."""
    area, mass = area_unit(prescription), mass_unit(prescription)
    rate, test = f"{mass}/{area}", prescription.guideline.soil_test_unit
    total, spread = product_unit(prescription), product_rate_unit(prescription)
    suffix = f"{mass}_{area}"
    every = (
        Column("zone", "number of the zone", "", "number", 0),
        Column(f"area_{area}", "geodesic area", area, "area", 5),
        Column("stp_class", "class by the guideline", "", "soil_class", None),
        Column(_SOIL_TEST[test], "soil test of the zone", test, "soil_test", 2),
        Column(
            "stp_lo", "lower end, 80 % interval of the mean", test, "soil_test_low", 2
        ),
        Column(
            "stp_hi", "upper end, 80 % interval of the mean", test, "soil_test_high", 2
        ),
        Column(
            "p_short",
            "probability that a place is below the critical level",
            "",
            "probability_short",
            2,
        ),
        Column(f"p2o5_{suffix}", "need of P2O5", rate, "need", 1),
        Column(rate_column(prescription), "rate of product", spread, "rate", 2),
        Column(f"app_{suffix}", "P2O5 that the rate carries", rate, "applied", 1),
        Column(f"n_{suffix}", "N that the rate carries", rate, "nitrogen", 1),
        Column(f"k2o_{suffix}", "K2O that the rate carries", rate, "k2o", 1),
        Column(f"s_{suffix}", "S that the rate carries", rate, "sulfur", 1),
        Column(f"total_{total.lower()}", "product in the zone", total, "total", 2),
        Column("note", "codes of the findings", "", "note", None),
    )
    zones = prescription.zones
    return tuple(
        one for one in every if any(one.of(zone) is not None for zone in zones)
    )
