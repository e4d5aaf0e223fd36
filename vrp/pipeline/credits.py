"""Credits: P2O5 that comes from elsewhere, on the cells and in a zone."""

import numpy as np
from numpy.typing import NDArray

from vrp.agronomy.credits import manure_p2o5, surplus_counts
from vrp.evidence import Source, half_up, shown
from vrp.pipeline.ground import Areas, Floats, Inputs, Question
from vrp.plan import Credit, Plan
from vrp.rates import Taken
from vrp.spatial.coverage import cell_owners
from vrp.spatial.grid import Cells
from vrp.spatial.zones import given_polygons
from vrp.units import KG_HA


def on_cells(plan: Plan, inputs: Inputs, cells: Cells) -> tuple[Floats, ...]:
    """Return what each credit of the plan brings on each cell [kg/ha]."""
    unit = KG_HA["lb/ac" if plan.units == "us" else "kg/ha"]
    found = []
    for credit, areas in zip(plan.credit, inputs.credits, strict=True):
        if areas is None:
            found.append(np.full(len(cells.xy), _amount(credit) * unit))
            continue
        outline, shapes = inputs.field.outline, list(areas.shapes)
        drawn = given_polygons(outline, shapes, names=areas.names(), gaps="leave")
        owner = cell_owners([shape for _, shape in drawn], cells, nearest=False)
        values = np.append(areas.values[[number for number, _ in drawn]], 0.0)
        found.append(values[owner] * unit)
    return tuple(found)


def left_by(credits: tuple[Floats, ...], need: Floats) -> Floats:
    """Return the need on each cell that the credits leave [kg/ha]."""
    for credit in credits:
        need = np.maximum(need - credit, 0.0)
    return need


def taken_in(
    here: NDArray[np.intp], question: Question, need: Floats, *, soil_class: str
) -> tuple[Taken, ...]:
    """Return what each credit takes off some cells, whose need [kg/ha] it meets."""
    plan, inputs = question.plan, question.inputs
    unit = KG_HA["lb/ac" if plan.units == "us" else "kg/ha"]
    found = []
    for credit, cells, areas in zip(
        plan.credit, question.credits, inputs.credits, strict=True
    ):
        brought = cells[here]
        rule = f"credit for {credit.name}, never below 0"
        source = Source("given", f"field file: {credit.source}")
        if credit.surplus:
            counts, rule, source = surplus_counts(inputs.guideline, soil_class)
            brought = brought if counts else np.zeros(len(brought))
        used = np.minimum(need, brought)
        need = need - used
        found.append(
            Taken(
                credit.name,
                half_up(float(brought.mean()) / unit),
                half_up(float(used.mean()) / unit),
                _worked(credit, areas),
                rule,
                source,
            )
        )
    return tuple(found)


def _amount(credit: Credit) -> float:
    manure = credit.manure
    if manure is not None:
        return manure_p2o5(
            manure.amount, content=manure.p2o5, available=manure.available
        )
    assert isinstance(credit.p2o5, float)
    return credit.p2o5


def _worked(credit: Credit, areas: Areas | None) -> str:
    """Return how a credit came about, where it is more than a number."""
    manure = credit.manure
    if areas is not None:
        return f"mean of {areas.file} in the zone"
    if manure is not None:
        each = "lb" if manure.unit in ("ton", "1000 gal") else "kg"
        worked = f"{manure.amount:g} × {manure.p2o5:g} {each} in 1 {manure.unit}"
        worked = worked.replace("in 1 1000", "in 1000")
        worked += f" × {manure.available:g} %"
        return f"{worked} = {shown(_amount(credit), least=1)}"
    return ""
