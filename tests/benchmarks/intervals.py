"""
How often the stated intervals hold, on drawn fields of several kinds.

    python tests/benchmarks/intervals.py [FIELDS]

Draws FIELDS fields for each design, seeds from 0, on the ground of the sample field
``us``, takes each through the steps of a build, and looks up the drawn soil: the 80 %
interval of the mean of each zone and of each quarter of the field, of left-out samples,
and of the field's total need. Beside those of means stand intervals that average over
the variograms that the samples leave likely, which was tried and is not used. Counts
how often the findings on stated errors come up. Prints the table that stands in docs/.
"""

import math
import sys
import tempfile
from dataclasses import replace
from pathlib import Path
from statistics import NormalDist

import numpy as np
from pyproj import Transformer
from truth import load_make

from vrp import job
from vrp.agronomy.map_checks import stated_errors
from vrp.io.field_file import read_field_file
from vrp.pipeline.estimate import ask, estimate_soil_test, needs_on_cells
from vrp.pipeline.parts import part_field
from vrp.pipeline.uncertainty import need_interval
from vrp.spatial import kriging
from vrp.spatial.calibration import LEVELS, calibration
from vrp.spatial.likely import likely
from vrp.spatial.variogram import distances

REACH = NormalDist().inv_cdf(0.9)
CELLS = 150  # of a zone, for the average over variograms

# What is drawn: changes of the soil of `us`, and the spacing of the samples [m].
DESIGNS = {
    "as `us`, with its hot spot": ({}, 63.6),
    "no hot spot": ({"hot_factor": 1.0}, 63.6),
    "range 120 m": ({"hot_factor": 1.0, "range_m": 120.0}, 63.6),
    "nugget 0.6": ({"hot_factor": 1.0, "nugget_share": 0.6}, 63.6),
    "range 300 m, nugget 0.2": (
        {"hot_factor": 1.0, "range_m": 300.0, "nugget_share": 0.2},
        63.6,
    ),
    "a sample on 2 acres": ({"hot_factor": 1.0}, 90.0),
}
COLUMNS = (
    "zones",
    "zones, averaged",
    "quarters",
    "quarters, averaged",
    "left-out samples",
    "total",
    "map-intervals",
    "map-error-size",
)


def build(make, scene, *, seed):
    """Return what the steps of a build find, and the drawn soil on its cells."""
    with tempfile.TemporaryDirectory() as folder:
        written = make.write(Path(folder) / scene.name, scene, seed=seed)
        plan = read_field_file(written / "field.toml").plan
        inputs = job._read(plan)
    question = ask(plan, inputs)
    estimate = estimate_soil_test(question)
    needs = needs_on_cells(question, estimate)
    parts = part_field(question, estimate, needs)
    truth = make.draw(scene, seed=seed).truth
    turn = Transformer.from_crs(inputs.field.crs, scene.crs, always_xy=True).transform
    ground = truth.at(np.column_stack(turn(*question.cells.xy.T)))
    return question, estimate, needs, parts, ground


def averaged_sd(among, cells_xy, *, weight):
    """Return the error of a mean over cells by each likely variogram, and theirs."""
    stride = -(-len(cells_xy) // CELLS)
    cells = cells_xy[::stride]
    share = np.ones(len(cells)) if weight is None else weight[::stride]
    share = share / share.sum()
    apart = distances(cells, cells)
    means, variances = [], []
    for system in among.systems:
        near = share @ kriging.covariances(system, cells)
        inner = share @ system.variogram.correlation(apart) @ share
        told, total = 1.0 - near @ system.ones, system.ones.sum()
        known = near @ system.factor
        inner *= system.variogram.partial_sill
        variances.append(max(inner - known @ known + told * told / total, 0.0))
        means.append(near @ system.residual + system.mean)
    between = (np.array(means) - among.weight @ means) ** 2
    return float(among.weight @ (np.array(variances) + between)) ** 0.5


def averaged_interval(surface, among, index):
    """Return the interval of a mean as `Surface.interval` would, never narrower."""
    narrow, wide = surface.interval(index)
    estimate = surface.estimate[index].astype(float)
    weight = estimate if surface.log else None
    reach = REACH * averaged_sd(among, surface.cells_xy[index], weight=weight)
    means = estimate.mean(), surface.mean[index].mean(dtype=float)
    if surface.log:
        low, high = min(means) * math.exp(-reach), max(means) * math.exp(reach)
    else:
        low, high = means[0] - reach, means[0] + reach
    return min(low, narrow), max(high, wide)


def held(make, scene, *, seed):
    """Return whether each interval held, and which findings came up."""
    question, estimate, needs, parts, ground = build(make, scene, seed=seed)
    surface, xy = estimate.surface, question.cells.xy
    side = (xy > np.median(xy, axis=0)) @ np.array([1, 2])
    ground_of = {
        "zones": [part.cells for part in parts],
        "quarters": [np.flatnonzero(side == number) for number in range(4)],
    }
    found = {name: [] for name in COLUMNS}
    among = None
    if surface.solution is not None:
        system = surface.solution.pieces[0].system
        among = likely(system.xy, system.value, spacing=surface.spacing)
    for name, pieces in ground_of.items():
        for index in pieces:
            true = ground[index].mean()
            low, high = surface.interval(index)
            found[name].append(low <= true <= high)
            if among is not None:
                low, high = averaged_interval(surface, among, index)
            found[f"{name}, averaged"].append(low <= true <= high)
    low, high = need_interval(question, estimate, needs)
    found["total"].append(low <= question.curve.at(ground).mean() <= high)
    errors = surface.cross.errors
    if errors is not None:
        found["left-out samples"] = (np.abs(errors) <= REACH).tolist()
        all_ = calibration(errors)
        shares = (all_.coverage_50, all_.coverage_80, all_.coverage_95)
        codes = {
            one.code
            for one in stated_errors(
                all_.squared_error,
                coverage=tuple(zip(LEVELS, shares, strict=True)),
                samples=surface.n,
                place="",
            )
        }
        for code in ("map-intervals", "map-error-size"):
            found[code].append(code in codes)
    return found


def main():
    """Print the table."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    make = load_make()
    print(f"{count} fields a row\n")
    print(f"| drawn field | {' | '.join(COLUMNS)} |")
    print("|---" * (len(COLUMNS) + 1) + "|")
    for name, (changes, spacing) in DESIGNS.items():
        soil = replace(make.US.soil, **changes)
        scene = replace(make.US, soil=soil, spacing=spacing)
        done = [held(make, scene, seed=seed) for seed in range(count)]
        shares = (
            np.mean([one for each in done for one in each[column]])
            for column in COLUMNS
        )
        cells = " | ".join(f"{share:.0%}" for share in shares)
        print(f"| {name} | {cells} |", flush=True)


if __name__ == "__main__":
    main()
