"""Which files of the map are written, and planted faults in them."""

import json
import re
import sqlite3
from contextlib import closing
from xml.etree import ElementTree

import numpy as np
import pytest
import rasterio

from vrp import job
from vrp.errors import InputError
from vrp.io import map_files
from vrp.io.agreement import read_through

FILES = {
    "geojson": {"rates.geojson"},
    "geopackage": {"rates.gpkg"},
    "style": {"rates.sld", "rates.qml"},
    "csv": {"zones.csv"},
    "raster": {"soil_test.tif", "soil_test.qml"},
}


@pytest.fixture
def built(ground):
    prescription, out = job.run(ground.write())
    assert len(prescription.zones) > 2
    return prescription, out / "map"


def test_all_of_them_by_default(built):
    """Without a word on it every format is written, and the record lists each file."""
    _, folder = built
    names = {path.name for path in folder.iterdir()}

    assert names == set.union(*FILES.values())
    listed = json.loads((folder.parent / "record.json").read_text("utf-8"))["files"]
    assert {f"map/{name}" for name in names} <= {one["name"] for one in listed}


@pytest.mark.parametrize("asked", [["csv"], ["raster", "style"], list(FILES)[:2]])
def test_the_plan_chooses(ground, asked):
    """What the field file names is written, and nothing else."""
    ground.text += f"\n[files]\nmap = {json.dumps(asked)}\n"

    _, out = job.run(ground.write())

    found = {path.name for path in (out / "map").iterdir()}
    assert found == set.union(*(FILES[one] for one in asked))


@pytest.mark.parametrize("asked", ["[]", '["shp"]'])
def test_what_cannot_be_chosen(ground, asked):
    """No format at all, or one that is not known, is refused by its key."""
    ground.text += f"\n[files]\nmap = {asked}\n"

    with pytest.raises(InputError, match=r"^field\.toml: files\.map"):
        job.run(ground.write())


def faults(prescription, folder):
    """Return what each file of the map says otherwise than a prescription."""
    return [
        fault
        for one in map_files.comparisons(prescription)
        for fault in read_through(
            one.faults(folder.parent, prescription), place=one.files[0]
        )
    ]


def in_package(command):
    def change(folder):
        with closing(sqlite3.connect(folder / "rates.gpkg")) as base:
            base.execute(command)
            base.commit()

    return change


def in_text(name, old, new):
    def change(folder):
        text = (folder / name).read_bytes().decode()
        assert old in text
        (folder / name).write_bytes(text.replace(old, new, 1).encode())

    return change


def drop_a_rule(name, tag):
    def change(folder):
        tree = ElementTree.parse(folder / name)
        parents = {child: parent for parent in tree.iter() for child in parent}
        rule = next(one for one in tree.iter() if one.tag.endswith(tag))
        parents[rule].remove(rule)
        tree.write(folder / name)

    return change


def in_raster(folder):
    with rasterio.open(
        folder / "soil_test.tif", "r+", IGNORE_COG_LAYOUT_BREAK="YES"
    ) as to:
        band = to.read(2)
        band[band != to.nodata] += np.float32(1e-4)
        to.write(band, 2)


def swap_shapes(folder):
    """Give the first two zones each other's ground."""
    with closing(sqlite3.connect(folder / "rates.gpkg")) as base:
        one, two = base.execute("SELECT geom FROM zones ORDER BY fid LIMIT 2")
        base.execute("UPDATE zones SET geom = ? WHERE fid = 1", two)
        base.execute("UPDATE zones SET geom = ? WHERE fid = 2", one)
        base.commit()


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (
            in_package("UPDATE zones SET rate_lb_ac = 77 WHERE zone = 2"),
            r"^rates\.gpkg, zone 2: rate_lb_ac reads 77\.0, not \d",
        ),
        (
            in_package("DELETE FROM zones WHERE zone = 2"),
            r"^rates\.gpkg holds \d+ of \d+ zones: zone 2 is missing$",
        ),
        (swap_shapes, r"^rates\.gpkg: zone 1 reads back in another shape: "),
        (
            in_package("DELETE FROM samples WHERE fid = 1"),
            r"^rates\.gpkg holds 63 of 64 samples$",
        ),
        (
            in_package("UPDATE samples SET stp_ppm = 1 WHERE fid = 3"),
            r"^rates\.gpkg, samples, row 4: stp_ppm reads 1\.0, not \d",
        ),
        (
            in_package(
                "UPDATE samples SET geom = (SELECT geom FROM samples WHERE fid = 1)"
            ),
            r"^rates\.gpkg: the sample of row 3 lies elsewhere$",
        ),
        (
            in_package("UPDATE boundary SET geom = (SELECT geom FROM zones LIMIT 1)"),
            r"^rates\.gpkg: the boundary is not the union of the zones$",
        ),
        (
            drop_a_rule("rates.sld", "}Rule"),
            r"^rates\.sld: zone \d, with the rate [\d.]+, is in 0 classes, not 1$",
        ),
        (
            drop_a_rule("rates.qml", "rule"),
            r"^rates\.qml: zone \d, with the rate [\d.]+, is in 0 classes, not 1$",
        ),
        (
            in_text("zones.csv", "\r\n1,", "\r\n9,"),
            r"^zones\.csv holds \d of \d zones: zone 1 is missing$",
        ),
        (
            in_text("zones.csv", ",40.6", ",41.6"),
            r"^zones\.csv: the place of zone 1 is not in it$",
        ),
        (in_raster, r"^soil_test\.tif: standard error reads back otherwise$"),
    ],
)
def test_planted_faults(built, change, message):
    """What was written and then went wrong is named by file, zone and column."""
    prescription, folder = built
    assert faults(prescription, folder) == []
    change(folder)

    found = faults(prescription, folder)
    assert any(re.search(message, one) for one in found), found
