"""
How often the verdict errs, on fields whose truth is known.

    python tests/benchmarks/verdict.py [DRAWS]

Draws soils without hot spot on the ground of the sample field ``us``, samples each on
its grid of one an acre, and compares surface and field mean with the need on the drawn
ground: DRAWS soils for each of three mean levels and each structure. Prints the table
that stands in docs/.
"""

import sys
from dataclasses import replace

import numpy as np
import shapely
from truth import load_make

from vrp.agronomy.guidelines import shipped
from vrp.agronomy.need import Season, need_curve
from vrp.spatial.surface import build_surface
from vrp.spatial.validation import skill, verdict

MEANS = (16.0, 22.0, 30.0)  # [ppm]
STRUCTURES = {"pure noise": None, **{f"range {r} m": r for r in (100, 150, 200, 250)}}
SAID = ("not supported", "weak", "supported")


def judge(make, scene, curve, *, seed):
    """Return verdict, whether the map is nearer than the mean, and the lesser skill."""
    drawn = make.draw(scene, seed=seed)
    coarse = drawn.truth.coarser(4)
    inside = shapely.contains_xy(scene.outline, coarse.xy)
    ground = curve.in_unit(coarse.value.ravel()[inside])
    surface = build_surface(drawn.xy, drawn.soil_test, coarse.xy[inside], lab_cv=8.0)
    cross = surface.cross
    skills = [
        skill(
            change(cross.observed),
            change(cross.kriging.blocked),
            baseline=change(cross.field_mean.blocked),
        )
        for change in (np.asarray, curve.in_unit)
    ]
    said = verdict(n=surface.n, soil_test=skills[0], need=skills[1])
    mapped = np.mean((curve.in_unit(surface.estimate.astype(float)) - ground) ** 2)
    even = np.mean((curve.in_unit(drawn.soil_test.mean()) - ground) ** 2)
    return said, mapped < even, np.nanmin(skills)


def main():
    """Print the table."""
    draws = int(sys.argv[1]) if len(sys.argv) > 1 else 250
    make = load_make()
    seasons = [Season("corn-grain", 200.0, "bu/ac")]
    curve = need_curve(shipped()["tri-state-2020"], seasons, pool=False, build_up=True)
    print(f"{draws} soils for each of {len(MEANS)} mean levels a row\n")
    print("| true field | not supported | weak | supported |\n|---|---|---|---|")
    structured = []
    for name, range_m in STRUCTURES.items():
        soil = replace(make.US.soil, hot_factor=1.0)
        share = (
            {"nugget_share": 1.0} if range_m is None else {"range_m": float(range_m)}
        )
        judged = [
            judge(
                make,
                replace(make.US, soil=replace(soil, mean=mean, **share)),
                curve,
                seed=seed,
            )
            for mean in MEANS
            for seed in range(draws)
        ]
        counts = [np.mean([one == said for one, *_ in judged]) for said in SAID]
        print(f"| {name} | " + " | ".join(f"{share:.1%}" for share in counts) + " |")
        structured += judged if range_m is not None else []
    print("\nMap nearer the true need than one rate, on fields with structure:")
    for said in SAID:
        nearer = [better for one, better, _ in structured if one == said]
        print(f"{said}: {np.mean(nearer):.0%} of {len(nearer)}")
    doubted = [better for _, better, least in structured if least <= 0.0]
    print(f"either skill at or below 0: {np.mean(doubted):.0%} of {len(doubted)}")


if __name__ == "__main__":
    main()
