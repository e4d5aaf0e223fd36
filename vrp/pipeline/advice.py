"""What a person must look at in product and placement."""

from collections.abc import Iterator

import numpy as np

from vrp.agronomy import placement_checks, product_checks
from vrp.agronomy.placement import seed_row_limit
from vrp.agronomy.products import Grade
from vrp.evidence import Finding
from vrp.pipeline.ground import Question
from vrp.plan import Application, Plan
from vrp.prescription import Prescription, SeasonFacts, Zone
from vrp.spreading import Spreading
from vrp.units import INCH


def of_product(plan: Plan) -> Iterator[Finding]:
    """Return what there is to mind with the product."""
    product = plan.product
    grade = Grade.parse(product.grade, sulfur=product.s)
    method = None if plan.application is None else plan.application.method
    yield from product_checks.cautions(grade, method, place="product")
    yield from product_checks.form(grade, product.form, place="product")
    yield from product_checks.density(
        grade, product.density, system=plan.units, place="product"
    )


def of_placement(question: Question, prescription: Prescription) -> Iterator[Finding]:
    """Return what there is to mind in where the product is put."""
    plan, curve = question.plan, question.curve
    placed = plan.application or Application()
    method, tillage = placed.method, placed.tillage
    yield from placement_checks.lies_on_top(method, tillage, system=plan.units)
    yield from placement_checks.worked_in(
        placed.tillage_depth,
        tillage=tillage,
        unit="in" if plan.units == "us" else "cm",
    )
    ratios = question.inputs.samples.columns.get("stratification")
    cut = np.empty(0) if ratios is None else ratios[~np.isnan(ratios)]
    yield from placement_checks.stratified_no_till(
        float(np.median(cut)) if len(cut) else None, tillage=tillage
    )
    spreading = Spreading.of(plan, product=plan.product)
    seasons: dict[int, SeasonFacts] = {}
    for facts in prescription.seasons:
        seasons.setdefault(facts.zone, facts)  # the first
    for zone in prescription.zones:
        if method == "seed-row":
            yield from _in_row(zone, plan, placed, spreading)
        by_hand = any(line.step == "override" for line in zone.ledger)
        factor = 1.0 if by_hand else placed.band_factor
        if zone.need > 0.0:
            yield from placement_checks.band_not_low(
                zone.soil_test,
                curve.critical,
                factor=factor,
                unit=curve.soil_test_unit,
                zone=zone.number,
            )
            yield from placement_checks.band_below_removal(
                seasons[zone.number].applied,
                seasons[zone.number].removal,
                factor=factor,
                unit=spreading.unit,
                zone=zone.number,
            )
        yield from placement_checks.sandy_high(
            zone.soil_test,
            plan.field.texture,
            unit=curve.soil_test_unit,
            zone=zone.number,
        )


def _in_row(
    zone: Zone, plan: Plan, placed: Application, spreading: Spreading
) -> Iterator[Finding]:
    crop, spacing = plan.season[0].crop, placed.row_spacing
    limit = None
    if spacing is not None:
        inches = spacing if plan.units == "us" else spacing / (INCH * 100.0)
        limit = seed_row_limit(crop, row_spacing=inches, texture=plan.field.texture)
    salt = spreading.nitrogen + spreading.k2o
    if zone.rate:
        yield from placement_checks.seed_row_product(
            limit, plan.product.grade, zone=zone.number
        )
    yield from placement_checks.seed_row(
        limit,
        {
            "N + K2O": spreading.carried(zone.rate, salt),
            "P2O5": spreading.carried(zone.rate, spreading.p2o5),
        },
        unit=spreading.unit,
        zone=zone.number,
        crop=crop,
    )
