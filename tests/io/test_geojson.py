"""rates.geojson, read back by other libraries."""

import json

import geopandas
import pytest
import shapely

from vrp import job


@pytest.fixture
def written(ground):
    prescription, out = job.run(ground.write())
    return prescription, out / "map" / "rates.geojson"


def test_read_by_gdal(written):
    """GDAL reads every zone with its numbers as numbers, in longitude, latitude."""
    prescription, path = written

    frame = geopandas.read_file(path)

    assert frame.crs.to_epsg() == 4326
    assert frame["zone"].tolist() == [one.number for one in prescription.zones]
    assert frame["rate_lb_ac"].tolist() == [one.rate for one in prescription.zones]
    assert frame["stp_ppm"].tolist() == [one.soil_test for one in prescription.zones]
    assert frame["stp_class"].tolist() == [one.soil_class for one in prescription.zones]
    assert frame["total_lb"].sum() == pytest.approx(prescription.totals.zones.product)
    for zone, shape in zip(prescription.zones, frame.geometry, strict=True):
        assert shapely.equals(zone.geometry, shape)


def test_columns_of_the_contract(written):
    """The columns are those of the contract, of ten characters at most, in order."""
    _, path = written

    (first, *_) = json.loads(path.read_text("utf-8"))["features"]

    assert list(first["properties"]) == [
        "zone",
        "area_ac",
        "stp_class",
        "stp_ppm",
        "stp_lo",
        "stp_hi",
        "p_short",
        "p2o5_lb_ac",
        "rate_lb_ac",
        "app_lb_ac",
        "n_lb_ac",
        "total_lb",
        "note",
    ]
    assert first["id"] == first["properties"]["zone"] == 1


def test_boxes_enclose_their_shapes(written):
    """Every bbox, west, south, east, north, is that of its geometry."""
    _, path = written
    collection = json.loads(path.read_text("utf-8"))
    shapes = [shapely.geometry.shape(one["geometry"]) for one in collection["features"]]

    for feature, shape in zip(collection["features"], shapes, strict=True):
        assert feature["bbox"] == list(shape.bounds)
    assert collection["bbox"] == list(shapely.union_all(shapes).bounds)


def test_bytes_are_plain(written):
    """The file is UTF-8 with one line end, at its end, on any system."""
    _, path = written
    data = path.read_bytes()

    assert data.count(b"\n") == 1
    assert data.endswith(b"}\n")
    assert b"\r" not in data
    assert data.decode("utf-8")
    assert b"NaN" not in data
