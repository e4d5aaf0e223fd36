"""Step 5, first half: the class of every cell, and classes that a spreader can keep."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from vrp.errors import InputError
from vrp.evidence import percent
from vrp.pipeline.ground import Estimate, Floats, Needs, Question
from vrp.pipeline.worth import rates_of, wanted
from vrp.plan import Plan
from vrp.prescription import ClusterCriteria, LayerFacts
from vrp.spatial.bands import best_bands, knee
from vrp.spatial.clusters import Clustering, clusterings, scaled
from vrp.spatial.layer_values import filled, on_cells
from vrp.spatial.widths import widen
from vrp.spatial.zones import band_labels, merge_small
from vrp.spreading import Spreading
from vrp.units import KG_HA

# What one more band must save, P2O5 an acre or hectare in the guideline's own unit. Our
# choice: about what rates in steps of 5 of a product of half P2O5 misplace anyhow.
WORTH = 0.5

# Without [zones] count no more bands than this. Our choice: more are hard to read.
MOST_BANDS = 8

# Bands are counted and compared as they become zones; on more cells than these, for
# time's sake, as they are cut. Our choice.
MOST_SHAPED = 100_000

# Without [zones] min_area [ac, ha]. Our choice: a few passes of a spreader.
MIN_AREA = {"us": 1.0, "metric": 0.4}

# Of the field that a layer may leave without a value. Our choice.
MOST_MISSING = 0.2

COMPARED = range(2, 8)  # numbers of clusters whose criteria are shown, our choice

Grid = NDArray[np.integer]


@dataclass(frozen=True, slots=True)
class Classes:
    """The cells in classes; grids of labels are -1 outside the field."""

    labels: Grid  # as they become zones
    count: int  # of classes before what is small or narrow is merged
    bands: tuple[tuple[int, Grid], ...]  # of need, in any number, as they would be
    fewest: int | None  # bands that the guideline's limits leave
    knee: int | None  # bands after which more are not worth their while
    criteria: tuple[ClusterCriteria, ...] = ()
    layers: tuple[LayerFacts, ...] = ()


def zones_by(plan: Plan) -> str:
    """Return how the field is parted: as asked, or as the samples allow."""
    return plan.zones.by or ("need" if plan.samples.kind == "point" else "samples")


def treated_as_one(plan: Plan, estimate: Estimate) -> bool:
    """Return whether the surface is too poor for zones that would come from it."""
    return (
        estimate.verdict == "not supported"
        and plan.zones.on_weak_map == "uniform"
        and zones_by(plan) in ("need", "grid")
    )


def min_area(plan: Plan) -> float:
    """Return the area that a part of a zone has at least [m²]."""
    asked = plan.zones.min_area
    area = MIN_AREA[plan.units] if asked is None else asked
    return area * plan.square_metres_per_area


def min_width(plan: Plan) -> float:
    """Return how wide the ground of a zone is at least [m]: the plan's, or a swath."""
    asked = plan.zones.min_width
    width = (plan.machine.swath or 0.0) if asked is None else asked
    return width * plan.metres_per_length


def class_cells(question: Question, estimate: Estimate, needs: Needs) -> Classes | None:
    """Return the classes of the cells, where there is a surface, or layers."""
    banded = None
    if estimate.surface is not None:
        banded = _banded(question, estimate, needs)
    if zones_by(question.plan) != "layers":
        return banded
    layers, features = layers_on_cells(question, estimate)
    asked = question.plan.zones.count
    found = clusterings(
        features,
        sorted({*COMPARED, *(() if asked is None else (asked,))}),
        seed=question.plan.zones.seed,
    )
    grids = {count: shaped(question, needs, one.labels) for count, one in found.items()}
    criteria = tuple(
        _criteria(
            count,
            one,
            grids[count],
            question=question,
            estimate=estimate,
            needs=needs,
        )
        for count, one in found.items()
    )
    if asked is None or asked not in found:
        raise InputError(
            _choose(
                asked,
                criteria,
                unit="lb/ac" if question.plan.units == "us" else "kg/ha",
            )
        )
    if banded is None:
        return Classes(grids[asked], asked, (), None, None, criteria, layers)
    return replace(
        banded, labels=grids[asked], count=asked, criteria=criteria, layers=layers
    )


def _banded(question: Question, estimate: Estimate, needs: Needs) -> Classes:
    need = question.curve.in_unit(estimate.value)
    sides = _sides(question, estimate)
    fewest = len(np.unique(sides))
    asked = question.plan.zones.count if zones_by(question.plan) == "need" else None
    most = max(MOST_BANDS, fewest, asked or 0)
    found = best_bands(need, parts=sides, most=most)
    below = best_bands(need, most=fewest - 1)[: fewest - 1]
    groups, few = _groups(question), len(need) <= MOST_SHAPED
    classes = [
        groups * count + one.labels
        for count, one in enumerate((*below, *found), start=1)
    ]
    grids: list[Grid] = [
        shaped(question, needs, one) if few else question.cells.spread(one, -1)
        for one in classes
    ]
    inside = question.cells.inside
    misplaced = [
        distance(need, grid[inside]) if few else one.misplaced
        for one, grid in zip(found, grids[fewest - 1 :], strict=True)
    ]
    best = fewest + knee(misplaced[: MOST_BANDS - fewest + 1], worth=WORTH)
    count = min(max(asked or best, fewest), len(grids))
    if not few:
        grids[count - 1] = shaped(question, needs, classes[count - 1])
    bands = tuple(enumerate(grids, start=1))
    return Classes(grids[count - 1], count, bands, fewest, best)


def layers_on_cells(
    question: Question, estimate: Estimate
) -> tuple[tuple[LayerFacts, ...], Floats]:
    """Return the plan's layers, and their values on the cells on one scale."""
    plan, inputs, cells = question.plan, question.inputs, question.cells
    facts, columns = [], []
    for asked, layer in zip(plan.zones.layers, inputs.zone_layers, strict=True):
        name, how, values = "soil test", "the map's estimate", estimate.value
        if layer is not None:
            name = layer.name
            values, how = on_cells(layer, cells, crs=inputs.field.crs)
        missing = float(np.isnan(values).mean())
        if missing > MOST_MISSING:
            message = (
                f"zones.layers: {name} has no value on {percent(missing)} of the "
                f"field, more than {percent(MOST_MISSING)}: give a layer that covers "
                "it, or points a larger radius"
            )
            raise InputError(message)
        values = filled(values, cells)
        low, high = float(values.min()), float(values.max())
        if low == high:
            message = f"zones.layers: {name} is {low:g} everywhere: leave it out"
            raise InputError(message)
        columns.append(values)
        facts.append(
            LayerFacts(
                name,
                asked.weight,
                how,
                round(low, 4),
                round(high, 4),
                round(missing, 4),
            )
        )
    weights = [one.weight for one in facts]
    return tuple(facts), scaled(columns, weights=weights)


def _criteria(
    count: int,
    found: Clustering,
    grid: Grid,
    *,
    question: Question,
    estimate: Estimate,
    needs: Needs,
) -> ClusterCriteria:
    plan, labels = question.plan, grid[question.cells.inside]
    everywhere = np.ones(len(labels), dtype=bool)
    rates = rates_of(labels, question, estimate, needs, here=everywhere)
    spreading = Spreading.of(plan, product=plan.product)
    asked = wanted(needs.left / KG_HA[spreading.unit], plan)
    lost = float(np.abs(rates * spreading.carries - asked).mean())
    silhouette = found.silhouette
    return ClusterCriteria(
        count,
        round(found.variance_left, 3),
        round(silhouette, 3) if np.isfinite(silhouette) else None,
        round(found.calinski_harabasz),
        round(found.davies_bouldin, 3),
        round(lost, 2),
    )


def _choose(
    asked: int | None, criteria: tuple[ClusterCriteria, ...], *, unit: str
) -> str:
    """Return a message with what a person needs to choose a number of clusters."""
    if not criteria:
        return "zones.layers: the layers are alike everywhere: zones cannot be drawn"
    lines = [
        "zones.count is missing: how many clusters is yours to choose"
        if asked is None
        else f"zones.count = {asked}: the layers have no {asked} unlike places",
        "",
        "clusters  variance  silhouette  Calinski–  Davies–  P2O5 misplaced",
        f"          left                  Harabasz   Bouldin  {unit}",
    ]
    for one in criteria:
        fit = "" if one.silhouette is None else f"{one.silhouette:.2f}"
        lines.append(
            f"{one.clusters:>8}  {100 * one.variance_left:>6.0f} %  {fit:>10}  "
            f"{one.calinski_harabasz:>9,}  {one.davies_bouldin:>7.2f}  "
            f"{one.misplaced:>14.1f}"
        )
    lines += [
        "",
        "The less variance left, Davies–Bouldin and misplaced the better, the more "
        "silhouette and Calinski–Harabasz; they need not agree. Write one under "
        "[zones], such as count = 3.",
    ]
    return "\n".join(lines)


def distance(values: Floats, labels: NDArray[np.integer]) -> float:
    """Return the mean distance of values from the mean of their label."""
    _, label = np.unique(labels, return_inverse=True)
    mean = np.bincount(label, weights=values) / np.bincount(label)
    return float(np.abs(values - mean[label]).mean())


def _sides(question: Question, estimate: Estimate) -> NDArray[np.intp]:
    """Return on which side of the guideline's limits each cell lies."""
    curve = question.curve
    limits = {one for one in (curve.critical, curve.no_need_above) if np.isfinite(one)}
    return band_labels(estimate.value, sorted(limits), closed=curve.closed)


def shaped(question: Question, needs: Needs, classes: NDArray[np.integer]) -> Grid:
    """Return the classes of cells as a grid without what is small or narrow."""
    plan, cells = question.plan, question.cells
    least, wide = min_area(plan), min_width(plan)
    labels: Grid = cells.spread(classes, -1)
    labels = merge_small(labels, needs.left, cells, min_area=least)
    wider = widen(labels, needs.left, cells, min_width=wide)
    if wider is labels:
        return labels
    return merge_small(wider, needs.left, cells, min_area=least)


def _groups(question: Question) -> NDArray[np.intp]:
    """Return a number for each cell: alike where yield goals and credits are."""
    alike = np.stack([question.which, *question.credits])
    if (alike == alike[:, :1]).all():
        return np.zeros(alike.shape[1], dtype=np.intp)
    _, group = np.unique(alike, axis=1, return_inverse=True)
    return np.asarray(group.ravel())
