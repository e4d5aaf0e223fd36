"""The plan's product and those to compare with it, on the whole field."""

from collections.abc import Sequence

from vrp.agronomy.economics import price_of_p2o5, priced_by
from vrp.agronomy.products import Grade
from vrp.errors import InputError
from vrp.plan import Plan, Product
from vrp.prescription import ProductFacts, Zone
from vrp.spreading import Spreading, product_rate


def products(plan: Plan, zones: Sequence[Zone]) -> tuple[ProductFacts, ...]:
    """Return what each product would come to, the plan's own first."""
    found = [_facts(plan, plan.product, zones, key="product")]
    for number, one in enumerate(plan.alternative, start=1):
        found.append(_facts(plan, one, zones, key=f"alternative[{number}]"))
    return tuple(found)


def _facts(
    plan: Plan, product: Product, zones: Sequence[Zone], *, key: str
) -> ProductFacts:
    try:
        spreading = Spreading.of(plan, product=product)
        amount, named = priced_by(product.form, system=plan.units)
        price = None
        if product.price is not None:
            price = price_of_p2o5(
                product.price,
                Grade.parse(product.grade, sulfur=product.s),
                mass=amount * (spreading.density or 1.0),
                nitrogen_price=product.nitrogen_price,
            )
    except InputError as error:
        raise InputError(f"{key}: {error}") from error
    rates = [product_rate(zone.need, spreading).rate for zone in zones]
    area = sum(zone.area for zone in zones)
    spread = sum(rate * zone.area for rate, zone in zip(rates, zones, strict=True))
    total = sum(
        round(rate * zone.area, 2) for rate, zone in zip(rates, zones, strict=True)
    )
    cost = None if spreading.price is None else total * spreading.price
    return ProductFacts(
        product.grade,
        product.s,
        product.form,
        spreading.rate_unit,
        min((rate for rate in rates if rate > 0.0), default=0.0),
        max(rates),
        round(total, 2),
        spreading.measure,
        round(spreading.carried(spread, spreading.p2o5), 2),
        round(spreading.carried(spread, spreading.nitrogen), 2),
        named,
        None if price is None else round(price, 4),
        None if cost is None else round(cost, 2),
        None if cost is None else round(cost / area, 2),
    )
