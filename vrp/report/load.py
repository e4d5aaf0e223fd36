"""What to load for a field: the map's product, and the plan's margin on it."""

from vrp.prescription import Prescription
from vrp.units import LB, SHORT_TON

_KG_PER_TONNE = 1000.0


def load(prescription: Prescription) -> float:
    """Return the product with the margin that the plan asks for."""
    margin = prescription.plan.machine.margin or 0.0
    return round(prescription.totals.zones.product * (1.0 + margin / 100.0), 2)


def as_tons(product: float, unit: str) -> str | None:
    """Return product as a scale house weighs it; None for a liquid."""
    if unit == "lb":
        return f"{product * LB / SHORT_TON:,.2f} tons of 2,000 lb"
    return f"{product / _KG_PER_TONNE:,.2f} t" if unit == "kg" else None
