"""
How far prescriptions are from what the ground truly needs, over seeded fields.

    python tests/benchmarks/truth.py [FIELDS]

Draws fields like the sample field ``us``, builds each from its samples, and compares
with the need on the drawn ground: the zones as built, those with the expected build-up
(``basis = "expected"``), the guideline's rate at the composite, and the zones' whole
expected need. Prints the table that stands in docs/.
"""

import importlib.util
import sys
import tempfile
from dataclasses import replace
from pathlib import Path

import numpy as np
import shapely
from pyproj import Transformer

from vrp import job
from vrp.agronomy.guidelines import shipped
from vrp.agronomy.need import Season, need_curve
from vrp.io.field_file import read_field_file
from vrp.pipeline import build

ROOT = Path(__file__).parents[2]
ACRE = 4046.8564224  # [m²]
LIMIT = 40.0  # no need above it: corn and soybean by the sample field's guideline [ppm]


def load_make():
    """Return the module that draws the sample fields."""
    path = ROOT / "sample_fields" / "make.py"
    spec = importlib.util.spec_from_file_location("make", path)
    module = importlib.util.module_from_spec(spec)
    sys.modules["make"] = module
    spec.loader.exec_module(module)
    return module


def compare(make, scene, seed):
    """Return errors of need by method [lb/ac], intervals that held, and verdict."""
    with tempfile.TemporaryDirectory() as folder:
        field = make.write(Path(folder) / scene.name, scene, seed=seed)
        plan = read_field_file(field / "field.toml").plan
        inputs = job._read(plan)
    need = replace(plan.need, basis="expected")
    built, other = build(plan, inputs), build(replace(plan, need=need), inputs)
    truth = make.draw(scene, seed=seed).truth
    inside = shapely.contains_xy(scene.outline, truth.xy)
    ground = truth.value.ravel()[inside]
    to_lonlat = Transformer.from_crs(scene.crs, "EPSG:4326", always_xy=True).transform
    lon, lat = to_lonlat(*truth.xy[inside].T)
    zone, second = (_zones(each, lon, lat) for each in (built, other))
    # A few cells on the outline fall outside by the lattice's centimetre.
    known = (zone >= 0) & (second >= 0)
    ground, zone, second = ground[known], zone[known], second[known]

    seasons = [Season("corn-grain", 200.0, "bu/ac"), Season("soybean", 60.0, "bu/ac")]
    curve = need_curve(shipped()["tri-state-2020"], seasons, pool=False, build_up=True)
    needed = curve.in_unit(ground)
    totals = built.totals
    asked = {
        "zones as built": np.array([one.need for one in built.zones])[zone],
        "expected build-up": np.array([one.need for one in other.zones])[second],
        "one rate": np.full(len(ground), totals.uniform.p2o5_need / totals.area),
        "expected need": np.array(
            [
                one.need if one.expected_need is None else one.expected_need
                for one in built.zones
            ]
        )[zone],
    }
    acres = make.CELL**2 / ACRE
    rich = ground > LIMIT
    figures = {
        name: (
            np.abs(given - needed).mean(),
            ((given - needed) ** 2).mean(),
            (given - needed).mean(),
            given[rich].sum() * acres,
        )
        for name, given in asked.items()
    }
    held = [
        one.soil_test_low <= ground[zone == index].mean() <= one.soil_test_high
        for index, one in enumerate(built.zones)
        if one.soil_test_low is not None and (zone == index).any()
    ]
    return figures, held, built.surface.verdict


def _zones(built, lon, lat):
    """Return the index of the zone of each place, -1 outside."""
    zone = np.full(len(lon), -1)
    for index, one in enumerate(built.zones):
        shapely.prepare(one.geometry)
        zone[shapely.intersects_xy(one.geometry, lon, lat)] = index
    return zone


def main():
    """Print the table."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    make = load_make()
    done = [compare(make, make.US, seed) for seed in range(count)]
    verdicts = [verdict for _, _, verdict in done]
    print(f"{count} fields like `us`, seeds 0 to {count - 1}\n")
    print("| lb P2O5/ac | mean abs. error | RMSE | bias | lb a field above 40 ppm |")
    print("|---|---|---|---|---|")
    for name in done[0][0]:
        absolute, square, bias, rich = np.mean([each[0][name] for each in done], axis=0)
        print(
            f"| {name} | {absolute:.1f} | {np.sqrt(square):.1f} | {bias:+.1f} "
            f"| {rich:.0f} |"
        )
    print(f"\nNot supported: {verdicts.count('not supported')} fields.")
    held = [each for _, one, _ in done for each in one]
    print(f"\n80 % intervals of {len(held)} zones' means held {np.mean(held):.0%}.")
    # Where the verdict is "not supported" zones and one rate are the same.
    for verdict in sorted(set(verdicts) - {"not supported"}):
        chosen = [one for one in done if one[2] == verdict]
        better = [one[0]["zones as built"][0] < one[0]["one rate"][0] for one in chosen]
        print(
            f"Verdict {verdict}: {len(chosen)} fields; zones nearer in mean absolute "
            f"error than one rate in {np.mean(better):.0%}."
        )


if __name__ == "__main__":
    main()
