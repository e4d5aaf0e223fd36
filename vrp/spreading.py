"""What a spreader makes of a need: the product rate that it can hold."""

import math
from dataclasses import dataclass

from vrp.agronomy.economics import priced_by
from vrp.agronomy.products import Grade, liquid_density
from vrp.plan import Plan, Product, measure
from vrp.units import RateUnit

# Of the rates of a product that another spreader would spread. Our choice.
OTHER_STEP = 0.1


@dataclass(frozen=True, slots=True)
class Spreading:
    """What the plan says of product and spreader."""

    unit: RateUnit  # of the need
    measure: str  # of the product: lb, kg, gal or L
    area: str
    square_metres_per_area: float
    grade: str
    p2o5: float  # share by weight, 0.52
    nitrogen: float  # share by weight
    step: float
    min_rate: float
    max_rate: float
    k2o: float = 0.0  # share by weight
    sulfur: float = 0.0  # share by weight
    density: float | None = None  # of a liquid [lb/gal or kg/L]
    price: float | None = None  # of one lb, kg, gal or L of product

    @classmethod
    def of(cls, plan: Plan, *, product: Product) -> "Spreading":
        """
        Return what a plan says of a product; without a step rates are whole units.

        The spreader is the plan's for products of the same form; another spreader is
        not known, and rates of the other form are in tenths, without limits.
        """
        us, machine = plan.units == "us", plan.machine
        step, low, high = machine.step or 1.0, machine.min_rate, machine.max_rate
        if product.form != plan.product.form:
            step, low, high = OTHER_STEP, 0.0, None
        grade, density = Grade.parse(product.grade, sulfur=product.s), None
        if product.form == "liquid":
            density = liquid_density(grade, product.density, system=plan.units)
        price = product.price
        if price is not None:
            price /= priced_by(product.form, system=plan.units)[0]
        return cls(
            "lb/ac" if us else "kg/ha",
            measure(plan.units, product),
            "ac" if us else "ha",
            plan.square_metres_per_area,
            product.grade,
            grade.p2o5 / 100.0,
            grade.nitrogen / 100.0,
            step,
            low,
            high or math.inf,
            grade.k2o / 100.0,
            grade.sulfur / 100.0,
            density,
            price,
        )

    @property
    def mass(self) -> str:
        """Unit of what a nutrient weighs."""
        return self.unit.split("/", maxsplit=1)[0]

    @property
    def rate_unit(self) -> str:
        """Unit of the rate, such as gal/ac."""
        return f"{self.measure}/{self.area}"

    @property
    def carries(self) -> float:
        """P2O5 in one unit of the product [lb or kg]."""
        return self.p2o5 * (self.density or 1.0)

    def carried(self, rate: float, share: float) -> float:
        """Return how much of a nutrient a rate carries, by its share [lb/ac, kg/ha]."""
        return rate * share * (self.density or 1.0)


@dataclass(frozen=True, slots=True)
class Rate:
    """A product rate that the spreader can hold, and the one that was asked."""

    exact: float
    nearest: float
    rate: float


def product_rate(need: float, spreading: Spreading) -> Rate:
    """
    Return the product rate that meets a need of P2O5, both in the plan's units.

    Half a step goes up. A rate between 0 and the spreader's lowest becomes the nearer
    of the two, the lowest when exactly between them (our choice). No need is no rate.
    Rates have two decimals at most, as the files do.
    """
    exact = need / spreading.carries
    # The inner rounding drops what binary fractions left behind: 2.5 steps are 2.5.
    steps = math.floor(round(exact / spreading.step, 9) + 0.5)
    nearest = round(steps * spreading.step, 2)
    rate = min(nearest, spreading.max_rate)
    if need > 0.0 and rate < spreading.min_rate:
        nearer = round(exact, 9) >= spreading.min_rate / 2.0
        rate = spreading.min_rate if nearer else 0.0
    return Rate(exact, nearest, rate)


def need_met(rate: float, spreading: Spreading) -> float:
    """
    Return the need of P2O5 that leads to a rate, which the spreader can hold.

    It has as many decimals as that takes: one, as a need has, where that is enough.
    """
    exact = rate * spreading.carries
    rounded = (round(exact, decimals) for decimals in range(1, 10))
    return next(
        (need for need in rounded if product_rate(need, spreading).rate == rate), exact
    )
