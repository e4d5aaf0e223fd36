"""What the rules on water that a plan names forbid, or ask for, when it is planned."""

from collections.abc import Iterator

from vrp.agronomy import water_checks
from vrp.evidence import Finding
from vrp.pipeline.ground import Question
from vrp.plan import Application, spread_of
from vrp.prescription import Prescription


def of_rules(question: Question, prescription: Prescription) -> Iterator[Finding]:
    """Return what each rule finds in the field, or that it could not be judged."""
    plan, rules = question.plan, question.inputs.rules
    if not any(zone.rate > 0.0 for zone in prescription.zones):
        return
    spread, day = (
        spread_of(plan.product, plan.application),
        (plan.application or Application()).date,
    )
    crop, method = plan.season[0].crop, plan.samples.counted_method
    unit = question.curve.soil_test_unit
    yield from water_checks.season(rules, spread, day=day)
    yield from water_checks.placement(rules, spread)
    for zone in prescription.zones:
        yield from water_checks.soil_test(
            rules,
            spread,
            method=method,
            value=zone.soil_test,
            unit=unit,
            applied=zone.applied,
            zone=zone.number,
        )
        yield from water_checks.most_p2o5(
            rules,
            spread,
            crop=crop,
            method=method,
            value=zone.soil_test,
            unit=unit,
            applied=zone.applied,
            rate_unit="lb/ac" if plan.units == "us" else "kg/ha",
            zone=zone.number,
        )
    yield from water_checks.not_judged(
        rules,
        spread,
        crop=crop,
        method=method,
        unit=unit,
        day=day,
        features=plan.water is not None and bool(plan.water.features),
    )
