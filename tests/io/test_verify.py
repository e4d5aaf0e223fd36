"""Planted faults: what was written and then went wrong is found and named."""

import json
import shutil
import struct

import pytest

from vrp import job
from vrp.errors import VrpError
from vrp.io import verify
from vrp.io.record import digest_of


@pytest.fixture
def built(ground):
    """Return a prescription and the folder that says the same."""
    prescription, out = job.run(ground.write())
    assert len(prescription.zones) > 2
    return prescription, out


def change_map(out, change):
    path = out / "map" / "rates.geojson"
    collection = json.loads(path.read_text("utf-8"))
    change(collection["features"])
    path.write_text(json.dumps(collection), "utf-8")


def change_record(out, change):
    path = out / "record.json"
    written = json.loads(path.read_text("utf-8"))
    change(written["zones"])
    written["digest"] = digest_of(written)
    path.write_text(json.dumps(written), "utf-8")


def change_machine(out, suffix, offset, data):
    """Write bytes into a part of the shapefile, as a broken stick might."""
    (path,) = (out / "machine").glob(f"*{suffix}")
    content = bytearray(path.read_bytes())
    content[offset : offset + len(data)] = data
    path.write_bytes(content)


def moved(features):
    """Move one vertex that the second zone shares with another by 1e-7 degree."""
    ring = features[1]["geometry"]["coordinates"][0]
    ring = ring[0] if isinstance(ring[0][0], list) else ring
    ring[1] = [ring[1][0], ring[1][1] + 1e-7]


def test_what_was_written_agrees(built):
    """Nothing is found where nothing was changed."""
    prescription, out = built

    verify.check(out, prescription)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (
            lambda features: features[2]["properties"].update(rate_lb_ac=77.0),
            r"^rates.geojson by GDAL, zone 3: rate_lb_ac reads 77.0, not \d",
        ),
        (
            lambda features: features[0]["properties"].update(note="changed"),
            r"^rates.geojson by GDAL, zone 1: note reads 'changed', not ",
        ),
        (moved, r"^rates.geojson: zone 2 reads back in another shape$"),
        (
            lambda features: features.pop(),
            r"^rates.geojson holds \d+ of \d+ zones$",
        ),
        (
            lambda features: features.reverse(),
            r"^rates.geojson by GDAL, zone 1: zone reads \d+, not 1$",
        ),
    ],
)
def test_faults_of_the_map(built, change, message):
    """A changed rate, a moved vertex or a dropped zone is named."""
    prescription, out = built
    change_map(out, change)

    with pytest.raises(VrpError, match=message):
        verify.check(out, prescription)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (
            lambda zones: zones[1].update(p2o5_lb_ac=1.5),
            r"^record.json, zone 2: p2o5_lb_ac reads 1.5, not \d",
        ),
        (lambda zones: zones.pop(), r"^record.json holds \d+ of \d+ zones$"),
        (
            lambda zones: zones[0].pop("rate_lb_ac"),
            r"^record.json, zone 1: rate_lb_ac reads None, not \d",
        ),
    ],
)
def test_faults_of_the_record(built, change, message):
    """A changed record is named even where its digest was made to fit."""
    prescription, out = built
    change_record(out, change)

    with pytest.raises(VrpError, match=message):
        verify.check(out, prescription)


def test_faults_of_the_shapefile(built):
    """A rate or a vertex that a spreader would read otherwise is found."""
    prescription, out = built
    shutil.copytree(out, out.with_name("kept"))
    (dbf,) = (out / "machine").glob("*.dbf")
    head = struct.unpack("<H", dbf.read_bytes()[8:10])[0]

    # A record begins with a mark of deletion, then the rate in ten characters.
    change_machine(out, ".dbf", head + 1, b"    777.00")
    with pytest.raises(VrpError, match=r"^machine shapefile: RATE_LB_AC is \[777.0, "):
        verify.check(out, prescription)

    shutil.rmtree(out)
    out.with_name("kept").rename(out)
    # 100 bytes of head, 8 of a record's, 44 to its parts; a part number each.
    (shp,) = (out / "machine").glob("*.shp")
    parts = struct.unpack("<i", shp.read_bytes()[144:148])[0]
    second = 152 + 4 * parts + 16
    x = struct.unpack("<d", shp.read_bytes()[second:][:8])[0]
    change_machine(out, ".shp", second, struct.pack("<d", x + 1e-7))
    with pytest.raises(VrpError, match=r"^machine shapefile: zone 1 reads back in ano"):
        verify.check(out, prescription)


def test_dropped_record_of_the_shapefile(built):
    """A record that is marked as deleted is missed."""
    prescription, out = built
    (dbf,) = (out / "machine").glob("*.dbf")
    head = struct.unpack("<H", dbf.read_bytes()[8:10])[0]
    change_machine(out, ".dbf", head, b"*")

    with pytest.raises(VrpError, match=r"^machine shapefile: RATE_LB_AC is "):
        verify.check(out, prescription)
