"""Step 7, what no plan asks for on purpose."""

from collections.abc import Iterator

from vrp.agronomy import sense_checks
from vrp.agronomy.products import Grade
from vrp.evidence import Finding
from vrp.pipeline.ground import Question
from vrp.prescription import Prescription
from vrp.units import KG_HA


def of_sense(question: Question, prescription: Prescription) -> Iterator[Finding]:
    """Return findings on figures that look like a slip."""
    plan, system = question.plan, question.plan.units
    unit = KG_HA["lb/ac" if system == "us" else "kg/ha"]
    for number, (credit, cells) in enumerate(
        zip(plan.credit, question.credits, strict=True), start=1
    ):
        yield from sense_checks.credit(
            float(cells.max()) / unit,
            credit.name,
            system=system,
            place=f"credit[{number}]",
        )
    for number, product in enumerate((plan.product, *plan.alternative)):
        place = f"alternative[{number}].grade" if number else "product.grade"
        yield from sense_checks.grade(Grade.parse(product.grade), place=place)
    for zone in prescription.zones:
        yield from sense_checks.need(zone.need, system=system, zone=zone.number)
        yield from sense_checks.nitrogen(zone.nitrogen, system=system, zone=zone.number)
