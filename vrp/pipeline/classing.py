"""Step 5, first half: the class of every cell, and classes that a spreader can keep."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vrp.pipeline.ground import Estimate, Floats, Needs, Question
from vrp.plan import Plan
from vrp.spatial.bands import best_bands, knee
from vrp.spatial.widths import widen
from vrp.spatial.zones import band_labels, merge_small

# What one more band must save, P2O5 an acre or hectare in the guideline's own unit. Our
# choice: about what rates in steps of 5 of a product of half P2O5 misplace anyhow.
WORTH = 0.5

# Without [zones] count no more bands than this. Our choice: more are hard to read.
MOST_BANDS = 8

# The knee counts bands as they become zones; on more cells, for time's sake, as they are
# cut. Our choice.
MOST_SHAPED = 100_000

# Without [zones] min_area [ac, ha]. Our choice: a few passes of a spreader.
MIN_AREA = {"us": 1.0, "metric": 0.4}

Grid = NDArray[np.integer]


@dataclass(frozen=True, slots=True)
class Classes:
    """The cells in classes; grids of labels are -1 outside the field."""

    labels: Grid  # as they become zones
    count: int  # of classes before what is small or narrow is merged
    bands: tuple[tuple[int, Grid], ...]  # of need, in any number, as they would be
    fewest: int  # bands that the guideline's limits leave
    knee: int  # bands after which more are not worth their while


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
    """Return the classes of the cells, where there is a surface."""
    if estimate.surface is None:
        return None
    need = question.curve.in_unit(estimate.value)
    sides = _sides(question, estimate)
    fewest = len(np.unique(sides))
    most = max(MOST_BANDS, fewest, question.plan.zones.count or 0)
    found = best_bands(need, parts=sides, most=most)
    below = best_bands(need, most=fewest - 1)[: fewest - 1]
    groups = _groups(question)
    bands = tuple(
        (count, shaped(question, needs, groups * count + one.labels))
        for count, one in enumerate((*below, *found), start=1)
    )
    misplaced = [one.misplaced for one in found]
    if len(need) <= MOST_SHAPED:
        inside = question.cells.inside
        misplaced = [distance(need, grid[inside]) for _, grid in bands[fewest - 1 :]]
    best = fewest + knee(misplaced[: MOST_BANDS - fewest + 1], worth=WORTH)
    count = min(max(question.plan.zones.count or best, fewest), len(bands))
    return Classes(bands[count - 1][1], count, bands, fewest, best)


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
    _, group = np.unique(alike, axis=1, return_inverse=True)
    return np.asarray(group.ravel())
