"""Water features from any vector file: points, lines and polygons, each with a kind."""

from collections import Counter
from pathlib import Path
from typing import Any, get_args

import numpy as np
import shapely
from numpy.typing import NDArray

from vrp.errors import InputError
from vrp.io.vector import (
    Layer,
    declared_crs,
    find_column,
    read_layer,
    to_field,
    to_lonlat,
    transformed,
)
from vrp.plan import Plan
from vrp.spatial.field import LONLAT, Field
from vrp.spatial.setbacks import WaterFeatures
from vrp.water_plan import FeatureFile, WaterKind

KINDS: tuple[str, ...] = get_args(WaterKind)
COLUMN = "kind"  # that is read where the plan names neither kind nor column

# A long straight line is a straight line in its own CRS alone: near the field lines get
# a vertex in every so many metres. Our choices: within a few millimetres, and farther
# than any published distance.
VERTEX = 100.0  # [m]
NEAR = 3_000.0  # [m]
_DEGREE = 111_000.0  # [m]


def read_water(asked: FeatureFile, *, field: Field) -> WaterFeatures:
    """Return the features of a file with their kinds, in the field's own CRS."""
    layer = read_layer(asked.file)
    shapes, crs = _shapes(layer), declared_crs(layer)
    kinds = _kinds(layer, asked)
    lonlat = to_lonlat(layer.file, shapes, crs)
    near = _near(lonlat, field)
    if near.any():
        step = VERTEX / (_DEGREE if crs.is_geographic else _metres(crs))
        finer = shapely.segmentize(shapes[near], step)
        lonlat[near] = transformed(finer, crs, LONLAT)
    return WaterFeatures(layer.file, layer.rows, kinds, to_field(lonlat, field))


def resolve_water(table: Any, folder: Path) -> None:
    """Make tables of features that are given as paths, and paths of rules absolute."""
    if not isinstance(table, dict):
        return
    features, rules = table.get("features"), table.get("rules")
    if isinstance(features, list):
        table["features"] = [
            {"file": one} if isinstance(one, str) else one for one in features
        ]
    if isinstance(rules, str):
        rules = [rules]
    if isinstance(rules, list):
        table["rules"] = [
            str(folder / one) if isinstance(one, str) and one.endswith(".toml") else one
            for one in rules
        ]


def water_contradiction(plan: Plan) -> str | None:
    """Return what in ``[water]`` contradicts itself, if anything does."""
    water = plan.water
    if water is None:
        return None
    for number, one in enumerate(water.features, start=1):
        place = f"water.features[{number}]"
        if one.kind is not None and one.column is not None:
            return f"{place} has both kind and column: keep one"
    twice = [
        path.name
        for path, count in Counter(one.file for one in water.features).items()
        if count > 1
    ]
    if twice:
        return (
            f"water.features names {twice[0]} twice: keep one, with a column of kinds"
        )
    if water.elevation_unit is not None and water.elevation is None:
        return "water.elevation_unit is given, but water.elevation is not"
    unused = sorted(water.distance) if not water.features else []
    if unused:
        return (
            f"water.distance.{unused[0]} is given, but no water.features to keep it "
            "from: name their files"
        )
    return None


def _shapes(layer: Layer) -> NDArray[np.object_]:
    """Return the shapes of a layer, of any kind but empty, those that cross mended."""
    if layer.shapes is None:
        message = f"{layer.file}: holds a table and no features: give a map file"
        raise InputError(message)
    for row, shape in zip(layer.rows, layer.shapes, strict=True):
        place = f"{layer.file}, feature {row}"
        if shape is None or shape.is_empty:
            raise InputError(f"{place}: has no geometry: draw or remove it")
        if not np.isfinite(shapely.get_coordinates(shape)).all():
            message = f"{place}: has a coordinate that is no number: draw it again"
            raise InputError(message)
    # Public maps of water cross themselves now and then: all their ground counts.
    mended: NDArray[np.object_] = shapely.make_valid(layer.shapes)
    return mended


def _kinds(layer: Layer, asked: FeatureFile) -> tuple[str, ...]:
    if asked.kind is not None:
        return (asked.kind,) * len(layer.rows)
    column = asked.column or COLUMN
    if asked.column is None and COLUMN not in layer.columns:
        message = (
            f"{layer.file}: of which kind its features are is not told: write kind = "
            f'"stream" (or another of {", ".join(KINDS)}) in water.features, or the '
            "column that names it"
        )
        raise InputError(message)
    find_column(layer.columns, column, file=layer.file, key="water.features.column")
    found = []
    for row, value in zip(layer.rows, layer.columns[column], strict=True):
        kind = str(value).strip().lower().replace(" ", "-").replace("_", "-")
        if value is None or kind not in KINDS:
            message = (
                f"{layer.file}, feature {row}: {column} is {value!r}: use one of "
                f"{', '.join(KINDS)}"
            )
            raise InputError(message)
        found.append(kind)
    return tuple(found)


def _near(lonlat: NDArray[np.object_], field: Field) -> NDArray[np.bool_]:
    """Return which features have their box near the field's."""
    west, south, east, north = shapely.bounds(field.lonlat)
    tall = NEAR / _DEGREE
    wide = tall / max(np.cos(np.radians(max(abs(south), abs(north)))), 0.1)
    box = shapely.bounds(lonlat)
    near: NDArray[np.bool_] = (
        (box[:, 0] <= east + wide)
        & (box[:, 2] >= west - wide)
        & (box[:, 1] <= north + tall)
        & (box[:, 3] >= south - tall)
    )
    return near


def _metres(crs: Any) -> float:
    """Return the metres in a projected CRS's unit."""
    return float(crs.axis_info[0].unit_conversion_factor) or 1.0
