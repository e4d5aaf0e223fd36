"""Step 7, on the seasons: what a person must look at in what the crops leave."""

from collections.abc import Iterator

from vrp.agronomy import balance_checks
from vrp.agronomy.forecast_figures import figures
from vrp.evidence import Finding
from vrp.pipeline.ground import Question
from vrp.pipeline.seasons import outlook, removals
from vrp.prescription import Prescription
from vrp.units import KG_HA, RateUnit


def of_seasons(question: Question, prescription: Prescription) -> Iterator[Finding]:
    """Return the findings on removal, forecast and what becomes of the zones."""
    plan, curve, name = question.plan, question.curve, question.inputs.guideline_id
    unit: RateUnit = "lb/ac" if plan.units == "us" else "kg/ha"
    found = removals(question, question.typical)
    for number, (one, season) in enumerate(
        zip(found, question.typical, strict=True), start=1
    ):
        crop = season.crop
        if one is None:
            yield balance_checks.no_removal(crop, season=number, guideline=name)
            break
        if one.from_elsewhere:
            chosen = plan.balance.removal or ""
            yield balance_checks.other_removal(
                crop, season=number, chosen=chosen, guideline=name
            )
        if one.straw_left_out:
            yield balance_checks.no_straw(crop, season=number)
    yield from _of_outlook(question, unit=unit)
    for zone in prescription.zones:
        if zone.excluded is not None:
            continue  # no plan of seasons changes that nothing is spread there
        seasons = [one for one in prescription.seasons if one.zone == zone.number]
        middles = [(one.crop, one.stp_mid) for one in seasons]
        known = [one.balance for one in seasons if one.balance is not None]
        yield from balance_checks.runs_below(
            zone.soil_test,
            middles,
            critical=curve.critical,
            unit=curve.soil_test_unit,
            zone=zone.number,
        )
        yield from balance_checks.draws_down(
            zone.soil_class,
            known[-1] if known else None,
            short=zone.soil_test < curve.critical,
            unit=unit,
            zone=zone.number,
        )


def _of_outlook(question: Question, *, unit: RateUnit) -> Iterator[Finding]:
    plan, test = question.plan, question.curve.soil_test_unit
    model, fits = outlook(question)
    if model is None:
        yield balance_checks.no_forecast(plan.samples.counted_method, test)
        return
    if plan.balance.history and not fits:
        least = figures().field_mean.least_balance.value / KG_HA[unit]
        yield balance_checks.too_little_history(least, unit=unit)
    for fit in fits:
        amounts = None
        if fit.holds:
            middle, most, least = (
                1.0 / slope / model.per_base / KG_HA[unit] if slope else float("inf")
                for slope in (fit.slope, fit.low, fit.high)
            )
            amounts = middle, least, most
        yield balance_checks.own_history(
            fit.side, fit.changes, amounts, unit=unit, test=test
        )
