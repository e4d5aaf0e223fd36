"""
What the cut points of bands are worth, and how long bands and widths take.

    python tests/benchmarks/zones.py [DRAWS]

Draws soils on the ground of the sample fields ``us`` and ``layers``, maps each from its
own samples, and compares bands of equal width of need with those that misplace least,
as many of them, before shaping: by the need on the map, and by that of the drawn
ground. Then times a million cells.
"""

import sys
import time

import numpy as np
import shapely
from scipy.ndimage import gaussian_filter
from truth import load_make

from vrp.agronomy.guidelines import settled, shipped
from vrp.agronomy.need import Season, need_curve
from vrp.spatial.bands import best_bands
from vrp.spatial.grid import Cells
from vrp.spatial.surface import build_surface
from vrp.spatial.widths import opened, widen
from vrp.spatial.zones import band_labels, merge_small

WIDTH = 17.5  # of an equal band [lb P2O5/ac]


def curves():
    """Return the need curves of the two sample fields."""
    corn = [Season("corn-grain", 200.0, "bu/ac")]
    tri_state = shipped()["tri-state-2020"]
    illinois = settled(
        shipped()["illinois-2009"], method="bray-p1", region="high", build_years=None
    )
    return {
        "us": need_curve(tri_state, corn, pool=False, build_up=True),
        "layers": need_curve(illinois, corn, pool=False, build_up=True),
    }


def distance(values, labels):
    """Return the mean distance of values from the mean of their label."""
    return np.abs(values - mean_of(values, labels)).mean()


def mean_of(values, labels):
    """Return the mean of the label of each value."""
    mean = np.bincount(labels, values) / np.maximum(np.bincount(labels), 1)
    return mean[labels]


def equal(curve):
    """Return the cuts of equal bands no wider than `WIDTH`, from 0 up."""
    cuts, lower = [], 0.0
    for piece in curve.pieces[:-1]:
        fall = abs(piece.slope) * (piece.upper - lower)
        count = max(1, int(np.ceil(round(fall / WIDTH, 9))))
        cuts += np.linspace(lower, piece.upper, count + 1)[1:].tolist()
        lower = piece.upper
    return cuts


def main():
    """Print a line a field, and the times."""
    draws = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    make = load_make()
    for name, curve in curves().items():
        scene, rows = make.SCENES[name], []
        for seed in range(draws):
            drawn = make.draw(scene, seed=seed)
            coarse = drawn.truth.coarser(2)
            inside = shapely.contains_xy(scene.outline, coarse.xy)
            cells, ground = coarse.xy[inside], coarse.value.ravel()[inside]
            surface = build_surface(drawn.xy, drawn.soil_test, cells, lab_cv=8.0)
            times = 2.0 if curve.soil_test_unit == "lb/ac" else 1.0
            test = times * surface.estimate.astype(float)
            need, true = curve.in_unit(test), curve.in_unit(times * ground)
            even = curve.in_unit(times * drawn.soil_test.mean())
            bands = band_labels(test, equal(curve), closed=curve.closed)
            _, bands = np.unique(bands, return_inverse=True)
            limits = sorted({curve.critical, curve.no_need_above})
            sides = band_labels(test, limits, closed=curve.closed)
            count = int(bands.max()) + 1
            found = best_bands(need, parts=sides, most=count)
            fewest = len(np.unique(sides))
            last = found[min(count - fewest, len(found) - 1)]
            asked = (need, mean_of(need, last.labels), mean_of(need, bands), even)
            off = [np.abs(one - true).mean() for one in asked]
            rows.append((count, distance(need, bands), last.misplaced, *off))
        count, equally, best, *off = np.mean(rows, axis=0)
        nearer = np.mean([one[2] <= one[1] + 1e-9 for one in rows])
        print(
            f"{name}: {draws} soils, {count:.1f} bands: equal {equally:.2f}, best "
            f"{best:.2f} lb P2O5/ac misplaced; never more in {100 * nearer:.0f} %\n"
            f"  by the drawn ground: each cell {off[0]:.1f}, best bands {off[1]:.1f}, "
            f"equal ones {off[2]:.1f}, one rate {off[3]:.1f}"
        )
    million()


def million():
    """Time bands, merging and widening on a million cells."""
    random = np.random.default_rng(1)
    for side in (160, 1000):
        smooth = gaussian_filter(random.normal(size=(side, side)), side / 25)
        need = np.clip(70.0 + 40.0 * smooth / smooth.std(), 0.0, 130.0)
        cells = Cells(0.0, 0.0, 1.0, np.ones(need.shape, bool))
        parts = (need.ravel() > 70.0).astype(int) + (need.ravel() > 0.0)
        start = time.perf_counter()
        found = best_bands(need.ravel(), parts=parts, most=8)
        cut = time.perf_counter()
        labels = cells.spread(found[2].labels, -1)
        labels = merge_small(labels, need.ravel(), cells, min_area=400.0)
        merged = time.perf_counter()
        wide = widen(labels, need.ravel(), cells, min_width=8.0)
        widened = time.perf_counter()
        before, after = (1.0 - opened(x, across=8.0).mean() for x in (labels, wide))
        print(
            f"{side**2:,} cells: bands {cut - start:.2f} s, merged "
            f"{merged - cut:.2f} s, widened to 8 cells {widened - merged:.2f} s; "
            f"narrow ground {100 * before:.1f} %, then {100 * after:.1f} %"
        )


if __name__ == "__main__":
    main()
