"""Columns, classes, words and colours that files and pages share."""

import math
import re
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from vrp.evidence import shown
from vrp.prescription import Prescription, Zone

# Control characters, those that turn the direction of the text around them, and those
# without width but the two that join letters.
HIDDEN = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200b\u200e\u200f"
    "\u2028-\u202e\u2060\u2066-\u2069\ufeff]"
)

# Cividis: of its 256 published colours (0 to 255, dark to light) those between which
# straight lines stay within 3 of 255 of the others. "Optimizing colormaps with
# consideration for color vision deficiency to enable accurate interpretation of
# scientific data", PLOS ONE, 2018, https://doi.org/10.1371/journal.pone.0199239
_CIVIDIS = {
    0: "00224e",
    20: "003070",
    23: "013271",
    28: "123570",
    44: "2d416d",
    86: "585e6d",
    134: "828079",
    191: "bbad6d",
    219: "d9c55c",
    233: "e8d24f",
    251: "fde334",
    255: "fee838",
}

# Of ground where nothing is applied: light where cividis is yellow, and without hue.
NOTHING = "#dcdcdc"

# Our choice: more classes than this are no longer told apart by their colours.
MOST_CLASSES = 7

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


def soil_test_column(prescription: Prescription) -> str:
    """Return the name of the soil test's column, in the guideline's unit."""
    return _SOIL_TEST[prescription.guideline.soil_test_unit]


def columns(prescription: Prescription) -> tuple[Column, ...]:
    """Return the columns of the zones, the absent ones left out."""
    zones = prescription.zones
    return tuple(
        one
        for one in every_column(prescription)
        if any(one.of(zone) is not None for zone in zones)
    )


def every_column(prescription: Prescription) -> tuple[Column, ...]:
    """Return the columns that zones can have, the unit of each in its name."""
    area, mass = area_unit(prescription), mass_unit(prescription)
    rate, test = f"{mass}/{area}", prescription.guideline.soil_test_unit
    total, spread = product_unit(prescription), product_rate_unit(prescription)
    suffix = f"{mass}_{area}"
    return (
        Column("zone", "number of the zone", "", "number", 0),
        Column(f"area_{area}", "geodesic area", area, "area", 5),
        Column("stp_class", "class by the guideline", "", "soil_class", None),
        Column(
            soil_test_column(prescription),
            "soil test of the zone",
            test,
            "soil_test",
            2,
        ),
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


@dataclass(frozen=True, slots=True)
class RateClass:
    """Rates above `low` and up to `high`, drawn alike; all classes take in any rate."""

    low: float
    high: float
    label: str
    colour: str

    def holds(self, rate: float) -> bool:
        """Return whether a rate is of this class."""
        return self.low < rate <= self.high


def cividis(lightness: float) -> str:
    """Return a colour of the scale, from 0, the dark end, to 1, the light one."""
    positions = list(_CIVIDIS)
    channels = np.array([list(bytes.fromhex(one)) for one in _CIVIDIS.values()])
    at = 255.0 * lightness
    mixed = [round(float(np.interp(at, positions, each))) for each in channels.T]
    return f"#{bytes(mixed).hex()}"


def rate_classes(prescription: Prescription) -> tuple[RateClass, ...]:
    """
    Return the classes of the rate, from low to high; each holds a zone at least.

    Ground without a rate is a class of its own. Each rate is one where there are no
    more than `MOST_CLASSES`; else they are bands of one round width, which are left out
    where no zone is in them. A label names the rates that are in the class.
    """
    unit = product_rate_unit(prescription)
    rates = sorted({zone.rate for zone in prescription.zones})
    groups = _groups([rate for rate in rates if rate > 0.0])
    last = max(len(groups) - 1, 1)
    drawn = [
        (high, f"{label} {unit}", cividis(1.0 - index / last))
        for index, (high, label) in enumerate(groups)
    ]
    if rates[0] == 0.0:
        drawn.insert(0, (0.0, f"0 {unit}: nothing applied", NOTHING))
    ends = [-math.inf, *(high for high, _, _ in drawn[:-1]), math.inf]
    return tuple(
        RateClass(low, high, label, colour)
        for (low, high), (_, label, colour) in zip(pairwise(ends), drawn, strict=True)
    )


def _groups(rates: list[float]) -> list[tuple[float, str]]:
    """Return the upper end of each class, with the lowest and highest rate in it."""
    if len(rates) <= MOST_CLASSES:
        return [(rate, shown(rate, most=2)) for rate in rates]
    bands: dict[float, list[float]] = {}
    width = _width(rates[0], rates[-1])
    for rate in rates:
        high = round(width * math.ceil(round(rate / width, 9)), 2)
        bands.setdefault(high, []).append(rate)
    return [
        (high, "–".join(shown(end, most=2) for end in sorted({inside[0], inside[-1]})))
        for high, inside in bands.items()
    ]


def _width(lowest: float, highest: float) -> float:
    """Return the least round width that makes no more bands than classes are told."""
    power = math.floor(math.log10((highest - lowest) / MOST_CLASSES))
    return next(
        width
        for width in (step * 10.0**power for step in (1.0, 2.0, 2.5, 5.0, 10.0, 20.0))
        if math.ceil(round(highest / width, 9)) - math.ceil(round(lowest / width, 9))
        < MOST_CLASSES
    )
