"""Layers of zones as files: what is read, and what is refused."""

import json

import numpy as np
import pytest
import rasterio
import shapely
from pyproj import CRS

from vrp.errors import InputError
from vrp.io.vector import read_boundary
from vrp.io.zone_layers import read_zone_layer
from vrp.plan import ZoneLayer
from vrp.spatial.grid import make_cells
from vrp.spatial.layer_values import AreaValues, PointValues, RasterValues, on_cells

FOOT = 0.3048
# The plane that the shared fixtures draw on, metres about an arbitrary place.
PLANE = "+proj=tmerc +lat_0=40.6 +lon_0=-84.3 +k=1 +datum=WGS84 +units=m"
FIELD = shapely.box(0.0, 0.0, 200.0, 100.0)


@pytest.fixture
def field(ground, tmp_path):
    ground.write_polygons("boundary.geojson", [FIELD])
    return read_boundary(tmp_path / "boundary.geojson")


def write_raster(path, values, side=10.0, west=-50.0, north=150.0, **profile):
    """Write a raster on the plane of the tests, a missing pixel as -9999."""
    bands = np.atleast_3d(np.asarray(values, np.float32).T).T
    meta = {"crs": CRS.from_user_input(PLANE).to_wkt(), "nodata": -9999.0} | profile
    transform = meta.pop("transform", rasterio.Affine(side, 0, west, 0, -side, north))
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        dtype="float32",
        count=bands.shape[0],
        height=bands.shape[1],
        width=bands.shape[2],
        transform=transform,
        **meta,
    ) as file:
        file.write(bands)


def write_points(ground, name, xy, values):
    features = [
        {
            "type": "Feature",
            "properties": {"EC": value},
            "geometry": json.loads(
                shapely.to_geojson(ground.to_lonlat(shapely.Point(x, y)))
            ),
        }
        for (x, y), value in zip(xy, values, strict=True)
    ]
    text = json.dumps({"type": "FeatureCollection", "features": features})
    (ground.folder / name).write_text(text)


def read(field, **asked):
    return read_zone_layer(ZoneLayer(**asked), field=field, metres_per_length=FOOT)


def test_a_raster_is_read_about_the_field(tmp_path, field):
    """Of 100 × 100 pixels only those about the field, in their places, are held."""
    east = np.tile(np.arange(100.0), (100, 1))
    write_raster(tmp_path / "dem.tif", east, west=-500.0, north=500.0)
    layer = read(field, file=tmp_path / "dem.tif")
    assert isinstance(layer, RasterValues)
    # 200 m by 100 m and a rim of two pixels, or three where it lies between pixels.
    assert layer.values.shape[0] <= 16
    assert layer.values.shape[1] <= 26
    cells = make_cells(field.outline, size=10.0)
    values, _ = on_cells(layer, cells, crs=field.crs)
    # Pixel 50 begins at the field's west edge, so its middle is 5 m into it.
    x = cells.xy[:, 0] - field.outline.bounds[0]
    assert values == pytest.approx(50 + (x - 5.0) / 10.0, abs=0.02)


def test_a_band_and_missing_pixels(tmp_path, field):
    """The band that is asked for is read; what is no data, or no number, is missing."""
    first = np.zeros((20, 30))
    second = np.full((20, 30), 7.0)
    second[8, 8], second[9, 8] = -9999.0, np.nan
    write_raster(tmp_path / "two.tif", [first, second])
    layer = read(field, file=tmp_path / "two.tif", band=2)
    assert layer.name == "two.tif band 2"
    assert np.isnan(layer.values).sum() == 2
    assert np.nanmin(layer.values) == 7.0


def test_points_are_read_where_they_have_a_number(ground, tmp_path, field):
    """Blank values and points far away are left out; a radius is in the plan's feet."""
    write_points(
        ground, "ec.geojson", [(10, 10), (20, 10), (9000, 10)], [4.5, None, 8.0]
    )
    layer = read(field, file=tmp_path / "ec.geojson", column="EC", radius=100)
    assert isinstance(layer, PointValues)
    assert (layer.values.tolist(), layer.radius) == ([4.5], pytest.approx(30.48))


def test_polygons_are_read_where_they_touch_the_field(ground, tmp_path, field):
    """Of a map of soils the polygons of the field are held, with their values."""
    shapes = [
        shapely.box(0, 0, 100, 100),
        shapely.box(100, 0, 200, 100),
        shapely.box(5000, 0, 5100, 100),
    ]
    rows = [{"clay": 20}, {"clay": 35.5}, {"clay": 50}]
    ground.write_polygons("soil.geojson", shapes, rows)
    layer = read(field, file=tmp_path / "soil.geojson", column="clay")
    assert isinstance(layer, AreaValues)
    assert layer.values.tolist() == [20.0, 35.5]


def test_the_soil_test_is_no_file(field):
    """The map's own soil test is not read."""
    assert read(field, soil_test=True) is None


def _bad(name, **asked):
    return {"file": name} | asked


@pytest.mark.parametrize(
    ("asked", "message"),
    [
        (_bad("none.tif"), r"none\.tif: there is no such file"),
        (_bad("text.tif"), r"text\.tif: cannot be read as a raster .*give a GeoTIFF"),
        (_bad("plain.tif"), r"plain\.tif: declares no CRS: export it with its CRS"),
        (_bad("turned.tif"), r"turned\.tif: is turned or mirrored"),
        (_bad("dem.tif", band=3), r"dem\.tif: has 1 bands, and band 3 is asked for"),
        (_bad("away.tif"), r"away\.tif: holds nothing on the field in boundary"),
        (
            _bad("dem.tif", column="z"),
            r"dem\.tif: a raster has no column: leave it out",
        ),
        (_bad("dem.tif", radius=9), r"dem\.tif: a raster has no radius: leave it out"),
        (_bad("ec.geojson"), r"ec\.geojson: say which column: it has EC"),
        (_bad("ec.geojson", column="ec2"), r"has no column 'ec2'.*nearest 'EC'"),
        (_bad("ec.geojson", column="EC", band=1), r"a vector file has no band"),
        (_bad("ec.csv", column="EC"), r"a table without shapes: give points or poly"),
        (_bad("word.geojson", column="EC"), r"feature 1: EC is 'clay', not a number"),
        (
            _bad("blank.geojson", column="EC"),
            r"column 'EC' has no numbers at any point",
        ),
        (_bad("far.geojson", column="EC"), r"far\.geojson: holds nothing on the field"),
        (_bad("soil.geojson", column="EC", radius=9), r"polygons has no radius"),
        (_bad("else.geojson", column="EC"), r"else\.geojson: holds nothing on the fie"),
    ],
)
def test_what_cannot_be_read_is_refused(ground, tmp_path, field, asked, message):
    """Each names the file, what is wrong and what mends it."""
    values = np.ones((20, 30))
    write_raster(tmp_path / "dem.tif", values)
    write_raster(tmp_path / "away.tif", values, west=50_000.0)
    write_raster(
        tmp_path / "turned.tif",
        values,
        transform=rasterio.Affine(9, 3, -50, 3, -9, 150),
    )
    write_raster(tmp_path / "plain.tif", values, crs=None)
    (tmp_path / "text.tif").write_text("no raster")
    write_points(ground, "ec.geojson", [(10, 10)], [4.5])
    (tmp_path / "ec.csv").write_text("lon,lat,EC\n-84.3,40.6,4.5\n")
    write_points(ground, "word.geojson", [(10, 10)], ["clay"])
    write_points(ground, "blank.geojson", [(10, 10)], [None])
    write_points(ground, "far.geojson", [(9000, 10)], [4.5])
    ground.write_polygons("soil.geojson", [FIELD], [{"EC": 3}])
    ground.write_polygons(
        "else.geojson", [shapely.box(9000, 0, 9100, 100)], [{"EC": 3}]
    )
    with pytest.raises(InputError, match=message):
        read(field, **(asked | {"file": tmp_path / asked["file"]}))
