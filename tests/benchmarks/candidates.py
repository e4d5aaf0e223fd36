"""
Which surface is nearest to the true need, and what choosing by the samples would do.

    python tests/benchmarks/candidates.py [DRAWS]

Draws DRAWS fields for each of twelve kinds of soil (kinds.py), samples each on several
designs, and compares the need on the drawn ground with that of each surface, and of the
surface that a rule would choose by blocked cross-validation. Prints the table that
stands in docs/.
"""

import sys
from dataclasses import replace

import numpy as np
import shapely
from kinds import KINDS, draw_kind
from shapely import affinity
from truth import load_make

from vrp.agronomy.guidelines import shipped
from vrp.agronomy.need import Season, need_curve
from vrp.spatial import kriging
from vrp.spatial.candidates import POWERS, compare
from vrp.spatial.footing import find_footing
from vrp.spatial.surface import build_surface
from vrp.spatial.variogram import distances
from vrp.spatial.variogram_fit import fit

LAB_CV = 8.0
# Size of the ground against that of `us` (75 ac), and spacing of the samples [m].
DESIGNS = {
    "40 ac, 2.5 ac a sample": (0.73, 100.6),
    "75 ac, 2.5 ac a sample": (1.0, 100.6),
    "160 ac, 2.5 ac a sample": (1.46, 100.6),
    "75 ac, 1 ac a sample": (1.0, 63.6),
}


def krige(xy, value, cells, *, log, fitted=False):
    """Return kriging's medians on one scale, by the likely variograms or a fit."""
    work = np.log(value) if log else value
    known = (LAB_CV / 100.0 * (1.0 if log else value.mean())) ** 2
    if fitted:
        model = fit(xy, work, minimum_nugget=known)
    else:
        model = find_footing(xy, work, minimum_nugget=known, apart=None).variogram
    found = kriging.estimate(kriging.prepare(xy, work, variogram=model), cells).value
    return np.exp(found) if log else np.maximum(found, 0.0)


def surfaces(xy, value, cells):
    """Return estimates on the cells by way, and the way that each rule chooses."""
    built = build_surface(xy, value, cells, lab_cv=LAB_CV)
    skewness = np.mean((value - value.mean()) ** 3) / value.std() ** 3
    away = np.maximum(distances(cells, xy), 1e-6)
    found = {
        built.method: built.estimate.astype(float),
        "field mean": np.full(len(cells), value.mean()),
        "variogram fitted": krige(xy, value, cells, log=built.log, fitted=True),
        "logarithmic scale always": krige(xy, value, cells, log=True),
        "linear scale always": krige(xy, value, cells, log=False),
        "logarithms above a skewness of 1": krige(
            xy, value, cells, log=bool(skewness > 1.0)
        ),
    }
    other = "linear" if built.log else "logarithmic"
    found[f"ordinary kriging, {other} scale"] = found[f"{other} scale always"]
    for power in POWERS:
        weight = away**-power
        name = f"inverse distance, power {power:g}"
        found[name] = weight @ value / weight.sum(axis=1)
    every = compare(built.cross, taken=built.method)
    some = tuple(one for one in built.cross.others if one.name != "field mean")
    no_mean = compare(replace(built.cross, others=some), taken=built.method)
    beaten = [
        one.name for one in no_mean.scores if one.difference < -one.standard_error
    ]
    weighted = [name for name in beaten if name.startswith("inverse")]
    rules = {
        "kriging, as vrp takes it": built.method,
        "kriging unless beaten by more than its error": (*weighted, built.method)[0],
        "least blocked error": no_mean.best,
        "simplest within one standard error": no_mean.simplest,
        "least blocked error, field mean too": every.best,
        "simplest, field mean too": every.simplest,
    }
    return found, rules


def errors(make, scene, kind, curve, *, seed):
    """Return mean absolute and squared error of need by way and rule."""
    drawn = draw_kind(make, scene, kind, seed=seed)
    coarse = drawn.truth.coarser(4)
    inside = shapely.contains_xy(scene.outline, coarse.xy)
    needed = curve.in_unit(coarse.value.ravel()[inside])
    found, rules = surfaces(drawn.xy, drawn.soil_test, coarse.xy[inside])
    off = {
        name: curve.in_unit(np.round(each, 4)) - needed for name, each in found.items()
    }
    shown = {name: off[chosen] for name, chosen in rules.items()}
    shown |= {
        name: each for name, each in off.items() if not name.startswith("ordinary")
    }
    pairs = {name: (np.abs(one).mean(), (one**2).mean()) for name, one in shown.items()}
    return pairs, len(drawn.xy)


def main():
    """Print the table."""
    draws = int(sys.argv[1]) if len(sys.argv) > 1 else 60
    make = load_make()
    curve = need_curve(
        shipped()["tri-state-2020"],
        [Season("corn-grain", 200.0, "bu/ac")],
        pool=False,
        build_up=True,
    )
    table, counts = {}, []
    for times, spacing in DESIGNS.values():
        ground = affinity.scale(make.US.outline, times, times, origin=(0, 0))
        scene = replace(make.US, outline=ground, spacing=spacing)
        kinds, samples = {}, []
        for kind in KINDS:
            done = [
                errors(make, scene, kind, curve, seed=seed) for seed in range(draws)
            ]
            samples += [count for _, count in done]
            for name in done[0][0]:
                mean = np.mean([each[name] for each, _ in done], axis=0)
                kinds.setdefault(name, []).append((mean[0], mean[1] ** 0.5))
        counts.append(f"{np.mean(samples):.0f}")
        for name, pairs in kinds.items():
            table.setdefault(name, []).append(np.mean(pairs, axis=0))
    print(f"{draws} fields of each of {len(KINDS)} kinds a column\n")
    print("| lb P2O5/ac: mean abs. error, RMSE | " + " | ".join(DESIGNS) + " |")
    print("|---" * (len(DESIGNS) + 1) + "|")
    print("| samples | " + " | ".join(counts) + " |")
    for name, pairs in table.items():
        cells = (f"{absolute:.1f}, {root:.2f}" for absolute, root in pairs)
        print(f"| {name} | " + " | ".join(cells) + " |")


if __name__ == "__main__":
    main()
