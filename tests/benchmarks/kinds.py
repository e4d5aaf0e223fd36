"""Kinds of soil to draw: those of the sample fields, and others no variogram fits."""

from dataclasses import replace

import numpy as np

# Changes of the soil of the sample field `us`, and what makes its pattern.
KINDS = {
    "noise": ({"nugget_share": 1.0}, "variogram"),
    "range 100 m": ({"range_m": 100.0}, "variogram"),
    "range 150 m": ({"range_m": 150.0}, "variogram"),
    "range 180 m": ({}, "variogram"),
    "range 250 m": ({"range_m": 250.0}, "variogram"),
    "range 300 m, nugget 0.2": ({"range_m": 300.0, "nugget_share": 0.2}, "variogram"),
    "nugget 0.7": ({"nugget_share": 0.7}, "variogram"),
    "as `us`, with a hot spot": ({"hot_factor": 4.0}, "variogram"),
    "not skewed": ({}, "even"),
    "seven patches": ({}, "patches"),
    "a slope across": ({}, "trend"),
    "six rich spots": ({}, "spots"),
    "two scales": ({}, "two scales"),
}


def draw_kind(make, scene, kind, *, seed):
    """Return truth, positions and soil tests of a field of one kind."""
    changes, pattern = KINDS[kind]
    soil = replace(scene.soil, **({"hot_factor": 1.0} | changes))
    scene = replace(scene, soil=soil)
    if pattern == "variogram":
        return make.draw(scene, seed=seed)
    generator = np.random.default_rng([seed, 7])
    blank = make.simulate(scene.outline, soil=soil, generator=generator)
    shape, xy = blank.value.shape, blank.xy
    short = soil.nugget_share * soil.variance - soil.sampling_variance
    work = np.sqrt(short) * make._smooth(shape, make.SHORT_RANGE, generator)
    long = _pattern(make, pattern, xy, shape, generator)
    long = (long - long.mean()) / long.std()
    work += np.sqrt((1.0 - soil.nugget_share) * soil.variance) * long.reshape(shape)
    work -= work.mean()
    value = soil.mean * np.exp(work - soil.variance / 2.0)
    if pattern == "even":
        value = np.maximum(soil.mean * (1.0 + work), 1.0)
    truth = make.Surface(blank.west, blank.north, blank.cell, value)
    places = make.positions(
        scene.outline, spacing=scene.spacing, offset=6.0, generator=generator
    )
    tests = make.composites(truth, places, soil=soil, generator=generator)
    rounded = np.round(tests, scene.decimals)
    return make.Sampled(truth, places, rounded, rounded, rounded)


def _pattern(make, pattern, xy, shape, generator):
    low, high = xy.min(axis=0), xy.max(axis=0)
    if pattern == "even":
        return make._smooth(shape, 180.0, generator).ravel()
    if pattern == "patches":
        middle, level = generator.uniform(low, high, (7, 2)), generator.normal(size=7)
        away = ((xy[:, None] - middle) ** 2).sum(axis=2)
        return level[away.argmin(axis=1)]
    if pattern == "trend":
        angle = generator.uniform(0.0, 2.0 * np.pi)
        return xy @ [np.cos(angle), np.sin(angle)]
    if pattern == "two scales":
        both = [
            make._smooth(shape, reach, generator).ravel() for reach in (70.0, 400.0)
        ]
        return both[0] + both[1]
    away = [((xy - generator.uniform(low, high)) ** 2).sum(axis=1) for _ in range(6)]
    return np.exp(-np.array(away) / (2.0 * 40.0**2)).sum(axis=0)
