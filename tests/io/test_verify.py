"""Planted faults: what was written and then went wrong is found and named."""

import json
import re
import shutil
import sqlite3
import struct
from contextlib import closing

import numpy as np
import pytest
import rasterio
import shapely

from vrp import job
from vrp.errors import InputError
from vrp.io import verify
from vrp.io.recall import recalled
from vrp.io.record import digest_of, read, read_any
from vrp.io.verify import verify as verified

SHP = "Rook_Bottom_2027_11-52-0"


@pytest.fixture(scope="module")
def whole(sample_fields, tmp_path_factory):
    """Return what a sample field came to, and its folder."""
    out = tmp_path_factory.mktemp("whole") / "out"
    return job.run(sample_fields / "us", out=out)


@pytest.fixture
def out(whole, tmp_path):
    """Return a folder of output that a test may spoil."""
    return shutil.copytree(whole[1], tmp_path / "out")


def snapshot(folder):
    """Return bytes and time of every file, and the time of every folder."""
    return {
        path: (path.stat().st_mtime_ns, path.is_file() and path.read_bytes())
        for path in [folder, *folder.rglob("*")]
    }


def test_what_was_written_agrees(whole, tmp_path):
    """Nothing differs where nothing was changed, and nothing is written."""
    prescription, written = whole
    before = snapshot(written.parent)

    verify.check(written, prescription)
    found = verified(written)

    assert found.faults == ()
    assert (found.adoption.edits, found.adoption.sentences) == ((), ())
    assert snapshot(written.parent) == before
    listed = {one.name for one in read(written).files}
    parts = {f"machine/{SHP}.{suffix}" for suffix in ("shx", "dbf", "prj", "cpg")}
    parts.add("machine/TASKDATA/GRD00001.bin")
    assert {one.file for one in found.checks} == (listed | {"record.json"}) - parts


@pytest.mark.parametrize("name", ["metric", "layers", "creek"])
def test_other_sample_fields_agree(name, sample_fields, tmp_path):
    """By layers, in metric units and by water, what a build wrote agrees."""
    _, written = job.run(sample_fields / name, out=tmp_path / "out")

    assert verified(written).faults == ()


def test_folder_tells_the_prescription(whole):
    """Zones, totals and samples are recalled from the disk to the last digit."""
    prescription, written = whole
    kept, untouched = read_any(written)

    again = recalled(kept, written, changed=())

    assert untouched
    assert again.zones == prescription.zones
    assert again.totals == prescription.totals
    assert again.samples == prescription.samples
    assert again.grid == prescription.grid


def in_map(change):
    def changed(out):
        path = out / "map" / "rates.geojson"
        collection = json.loads(path.read_text("utf-8"))
        change(collection["features"])
        path.write_text(json.dumps(collection), "utf-8")

    return changed


def in_package(command):
    def changed(out):
        with closing(sqlite3.connect(out / "map" / "rates.gpkg")) as base:
            base.execute(command)
            base.commit()

    return changed


def in_text(name, old, new, count=1):
    def changed(out):
        path = out / name
        text = path.read_bytes().decode()
        assert re.search(old, text)
        path.write_bytes(re.sub(old, new, text, count=count).encode())

    return changed


def in_record(change, *, fitted):
    def changed(out):
        path = out / "record.json"
        written = json.loads(path.read_text("utf-8"))
        change(written)
        if fitted:
            written["digest"] = digest_of(written)
        path.write_text(json.dumps(written), "utf-8")

    return changed


def in_table(zone, cell):
    """Write ten characters into the rate of a record of the shapefile's table."""

    def changed(out):
        path = out / "machine" / f"{SHP}.dbf"
        content = bytearray(path.read_bytes())
        head, length = struct.unpack("<HH", content[8:12])
        start = head + (zone - 1) * length + 1  # after a mark of deletion
        content[start : start + 10] = cell
        path.write_bytes(content)

    return changed


def mark_deleted(out):
    """Mark the second row of the shapefile's table as deleted."""
    path = out / "machine" / f"{SHP}.dbf"
    content = bytearray(path.read_bytes())
    head, length = struct.unpack("<HH", content[8:12])
    content[head + length : head + length + 1] = b"*"
    path.write_bytes(content)


def move_in_shapefile(out):
    """Move the second vertex of the first zone by a metre to the east."""
    path = out / "machine" / f"{SHP}.shp"
    content = bytearray(path.read_bytes())
    # 100 bytes of head, 8 of a record's, 44 to its parts; a part number each.
    start = 152 + 4 * struct.unpack("<i", content[144:148])[0] + 16
    (x,) = struct.unpack("<d", content[start : start + 8])
    content[start : start + 8] = struct.pack("<d", x + 1e-5)
    path.write_bytes(content)


def flip(geometry):
    shape = shapely.transform(shapely.from_geojson(json.dumps(geometry)), np.fliplr)
    return json.loads(shapely.to_geojson(shape))


def swap(features):
    for one in features:
        one["geometry"] = flip(one["geometry"])


def move_vertex(features):
    """Move a vertex of the second zone by 2e-5 degree, so that it stays valid."""
    geometry = features[1]["geometry"]
    ring = geometry["coordinates"][0]
    ring = ring[0] if isinstance(ring[0][0], list) else ring
    for at in range(1, len(ring) - 1):
        kept = ring[at]
        ring[at] = [kept[0], kept[1] + 2e-5]
        if shapely.from_geojson(json.dumps(geometry)).is_valid:
            return
        ring[at] = kept
    raise AssertionError("no vertex may be moved")


def lose_class(out):
    """Move the limit of the second zone's class in the style of the GeoPackage."""
    record = json.loads((out / "record.json").read_text("utf-8"))
    rate = f"{record['zones'][1]['rate_lb_ac']:g}"
    change = f"UPDATE layer_styles SET styleQML = replace(styleQML, '{rate}', '1')"
    in_package(change)(out)


def cut(name, count):
    def changed(out):
        path = out / name
        path.write_bytes(path.read_bytes()[:-count])

    return changed


def move_zone(features):
    """Move the second zone to the east, onto its neighbours."""
    geometry = features[1]["geometry"]
    moved = shapely.transform(
        shapely.from_geojson(json.dumps(geometry)),
        lambda xy: xy + np.array([1e-4, 0.0]),
    )
    features[1]["geometry"] = json.loads(shapely.to_geojson(moved))


def remove(name):
    return lambda out: (out / name).unlink()


def add(name):
    return lambda out: (out / name).write_text("x")


def move_raster(out):
    path = out / "map" / "soil_test.tif"
    with rasterio.open(path, "r+", IGNORE_COG_LAYOUT_BREAK="YES") as to:
        to.transform = rasterio.Affine.translation(100.0, 0.0) @ to.transform


def without_class(name):
    """Take the class of the highest rate, 215 lb/ac, out of a style."""

    def changed(out):
        text = (out / name).read_text("utf-8")
        rule = (
            r'<se:Rule>(?:(?!</se:Rule>).)*215.*?</se:Rule>|<rule [^>]*label="215[^>]*>'
        )
        text, count = re.subn(rule, "", text, flags=re.DOTALL)
        assert count == 1
        (out / name).write_text(text, "utf-8")

    return changed


def turn_rows(out):
    xml = (out / "machine/TASKDATA/TASKDATA.XML").read_text("utf-8")
    columns = int(re.search(r'<GRD.* E="(\d+)"', xml)[1])
    path = out / "machine/TASKDATA/GRD00001.bin"
    codes = np.frombuffer(path.read_bytes(), np.uint8).reshape(-1, columns)
    path.write_bytes(codes[::-1].tobytes())


def undefined_code(out):
    path = out / "machine/TASKDATA/GRD00001.bin"
    content = bytearray(path.read_bytes())
    content[len(content) // 2] = 99
    path.write_bytes(content)


XML = "machine/TASKDATA/TASKDATA.XML"
NAD27 = (
    'GEOGCS["GCS_North_American_1927",DATUM["D_North_American_1927",'
    'SPHEROID["Clarke_1866",6378206.4,294.9786982]],'
    'PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]]'
)

# Figures of the sample field stand for themselves: <rate_lb_ac 2> is zone 2's by its
# record, <160 2> the field's product with 160 lb/ac in zone 2.
FAULTS = {
    "rate in GeoJSON": (
        in_map(lambda features: features[1]["properties"].update(rate_lb_ac=160.0)),
        r"^rates\.geojson, zone 2: rate_lb_ac reads 160\.0, not <rate_lb_ac 2>$",
    ),
    "rate in GeoPackage": (
        in_package("UPDATE zones SET rate_lb_ac = 160 WHERE zone = 2"),
        r"^rates\.gpkg, zone 2: rate_lb_ac reads 160\.0, not <rate_lb_ac 2>$",
    ),
    "rate in shapefile": (
        in_table(2, b"    160.00"),
        r"^machine shapefile, zone 2: RATE_LB_AC reads 160\.0, not <rate_lb_ac 2>$",
    ),
    "rate in CSV": (
        in_text("map/zones.csv", r"(?m)^(2,(?:[^,]*,){9})[^,]*", r"\g<1>160.0"),
        r"^zones\.csv, zone 2: rate_lb_ac reads '160\.0', not '<rate_lb_ac 2>'$",
    ),
    "rate in task data": (
        # 215 lb/ac are 240.98 kg/ha.
        in_text(XML, 'B="24098"', 'B="22417"'),
        r"^task data: .*: zone 4: rate reads 224\.17 kg/ha, not 240\.98",
    ),
    "total of a file": (
        in_package("UPDATE zones SET rate_lb_ac = 160 WHERE zone = 2"),
        r"^rates\.gpkg carries <160 2> lb of product, not <product>$",
    ),
    "column": (
        in_map(lambda features: features[0]["properties"].update(note="changed")),
        r"^rates\.geojson, zone 1: note reads 'changed', not '",
    ),
    "column gone": (
        in_map(lambda features: features[0]["properties"].pop("area_ac")),
        r"^rates\.geojson, zone 1: has no area_ac, not <area_ac 1>$",
    ),
    "zone deleted from GeoJSON": (
        in_map(lambda features: features.pop(1)),
        r"^rates\.geojson holds 4 of 5 zones: zone 2 is missing$",
    ),
    "zone deleted from GeoPackage": (
        in_package("DELETE FROM zones WHERE zone = 2"),
        r"^rates\.gpkg holds 4 of 5 zones: zone 2 is missing$",
    ),
    "row deleted from the table": (
        mark_deleted,
        rf"^{SHP}\.shp cannot be read: its table holds 4 rows for 5 shapes$",
    ),
    "border moved in shapefile": (
        move_in_shapefile,
        r"^machine shapefile: zone 1 reads back in another shape: [\d.]+ ac, not \d",
    ),
    "zone split": (
        in_package(
            "INSERT INTO zones (geom, zone) SELECT geom, zone FROM zones WHERE zone = 2"
        ),
        r"^rates\.gpkg holds zone 2 in 2 features, not 1$",
    ),
    "zone added": (
        in_package("INSERT INTO zones (geom, zone) SELECT geom, 9 FROM zones LIMIT 1"),
        r"^rates\.gpkg holds zone 9, which the record has not$",
    ),
    "order": (
        in_map(lambda features: features.reverse()),
        r"^rates\.geojson holds the zones in another order$",
    ),
    "coordinates swapped": (
        in_map(swap),
        r"^rates\.geojson: longitude and latitude are swapped$",
    ),
    "border moved": (
        in_map(move_vertex),
        r"^rates\.geojson: zone 2 reads back in another shape: [\d.]+ ac, "
        r"not <area_ac 2>",
    ),
    "no cover": (
        in_map(move_zone),
        r"^rates\.geojson: the zones do not tile the field: they overlap by \d",
    ),
    "extent": (
        in_text("map/rates.geojson", r'"bbox": \[-84\.', '"bbox": [-85.'),
        r"^rates\.geojson states the extent -85\.\d+, .*, not -84\.\d+, ",
    ),
    "CRS of GeoPackage": (
        in_package("UPDATE gpkg_geometry_columns SET srs_id = 0"),
        r"^rates\.gpkg, zones states the CRS 0, not 4326$",
    ),
    "CRS file": (
        lambda out: (out / f"machine/{SHP}.prj").write_text(NAD27),
        r"^machine shapefile is in NAD27, not EPSG:4326$",
    ),
    "CRS file missing": (
        remove(f"machine/{SHP}.prj"),
        rf"^machine/{SHP}\.prj is missing$",
    ),
    "table cut short": (
        cut(f"machine/{SHP}.dbf", 40),
        rf"^{SHP}\.dbf holds \d+ bytes, not the \d+ that its head states$",
    ),
    "shapes cut short": (
        cut(f"machine/{SHP}.shp", 40),
        rf"^{SHP}\.shp holds \d+ bytes, not the \d+ that its head states$",
    ),
    "GeoJSON cut short": (
        cut("map/rates.geojson", 40),
        r"^rates\.geojson cannot be read: ",
    ),
    "GeoPackage cut short": (
        cut("map/rates.gpkg", 70_000),
        r"^rates\.gpkg cannot be read: ",
    ),
    "raster cut short": (
        lambda out: (out / "map/soil_test.tif").write_bytes(b"II*\0"),
        r"^soil_test\.tif cannot be read: ",
    ),
    "file missing": (
        remove("map/rates.geojson"),
        r"^map/rates\.geojson is missing$",
    ),
    "file added": (
        add("machine/other.shp"),
        r"^machine/other\.shp is not one of the files that vrp wrote$",
    ),
    "package open elsewhere": (
        add("map/rates.gpkg-wal"),
        r"^map/rates\.gpkg-wal shows that another program has map/rates\.gpkg open",
    ),
    "class without its rate in SLD": (
        without_class("map/rates.sld"),
        r"^rates\.sld: zone 4, with the rate 215, is in 0 classes, not 1$",
    ),
    "class without its rate in QML": (
        without_class("map/rates.qml"),
        r"^rates\.qml: zone 4, with the rate 215, is in 0 classes, not 1$",
    ),
    "class in GeoPackage": (
        lose_class,
        r"^rates\.gpkg, QML: zone \d, with the rate \d+, is in \d classes, not 1$",
    ),
    "raster elsewhere": (
        move_raster,
        r"^soil_test\.tif ends [\d.]+ m short of the field in the west$",
    ),
    "colours of the raster": (
        in_text("map/soil_test.qml", r'Max="\d+"', 'Max="20"'),
        r"^soil_test\.qml: colours go from \d+ to 20, the raster from ",
    ),
    "grid of another size": (
        cut("machine/TASKDATA/GRD00001.bin", 1),
        r"^task data: GRD00001\.bin holds 9505 bytes, not 97 × 98$",
    ),
    "undefined code": (
        undefined_code,
        r"^task data: .*: cells hold code 99, which is not defined$",
    ),
    "rows from the north": (
        turn_rows,
        r"^task data: .*: the rows of the grid run from north to south$",
    ),
    "unit factor": (
        in_text(XML, 'B="24098"', 'B="2410"'),
        r"^task data: .*: zone 4: rate reads 24\.1 kg/ha, not 240\.98\d*, 0\.1 of it$",
    ),
    "open ring": (
        in_text(XML, r"<PNT[^>]*>\s*</LSG>", "</LSG>"),
        r"^task data: field Rook Bottom: a ring of polygon 1 is open",
    ),
    "grid missing": (
        remove("machine/TASKDATA/GRD00001.bin"),
        r"^task data: GRD00001\.bin is missing$",
    ),
    "record": (
        in_record(
            lambda record: record["zones"][1].update(rate_lb_ac=99.0), fitted=False
        ),
        r"^record\.json was changed after vrp wrote it: its digest is not that of its",
    ),
    "record with its digest": (
        in_record(
            lambda record: record["zones"][1].update(rate_lb_ac=99.0), fitted=True
        ),
        r"^record\.json, zone 2: <total_lb 2> lb of product; rate × area is <99 2>$",
    ),
    "total in the record": (
        in_record(lambda record: record["totals"].update(product=9.0), fitted=True),
        r"^record\.json: product in all is 9\.0, and of the zones <total>$",
    ),
}


def filled_in(sentence, out):
    """Return a sentence with the figures of the record of a folder in it."""
    record = json.loads((out / "record.json").read_text("utf-8"))
    zones = {one["zone"]: one for one in record["zones"]}

    def figure(found):
        if found[0] == "<product>":
            return re.escape(f"{record['totals']['product']:.1f}")
        if found[0] == "<total>":
            return re.escape(str(record["totals"]["product"]))
        key, zone = found[1], zones[int(found[2])]
        if key == "160":
            more = (160.0 - zone["rate_lb_ac"]) * zone["area_ac"]
            return re.escape(f"{record['totals']['product'] + more:.1f}")
        if key == "99":
            return re.escape(f"{99.0 * zone['area_ac']:.2f}")
        return re.escape(str(zone[key]))

    return re.sub(r"<product>|<total>|<(\w+) (\d)>", figure, sentence)


@pytest.mark.parametrize("fault", FAULTS)
def test_planted_faults(fault, out):
    """A planted fault is named in a sentence, and nothing is written to find it."""
    change, sentence = FAULTS[fault]
    sentence = filled_in(sentence, out)
    change(out)
    before = snapshot(out.parent)

    found = verified(out).faults

    assert any(re.search(sentence, one) for one in found), found
    assert snapshot(out.parent) == before


def test_bytes_alone(out):
    """Of a file that says the same by other bytes, only that it was changed is said."""
    path = out / "map" / "rates.geojson"
    path.write_text(json.dumps(json.loads(path.read_text("utf-8")), indent=2), "utf-8")

    assert verified(out).faults == ("map/rates.geojson was changed after vrp wrote it",)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (remove("record.json"), "holds no record.json; vrp build writes it$"),
        (cut("record.json", 40), "record.json: is no record as this version "),
        (
            in_record(lambda record: record["zones"][0].pop("rate_lb_ac"), fitted=True),
            "^record.json, zone 1: rate_lb_ac is None; build the field again$",
        ),
        (
            in_record(lambda record: record["soil_test"].update(unit="%"), fitted=True),
            "^record.json: samples.unit: ",
        ),
    ],
)
def test_no_readable_record(change, message, out):
    """Without a record that can be read nothing is compared."""
    change(out)

    with pytest.raises(InputError, match=message):
        verified(out)


def test_every_shape_changed(out, whole):
    """Where no file is as it was written, the record's areas tell which to believe."""
    for name in ("map/rates.gpkg", f"machine/{SHP}.shp"):
        (out / name).unlink()
    in_map(lambda features: features[1]["properties"].update(rate_lb_ac=160.0))(out)

    found = verified(out)
    assert [one.now for one in found.adoption.edits] == [160.0]
    assert not any("task data" in one for one in found.faults)

    in_map(move_vertex)(out)
    found = verified(out)
    assert found.adoption.edits == ()
    assert any(
        re.search(r"^rates\.geojson: zone 2 has [\d.]+ ac, not \d+\.\d+$", one)
        for one in found.faults
    )


def test_no_shapes_at_all(ground):
    """A table alone is compared with the record: there is no ground to compare."""
    ground.text += '\n[files]\nmap = ["csv"]\nmachine = ["task-data"]\n'
    _, written = job.run(ground.write())
    assert verified(written).faults == ()
    in_text(XML, r'(<TZN A="1"[^>]*>\s*<PDV A="0006" B=")\d+', r"\g<1>7")(written)

    assert verified(written).faults == (f"{XML} was changed after vrp wrote it",)


def test_composites(ground):
    """Of composites there is no raster, and none is missed."""
    halves = [shapely.box(0, 0, 240, 480), shapely.box(240, 0, 480, 480)]
    ground.write_polygons("zones.geojson", halves, [{"P": 12}, {"P": 25}])
    ground.change(
        ('file = "samples.csv"', 'file = "zones.geojson"\nkind = "zone"'),
        ('x = "x"\ny = "y"\n', ""),
    )
    ground.text = re.sub("crs = .*\n", "", ground.text)
    _, written = job.run(ground.write())

    found = verified(written)

    assert found.faults == ()
    assert "map/soil_test.tif" not in {one.file for one in found.checks}


def test_held_back(ground):
    """Where a stop finding held the machine files back none is missed."""
    ground.change(('"mehlich-3-icp"', '"olsen"'))
    prescription, written = job.run(ground.write())

    assert prescription.held_back
    assert verified(written).faults == ()
