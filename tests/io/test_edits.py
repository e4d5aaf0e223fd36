"""Rates that someone edited in a GIS, and the lines that a build adopts them by."""

import json
import re
import shutil
import sqlite3
import struct
import tomllib
from contextlib import closing
from pathlib import Path

import geopandas
import pytest

from vrp import job
from vrp.io.verify import verify


def in_package(out, **rates):
    """Set rates of zones in the GeoPackage, as a GIS saves them."""
    path = out / "map" / "rates.gpkg"
    with closing(sqlite3.connect(path)) as base:
        names = [row[1] for row in base.execute("PRAGMA table_info(zones)")]
        (column,) = (name for name in names if name.startswith("rate_"))
        for zone, rate in rates.items():
            command = f"UPDATE zones SET {column} = ? WHERE zone = ?"
            base.execute(command, (rate, int(zone.removeprefix("z"))))
        base.commit()


def saved_by_gdal(out, **rates):
    """Set rates in the GeoJSON and write the whole file by GDAL, as QGIS does."""
    path = out / "map" / "rates.geojson"
    frame = geopandas.read_file(path)
    for zone, rate in rates.items():
        row = frame["zone"] == int(zone.removeprefix("z"))
        frame.loc[row, [name for name in frame if name.startswith("rate_")]] = rate
    frame.to_file(path, driver="GeoJSON")


def in_table(out, **rates):
    """Set rates in the table of the machine's shapefile."""
    (path,) = (out / "machine").glob("*.dbf")
    content = bytearray(path.read_bytes())
    head, length = struct.unpack("<HH", content[8:12])
    for zone, rate in rates.items():
        start = head + (int(zone.removeprefix("z")) - 1) * length + 1
        content[start : start + 10] = f"{rate:10.2f}".encode()
    path.write_bytes(content)


@pytest.fixture
def us(sample_fields, tmp_path):
    """Return a folder with the field in pounds of 11-52-0, and what was built of it."""
    field = shutil.copytree(
        sample_fields / "us", tmp_path / "us", ignore=shutil.ignore_patterns("out")
    )
    return field, *job.run(field)


@pytest.mark.parametrize("edit", [in_package, saved_by_gdal, in_table])
def test_edit_is_adopted(edit, us):
    """
    A rate of 160 in place of a zone's own is said with its product; a build takes it.

    160 lb/ac × 0.52 = 83.2 lb/ac of P2O5; more or less of it on the zone's area.
    """
    field, prescription, out = us
    was, area = prescription.zones[1].rate, prescription.zones[1].area
    more = 160.0 - was
    side = "more" if more > 0 else "less"
    edit(out, z2=160.0)

    found = verify(out)

    (one,) = found.adoption.edits
    assert (one.zone, one.was, one.now, one.unit) == (2, was, 160.0, "lb/ac")
    assert one.product == pytest.approx(more * area, abs=0.006)
    sentence = (
        rf"Zone 2: 160 lb/ac in place of {was:g}, {abs(more):g} lb/ac {side}; "
        rf"{abs(more) * area:.2f} lb {side} product on {area:.1f} ac "
        rf"\({one.files[0]}\)\.$"
    )
    assert re.match(sentence, found.adoption.sentences[0])
    assert not any("another shape" in fault for fault in found.faults)
    (line,) = tomllib.loads(found.adoption.lines)["override"]
    assert line["p2o5"] == 83.2
    with (field / "field.toml").open("a", encoding="utf-8") as file:
        file.write(f"\n{found.adoption.lines}")
    again, _ = job.run(field, overwrite=True)
    rates = [zone.rate for zone in prescription.zones]
    assert [zone.rate for zone in again.zones] == [rates[0], 160.0, *rates[2:]]
    assert verify(out).faults == ()


@pytest.mark.parametrize(
    ("units", "liquid"),
    [
        # 12.5 gal/ac × 11.65 lb/gal × 0.34 = 49.5125, of which a tenth is enough.
        ("us", (11.65, 12.5, 49.5)),
        # 120.5 L/ha × 1.4 kg/L × 0.34 = 57.358.
        ("metric", (1.4, 120.5, 57.4)),
    ],
)
def test_liquids(units, liquid, sample_fields, tmp_path):
    """A liquid's rate is a volume: gallons an acre, litres a hectare."""
    density, rate, p2o5 = liquid
    field = shutil.copytree(
        sample_fields / units, tmp_path / units, ignore=shutil.ignore_patterns("out")
    )
    path = field / "field.toml"
    text = path.read_text("utf-8")
    product = f'grade = "10-34-0"\nform = "liquid"\ndensity = {density}\n'
    text = re.sub(r'grade = ".*\n', product, text)
    text = re.sub(r"min_rate = .*\nmax_rate = .*\nstep = .*\n", "step = 0.5\n", text)
    path.write_text(text, "utf-8")
    prescription, out = job.run(field)
    zone = next(one for one in prescription.zones if one.rate > 0.0)
    assert zone.rate != rate
    in_package(out, **{f"z{zone.number}": rate})

    found = verify(out).adoption

    (one,) = found.edits
    assert one.unit == {"us": "gal/ac", "metric": "L/ha"}[units]
    assert one.product == pytest.approx((rate - zone.rate) * zone.area, abs=0.006)
    (line,) = tomllib.loads(found.lines)["override"]
    assert line["p2o5"] == p2o5
    path.write_text(f"{text}\n{found.lines}", "utf-8")
    again, _ = job.run(field, overwrite=True)
    assert again.zones[zone.number - 1].rate == rate


def said(out):
    found = verify(out).adoption
    return " ".join(found.sentences), found.lines


def test_beyond_the_machine(us):
    """A rate that the spreader cannot hold is said, and gets no override."""
    _, _, out = us
    in_package(out, z1=450.0, z2=20.0, z4=0.0)

    sentences, lines = said(out)

    assert "Zone 1: 450 lb/ac is beyond machine.max_rate, 400, so no" in sentences
    assert "Zone 2: 20 lb/ac is beyond machine.min_rate, 50, so no" in sentences
    (line,) = tomllib.loads(lines)["override"]
    assert line["p2o5"] == 0.0  # nothing is always allowed


def test_between_two_steps(us):
    """157 lb/ac is no multiple of 5: the build's 155 is said, 155 × 0.52 = 80.6."""
    _, _, out = us
    in_package(out, z2=157.0)

    sentences, lines = said(out)

    assert "Zone 2: 157 lb/ac becomes 155 by the spreader's step of 5." in sentences
    assert tomllib.loads(lines)["override"][0]["p2o5"] == 80.6


def test_two_rates_for_one_zone(us):
    """One zone with two rates gets none; one that two files agree on gets one."""
    _, _, out = us
    in_package(out, z2=160.0, z4=200.0)
    saved_by_gdal(out, z2=165.0, z4=200.0)

    sentences, lines = said(out)

    assert (
        "Zone 2 was edited to 160 and 165 lb/ac: no override until it is" in sentences
    )
    assert "(map/rates.geojson, map/rates.gpkg)" in sentences
    (line,) = tomllib.loads(lines)["override"]
    assert line["p2o5"] == 104.0  # 200 × 0.52


def test_zone_with_an_override(us):
    """Where a field file sets the zone already, that line is to be changed."""
    field, _, out = us
    in_package(out, z2=160.0)
    with (field / "field.toml").open("a", encoding="utf-8") as file:
        file.write(f"\n{said(out)[1]}")
    job.run(field, overwrite=True)
    in_package(out, z2=170.0)

    sentences, lines = said(out)

    # 170 × 0.52 = 88.4.
    assert "Zone 2 has an override already: change its p2o5 to 88.4" in sentences
    assert lines == ""


def moved(out):
    path = out / "map" / "rates.geojson"
    text = path.read_text("utf-8")
    collection = json.loads(text)
    collection["features"][1]["properties"]["rate_lb_ac"] = 160.0
    ring = collection["features"][1]["geometry"]["coordinates"][0]
    ring = ring[0] if isinstance(ring[0][0], list) else ring
    ring[1] = [ring[1][0], ring[1][1] + 1e-4]
    path.write_text(json.dumps(collection), "utf-8")


def deleted(out):
    in_package(out, z1=160.0)
    with closing(sqlite3.connect(out / "map" / "rates.gpkg")) as base:
        base.execute("DELETE FROM zones WHERE zone = 2")
        base.commit()


def added(out):
    in_package(out, z1=160.0)
    with closing(sqlite3.connect(out / "map" / "rates.gpkg")) as base:
        base.execute("INSERT INTO zones (geom) SELECT geom FROM zones LIMIT 1")
        base.commit()


@pytest.mark.parametrize("edit", [moved, deleted, added])
def test_geometry(edit, us):
    """Where zones were moved, deleted or added no rate of the file is adopted."""
    _, _, out = us
    edit(out)

    found = verify(out)

    assert found.adoption.edits == ()
    assert found.adoption.lines == ""
    (sentence,) = found.adoption.sentences
    assert "zones were moved, added or deleted, so no override is offered" in sentence


def test_record_that_was_changed(us):
    """Against a record that someone changed no rate is adopted."""
    _, _, out = us
    in_package(out, z2=160.0)
    path = out / "record.json"
    path.write_text(path.read_text("utf-8").replace("below critical", "fine"), "utf-8")

    sentences, lines = said(out)

    assert "The record itself was changed, so no override is offered." in sentences
    assert lines == ""


@pytest.mark.parametrize("rate", [None, "many", -5.0])
def test_no_rate(rate, us):
    """What is no rate is a difference, and nothing to adopt."""
    _, _, out = us
    in_package(out, z2=rate)

    found = verify(out)

    assert any("rates.gpkg, zone 2: rate_lb_ac reads" in one for one in found.faults)
    assert found.adoption.edits == ()


def test_package_by_way_of_a_log(us):
    """A package that a GIS wrote by SQLite's log is read; one still open is named."""
    _, _, out = us
    path = out / "map" / "rates.gpkg"
    with closing(sqlite3.connect(path)) as base:
        base.execute("PRAGMA journal_mode = WAL")
        base.execute("UPDATE zones SET rate_lb_ac = 160 WHERE zone = 2")
        base.commit()
        names = {one.name for one in path.parent.iterdir()}
        assert "rates.gpkg-wal" in names

        open_still = verify(out).faults

        assert {one.name for one in path.parent.iterdir()} == names
    said = "shows that another program has map/rates.gpkg open: close it there"
    assert f"map/rates.gpkg-wal {said}" in open_still
    assert [one.now for one in verify(out).adoption.edits] == [160.0]
    assert not path.with_name("rates.gpkg-wal").exists()


def test_lines_on_the_page(us):
    """The page shows the lines that are printed, but for where the place lies."""
    _, _, out = us
    in_package(out, z2=160.0)
    page = (Path(__file__).parents[2] / "docs" / "files.md").read_text("utf-8")

    _, lines = said(out)

    shown = re.search(r"```toml\n(\[\[override\]\].*?)```", page, re.DOTALL)[1]
    without = [re.sub(r"point = .*", "point", each) for each in (lines, shown)]
    assert without[0] == without[1]
