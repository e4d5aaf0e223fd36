"""Zones that were not drawn from the soil test: what the samples say of them."""

import numpy as np
import shapely
from numpy.typing import NDArray

from vrp.pipeline.classing import zones_by
from vrp.pipeline.ground import Estimate, Inputs, Part, Question
from vrp.pipeline.surface_facts import finite
from vrp.plan import Plan
from vrp.prescription import DrawnZones
from vrp.spatial.candidates import leave_out_drawn
from vrp.spatial.regions import Shape
from vrp.spatial.spread import spread
from vrp.spatial.validation import leave_out_mean, skill

Index = NDArray[np.int64]


def zone_of_samples(plan: Plan, inputs: Inputs) -> Index | None:
    """Return in which polygon of a file of zones each sample lies, -1 in none."""
    if zones_by(plan) != "file" or inputs.zones is None:
        return None
    return _zone_of(list(inputs.zones), inputs.samples.xy)


def drawn_zones(
    question: Question, estimate: Estimate, parts: tuple[Part, ...]
) -> DrawnZones | None:
    """Return how far zones from a file or from layers part the samples."""
    if zones_by(question.plan) not in ("file", "layers"):
        return None
    surface, inputs = estimate.surface, question.inputs
    if surface is None:
        xy = shapely.get_coordinates(shapely.point_on_surface(inputs.samples.shape))
        value, block = estimate.observed, None
    else:
        xy, value, block = surface.xy, surface.cross.observed, surface.cross.block
    zone = _zone_of([part.shape for part in parts], xy)
    found = spread(value, zone)
    if found is None:
        return None

    def taken(group: Index) -> float | None:
        predicted = leave_out_drawn(value, group, drawn=zone)
        mean = leave_out_mean(value, group)
        return finite(skill(value, predicted, baseline=mean))

    return DrawnZones(
        found.zones,
        found.samples,
        round(found.between, 4),
        round(found.by_chance, 4),
        taken(np.arange(len(value))),
        None if block is None else taken(block),
    )


def _zone_of(shapes: list[Shape], xy: NDArray[np.float64]) -> Index:
    zone = np.full(len(xy), -1)
    for number, shape in enumerate(shapes):
        inside = shapely.intersects_xy(shape, xy[:, 0], xy[:, 1])
        zone[inside & (zone < 0)] = number
    return zone
