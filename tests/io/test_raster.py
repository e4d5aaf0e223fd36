"""soil_test.tif: a Cloud Optimized GeoTIFF that lies where the field lies."""

import numpy as np
import pytest
import rasterio
import shapely
from pyproj import Transformer
from rasterio.features import geometry_mask
from rio_cogeo import cog_validate
from scipy.stats import norm

from vrp import job
from vrp.spatial.field import reproject


@pytest.fixture
def written(ground):
    prescription, out = job.run(ground.write())
    return prescription, out / "map" / "soil_test.tif"


def test_valid_cog(written):
    """Another library finds it a valid Cloud Optimized GeoTIFF."""
    _, path = written

    valid, errors, warnings = cog_validate(path, strict=True)

    assert (valid, errors, warnings) == (True, [], [])


def test_bands(written):
    """Three bands of float32 with name and unit; what lies outside is no data."""
    _, path = written

    with rasterio.open(path) as source:
        assert source.driver == "GTiff"
        assert source.dtypes == ("float32",) * 3
        assert source.descriptions == (
            "soil test P, mehlich-3-icp [ppm]",
            "standard error [ppm]",
            "probability of being below 20 ppm",
        )
        assert source.units == ("ppm", "ppm", None)
        assert source.nodata == -9999.0
        assert source.tags()["AREA_OR_POINT"] == "Area"
        estimate, error, short = source.read(masked=True)
    assert 8.0 < estimate.min() < estimate.max() < 53.0  # of the samples
    assert error.min() > 0.0
    assert 0.0 <= short.min() < short.max() <= 1.0
    # Where the estimate is the critical level the chances are even.
    near = np.abs(estimate - 20.0) < 0.05
    assert near.any()
    assert np.allclose(short[near], 0.5, atol=0.03)


def test_lies_on_the_field(ground, written):
    """Cells of a zone, found by their coordinates, have the soil test of the zone."""
    prescription, path = written

    with rasterio.open(path) as source:
        estimate = source.read(1)
        for zone in prescription.zones:
            shape = reproject(zone.geometry, "EPSG:4326", source.crs.to_wkt())
            outside = geometry_mask([shape], estimate.shape, source.transform)
            here = estimate[~outside & (estimate != -9999.0)]
            # The mean of hundreds of cells; a few on the border may count otherwise.
            assert here.mean() == pytest.approx(zone.soil_test, abs=0.1)
        assert source.crs.is_projected
        assert source.crs.linear_units == "metre"
        cells = np.count_nonzero(estimate != -9999.0)
        area = cells * abs(source.transform.a * source.transform.e)
    # Of 157 cells a side, one more or less in each direction.
    assert area == pytest.approx(ground.outline.area, rel=2 / 157)


def test_sampled_by_position(ground, written):
    """At the samples the map is near what was measured there."""
    _, path = written

    lon, lat = zip(
        *(
            ground.to_lonlat(place).coords[0]
            for place in shapely.points(ground.samples[:, :2])
        ),
        strict=True,
    )
    with rasterio.open(path) as source:
        transform = Transformer.from_crs("EPSG:4326", source.crs, always_xy=True)
        places = zip(*transform.transform(lon, lat), strict=True)
        found = np.array([values[0] for values in source.sample(places)])
    # The samples rise by 44 over the field, with a roughness of 1.
    assert np.abs(found - ground.samples[:, 2]).max() < 3.0


def test_a_large_field_has_overviews(ground):
    """More than 512 cells across have overviews, so that a viewer need not read all."""
    ground.change(("[need]", "[zones]\ncell = 2\n[need]"))

    _, out = job.run(ground.write())

    path = out / "map" / "soil_test.tif"
    with rasterio.open(path) as source:
        assert source.width == 788  # 480 m by 2 ft
        assert source.overviews(1) == [2]
    assert cog_validate(path, strict=True) == (True, [], [])


def test_error_where_the_scale_is_logarithmic(ground):
    """
    Skewed samples have an error in their unit: a lognormal's standard deviation.

    With s on the logarithmic scale it is exp(s² / 2) times the root of exp(s²) - 1 of
    the median, so that error and median give s back.
    """
    x, y = ground.samples[:, :2].T
    ground.samples[:, 2] = np.round(np.exp((x + y) / 240.0) * 6.0, 1)
    ground.change(('method = "mehlich-3-icp"', 'method = "mehlich-3-icp"\nlab_cv = 20'))

    prescription, out = job.run(ground.write())

    assert prescription.surface.variogram.log
    with rasterio.open(out / "map" / "soil_test.tif") as source:
        estimate, error, short = source.read(masked=True)
    ratio = error / estimate
    s = np.sqrt(np.log((1.0 + np.sqrt(1.0 + 4.0 * ratio**2)) / 2.0))
    expected = norm.cdf(np.log(20.0 / estimate) / s)
    assert np.abs(short - expected).max() < 0.01


def test_composites_have_none(ground):
    """Composites of drawn zones have no surface, and no raster pretends one."""
    ground.write_polygons("zones.geojson", [ground.outline], [{"P": 12.0}])
    ground.change(
        ('file = "samples.csv"', 'file = "zones.geojson"\nkind = "zone"'),
        ('x = "x"\ny = "y"\n', ""),
    )
    ground.text = "\n".join(
        line for line in ground.text.splitlines() if not line.startswith("crs =")
    )

    prescription, out = job.run(ground.write())

    assert prescription.soil_test_map is None
    assert not list((out / "map").glob("soil_test.*"))


def test_one_sample_has_no_error(ground):
    """Where one sample says nothing of its error the band of errors is no data."""
    ground.samples = ground.samples[:1]

    _, out = job.run(ground.write())

    with rasterio.open(out / "map" / "soil_test.tif") as source:
        estimate, error, _ = source.read(masked=True)
    assert estimate.count() > 1000
    assert error.count() == 0
