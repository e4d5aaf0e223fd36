"""The map beside one rate for the whole field, and other products beside the plan's."""

from collections.abc import Collection
from dataclasses import dataclass

from vrp.evidence import row_list, shown, whole
from vrp.prescription import Amounts, Prescription, Totals
from vrp.report.page.parted import Parted, parted
from vrp.report.page.zones import Cell
from vrp.report.zoning_view import Text, worth_of_zones


@dataclass(frozen=True, slots=True)
class Sums:
    """What one way to spread takes in all."""

    need: Cell  # P2O5
    applied: Cell  # P2O5
    nitrogen: Cell
    product: Cell
    cost: Cell | None
    need_by_area: str
    applied_by_area: str
    rate: str  # mean


@dataclass(frozen=True, slots=True)
class Offer:
    """A product on the whole field."""

    grade: str
    rates: str
    total: str
    nitrogen: str
    cost: str
    cost_area: str
    price_p2o5: str


@dataclass(frozen=True, slots=True)
class Against:
    """The zones' sums beside those of one rate."""

    zones: Sums
    uniform: Sums
    composite: str
    treated: str  # area that is not excluded
    excluded: str  # area, empty where there is none
    need_low: str
    need_high: str
    product_more: str  # by zone than at one rate, with its sign
    cost_more: str
    p2o5_more: str
    less: str  # P2O5 that some zones get less than by one rate
    less_on: str
    more: str
    more_on: str
    worth: Text | None
    parted: Parted
    offers: tuple[Offer, ...]
    priced: bool


def against(prescription: Prescription) -> Against:
    """Return what the map takes, and what one rate would."""
    totals = prescription.totals
    zones, uniform = totals.zones, totals.uniform
    # Nothing is spread on excluded ground, by zone or at one rate.
    even = uniform.p2o5_applied / totals.treated_area
    # What rounds to nothing is neither more nor less.
    by_zone = {
        zone.number: (zone.applied - even) * zone.area
        for zone in prescription.zones
        if zone.excluded is None
    }
    less = {number: -moved for number, moved in by_zone.items() if moved <= -0.5}
    more = {number: moved for number, moved in by_zone.items() if moved >= 0.5}
    cost = (
        ""
        if zones.cost is None or uniform.cost is None
        else signed(zones.cost - uniform.cost)
    )
    offers = tuple(_offers(prescription))
    return Against(
        _sums(zones, totals, prescription, mean=zones.product / totals.treated_area),
        _sums(uniform, totals, prescription, mean=totals.uniform_rate),
        f"{totals.composite:.1f}",
        f"{totals.treated_area:,.1f}",
        f"{totals.excluded_area:,.1f}" if totals.excluded_area else "",
        "" if totals.need_low is None else whole(totals.need_low),
        "" if totals.need_high is None else whole(totals.need_high),
        signed(zones.product - uniform.product),
        cost,
        signed(zones.p2o5_applied - uniform.p2o5_applied),
        whole(sum(less.values())) if less else "",
        _zones(less),
        whole(sum(more.values())) if more else "",
        _zones(more),
        worth_of_zones(prescription),
        parted(prescription),
        offers,
        any(one.cost for one in offers),
    )


def _zones(numbers: Collection[int]) -> str:
    return row_list(list(numbers)).replace("row", "zone", 1)


def signed(value: float) -> str:
    """Return a difference with its sign."""
    said = whole(value)
    return said if said.startswith("−") or said == "0" else f"+{said}"


def _sums(
    amounts: Amounts, totals: Totals, prescription: Prescription, *, mean: float
) -> Sums:
    # A pound is little, a gallon is not.
    decimals = 1 if prescription.plan.measure == "gal" else 0
    rate = shown(round(mean, decimals) if mean != totals.uniform_rate else mean, most=2)
    return Sums(
        _cell("p2o5_need", amounts.p2o5_need),
        _cell("p2o5_applied", amounts.p2o5_applied),
        _cell("nitrogen", amounts.nitrogen),
        _cell("product", amounts.product),
        None if amounts.cost is None else _cell("cost", amounts.cost),
        whole(amounts.p2o5_need / totals.treated_area),
        whole(amounts.p2o5_applied / totals.treated_area),
        rate,
    )


def _cell(name: str, value: float) -> Cell:
    return Cell(name, repr(value), whole(value))


def _offers(prescription: Prescription) -> list[Offer]:
    found = []
    for one in prescription.products:
        ends = dict.fromkeys((f"{one.lowest_rate:g}", f"{one.highest_rate:g}"))
        found.append(
            Offer(
                one.grade if one.s is None else f"{one.grade}, {one.s:g} % S",
                f"{'–'.join(ends)} {one.unit}",
                f"{whole(one.total)} {one.total_unit}",
                whole(one.nitrogen),
                "" if one.cost is None else whole(one.cost),
                "" if one.cost_area is None else f"{one.cost_area:,.2f}",
                "" if one.price_p2o5 is None else f"{one.price_p2o5:,.2f}",
            )
        )
    return found
