"""
How often the stated intervals hold, on drawn fields of several kinds.

    python tests/benchmarks/intervals.py [FIELDS]

Draws FIELDS fields for each design, seeds from 0, on the ground of the sample field
``us``, takes each through the steps of a build, and looks up the drawn soil: the 80 %
interval of the mean of each zone and of each quarter of the field, of left-out samples,
and of the field's total need. Beside those of means stand intervals by the surface's
one variogram, which up to 300 samples are not used. Counts how often the findings on
stated errors come up. Prints the table that stands in docs/.
"""

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
from vrp.pipeline.classing import class_cells
from vrp.pipeline.estimate import ask, estimate_soil_test, needs_on_cells
from vrp.pipeline.parts import part_field
from vrp.pipeline.uncertainty import need_interval
from vrp.spatial.calibration import LEVELS, calibration

REACH = NormalDist().inv_cdf(0.9)

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
    "a sample on 4 acres": ({"hot_factor": 1.0}, 127.2),
    "2 samples on an acre": ({"hot_factor": 1.0}, 45.0),
}
COLUMNS = (
    "zones",
    "zones, one variogram",
    "quarters",
    "quarters, one variogram",
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
    parts = part_field(question, estimate, class_cells(question, estimate, needs))
    truth = make.draw(scene, seed=seed).truth
    turn = Transformer.from_crs(inputs.field.crs, scene.crs, always_xy=True).transform
    ground = truth.at(np.column_stack(turn(*question.cells.xy.T)))
    return question, estimate, needs, parts, ground


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
    alone = replace(surface, among=None)
    for name, pieces in ground_of.items():
        for index in pieces:
            true = ground[index].mean()
            low, high = surface.interval(index)
            found[name].append(low <= true <= high)
            low, high = alone.interval(index)
            found[f"{name}, one variogram"].append(low <= true <= high)
    everywhere = np.arange(len(xy))
    low, high = need_interval(question, estimate, needs, here=everywhere)
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
