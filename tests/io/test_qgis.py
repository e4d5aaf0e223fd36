"""What QGIS and GDAL's own validators make of the map, where they are installed."""

import json
import subprocess
from pathlib import Path

import numpy as np
import pytest

from vrp import job
from vrp.legend import rate_classes

# The Python that a distribution's QGIS and GDAL belong to.
PYTHON = "/usr/bin/python3"
REPORT = Path(__file__).with_name("qgis_report.py")


def has(module):
    try:
        done = subprocess.run(
            [PYTHON, "-c", f"import {module}"], check=False, capture_output=True
        )
    except OSError:
        return False
    return done.returncode == 0


needs_qgis = pytest.mark.skipif(
    not has("qgis.core"), reason="no QGIS: apt install python3-qgis"
)
needs_gdal = pytest.mark.skipif(
    not has("osgeo_utils.samples.validate_gpkg"),
    reason="no validators of GDAL: apt install python3-gdal",
)


@pytest.fixture
def built(ground):
    ground.change(("[need]", '[zones]\nby = "grid"\nside = 330\n[need]'))
    prescription, out = job.run(ground.write())
    assert len({zone.rate for zone in prescription.zones}) > 3
    return prescription, out / "map"


def opened(*arguments):
    done = subprocess.run(
        [PYTHON, REPORT, *map(str, arguments)],
        check=False,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def drawn(prescription, found, labels):
    """Check that a layer is drawn as the legend says, each zone in one class."""
    wanted = [[one.label, one.colour] for one in rate_classes(prescription)]
    assert found["valid"]
    assert found["renderer"] == "RuleRenderer"
    assert found["legend"] == wanted
    classes = rate_classes(prescription)
    assert found["classes"] == [
        [one.colour for one in classes if one.holds(zone.rate)]
        for zone in prescription.zones
    ]
    assert found["labels"] == labels


@needs_qgis
def test_zones_open_coloured_and_labelled(built):
    """GeoPackage and GeoJSON show the legend's classes and the rates, unasked."""
    prescription, folder = built
    package = f"{folder / 'rates.gpkg'}|layername=zones"

    by_package, by_text = opened(package), opened(folder / "rates.geojson")

    drawn(prescription, by_package, ["rate_lb_ac"])
    drawn(prescription, by_text, ["rate_lb_ac"])
    assert by_package["crs"] == "EPSG:4326"


@needs_qgis
def test_sld_gives_the_same(built):
    """The SLD gives the classes and colours of the QML, and prints no rates."""
    prescription, folder = built
    (folder / "rates.qml").unlink()
    plain = opened(folder / "rates.geojson")
    assert plain["renderer"] == "singleSymbol"

    found = opened(folder / "rates.geojson", folder / "rates.sld")

    drawn(prescription, found, [])


@needs_qgis
def test_other_layers_open_styled(built):
    """Samples show their soil test; the raster its first band, by the values given."""
    prescription, folder = built

    samples = opened(f"{folder / 'rates.gpkg'}|layername=samples")
    boundary = opened(f"{folder / 'rates.gpkg'}|layername=boundary")
    raster = opened(folder / "soil_test.tif")

    assert (samples["renderer"], samples["labels"]) == ("singleSymbol", ["stp_ppm"])
    assert (boundary["renderer"], boundary["labels"]) == ("singleSymbol", [])
    assert (raster["valid"], raster["renderer"]) == (True, "singlebandpseudocolor")
    surface = prescription.soil_test_map
    wanted = [
        [float(of(band)) for of in (np.nanmin, np.nanmax, np.nanmean)]
        for band in (surface.estimate, surface.error, surface.short)
    ]
    assert np.allclose(raster["bands"], wanted, rtol=1e-5)


@needs_qgis
def test_opening_changes_nothing(built):
    """QGIS leaves no file beside and no byte changed where it only shows the map."""
    _, folder = built
    before = {path.name: path.read_bytes() for path in folder.iterdir()}

    for name in ("rates.gpkg|layername=zones", "rates.geojson", "soil_test.tif"):
        opened(f"{folder}/{name}")

    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before


@needs_gdal
@pytest.mark.parametrize(
    ("script", "name"),
    [
        ("validate_gpkg", "rates.gpkg"),
        ("validate_cloud_optimized_geotiff", "soil_test.tif"),
    ],
)
def test_validators_of_gdal(script, name, built):
    """GDAL's own validators find nothing."""
    _, folder = built

    done = subprocess.run(
        [PYTHON, "-m", f"osgeo_utils.samples.{script}", folder / name],
        check=False,
        capture_output=True,
        text=True,
    )

    assert (done.returncode, done.stderr) == (0, "")


@needs_qgis
def test_excluded_ground_is_hatched(sample_fields, tmp_path):
    """QGIS draws it over the class of no rate, by package, GeoJSON and SLD alike."""
    prescription, out = job.run(sample_fields / "creek", out=tmp_path / "out")
    folder = out / "map"
    rates = folder / "rates.geojson"

    for asked in (
        (f"{folder / 'rates.gpkg'}|layername=zones",),
        (rates,),
        (rates, folder / "rates.sld"),
    ):
        found = opened(*asked)
        assert found["legend"][-1][0] == "excluded: kept from water"
        hatched = [len(one) == 2 for one in found["classes"]]
        assert hatched == [zone.excluded is not None for zone in prescription.zones]
    layer = opened(f"{folder / 'rates.gpkg'}|layername=excluded")
    assert layer["valid"]
    assert len(layer["classes"]) == sum(hatched)


CHECKER = next(
    Path(__file__).parents[3].glob("*/tools/check_qgis.py"), Path("no checker")
)


@needs_qgis
@pytest.mark.skipif(not CHECKER.exists(), reason="the foreign checker is not here")
@pytest.mark.parametrize("name", ["us", "metric", "creek"])
def test_foreign_checker(name, sample_fields, tmp_path):
    """A checker of others finds the zones sound: valid, no gap, no overlap, styled."""
    prescription, out = job.run(sample_fields / name, out=tmp_path / "out")

    done = subprocess.run(
        [
            *(PYTHON, CHECKER, out / "map" / "rates.gpkg"),
            *("--layer", "zones", "--expect-epsg", "4326"),
            *("--rate", "rate_kg_ha" if name == "metric" else "rate_lb_ac"),
        ],
        check=False,
        capture_output=True,
        text=True,
    )

    assert done.returncode == 0, done.stdout
    found = json.loads(done.stdout)
    assert found["features"] == len(prescription.zones)
    assert found["problems"] == []
