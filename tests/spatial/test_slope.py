"""Slope of the ground from heights on a grid."""

import shutil
import subprocess

import numpy as np
import pytest
import rasterio
import shapely
from hypothesis import given
from hypothesis import strategies as st
from rasterio import Affine

from vrp.spatial.slope import Terrain, mean_slope, slope_percent

RISE = st.floats(-0.5, 0.5)


@given(RISE, RISE, st.floats(0.5, 40.0), st.floats(0.5, 40.0))
def test_a_plane(east, south, width, height):
    """A plane has the slope that it was drawn with, whatever the shape of its cells."""
    rows, columns = np.indices((5, 6))
    heights = 200.0 + east * columns * width + south * rows * height

    found = slope_percent(heights, width=width, height=height)

    assert found[1:-1, 1:-1] == pytest.approx(100.0 * np.hypot(east, south), abs=1e-6)
    assert np.isnan(found[0]).all()
    assert np.isnan(found[:, -1]).all()


def test_by_hand():
    """
    Nine heights with cells of 10 m, worked by hand.

    East: ((3 + 2 × 5 + 9) − (1 + 2 × 2 + 4)) / 80 = 13/80; south: ((4 + 2 × 7 + 9) −
    (1 + 2 × 2 + 3)) / 80 = 19/80; √(13² + 19²) / 80 = 0.28777.
    """
    heights = np.array([[1.0, 2.0, 3.0], [2.0, 50.0, 5.0], [4.0, 7.0, 9.0]])

    found = slope_percent(heights, width=10.0, height=10.0)

    assert found[1, 1] == pytest.approx(28.777, abs=0.001)


@pytest.mark.parametrize("at", [(1, 1), (0, 0), (2, 1)])
def test_missing_stays_missing(at):
    """A missing height leaves no slope beside it, and none on it."""
    heights = np.zeros((3, 3))
    heights[at] = np.nan

    assert np.isnan(slope_percent(heights, width=1.0, height=1.0)).all()


def test_too_few():
    """Two rows have no cell with eight neighbours."""
    assert np.isnan(slope_percent(np.zeros((2, 9)), width=1.0, height=1.0)).all()


@pytest.mark.skipif(shutil.which("gdaldem") is None, reason="gdaldem is not here")
def test_gdaldem(tmp_path):
    """Rough ground slopes as the program gdaldem of GDAL says."""
    heights = np.random.default_rng(7).normal(200.0, 3.0, (12, 9))
    with rasterio.open(
        tmp_path / "heights.tif",
        "w",
        driver="GTiff",
        width=9,
        height=12,
        count=1,
        dtype="float64",
        crs="EPSG:32616",
        transform=Affine(4.0, 0.0, 500_000.0, 0.0, -4.0, 4_500_000.0),
    ) as to:
        to.write(heights, 1)
    subprocess.run(
        ["gdaldem", "slope", "-q", "-p", "heights.tif", "slope.tif"],
        cwd=tmp_path,
        check=True,
    )
    with rasterio.open(tmp_path / "slope.tif") as read:
        theirs = read.read(1)

    ours = slope_percent(heights, width=4.0, height=4.0)

    assert ours[1:-1, 1:-1] == pytest.approx(theirs[1:-1, 1:-1], abs=1e-3)


def ground(slope):
    """Return terrain of ten by ten cells of 10 m whose slope is given."""
    rows, columns = np.indices((10, 10))
    xy = np.column_stack([columns.ravel() * 10.0 + 5.0, rows.ravel() * 10.0 + 5.0])
    return Terrain("heights.tif", xy, np.broadcast_to(slope, 100), 10.0, "m")


def test_mean_of_a_zone():
    """A zone over five columns at 2 % and five at 6 % slopes by 4 %."""
    terrain = ground(np.tile([2.0] * 5 + [6.0] * 5, 10))

    assert mean_slope(terrain, shapely.box(0, 0, 100, 100)) == pytest.approx(4.0)
    assert mean_slope(terrain, shapely.box(0, 0, 50, 100)) == pytest.approx(2.0)


@pytest.mark.parametrize(
    ("east", "known"),
    # Of 100 m by 100 m the raster covers what lies west of 100: just a half, or less.
    [(50.0, True), (60.0, False)],
)
def test_half_covered(east, known):
    """A zone has a slope where at least half of it is covered."""
    terrain = ground(3.0)

    found = mean_slope(terrain, shapely.box(east, 0.0, east + 100.0, 100.0))

    assert (found is not None) == known


def test_a_zone_between_centres():
    """A strip that holds no centre has the slope of the nearest cell beside it."""
    terrain = ground(np.tile(np.arange(10.0), 10))

    assert mean_slope(terrain, shapely.box(31.0, 20.0, 34.0, 28.0)) == 3.0
    assert mean_slope(terrain, shapely.box(500.0, 20.0, 503.0, 28.0)) is None
