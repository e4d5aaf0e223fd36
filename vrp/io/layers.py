"""Rows that are layers of one core, put together into samples."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from vrp.agronomy.layers import ONE_PLACE, Layers, check_layers, weighted_mean
from vrp.errors import InputError
from vrp.evidence import shown
from vrp.io.table import Table, numbers
from vrp.plan import SampleTable
from vrp.units import INCH

# Of a mean of layers: what a laboratory prints, and a little more.
DECIMALS = 2

_Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Cores:
    """Samples made of layers: the first row of each, and what the layers come to."""

    first: NDArray[np.intp]
    value: _Floats
    columns: dict[str, _Floats]
    layers: tuple[Layers, ...]


def put_together(
    results: Table,
    ids: tuple[str, ...],
    table: SampleTable,
    *,
    values: _Floats,
    columns: Mapping[str, _Floats],
    places: NDArray[np.object_],
    metric: bool,
) -> Cores:
    """Return one sample for the rows of each id, in the order of their first rows."""
    tops, bottoms = _depths(results, table)
    of: dict[str, list[int]] = {}
    for index, name in enumerate(ids):
        of.setdefault(name, []).append(index)
    cores = [sorted(rows, key=lambda index: tops[index]) for rows in of.values()]
    unit = "cm" if metric else "in"
    layers = []
    for rows in cores:
        _check_place(results, rows, places)
        one = Layers(
            tuple(results.rows[index] for index in rows),
            tuple(tops[rows].tolist()),
            tuple(bottoms[rows].tolist()),
            tuple(values[rows].tolist()),
        )
        check_layers(one, depth=table.depth, unit=unit, place=results.file)
        layers.append(one)
    value = _means(values, cores, layers)
    whole = {
        # A pH that is known for some layers still tells how the test was run.
        key: _means(column, cores, layers, partly=key == "ph")
        for key, column in columns.items()
    }
    split = np.array([len(rows) > 1 for rows in cores])
    top = np.array([one.soil_test[0] for one in layers])
    depth = np.array([one.thickness[0] for one in layers])
    told = split & (value > 0.0)
    ratio = np.full(len(cores), np.nan)
    ratio[told] = top[told] / value[told]
    whole |= {
        "stratification": ratio,
        "top_layer": np.where(split, top, np.nan),
        "top_layer_depth": np.where(
            split, depth * (1.0 if metric else INCH * 100.0), np.nan
        ),
    }
    first = np.array([min(rows) for rows in cores], dtype=np.intp)
    return Cores(first, value, whole, tuple(layers))


def layers_note(cores: Cores, table: SampleTable, file: str) -> str:
    """Return how the rows were put together."""
    rows = sum(len(one.row) for one in cores.layers)
    whole = sum(len(one.row) == 1 for one in cores.layers)
    note = (
        f"{file}: {rows} rows are layers of {len(cores.layers)} samples, joined by "
        f"{table.id}; their means are weighted by thickness"
    )
    are = "is" if whole == 1 else "are"
    return f"{note}; {whole} of them {are} not cut" if whole else note


def _depths(results: Table, table: SampleTable) -> tuple[_Floats, _Floats]:
    both = []
    for key in ("depth_from", "depth_to"):
        name = getattr(table, key)
        column = numbers(results, name, key=key)
        if np.isnan(column).any():
            place = results.place(int(np.argmax(np.isnan(column))))
            message = f"{place}: {name} is blank: give the depth of the layer"
            raise InputError(message)
        both.append(column)
    return both[0], both[1]


def _check_place(results: Table, rows: list[int], places: NDArray[np.object_]) -> None:
    first, *others = shapely.centroid(places[rows])
    for index, other in zip(rows[1:], others, strict=True):
        away = float(shapely.distance(first, other))
        if away > ONE_PLACE:
            message = (
                f"{results.place(index)}: is a layer of the sample of {results.word} "
                f"{results.rows[rows[0]]}, but {shown(away, most=0)} m from it: give "
                "the layers of a core one position, or each core an id of its own"
            )
            raise InputError(message)


def _means(
    column: _Floats,
    cores: list[list[int]],
    layers: list[Layers],
    *,
    partly: bool = False,
) -> _Floats:
    means = []
    for rows, one in zip(cores, layers, strict=True):
        values, weights = column[rows], np.array(one.thickness)
        known = ~np.isnan(values) if partly else np.ones(len(rows), dtype=bool)
        mean = np.nan
        if known.any():
            mean = weighted_mean(values[known], weights[known])
        means.append(round(mean, DECIMALS) if len(rows) > 1 else float(values[0]))
    return np.array(means)
