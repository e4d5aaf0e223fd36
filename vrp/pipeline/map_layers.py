"""What a map shows beside the zones: the samples, and the surface on its cells."""

import numpy as np
import shapely
from numpy.typing import NDArray

from vrp.pipeline.estimate import CELL_DECIMALS
from vrp.pipeline.ground import DECIMALS, Estimate, Needs, Question
from vrp.prescription import Sample, SoilTestMap
from vrp.spatial.coverage import DECIMALS as DEGREE_DECIMALS
from vrp.spatial.field import LONLAT, reproject
from vrp.spatial.surface import Surface

Float32s = NDArray[np.float32]


def samples(question: Question, estimate: Estimate) -> tuple[Sample, ...]:
    """Return the samples where they lie, composites at a place inside their ground."""
    given, crs = question.inputs.samples, question.inputs.field.crs
    places = shapely.MultiPoint(list(shapely.point_on_surface(given.shape)))
    lonlat = shapely.get_coordinates(reproject(places, crs, LONLAT))
    return tuple(
        Sample(row, name, lon, lat, soil_test)
        for row, name, (lon, lat), soil_test in zip(
            given.rows,
            given.ids,
            np.round(lonlat, DEGREE_DECIMALS).tolist(),
            np.round(estimate.observed, DECIMALS).tolist(),
            strict=True,
        )
    )


def soil_test_map(
    question: Question, estimate: Estimate, needs: Needs
) -> SoilTestMap | None:
    """Return the surface on its cells, None where composites have none."""
    if estimate.surface is None or needs.short is None:
        return None
    cells = question.cells
    estimated, error, short = (
        cells.spread(np.round(values, CELL_DECIMALS).astype(np.float32), np.nan)
        for values in (
            estimate.value,
            _standard_error(estimate.surface),
            needs.short,
        )
    )
    return SoilTestMap(
        estimated,
        error,
        short,
        cells.x0,
        cells.y0,
        cells.size,
        question.inputs.field.crs.to_wkt(),
    )


def _standard_error(surface: Surface) -> NDArray[np.float64]:
    """Return the error in the soil test's unit; on the log scale a lognormal's."""
    sd = surface.sd.astype(float)
    if not surface.log:
        return sd
    variance = sd**2
    spread = np.sqrt(np.expm1(variance)) * np.exp(variance / 2.0)
    return np.asarray(surface.estimate.astype(float) * spread)
