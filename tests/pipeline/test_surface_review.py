"""What is said of the map, of clustered samples, and of zones that others drew."""

from pathlib import Path

import numpy as np
import pytest
import shapely

from vrp.agronomy.guidelines import parse
from vrp.pipeline import Inputs, build
from vrp.spatial.field import LONLAT, Field, Samples, fitting_crs, reproject

OWN = Path(__file__).parents[1] / "data" / "own-guideline.toml"
PLACE = shapely.MultiPolygon([shapely.box(-84.303, 40.597, -84.297, 40.602)])
CRS = fitting_crs(PLACE)
FIELD = Field("b.geojson", PLACE, CRS, reproject(PLACE, LONLAT, CRS))
WEST, SOUTH, EAST, NORTH = FIELD.outline.bounds
MIDDLE = (WEST + EAST) / 2.0


def _grid():
    x, y = np.meshgrid(
        np.linspace(WEST + 20, EAST - 20, 8), np.linspace(SOUTH + 20, NORTH - 20, 8)
    )
    return np.column_stack([x.ravel(), y.ravel()])


def given(xy, value, zones=None, shapes=None):
    """Return ground with samples at places, and zones as they were drawn."""
    shapes = shapely.points(xy) if shapes is None else shapes
    rows = tuple(range(2, len(shapes) + 2))
    samples = Samples("s.csv", rows, ("",) * len(rows), shapes, value, {})
    guideline = parse(OWN.read_text("utf-8"), OWN.name)
    zones = None if zones is None else np.array(zones, dtype=object)
    return Inputs(FIELD, samples, (), (), (), "own", guideline, zones, (), (None,), ())


def halves(*, upright):
    """Return the halves of the field, west and east or south and north."""
    level = (SOUTH + NORTH) / 2.0
    cut = (
        shapely.box(WEST - 9, SOUTH - 9, MIDDLE, NORTH + 9)
        if upright
        else shapely.box(WEST - 9, SOUTH - 9, EAST + 9, level)
    )
    outline = FIELD.outline
    return [outline.intersection(cut), outline.difference(cut)]


def codes(prescription):
    return {one.code: one for one in prescription.findings}


def steps(xy):
    """Return 20 in the west and 40 in the east, with 1 more or less in turn."""
    return np.where(xy[:, 0] < MIDDLE, 20.0, 40.0) + (-1.0) ** np.arange(len(xy))


def test_drawn_zones_that_fit(plan):
    """Halves at 20 and 40 with a deviation of 1: 100 of 101 parts lie between them."""
    xy = _grid()
    asked = plan(zones={"by": "file", "file": "zones.geojson"})
    found = build(asked, given(xy, steps(xy), zones=halves(upright=True)))

    drawn = found.drawn
    assert (drawn.zones, drawn.samples) == (2, 64)
    assert drawn.between == pytest.approx(100 / 101, abs=1e-4)
    assert drawn.by_chance == pytest.approx(1 / 63, abs=1e-4)
    # A left-out sample is off its half's mean by 32 / 31 of its own deviation of 1, off
    # the field's by 64 / 63 of the root of 101 on average.
    expected = 1.0 - (32 / 31) ** 2 / ((64 / 63) ** 2 * 101.0)
    assert drawn.leave_one_out == pytest.approx(expected, abs=1e-4)
    told = codes(found)["drawn-zones"]
    assert told.severity == "note"
    assert told.message.startswith("zones.geojson: 99 % of the variance of 64 samples")
    # A candidate of the surface, too.
    assert "means of the drawn zones" in [
        one.method for one in found.surface.candidates
    ]


def test_drawn_zones_that_tell_nothing(plan):
    """Halves across the pattern are kept and warned of, with the same two zones."""
    xy = _grid()
    asked = plan(zones={"by": "file", "file": "zones.geojson"})
    found = build(asked, given(xy, steps(xy), zones=halves(upright=False)))

    assert len(found.zones) == 2
    assert found.drawn.between < 0.01
    assert codes(found)["drawn-zones"].severity == "warn"


def test_composites_in_drawn_zones(plan):
    """Composites of cells are parted by drawn zones as points are; none in blocks."""
    x = np.linspace(WEST, EAST, 5)
    y = np.linspace(SOUTH, NORTH, 5)
    cells = [
        FIELD.outline.intersection(shapely.box(*low, *high))
        for low, high in zip(
            np.stack(np.meshgrid(x[:-1], y[:-1]), -1).reshape(-1, 2),
            np.stack(np.meshgrid(x[1:], y[1:]), -1).reshape(-1, 2),
            strict=True,
        )
    ]
    value = steps(np.array([[one.centroid.x, one.centroid.y] for one in cells]))
    asked = plan(
        samples={
            "file": "s.geojson",
            "kind": "cell",
            "soil_test": "P",
            "method": "mehlich-3-icp",
            "unit": "ppm",
            "depth": 8,
        },
        zones={"by": "file", "file": "zones.geojson"},
    )
    found = build(
        asked, given(None, value, zones=halves(upright=True), shapes=np.array(cells))
    )

    assert found.surface is None
    assert (found.drawn.zones, found.drawn.samples) == (2, 16)
    assert found.drawn.between == pytest.approx(100 / 101, abs=1e-4)
    assert found.drawn.blocked is None
    assert "drawn-zones" in codes(found)


def test_zones_of_the_map_are_not_judged_by_it(plan):
    """Zones drawn from the soil test itself have no such figure."""
    xy = _grid()
    found = build(plan(), given(xy, steps(xy)))

    assert found.drawn is None
    assert "drawn-zones" not in codes(found)
    assert found.surface.clustering == pytest.approx(0.43, abs=0.05)
    assert "samples-clustered" not in codes(found)


def test_clustered_samples_are_said(plan):
    """Samples in five heaps are named, and the verdict goes by the blocks alone."""
    rng = np.random.default_rng(1)
    heap = rng.uniform((WEST + 60, SOUTH + 60), (EAST - 60, NORTH - 60), (5, 1, 2))
    xy = (heap + rng.normal(0.0, 12.0, (5, 12, 2))).reshape(-1, 2)
    found = build(plan(), given(xy, 30.0 + np.repeat([9.0, -9.0, 3.0, 0.0, -3.0], 12)))

    assert found.surface.clustering > 1.4
    assert codes(found)["samples-clustered"].severity == "warn"
    # Within heaps all are alike, so that a sample alone is foretold by its neighbours;
    # a block may cut through a heap, so that some of it is foretold still.
    skill = found.surface.skill.soil_test
    assert skill.leave_one_out > 0.9
    assert skill.blocked < skill.leave_one_out - 0.2
