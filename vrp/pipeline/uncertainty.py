"""What a map says about itself: skills with their intervals, and the total's."""

import numpy as np
from numpy.typing import NDArray

from vrp.pipeline import credits
from vrp.pipeline.ground import Estimate, Floats, Needs, Question
from vrp.prescription import Skill
from vrp.spatial.calibration import Transform, most_by_nugget, skill_interval
from vrp.spatial.simulation import draw_surfaces
from vrp.spatial.surface import Surface
from vrp.spatial.validation import skill

# Of the interval of the total. Our choice: more cells or draws move its limits by less
# than the seed does.
MOST_CELLS = 400
DRAWS = 500


def skill_in(surface: Surface, transform: Transform, *, seed: int) -> Skill:
    """Return the skill of a surface in what follows from the soil test."""
    cross = surface.cross
    found = []
    for kind in ("leave_one_out", "blocked"):
        pair = (
            transform(cross.observed),
            transform(getattr(cross.kriging, kind)),
        )
        mean = transform(getattr(cross.field_mean, kind))
        # The same blocks are drawn for each skill, so that they compare.
        interval = skill_interval(
            *pair,
            baseline=mean,
            block=cross.block,
            generator=np.random.default_rng(seed),
        )
        found += [skill(*pair, baseline=mean), *interval]
    most = float("nan")
    if surface.variogram is not None:
        most = most_by_nugget(
            cross.observed,
            baseline=cross.field_mean.leave_one_out,
            variogram=surface.variogram,
            log=surface.log,
            transform=transform,
        )
    alone, alone_low, alone_high, blocked, blocked_low, blocked_high = found
    return Skill(alone, blocked, alone_low, alone_high, blocked_low, blocked_high, most)


def need_interval(
    question: Question, estimate: Estimate, needs: Needs, *, here: NDArray[np.intp]
) -> tuple[float, float] | None:
    """
    Return the 80 % interval of the mean need of some cells, after credits [kg/ha].

    The guideline's need on surfaces drawn about the estimate, jointly on all cells;
    of many cells some hundred are drawn, and the difference that they make is added to
    the mean over all.
    """
    surface, value = estimate.surface, estimate.value
    if surface is None:
        return None
    stride = -(-len(here) // MOST_CELLS)
    some = here[::stride]
    seed = question.plan.zones.seed
    drawn = draw_surfaces(
        surface, some, count=DRAWS, generator=np.random.default_rng(seed)
    )
    if drawn is None:
        return None
    taken = tuple(credit[some] for credit in question.credits)
    which = question.which[some]

    def mean_need(test: Floats) -> Floats:
        need = np.empty(test.shape)
        for number, curve in enumerate(question.curves):
            own = which == number
            need[..., own] = curve.at(test[..., own])
        return np.asarray(credits.left_by(taken, need).mean(axis=-1))

    at = credits.left_by(question.credits, needs.at)[here].mean()
    ends = np.quantile(mean_need(drawn), (0.10, 0.90)) + at - mean_need(value[some])
    low, high = np.maximum(ends, 0.0).tolist()
    return low, high
