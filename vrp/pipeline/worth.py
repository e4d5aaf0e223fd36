"""Rates of classes of cells, and what they misplace against the cells' own need."""

import numpy as np
from numpy.typing import NDArray

from vrp.evidence import half_up
from vrp.pipeline.ground import Estimate, Floats, Needs, Question
from vrp.plan import Plan
from vrp.prescription import Zoned
from vrp.rates import settled_need
from vrp.spreading import Spreading, product_rate
from vrp.units import KG_HA

Mask = NDArray[np.bool_]


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


def wanted(need: Floats, plan: Plan) -> Floats:
    """Return the need of cells by the plan's own share and limits [lb/ac, kg/ha]."""
    factor = 1.0 if plan.application is None else plan.application.band_factor
    most = np.inf if plan.need.max_p2o5 is None else plan.need.max_p2o5
    held = np.clip(need * factor, plan.need.min_p2o5, most)
    return np.where(need > 0.0, held, 0.0)


def zoned(
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
