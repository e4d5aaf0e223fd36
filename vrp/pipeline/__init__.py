"""From a plan and the ground to a prescription, in seven steps."""

from dataclasses import replace

from vrp.evidence import Finding
from vrp.pipeline.cautions import cautions
from vrp.pipeline.classing import class_cells
from vrp.pipeline.drawn import drawn_zones
from vrp.pipeline.estimate import ask, estimate_soil_test, needs_on_cells
from vrp.pipeline.ground import Areas, Inputs
from vrp.pipeline.parts import part_field
from vrp.pipeline.prescribe import prescribe
from vrp.pipeline.review import review
from vrp.pipeline.water_review import water_of_zones
from vrp.pipeline.zoning import zoning_facts
from vrp.plan import Plan
from vrp.prescription import Prescription, Zone

__all__ = ["Areas", "Inputs", "build"]


def build(plan: Plan, inputs: Inputs) -> Prescription:
    """Return the prescription that a plan asks for."""
    question = ask(plan, inputs)
    estimate = estimate_soil_test(question)
    needs = needs_on_cells(question, estimate)
    classes = class_cells(question, estimate, needs)
    parts = part_field(question, estimate, classes)
    prescription, rates = prescribe(question, estimate, needs, parts)
    zoning = zoning_facts(
        question,
        estimate,
        needs,
        classes=classes,
        parts=parts,
        prescription=prescription,
    )
    prescription = replace(prescription, zoning=zoning)
    drawn = drawn_zones(question, estimate, parts)
    prescription = replace(prescription, drawn=drawn)
    near = water_of_zones(question, parts, prescription)
    prescription = replace(prescription, water_zones=near)
    prescription = replace(prescription, rules=inputs.rules)
    findings = review(question, estimate, parts, prescription, rates)
    zones = tuple(
        replace(one, note=_codes(findings, one)) for one in prescription.zones
    )
    prescription = replace(prescription, findings=findings, zones=zones)
    return replace(prescription, cautions=cautions(question, prescription))


def _codes(findings: tuple[Finding, ...], zone: Zone) -> str:
    codes = [one.code for one in findings if one.zone == zone.number]
    return " ".join(dict.fromkeys(codes))
