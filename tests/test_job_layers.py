"""Zones by layers, from files to a folder."""

import json
import re

import numpy as np
import pytest
import rasterio
import shapely
from pyproj import CRS

from vrp import job
from vrp.errors import InputError

PLANE = "+proj=tmerc +lat_0=40.6 +lon_0=-84.3 +k=1 +datum=WGS84 +units=m"


@pytest.fixture
def layered(ground):
    """Return a field of 480 m by 480 m: high in the north, clay in the east half."""

    def height(name, missing=0):
        row = np.indices((60, 60))[0]
        values = np.where(row < 30, 210.0, 200.0) + 0.01 * row
        values[:, :missing] = -9999.0
        with rasterio.open(
            ground.folder / name,
            "w",
            driver="GTiff",
            dtype="float32",
            count=1,
            height=60,
            width=60,
            nodata=-9999.0,
            crs=CRS.from_user_input(PLANE).to_wkt(),
            transform=rasterio.Affine(10, 0, -60, 0, -10, 540),
        ) as file:
            file.write(values.astype("float32"), 1)

    height("height.tif")
    halves = [shapely.box(0, 0, 240, 480), shapely.box(240, 0, 480, 480)]
    ground.write_polygons("soil.geojson", halves, [{"clay": 15}, {"clay": 35}])
    ground.height = height
    return ground


def ask(ground, layers, **keys):
    lines = "".join(f"{key} = {value}\n" for key, value in keys.items())
    ground.text += f'\n[zones]\nby = "layers"\nlayers = [{layers}]\n{lines}'
    return ground.write()


BOTH = '{ file = "height.tif" }, { file = "soil.geojson", column = "clay" }'


def test_quarters_of_two_layers_are_four_zones(layered):
    """High and low, clay and sand: four quarters of 5.76 ha, 14.2 ac each."""
    found, out = job.run(ask(layered, BOTH, count=4))
    assert [zone.area for zone in found.zones] == pytest.approx([14.23] * 4, rel=0.02)
    record = json.loads((out / "record.json").read_text())
    zoning = record["zoning"]
    assert (zoning["by"], zoning["count"]) == ("layers", 4)
    assert [one["clusters"] for one in zoning["criteria"]] == [2, 3, 4, 5, 6, 7]
    four = zoning["criteria"][2]
    assert four["variance_left"] < 0.02
    assert four["silhouette"] == max(one["silhouette"] for one in zoning["criteria"])
    assert [one["name"] for one in zoning["layers"]] == [
        "height.tif",
        "soil.geojson clay",
    ]
    assert (zoning["layers"][1]["low"], zoning["layers"][1]["high"]) == (15, 35)
    named = {one["name"] for one in record["inputs"]}
    assert {"height.tif", "soil.geojson"} <= named


def test_the_rate_is_still_the_soil_tests(layered):
    """A zone's soil test is the mean of the map on its ground, not of any layer."""
    found, _ = job.run(ask(layered, BOTH, count=4))
    # It rises by 1 ppm in 20.5 m to the north and to the east: quarters differ by
    # 240 / 20.5 = 11.7 each way; zones go from the north-west on.
    tests = [zone.soil_test for zone in found.zones]
    assert tests[1] - tests[0] == pytest.approx(11.7, abs=1.5)
    assert tests[0] - tests[2] == pytest.approx(11.7, abs=1.5)
    assert tests[1] - tests[2] == pytest.approx(23.4, abs=2.0)


def test_without_a_count_a_person_is_asked(layered):
    """The run is refused, with a line of criteria for 2 to 7 clusters."""
    with pytest.raises(InputError, match=r"zones\.count is missing") as refused:
        job.run(ask(layered, BOTH))
    table = str(refused.value).splitlines()
    rows = [line.split() for line in table if re.match(r" +\d+ ", line)]
    assert [row[0] for row in rows] == ["2", "3", "4", "5", "6", "7"]
    # Clusters, variance left and its %, three criteria, P2O5 misplaced.
    assert all(len(row) == 7 for row in rows)
    left = [float(row[1]) for row in rows]
    assert left == sorted(left, reverse=True)
    assert not (layered.folder / "out").exists()


def test_the_soil_test_may_be_a_layer(layered):
    """With the map's soil test alone, clusters are ranges of it."""
    found, _ = job.run(ask(layered, "{ soil_test = true }", count=3))
    tests = sorted(zone.soil_test for zone in found.zones)
    assert len(tests) == 3
    assert tests[2] - tests[0] > 20.0


def test_a_weight_decides_which_layer_counts(layered):
    """Two clusters follow the layer that weighs five times the other."""
    heavy = '{ file = "height.tif" }, { file = "soil.geojson", column = "clay", '
    found, _ = job.run(ask(layered, heavy + "weight = 5 }", count=2))
    west, east = sorted(found.zones, key=lambda zone: zone.geometry.centroid.x)
    assert west.geometry.bounds[2] == pytest.approx(east.geometry.bounds[0], abs=2e-4)


def test_layers_are_kept_on_a_weak_map(layered):
    """Zones by a person's layers stand where the map's own would not."""
    random = np.random.default_rng(4).permutation(len(layered.samples))
    layered.samples[:, 2] = layered.samples[random, 2]
    found, _ = job.run(ask(layered, BOTH, count=4))
    assert found.surface.verdict in ("not supported", "weak")
    assert len(found.zones) == 4


def test_gaps_are_said_and_filled(layered):
    """11 columns of pixels missing, 5 of them on the field, are 50 of 480 m: 10.4 %."""
    layered.height("height.tif", missing=11)
    found, _ = job.run(ask(layered, BOTH, count=4))
    (gap,) = [one for one in found.findings if one.code == "zone-layer-gaps"]
    assert gap.value == pytest.approx(10.4, abs=1.1)
    assert "height.tif: no value on 1" in gap.message
    # The west column took its neighbours' heights: zones are as before.
    assert [zone.area for zone in found.zones] == pytest.approx([14.23] * 4, rel=0.02)


@pytest.mark.parametrize(
    ("layers", "keys", "message"),
    [
        (BOTH, {"count": 1}, r"zones\.count = 1: must be at least 2"),
        (
            BOTH,
            {"count": 19},
            r"zones\.count = 19: the layers have no 19 unlike places",
        ),
        (
            '{ file = "gappy.tif" }',
            {"count": 2},
            r"gappy\.tif has no value on 31 % of the field, more than 20 %",
        ),
        (
            '{ file = "flat.geojson", column = "clay" }',
            {"count": 2},
            r"flat\.geojson clay is 15 everywhere: leave it out",
        ),
        ("{ weight = 2 }", {"count": 2}, r"needs either file or soil_test = true"),
        (
            '{ file = "height.tif", soil_test = true }',
            {"count": 2},
            r"needs either file or soil_test = true",
        ),
        ("", {"count": 2}, r'zones\.by = "layers" needs zones\.layers'),
        (BOTH, {"count": 4, "side": 660}, r"zones\.side is given, but"),
    ],
)
def test_what_cannot_be_clustered_is_refused(layered, layers, keys, message):
    """Too few unlike places, gaps, flat layers and keys that contradict are named."""
    layered.height("gappy.tif", missing=21)
    layered.write_polygons("flat.geojson", [layered.outline], [{"clay": 15}])
    if "19" in message:
        layers = '{ file = "soil.geojson", column = "clay" }'
    with pytest.raises(InputError, match=message):
        job.run(ask(layered, layers, **keys))


@pytest.mark.parametrize(
    ("zones", "message"),
    [
        ("layers = [{ soil_test = true }]", r"zones\.layers is given, but zones\.by"),
        ('by = "grid"\nside = 660\ncount = 3', r"zones\.count is given, but zones\.by"),
    ],
)
def test_keys_without_effect_are_refused(ground, zones, message):
    """Layers without by = "layers", and a count for a grid, are named."""
    ground.text += f"\n[zones]\n{zones}\n"
    with pytest.raises(InputError, match=message):
        job.run(ground.write())


def test_composites_may_be_zoned_by_layers(layered):
    """Without a surface a zone's soil test is its composites' by area."""
    halves = [shapely.box(0, 0, 480, 240), shapely.box(0, 240, 480, 480)]
    layered.write_polygons("cells.geojson", halves, [{"P": 10.0}, {"P": 30.0}])
    points = re.search(r'file = "samples.csv"\n.*?(?=soil_test)', layered.text, re.S)[0]
    layered.change((points, 'file = "cells.geojson"\nkind = "zone"\n'))
    layers = '{ file = "soil.geojson", column = "clay" }, { file = "height.tif" }'
    found, out = job.run(ask(layered, layers, count=4))
    assert [zone.soil_test for zone in found.zones] == pytest.approx(
        [30.0, 30.0, 10.0, 10.0], abs=0.5
    )
    zoning = json.loads((out / "record.json").read_text())["zoning"]
    assert (zoning["bands"], zoning["knee"]) == ([], None)
