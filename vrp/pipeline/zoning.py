"""What zones are worth: rates by zone against the need on each cell."""

import numpy as np

from vrp.pipeline.classing import WORTH, Classes, min_width, zones_by
from vrp.pipeline.ground import Estimate, Needs, Part, Question
from vrp.pipeline.worth import rates_of, wanted, zoned
from vrp.prescription import Prescription, Zoned, ZoningFacts
from vrp.spreading import Spreading
from vrp.units import KG_HA


def zoning_facts(
    question: Question,
    estimate: Estimate,
    needs: Needs,
    *,
    classes: Classes | None,
    parts: tuple[Part, ...],
    prescription: Prescription,
) -> ZoningFacts | None:
    """Return what zones are worth by their number, without ground set by hand."""
    plan = question.plan
    if classes is None:
        return None
    spreading = Spreading.of(plan, product=plan.product)
    counted = [
        (part, zone)
        for part, zone in zip(parts, prescription.zones, strict=True)
        if part.override is None and part.excluded is None
    ]
    rate = np.full(len(needs.left), np.nan)
    for part, zone in counted:
        rate[part.cells] = zone.rate
    here = np.isfinite(rate)
    area = sum(zone.area for _, zone in counted)
    one_rate = built = None
    bands: tuple[Zoned, ...] = ()
    if here.any():
        asked = wanted(needs.left / KG_HA[spreading.unit], plan)
        inside = question.cells.inside
        uniform = np.full(len(rate), prescription.totals.uniform_rate)
        one_rate = zoned(uniform, asked, here, 1, area=area, spreading=spreading)
        built = zoned(rate, asked, here, len(counted), area=area, spreading=spreading)
        by_count = (
            (count, rates_of(grid[inside], question, estimate, needs, here=here))
            for count, grid in classes.bands
        )
        bands = tuple(
            zoned(rates, asked, here, count, area=area, spreading=spreading)
            for count, rates in by_count
        )
    return ZoningFacts(
        zones_by(plan),
        classes.count if zones_by(plan) in ("need", "layers") else None,
        classes.fewest,
        classes.knee,
        WORTH,
        round(min_width(plan) / plan.metres_per_length, 3),
        one_rate,
        bands,
        built,
        classes.criteria,
        classes.layers,
    )
