"""What to load for a field: what the map and its borders take, and the margin on it."""

from vrp.prescription import Prescription
from vrp.units import LB, SHORT_TON

_KG_PER_TONNE = 1000.0


def thrown(prescription: Prescription) -> float:
    """Return about what is thrown beside the zones, onto ground not driven by water."""
    return 0.0 if prescription.water is None else prescription.water.strip_product


def taken(prescription: Prescription) -> float:
    """Return the product of all passes: the map's, and what they throw beside."""
    return round(prescription.totals.zones.product + thrown(prescription), 2)


def load(prescription: Prescription) -> float:
    """Return the product of all passes with the margin that the plan asks for."""
    margin = prescription.plan.machine.margin or 0.0
    return round(taken(prescription) * (1.0 + margin / 100.0), 2)


def as_tons(product: float, unit: str) -> str | None:
    """Return product as a scale house weighs it; None for a liquid."""
    if unit == "lb":
        return f"{product * LB / SHORT_TON:,.2f} tons of 2,000 lb"
    return f"{product / _KG_PER_TONNE:,.2f} t" if unit == "kg" else None
