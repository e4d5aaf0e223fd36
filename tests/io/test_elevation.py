"""Slope of a field from a raster of heights."""

import numpy as np
import pytest
import rasterio
import shapely
from pyproj import CRS, Transformer
from rasterio import Affine

from vrp.errors import InputError
from vrp.io.elevation import read_slope
from vrp.spatial.field import LONLAT, Field, fitting_crs, reproject

LON, LAT = -84.3, 40.6


@pytest.fixture
def field():
    """Return a square of 400 m."""
    crs = fitting_crs(shapely.Point(LON, LAT))
    outline = shapely.MultiPolygon([shapely.box(0.0, 0.0, 400.0, 400.0)])
    return Field("boundary.geojson", reproject(outline, crs, LONLAT), crs, outline)


def write(path, field, crs, *, cell, rise=0.05, unit=None, count=1, dtype="float32"):
    """Write heights that rise to the east on the ground, in metres, in any CRS."""
    west, south, east, north = reproject(field.lonlat, LONLAT, crs).bounds
    margin = 5 * cell
    west, north = west - margin, north + margin
    columns = int((east + margin - west) / cell)
    rows = int((north - south + margin) / cell)
    x = west + (np.arange(columns) + 0.5) * cell
    y = north - (np.arange(rows) + 0.5) * cell
    there = Transformer.from_crs(crs, field.crs, always_xy=True)
    metres, _ = there.transform(*np.meshgrid(x, y))
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        width=columns,
        height=rows,
        count=count,
        dtype=dtype,
        crs=crs,
        transform=Affine(cell, 0.0, west, 0.0, -cell, north),
    ) as to:
        for band in range(1, count + 1):
            to.write((250.0 + rise * metres).astype(dtype), band)
        if unit is not None:
            to.set_band_unit(1, unit)
    return path


@pytest.mark.parametrize(
    ("crs", "cell"),
    [
        ("EPSG:32616", 10.0),
        ("EPSG:4326", 1 / 10_800),
        ("EPSG:3857", 10.0),
        # Ohio north, in feet.
        ("EPSG:3734", 30.0),
    ],
)
def test_any_crs(crs, cell, tmp_path, field):
    """Ground that rises 5 m in 100 slopes by 5 % whatever its CRS measures in."""
    path = write(tmp_path / "dem.tif", field, crs, cell=cell, dtype="float64")

    terrain = read_slope(path, field=field, unit="m")

    assert terrain.slope == pytest.approx(5.0, abs=0.01)
    assert shapely.box(0, 0, 400, 400).within(
        shapely.MultiPoint(terrain.xy).convex_hull
    )


def test_feet(tmp_path, field):
    """Heights in feet are 0.3048 m each: 5 of them in 100 m are 1.524 %."""
    path = write(tmp_path / "dem.tif", field, "EPSG:32616", cell=10.0)

    terrain = read_slope(path, field=field, unit="ft")

    assert terrain.slope == pytest.approx(1.524, abs=0.02)
    assert terrain.heights == "ft, as the plan says"


def test_the_file_knows_its_unit(tmp_path, field):
    """A unit that the file states needs no plan, and the plan may not deny it."""
    path = write(tmp_path / "dem.tif", field, "EPSG:32616", cell=10.0, unit="metre")

    assert read_slope(path, field=field, unit=None).heights == "m, as the file says"
    with pytest.raises(InputError, match=r"in m, water\.elevation_unit says ft"):
        read_slope(path, field=field, unit="ft")


def test_a_vertical_crs_knows_the_unit(tmp_path, field):
    """EPSG:6360 measures heights in US survey feet."""
    path = write(tmp_path / "dem.tif", field, "EPSG:32616", cell=10.0)
    with rasterio.open(path, "r+") as to:
        to.crs = "EPSG:32616+6360"

    assert CRS.from_epsg(6360).axis_info[0].unit_name == "US survey foot"
    assert read_slope(path, field=field, unit=None).slope == pytest.approx(
        1.524, abs=0.02
    )


def test_no_unit(tmp_path, field):
    """A unit is never guessed."""
    path = write(tmp_path / "dem.tif", field, "EPSG:32616", cell=10.0)

    with pytest.raises(InputError, match=r"^dem.tif: does not say the unit"):
        read_slope(path, field=field, unit=None)


def test_another_unit(tmp_path, field):
    """Heights in centimetres are neither metres nor feet."""
    path = write(tmp_path / "dem.tif", field, "EPSG:32616", cell=10.0, unit="cm")

    with pytest.raises(InputError, match="heights are in 'cm': export it in metres"):
        read_slope(path, field=field, unit="m")


def test_furrows_are_no_slope(tmp_path, field):
    """Ridges of 0.2 m every metre on flat ground: cells of 0.5 m are averaged."""
    path = tmp_path / "dem.tif"
    crs = "EPSG:32616"
    west, south, east, north = reproject(field.lonlat, LONLAT, crs).bounds
    columns, rows = int((east - west + 40) / 0.5), int((north - south + 40) / 0.5)
    heights = np.tile([200.0, 200.2], (rows, columns // 2 + 1))[:, :columns]
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        width=columns,
        height=rows,
        count=1,
        dtype="float64",
        crs=crs,
        transform=Affine(0.5, 0.0, west - 20.0, 0.0, -0.5, north + 20.0),
    ) as to:
        to.write(heights, 1)

    terrain = read_slope(path, field=field, unit="m")

    assert terrain.cell == pytest.approx(5.0, abs=0.01)
    assert np.abs(terrain.slope).max() < 0.01


def test_missing_heights(tmp_path, field):
    """What the raster calls no data is no height."""
    path = write(tmp_path / "dem.tif", field, "EPSG:32616", cell=10.0)
    with rasterio.open(path, "r+") as to:
        heights = to.read(1)
        heights[:, :20] = -9999.0
        to.write(heights, 1)
        to.nodata = -9999.0

    terrain = read_slope(path, field=field, unit="m")

    assert terrain.slope == pytest.approx(5.0, abs=0.05)
    assert terrain.xy[:, 0].min() > 100.0


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"count": 3}, "has 3 bands: give a raster of heights alone"),
        ({"cell": 120.0}, "cells of 120 m are too coarse for a slope"),
    ],
)
def test_refused(change, message, tmp_path, field):
    """What gives no slope is refused with a remedy."""
    path = write(tmp_path / "dem.tif", field, "EPSG:32616", **{"cell": 10.0, **change})

    with pytest.raises(InputError, match=f"^dem.tif: {message}"):
        read_slope(path, field=field, unit="m")


def test_elsewhere(tmp_path, field):
    """A raster of other ground is refused."""
    path = write(tmp_path / "dem.tif", field, "EPSG:32616", cell=10.0)
    with rasterio.open(path, "r+") as to:
        to.transform = Affine(10.0, 0.0, 300_000.0, 0.0, -10.0, 4_000_000.0)

    with pytest.raises(InputError, match="does not cover the field in boundary"):
        read_slope(path, field=field, unit="m")


def test_no_raster(tmp_path, field):
    """A missing file and one that is no raster are told apart."""
    with pytest.raises(InputError, match=r"dem\.tif: there is no such file in"):
        read_slope(tmp_path / "dem.tif", field=field, unit="m")
    (tmp_path / "dem.tif").write_text("heights")
    with pytest.raises(InputError, match=r"dem\.tif: cannot be read as a raster"):
        read_slope(tmp_path / "dem.tif", field=field, unit="m")


def test_no_crs(tmp_path, field):
    """A raster without a place on the ground is refused."""
    path = tmp_path / "dem.tif"
    with (
        pytest.warns(rasterio.errors.NotGeoreferencedWarning),
        rasterio.open(
            path, "w", driver="GTiff", width=4, height=4, count=1, dtype="float32"
        ) as to,
    ):
        to.write(np.zeros((1, 4, 4), np.float32))

    with pytest.raises(InputError, match="declares no CRS"):
        read_slope(path, field=field, unit="m")
