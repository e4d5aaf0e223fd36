"""
What Matern models, directions, robust bins and normal scores do for a map.

    python tests/benchmarks/variograms.py [FIELDS]

Draws FIELDS grounds a row on a grid that an unsteady hand walked, spacing 64 m, samples
them with the row's nugget, and compares the squared error of the map at 200 places with
that of the map made without what is tried. Prints the tables that stand in docs/.
"""

import sys

import numpy as np

from vrp.spatial import kriging
from vrp.spatial.bins import bin_pairs
from vrp.spatial.direction import find_direction
from vrp.spatial.likely import likely
from vrp.spatial.variogram import Variogram, spacing
from vrp.spatial.variogram_fit import fit_to, grids

STEP = 64.0
PLACES = 200
OUTLYING, TIMES = 0.05, 4.0  # share of samples that are so many times as rich


def ground(side, model, *, count, seed=1):
    """Yield samples on a grid, and the ground at other places, `count` times."""
    rng = np.random.default_rng(seed)
    line = np.arange(side) * STEP
    xy = np.stack(np.meshgrid(line, line), -1).reshape(-1, 2)
    xy = xy + rng.normal(0.0, 0.08 * STEP, xy.shape)
    places = rng.uniform(0.0, (side - 1) * STEP, (PLACES, 2))
    both = np.vstack([xy, places])
    covariance = model.partial_sill * model.correlation(model.lags(both, both))
    root = np.linalg.cholesky(covariance + 1e-8 * np.eye(len(both)))
    n = len(xy)
    for _ in range(count):
        drawn = root @ rng.standard_normal(len(both))
        noise = model.nugget**0.5 * rng.standard_normal(n)
        yield xy, drawn[:n] + noise, places, drawn[n:]


def error(xy, value, places, true, variogram):
    """Return the squared error of a map."""
    if variogram.partial_sill <= 0.0:
        return np.mean((value.mean() - true) ** 2)
    system = kriging.prepare(xy, value, variogram=variogram)
    return np.mean((kriging.estimate(system, places).value - true) ** 2)


def fitted(xy, value, *, smooth=False, robust=False):
    """Return the fit with or without Matern models, to either kind of bins."""
    near, edges, ranges = grids(xy)
    bins = bin_pairs(xy, value, edges=edges)
    if robust:
        bins = type(bins)(bins.pairs, bins.distance, bins.robust)
    return fit_to(bins, ranges=ranges, nearest=near / 2.0, smooth=smooth)


def mean_of_likely(xy, value, angle=0.0, ratio=1.0):
    """Return the variogram that a surface of up to 300 samples takes."""
    among = likely(xy, value, spacing=spacing(xy), angle=angle, ratio=ratio)
    each = [one.variogram for one in among.systems]
    figures = among.weight @ [(one.nugget, one.partial_sill, one.range) for one in each]
    return Variogram("spherical", *figures, angle=angle, ratio=ratio)


def show(name, taken, without, instead):
    """Print a row: how often it was taken, and what became of the squared error."""
    without, instead, taken = (np.array(one) for one in (without, instead, taken))
    change = instead.sum() / without.sum() - 1.0
    where = "-"
    if taken.any():
        where = f"{instead[taken].sum() / without[taken].sum() - 1.0:+.1%}"
    print(f"| {name} | {taken.mean():.0%} | {change:+.1%} | {where} |", flush=True)


def matern(count):
    """Print what Matern models do, by samples and true model."""
    print("\n| samples, true model, nugget | taken | squared error | where taken |")
    print("|---|---|---|---|")
    for side in (9, 14, 20):
        for shape, smoothness, nugget in (
            ("spherical", None, 0.4),
            ("spherical", None, 0.1),
            ("exponential", None, 0.1),
            ("matern", 2.5, 0.2),
            ("matern", 2.5, 0.05),
        ):
            true = Variogram(
                shape, nugget, 1.0 - nugget, 4 * STEP, smoothness=smoothness
            )
            taken, without, instead = [], [], []
            for xy, value, places, ground_there in ground(side, true, count=count):
                plain = fitted(xy, value)
                found = fitted(xy, value, smooth=True)
                taken.append(found.smoothness is not None)
                without.append(error(xy, value, places, ground_there, plain))
                instead.append(error(xy, value, places, ground_there, found))
            kind = shape if smoothness is None else f"Matern {smoothness:g}"
            show(f"{side**2}, {kind}, {nugget:g}", taken, without, instead)


def direction(count):
    """Print how often a direction is taken, by samples, nugget and true ratio."""
    print("\n| samples, nugget, true ratio | taken | squared error | where taken |")
    print("|---|---|---|---|")
    for side in (10, 13, 17):
        for nugget in (0.1, 0.4):
            for ratio in (1.0, 2.0, 3.0):
                true = Variogram(
                    "spherical",
                    nugget,
                    1.0 - nugget,
                    4 * STEP * ratio**0.5,
                    angle=35.0,
                    ratio=ratio,
                )
                taken, without, instead = [], [], []
                number = 3 * count if ratio == 1.0 else count
                for xy, value, places, there in ground(side, true, count=number):
                    angle, found = find_direction(xy, value)
                    taken.append(found > 1.0)
                    plain = mean_of_likely(xy, value)
                    without.append(error(xy, value, places, there, plain))
                    if found > 1.0:
                        plain = mean_of_likely(xy, value, angle, found)
                    instead.append(error(xy, value, places, there, plain))
                show(f"{side**2}, {nugget:g}, {ratio:g}", taken, without, instead)


def robust(count):
    """Print what fitting to robust semivariances does, without and with outliers."""
    print("\n| samples, nugget, outlying | taken | squared error | where taken |")
    print("|---|---|---|---|")
    for side in (9, 20):
        for nugget in (0.1, 0.4):
            for outlying in (0.0, OUTLYING):
                true = Variogram("spherical", nugget, 1.0 - nugget, 4 * STEP)
                rng = np.random.default_rng(2)
                without, instead = [], []
                for xy, value, places, there in ground(side, true, count=count):
                    # On logarithms with a standard deviation of 0.5.
                    rich = rng.uniform(size=len(value)) < outlying
                    dirty = value + rich * np.log(TIMES) / 0.5
                    for errors, kind in ((without, False), (instead, True)):
                        found = fitted(xy, dirty, robust=kind)
                        errors.append(error(xy, dirty, places, there, found))
                name = f"{side**2}, {nugget:g}, {outlying:.0%}"
                show(name, [True] * count, without, instead)


def main():
    """Print the tables."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    print(f"{count} grounds a row")
    with kriging.one_thread():
        matern(count)
        robust(count)
        direction(count)


if __name__ == "__main__":
    main()
