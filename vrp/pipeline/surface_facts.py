"""What the record holds of the surface: how it was made, and what it is worth."""

import numpy as np

from vrp.pipeline.ground import DECIMALS, Estimate, Floats
from vrp.prescription import (
    Bin,
    Candidate,
    LeftOut,
    Skill,
    Skills,
    SurfaceFacts,
    Variogram,
)
from vrp.spatial.calibration import Calibration, calibration
from vrp.spatial.candidates import compare
from vrp.spatial.variogram import Bins


def surface_facts(estimate: Estimate) -> SurfaceFacts | None:
    """Return how the surface was made, and how far it can be trusted."""
    surface = estimate.surface
    if surface is None or estimate.verdict is None:
        return None
    cross, fitted = surface.cross, surface.variogram
    variogram = None
    if fitted is not None:
        variogram = Variogram(
            fitted.model,
            surface.log,
            fitted.nugget,
            fitted.partial_sill,
            fitted.range,
            _bins(fitted.bins),
            fitted.smoothness,
            fitted.angle,
            fitted.ratio,
        )

    judged = compare(cross, taken=surface.method)
    return SurfaceFacts(
        surface.method,
        surface.reason,
        surface.n,
        finite(surface.spacing, 1),
        variogram,
        tuple(
            Candidate(
                one.name,
                finite(one.leave_one_out),
                finite(one.blocked),
                index == 0,
                finite(one.difference),
                finite(one.standard_error),
            )
            for index, one in enumerate(judged.scores)
        ),
        Skills(_known(estimate.skill_soil_test), _known(estimate.skill_need)),
        estimate.verdict,
        None if cross.errors is None else _calibration(cross.errors),
        tuple(
            LeftOut(round(float(found), DECIMALS), finite(alone), finite(blocked))
            for found, alone, blocked in zip(
                cross.observed,
                cross.kriging.leave_one_out,
                cross.kriging.blocked,
                strict=True,
            )
        ),
        judged.best,
        judged.simplest,
        finite(surface.clustering),
    )


def _bins(bins: Bins | None) -> tuple[Bin, ...]:
    if bins is None:
        return ()
    robust = bins.semivariance if bins.robust is None else bins.robust
    columns = (bins.distance, 2), (bins.semivariance, 6), (robust, 6)
    rounded = (np.round(each, places).tolist() for each, places in columns)
    return tuple(
        Bin(pairs, *row)
        for pairs, *row in zip(bins.pairs.tolist(), *rounded, strict=True)
    )


def _calibration(errors: Floats) -> Calibration:
    found = calibration(errors)
    return Calibration(
        round(found.squared_error, 4),
        round(found.coverage_50, 4),
        round(found.coverage_80, 4),
        round(found.coverage_95, 4),
    )


def finite(value: float | np.float64, decimals: int = 4) -> float | None:
    """Return a figure for the record, None where there is none."""
    return round(float(value), decimals) if np.isfinite(value) else None


def _known(skill: Skill | None) -> Skill | None:
    if skill is None or not np.isfinite([skill.leave_one_out, skill.blocked]).all():
        return None
    rounded = (
        None if each is None else finite(each)
        for each in (
            skill.leave_one_out_low,
            skill.leave_one_out_high,
            skill.blocked_low,
            skill.blocked_high,
            skill.most,
        )
    )
    return Skill(round(skill.leave_one_out, 4), round(skill.blocked, 4), *rounded)
