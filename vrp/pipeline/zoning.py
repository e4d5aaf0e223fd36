"""What zones are worth: rates by zone against the need on each cell."""

import numpy as np
from numpy.typing import NDArray

from vrp.evidence import half_up
from vrp.pipeline.classing import WORTH, Classes, min_width, zones_by
from vrp.pipeline.ground import Estimate, Floats, Needs, Part, Question
from vrp.plan import Plan
from vrp.prescription import Prescription, Zoned, ZoningFacts
from vrp.rates import Spreading, product_rate, settled_need
from vrp.units import KG_HA

Mask = NDArray[np.bool_]


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
        if part.override is None
    ]
    rate = np.full(len(needs.left), np.nan)
    for part, zone in counted:
        rate[part.cells] = zone.rate
    here = np.isfinite(rate)
    area = sum(zone.area for _, zone in counted)
    one_rate = built = None
    bands: tuple[Zoned, ...] = ()
    if here.any():
        asked = _wanted(needs.left / KG_HA[spreading.unit], plan)
        inside = question.cells.inside
        uniform = np.full(len(rate), prescription.totals.uniform_rate)
        one_rate = _zoned(uniform, asked, here, 1, area=area, spreading=spreading)
        built = _zoned(rate, asked, here, len(counted), area=area, spreading=spreading)
        by_count = (
            (count, rates_of(grid[inside], question, estimate, needs, here=here))
            for count, grid in classes.bands
        )
        bands = tuple(
            _zoned(rates, asked, here, count, area=area, spreading=spreading)
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
    )


def rates_of(
    labels: NDArray[np.integer],
    question: Question,
    estimate: Estimate,
    needs: Needs,
    *,
    here: Mask,
) -> Floats:
    """Return the product rate of each cell's label, as a zone of it would have."""
    plan = question.plan
    spreading = Spreading.of(plan, product=plan.product)
    _, label = np.unique(labels, return_inverse=True)
    count = np.maximum(np.bincount(label[here], minlength=label.max() + 1), 1)
    need = np.bincount(label[here], needs.left[here], len(count)) / count
    test = np.bincount(label[here], estimate.value[here], len(count)) / count
    need[np.round(test, 2) > question.curve.no_need_above] = 0.0
    rates = []
    for one in need.tolist():
        rounded = half_up(one / KG_HA[spreading.unit])
        settled, _ = settled_need(rounded, plan, credits=(), unit=spreading.unit)
        rates.append(product_rate(settled, spreading).rate)
    return np.array(rates)[label]


def _wanted(need: Floats, plan: Plan) -> Floats:
    """Return the need of cells by the plan's own share and limits [lb/ac, kg/ha]."""
    factor = 1.0 if plan.application is None else plan.application.band_factor
    most = np.inf if plan.need.max_p2o5 is None else plan.need.max_p2o5
    held = np.clip(need * factor, plan.need.min_p2o5, most)
    return np.where(need > 0.0, held, 0.0)


def _zoned(
    rate: Floats,
    asked: Floats,
    here: Mask,
    zones: int,
    *,
    area: float,
    spreading: Spreading,
) -> Zoned:
    """Return what rates on the cells misplace, cells of one size over an area."""
    share = area / np.count_nonzero(here)
    more = rate[here] * spreading.carries - asked[here]
    over = float(np.maximum(more, 0.0).sum() * share)
    under = float(np.maximum(-more, 0.0).sum() * share)
    product = float(rate[here].sum() * share)
    cost = None if spreading.price is None else round(product * spreading.price, 2)
    misplaced = (under + over) / area
    return Zoned(
        zones,
        round(under, 1),
        round(over, 1),
        round(misplaced, 2),
        round(product, 1),
        cost,
    )
