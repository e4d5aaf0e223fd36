"""rates.gpkg: by the standard, read by others, explained, without a clock."""

import sqlite3
import struct
from contextlib import closing
from dataclasses import replace
from xml.etree import ElementTree

import geopandas
import pyogrio
import pytest
import shapely

from vrp import job
from vrp.io import geopackage
from vrp.legend import columns

HOSTILE = 'A\'); DROP TABLE "zones";-- <b>&amp; "麦田" é'


@pytest.fixture
def written(ground):
    prescription, out = job.run(ground.write())
    return prescription, out / "map" / "rates.gpkg"


def rows(path, query):
    with closing(sqlite3.connect(path)) as base:
        return base.execute(query).fetchall()


def test_read_by_gdal(written):
    """GDAL reads every zone with its numbers as numbers, in longitude, latitude."""
    prescription, path = written

    frame = geopandas.read_file(path, layer="zones")

    assert frame.crs.to_epsg() == 4326
    names = [one.name for one in columns(prescription)]
    assert list(frame.columns) == [*names, "geometry"]
    assert frame["zone"].tolist() == [one.number for one in prescription.zones]
    assert frame["zone"].dtype.kind == "i"
    assert frame["rate_lb_ac"].tolist() == [one.rate for one in prescription.zones]
    assert frame["rate_lb_ac"].dtype.kind == "f"
    assert frame["stp_class"].tolist() == [one.soil_class for one in prescription.zones]
    assert frame["total_lb"].sum() == pytest.approx(prescription.totals.zones.product)
    for zone, shape in zip(prescription.zones, frame.geometry, strict=True):
        assert shapely.equals(zone.geometry, shape)


def test_layers(written):
    """It has the layers zones, samples and boundary, each of one kind of geometry."""
    _, path = written

    kinds = dict(pyogrio.list_layers(path).tolist())

    assert kinds == {
        "zones": "MultiPolygon",
        "samples": "Point",
        "boundary": "MultiPolygon",
        "layer_styles": None,
    }


def test_samples_lie_where_they_were_taken(ground, written):
    """Each sample has its row, its soil test and its position to a centimetre."""
    _, path = written

    frame = geopandas.read_file(path, layer="samples")

    assert frame["row"].tolist() == list(range(2, 66))
    assert frame["stp_ppm"].tolist() == [round(p, 1) for p in ground.samples[:, 2]]
    given = shapely.points(ground.samples[:, :2].round(1))
    apart = shapely.distance(
        frame.geometry.to_numpy(), [ground.to_lonlat(one) for one in given]
    )
    assert max(apart) < 1e-7  # degree; half a step of the lattice each way


def test_composites_lie_in_their_ground(ground):
    """A composite of a drawn zone stands at a place inside that zone."""
    halves = [shapely.box(0, 0, 200, 480), shapely.box(200, 0, 480, 480)]
    ground.write_polygons("zones.geojson", halves, [{"P": 12.0}, {"P": 30.0}])
    ground.change(
        ('file = "samples.csv"', 'file = "zones.geojson"\nkind = "zone"'),
        ('x = "x"\ny = "y"\n', ""),
    )
    ground.text = "\n".join(
        line for line in ground.text.splitlines() if not line.startswith("crs =")
    )
    _, out = job.run(ground.write())

    frame = geopandas.read_file(out / "map" / "rates.gpkg", layer="samples")

    assert frame["stp_ppm"].tolist() == [12.0, 30.0]
    for half, place in zip(halves, frame.geometry, strict=True):
        assert ground.to_lonlat(half).contains(place)


def test_boundary_is_the_union_of_the_zones(written):
    """One feature, with the field's name and area, on the corners of the zones."""
    prescription, path = written

    frame = geopandas.read_file(path, layer="boundary")

    assert frame["field"].tolist() == ["Test Ground"]
    assert frame["area_ac"].tolist() == [prescription.totals.area]
    union = shapely.union_all([zone.geometry for zone in prescription.zones])
    assert shapely.equals(frame.geometry[0], union)
    corners = {
        tuple(xy)
        for zone in prescription.zones
        for xy in shapely.get_coordinates(zone.geometry)
    }
    assert set(map(tuple, shapely.get_coordinates(frame.geometry[0]))) <= corners


def test_rings_turn_one_way(ground):
    """Exterior rings run counter-clockwise and holes clockwise, of every layer."""
    ground.outline = ground.outline.difference(shapely.box(200, 200, 260, 260))
    _, out = job.run(ground.write())

    holes = 0
    for layer in ("zones", "boundary"):
        frame = geopandas.read_file(out / "map" / "rates.gpkg", layer=layer)
        for part in shapely.get_parts(frame.geometry):
            assert part.exterior.is_ccw
            assert not any(ring.is_ccw for ring in part.interiors)
            holes += len(part.interiors)
    assert holes > 0


def test_head_of_the_file(written):
    """
    The file says that it is SQLite, and a GeoPackage of version 1.3.

    SQLite's file format: user version at byte 60, application id at 68. GeoPackage 1.3,
    requirement 2: the id is "GPKG", the version 10300 for 1.3.0.
    """
    _, path = written
    head = path.read_bytes()[:100]

    assert head[:16] == b"SQLite format 3\x00"
    assert struct.unpack(">i", head[60:64]) == (10300,)
    assert head[68:72] == b"GPKG"


def test_tables_of_the_standard(written):
    """SQLite finds no fault; the reference systems 4326, -1 and 0 are there."""
    _, path = written

    assert rows(path, "PRAGMA integrity_check") == [("ok",)]
    assert rows(path, "PRAGMA foreign_key_check") == []
    systems = rows(path, "SELECT srs_id, organization FROM gpkg_spatial_ref_sys")
    assert sorted(systems) == [(-1, "NONE"), (0, "NONE"), (4326, "EPSG")]
    kept = rows(
        path,
        "SELECT table_name, geometry_type_name, srs_id, z, m FROM gpkg_g"
        "eometry_columns ORDER BY table_name",
    )
    assert kept == [
        ("boundary", "MULTIPOLYGON", 4326, 0, 0),
        ("samples", "POINT", 4326, 0, 0),
        ("zones", "MULTIPOLYGON", 4326, 0, 0),
    ]
    extensions = rows(path, "SELECT table_name, extension_name FROM gpkg_extensions")
    assert set(extensions) == {
        ("gpkg_data_columns", "gpkg_schema"),
        ("gpkg_data_column_constraints", "gpkg_schema"),
    }


def test_heads_of_the_geometries(written):
    """
    Every geometry begins as GeoPackage 1.3, clause 2.1.3, says.

    "GP", version 0, flags (little-endian, envelope 1 of x and y or none), the reference
    system, and for polygons the least and greatest x, then y.
    """
    prescription, path = written

    blobs = [blob for (blob,) in rows(path, "SELECT geom FROM zones ORDER BY fid")]
    for zone, blob in zip(prescription.zones, blobs, strict=True):
        magic, version, flags, system = struct.unpack("<2sBBi", blob[:8])
        assert (magic, version, flags, system) == (b"GP", 0, 0b011, 4326)
        west, south, east, north = zone.geometry.bounds
        assert struct.unpack("<4d", blob[8:40]) == (west, east, south, north)
    (blob,) = rows(path, "SELECT geom FROM samples")[0]
    assert struct.unpack("<2sBBi", blob[:8]) == (b"GP", 0, 0b001, 4326)


def test_every_column_is_explained(written):
    """Each column of each layer has a title, with the unit where it has one."""
    _, path = written

    for layer in ("zones", "samples", "boundary"):
        said = dict(
            rows(
                path,
                "SELECT column_name, title FROM gpkg_data_columns "
                f"WHERE table_name = '{layer}'",
            )
        )
        assert list(said) == list(pyogrio.read_info(path, layer=layer)["fields"])
        assert all(said.values())
        if layer == "zones":
            assert said["rate_lb_ac"] == "rate of product [lb/ac]"
            assert said["p2o5_lb_ac"] == "need of P2O5 [lb/ac]"


def test_every_layer_has_its_style(written):
    """The table that QGIS looks in has a style for each layer, the default one."""
    _, path = written

    found = rows(
        path,
        "SELECT f_table_name, f_geometry_column, styleQML, styleSLD, useAsDefault "
        "FROM layer_styles ORDER BY f_table_name",
    )

    assert [one[0] for one in found] == ["boundary", "samples", "zones"]
    assert {one[1] for one in found} == {"geom"}
    assert {one[4] for one in found} == {1}
    for one in found:
        assert ElementTree.fromstring(one[2]).tag == "qgis"
    assert found[2][2] == path.with_name("rates.qml").read_text("utf-8")
    assert found[2][3] == path.with_name("rates.sld").read_text("utf-8")


def test_no_clock(written):
    """Wherever the format keeps a time it is the start of the year 2000."""
    _, path = written

    times = rows(path, "SELECT last_change FROM gpkg_contents")
    times += rows(path, "SELECT update_time FROM layer_styles")
    assert set(times) == {("2000-01-01T00:00:00.000Z",)}


def test_names_of_tables_and_columns(written):
    """All are lower case, as some programs want them."""
    _, path = written

    for layer in ("zones", "samples", "boundary"):
        names = pyogrio.read_info(path, layer=layer)["fields"].tolist()
        assert names == [name.lower() for name in names]


def test_hostile_names(ground):
    """A name that looks like SQL or XML is text and nothing else."""
    ground.change(('name = "Test Ground"', f"name = '''{HOSTILE}'''"))

    _, out = job.run(ground.write())

    path = out / "map" / "rates.gpkg"
    assert geopandas.read_file(path, layer="boundary")["field"].tolist() == [HOSTILE]
    (described,) = rows(
        path, "SELECT description FROM gpkg_contents WHERE table_name = 'zones'"
    )
    assert described[0].startswith(HOSTILE)
    assert len(rows(path, "SELECT * FROM zones")) > 1


def test_ids_that_steer(ground):
    """An id with a character that steers a terminal has it spelled out."""
    rows = [
        f"{x:.1f},{y:.1f},{p:.1f},s{i}" for i, (x, y, p) in enumerate(ground.samples)
    ]
    rows[3] = rows[3].replace("s3", "s\x1b3")
    ground.change(('y = "y"\n', 'y = "y"\nid = "id"\n'))
    path = ground.write()
    (ground.folder / "samples.csv").write_text("\n".join(["x,y,P,id", *rows]))

    _, out = job.run(path)

    frame = geopandas.read_file(out / "map" / "rates.gpkg", layer="samples")
    assert frame["id"].tolist()[2:5] == ["s2", r"s\u001b3", "s4"]


def test_what_is_not_there_is_null(written, tmp_path):
    """A field without a year has none in the boundary: null, not a number."""
    prescription, _ = written
    plan = replace(prescription.plan, field=replace(prescription.plan.field, year=None))

    geopackage.write(tmp_path / "a.gpkg", replace(prescription, plan=plan))

    assert rows(tmp_path / "a.gpkg", "SELECT year FROM boundary") == [(None,)]
