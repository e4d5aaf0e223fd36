"""
How often the verdict errs, on fields whose truth is known.

    python tests/benchmarks/verdict.py [DRAWS]

Draws soils of several kinds (kinds.py) on ground like that of the sample field ``us``,
samples each at 1 and at 2.5 acres a sample, and compares surface and field mean with
the need on the drawn ground: DRAWS soils for each of three mean levels and kind.
Prints the tables that stand in docs/.
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
from vrp.spatial.surface import build_surface
from vrp.spatial.validation import skill, verdict

MEANS = (16.0, 22.0, 30.0)  # [ppm]
SAID = ("not supported", "weak", "supported")
# Size of the ground against that of `us` (75 ac), and spacing of the samples [m].
DESIGNS = {
    "75 ac, 1 ac a sample": (1.0, 63.6),
    "160 ac, 2.5 ac a sample": (1.46, 100.6),
    "80 ac, 2.5 ac a sample": (1.05, 100.6),
}


def judge(make, scene, kind, curve, *, seed):
    """Return verdict, squared error of map over that of the mean, and samples."""
    drawn = draw_kind(make, scene, kind, seed=seed)
    coarse = drawn.truth.coarser(4)
    inside = shapely.contains_xy(scene.outline, coarse.xy)
    ground = curve.in_unit(coarse.value.ravel()[inside])
    surface = build_surface(drawn.xy, drawn.soil_test, coarse.xy[inside], lab_cv=8.0)
    cross = surface.cross
    blocked, alone = (
        [
            skill(
                change(cross.observed),
                change(getattr(cross.kriging, way)),
                baseline=change(getattr(cross.field_mean, way)),
            )
            for change in (np.asarray, curve.in_unit)
        ]
        for way in ("blocked", "leave_one_out")
    )
    # A design of 30 samples more or less is judged as one of 30.
    said = verdict(n=30, soil_test=blocked[0], need=blocked[1], alone=alone)
    mapped = np.mean((curve.in_unit(surface.estimate.astype(float)) - ground) ** 2)
    even = np.mean((curve.in_unit(drawn.soil_test.mean()) - ground) ** 2)
    return said, mapped / even, surface.n


def main():
    """Print the tables."""
    draws = int(sys.argv[1]) if len(sys.argv) > 1 else 50
    make = load_make()
    seasons = [Season("corn-grain", 200.0, "bu/ac")]
    curve = need_curve(shipped()["tri-state-2020"], seasons, pool=False, build_up=True)
    print(f"{draws} soils for each of {len(MEANS)} mean levels a row")
    for design, (times, spacing) in DESIGNS.items():
        ground = affinity.scale(make.US.outline, times, times, origin=(0, 0))
        scene = replace(make.US, outline=ground, spacing=spacing)
        rows = {
            kind: [
                judge(
                    make,
                    replace(scene, soil=replace(scene.soil, mean=mean)),
                    kind,
                    curve,
                    seed=seed,
                )
                for mean in MEANS
                for seed in range(draws)
            ]
            for kind in KINDS
        }
        count = np.mean([n for each in rows.values() for *_, n in each])
        print(f"\n| {design}: {count:.0f} samples | {' | '.join(SAID)} |")
        print("|---|---|---|---|")
        for kind, judged in rows.items():
            shares = [np.mean([one == said for one, *_ in judged]) for said in SAID]
            print(f"| {kind} | " + " | ".join(f"{each:.0%}" for each in shares) + " |")
        structured = [one for kind in list(rows)[1:] for one in rows[kind]]
        for said in SAID:
            ratio = np.array([each for one, each, _ in structured if one == said])
            print(
                f"{said}: the map nearer on {np.mean(ratio < 1.0):.0%}, by 5 % or more "
                f"on {np.mean(ratio < 0.95):.0%} of {len(ratio)} fields with structure"
            )


if __name__ == "__main__":
    main()
