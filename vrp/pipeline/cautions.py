"""What a person is told beside the figures of a prescription."""

import numpy as np

from vrp.agronomy.cautions import Case, Caution
from vrp.agronomy.cautions import cautions as told
from vrp.agronomy.products import Grade
from vrp.pipeline.ground import Question
from vrp.plan import Application
from vrp.prescription import Prescription


def cautions(question: Question, prescription: Prescription) -> tuple[Caution, ...]:
    """Return the cautions, the findings being known."""
    plan, samples = question.plan, question.inputs.samples
    placed, zones = plan.application or Application(), prescription.zones
    ph = samples.columns.get("ph")
    known = np.empty(0) if ph is None else ph[np.isfinite(ph)]
    water = plan.water
    case = Case(
        codes={one.code for one in prescription.findings},
        grade=Grade.parse(plan.product.grade, sulfur=plan.product.s),
        form=plan.product.form,
        material=plan.product.material,
        nitrogen=max(zone.nitrogen for zone in zones),
        unit="lb/ac" if plan.units == "us" else "kg/ha",
        method=placed.method,
        band_factor=placed.band_factor,
        soil_test_method=plan.samples.method,
        soil_test_unit=plan.samples.unit,
        as_p2o5=plan.samples.expressed_as == "P2O5",
        ph=float(known.max()) if len(known) else None,
        texture=plan.field.texture,
        zones=len({zone.rate for zone in zones}),
        over_limit=any(zone.soil_test > question.curve.no_need_above for zone in zones),
        manure_credit=any(one.manure is not None for one in plan.credit),
        forecast=any(one.stp_low is not None for one in prescription.seasons),
        rules=bool(prescription.rules),
        water=water is not None and bool(water.features or water.elevation is not None),
    )
    return told(case)
