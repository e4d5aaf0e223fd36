"""rates.gpkg by GeoPackage 1.3: zones, samples and boundary, styled and explained."""

import sqlite3
import struct
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import shapely

from vrp.io import style
from vrp.io.folder import NO_CLOCK
from vrp.legend import area_unit, columns, plain, soil_test_column
from vrp.prescription import Prescription

NAME = "rates.gpkg"
ZONES, SAMPLES, BOUNDARY = "zones", "samples", "boundary"
EXCLUDED = "excluded"  # where anything is

Features = tuple[tuple[shapely.Geometry, dict[str, Any]], ...]

_LONLAT = 4326
_APPLICATION, _VERSION = 0x47504B47, 10300  # "GPKG"; 1.3
_WGS84 = (
    'GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563,'
    'AUTHORITY["EPSG","7030"]],AUTHORITY["EPSG","6326"]],PRIMEM["Greenwich",0,'
    'AUTHORITY["EPSG","8901"]],UNIT["degree",0.0174532925199433,'
    'AUTHORITY["EPSG","9122"]],AUTHORITY["EPSG","4326"]]'
)
# Tables as the standard spells them; layer_styles is that of QGIS.
_TABLES = """
CREATE TABLE gpkg_spatial_ref_sys (
  srs_name TEXT NOT NULL, srs_id INTEGER NOT NULL PRIMARY KEY,
  organization TEXT NOT NULL, organization_coordsys_id INTEGER NOT NULL,
  definition TEXT NOT NULL, description TEXT);
CREATE TABLE gpkg_contents (
  table_name TEXT NOT NULL PRIMARY KEY, data_type TEXT NOT NULL,
  identifier TEXT UNIQUE, description TEXT DEFAULT '',
  last_change DATETIME NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')),
  min_x DOUBLE, min_y DOUBLE, max_x DOUBLE, max_y DOUBLE, srs_id INTEGER,
  CONSTRAINT fk_gc_r_srs_id FOREIGN KEY (srs_id)
    REFERENCES gpkg_spatial_ref_sys(srs_id));
CREATE TABLE gpkg_geometry_columns (
  table_name TEXT NOT NULL, column_name TEXT NOT NULL,
  geometry_type_name TEXT NOT NULL, srs_id INTEGER NOT NULL,
  z TINYINT NOT NULL, m TINYINT NOT NULL,
  CONSTRAINT pk_geom_cols PRIMARY KEY (table_name, column_name),
  CONSTRAINT uk_gc_table_name UNIQUE (table_name),
  CONSTRAINT fk_gc_tn FOREIGN KEY (table_name) REFERENCES gpkg_contents(table_name),
  CONSTRAINT fk_gc_srs FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys (srs_id));
CREATE TABLE gpkg_extensions (
  table_name TEXT, column_name TEXT, extension_name TEXT NOT NULL,
  definition TEXT NOT NULL, scope TEXT NOT NULL,
  CONSTRAINT ge_tce UNIQUE (table_name, column_name, extension_name));
CREATE TABLE gpkg_data_columns (
  table_name TEXT NOT NULL, column_name TEXT NOT NULL, name TEXT, title TEXT,
  description TEXT, mime_type TEXT, constraint_name TEXT,
  CONSTRAINT pk_gdc PRIMARY KEY (table_name, column_name),
  CONSTRAINT gdc_tn UNIQUE (table_name, name));
CREATE TABLE gpkg_data_column_constraints (
  constraint_name TEXT NOT NULL, constraint_type TEXT NOT NULL, value TEXT,
  min NUMERIC, min_is_inclusive BOOLEAN, max NUMERIC, max_is_inclusive BOOLEAN,
  description TEXT,
  CONSTRAINT gdcc_ntv UNIQUE (constraint_name, constraint_type, value));
CREATE TABLE layer_styles (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
  f_table_catalog TEXT(256), f_table_schema TEXT(256), f_table_name TEXT(256),
  f_geometry_column TEXT(256), styleName TEXT(30), styleQML TEXT, styleSLD TEXT,
  useAsDefault BOOLEAN, description TEXT, owner TEXT(30), ui TEXT(30),
  update_time DATETIME DEFAULT CURRENT_TIMESTAMP);
"""
_SCHEMA = "http://www.geopackage.org/spec130/#extension_schema"


@dataclass(frozen=True, slots=True)
class _Column:
    name: str
    kind: str  # of SQL
    meaning: str
    unit: str


@dataclass(frozen=True, slots=True)
class _Layer:
    name: str
    kind: str  # of geometry
    description: str
    columns: tuple[_Column, ...]
    shapes: Sequence[shapely.Geometry]
    rows: Sequence[tuple[object, ...]]
    qml: str
    sld: str | None = None


def write(path: Path, prescription: Prescription) -> None:
    """
    Write the layers, each with its style and what its columns mean.

    There is no spatial index: the standard asks for none, and a field has few zones.
    """
    # In memory first: no disk fails halfway, and no counter of SQLite's is written.
    to = sqlite3.connect(":memory:")
    try:
        to.execute(f"PRAGMA application_id = {_APPLICATION}")
        to.execute(f"PRAGMA user_version = {_VERSION}")
        to.executescript(_TABLES)
        _fixed_rows(to)
        for layer in _layers(prescription):
            _add(to, layer)
        to.commit()
        content = to.serialize()
    finally:
        to.close()
    path.write_bytes(content)


def read(path: Path, layer: str) -> tuple[str | None, Features]:
    """Return the CRS of a layer, and its features as GDAL reads them."""
    import pyogrio.raw

    # From memory: beside a file that another program has open it would write others.
    meta, _, shapes, values = pyogrio.raw.read(_content(path), layer=layer)
    names = [str(name) for name in meta["fields"]]
    found = zip(*(column.tolist() for column in values), strict=True)
    return meta["crs"], tuple(
        (shape, dict(zip(names, row, strict=True)))
        for shape, row in zip(shapely.from_wkb(shapes), found, strict=True)
    )


@contextmanager
def opened(path: Path) -> Iterator[sqlite3.Connection]:
    """Open a package by SQLite in memory, so that nothing is written beside it."""
    base = sqlite3.connect(":memory:")
    try:
        base.deserialize(_content(path))
        yield base
    finally:
        base.close()


def _content(path: Path) -> bytes:
    content = path.read_bytes()
    if content[18:20] == b"\x02\x02":
        # Written by way of a log, which memory has none of: as if by a journal.
        return content[:18] + b"\x01\x01" + content[20:]
    return content


def rows(base: sqlite3.Connection, layer: str) -> Features:
    """Return the features of a layer, in the order of their ids."""
    found = base.execute(f'SELECT * FROM "{layer}" ORDER BY fid')
    names = [one[0] for one in found.description][2:]
    return tuple(
        (_shape(row[1]), dict(zip(names, row[2:], strict=True)))
        for row in found.fetchall()
    )


def described(base: sqlite3.Connection) -> dict[str, tuple[int, tuple[float, ...]]]:
    """Return what is said of each layer: its CRS, its extent."""
    found = base.execute(
        "SELECT table_name, g.srs_id, min_x, min_y, max_x, max_y "
        "FROM gpkg_geometry_columns g JOIN gpkg_contents USING (table_name)"
    )
    return {name: (code, tuple(box)) for name, code, *box in found}


def styles(base: sqlite3.Connection) -> dict[str, str]:
    """Return how the zones are drawn, by kind of style."""
    (found,) = base.execute(
        "SELECT styleQML, styleSLD FROM layer_styles WHERE f_table_name = ?", (ZONES,)
    )
    return dict(zip(("QML", "SLD"), found, strict=True))


# By the standard's bits 1 to 3 of the flags: bytes of the envelope.
_ENVELOPES = (0, 32, 48, 48, 64)


def _shape(blob: bytes | None) -> shapely.Geometry:
    if blob is None:
        return shapely.MultiPolygon()
    start = 8 + _ENVELOPES[blob[3] >> 1 & 0b111]
    return shapely.from_wkb(blob[start:])


def outline(prescription: Prescription) -> shapely.Geometry:
    """Return the ground that the zones tile, corners where theirs are."""
    union = shapely.coverage_union_all([zone.geometry for zone in prescription.zones])
    return shapely.orient_polygons(union, exterior_cw=False)


def _layers(prescription: Prescription) -> tuple[_Layer, ...]:
    found = [_boundary(prescription), _zones(prescription), _samples(prescription)]
    if any(zone.excluded is not None for zone in prescription.zones):
        found.append(_excluded(prescription))
    return tuple(found)


def _zones(prescription: Prescription) -> _Layer:
    asked = columns(prescription)
    kinds = {None: "TEXT", 0: "INTEGER"}
    return _Layer(
        ZONES,
        "MULTIPOLYGON",
        style.title(prescription),
        tuple(
            _Column(one.name, kinds.get(one.decimals, "REAL"), one.meaning, one.unit)
            for one in asked
        ),
        [_multi(zone.geometry) for zone in prescription.zones],
        [tuple(one.of(zone) for one in asked) for zone in prescription.zones],
        style.zones_qml(prescription),
        style.sld(prescription),
    )


def _samples(prescription: Prescription) -> _Layer:
    column, unit = soil_test_column(prescription), prescription.guideline.soil_test_unit
    composites = prescription.plan.samples.kind != "point"
    where = "composites, at a place inside their ground" if composites else "samples"
    return _Layer(
        SAMPLES,
        "POINT",
        f"{where}, of {prescription.plan.samples.file.name}",
        (
            _Column("row", "INTEGER", "row of the file of results", ""),
            _Column("id", "TEXT", "name of the sample", ""),
            _Column(column, "REAL", "soil test, as the guideline counts it", unit),
        ),
        [shapely.Point(one.longitude, one.latitude) for one in prescription.samples],
        [(one.row, plain(one.id), one.soil_test) for one in prescription.samples],
        style.samples_qml(prescription),
    )


def _excluded(prescription: Prescription) -> _Layer:
    unit = area_unit(prescription)
    zones = [zone for zone in prescription.zones if zone.excluded is not None]
    return _Layer(
        EXCLUDED,
        "MULTIPOLYGON",
        "ground where nothing is spread",
        (
            _Column("zone", "INTEGER", "number of the zone", ""),
            _Column(f"area_{unit}", "REAL", "geodesic area", unit),
            _Column("reason", "TEXT", "why nothing is spread", ""),
        ),
        [_multi(zone.geometry) for zone in zones],
        [(zone.number, zone.area, plain(zone.excluded or "")) for zone in zones],
        style.excluded_qml(),
        style.excluded_sld(),
    )


def _boundary(prescription: Prescription) -> _Layer:
    field, unit = prescription.plan.field, area_unit(prescription)
    return _Layer(
        BOUNDARY,
        "MULTIPOLYGON",
        "the ground that the zones tile",
        (
            _Column("field", "TEXT", "name of the field", ""),
            _Column("client", "TEXT", "client, as the field file says", ""),
            _Column("farm", "TEXT", "farm, as the field file says", ""),
            _Column("year", "INTEGER", "year of spreading", ""),
            _Column(f"area_{unit}", "REAL", "geodesic area", unit),
        ),
        [_multi(outline(prescription))],
        [
            (
                field.name,
                field.client or "",
                field.farm or "",
                field.year,
                prescription.totals.area,
            )
        ],
        style.boundary_qml(),
    )


def _fixed_rows(to: sqlite3.Connection) -> None:
    none = "undefined"
    systems = (
        ("Undefined Cartesian SRS", -1, "NONE", -1, none, "any plane"),
        ("Undefined geographic SRS", 0, "NONE", 0, none, "any ellipsoid"),
        ("WGS 84", _LONLAT, "EPSG", _LONLAT, _WGS84, "longitude, latitude"),
    )
    to.executemany(
        "INSERT INTO gpkg_spatial_ref_sys VALUES (?, ?, ?, ?, ?, ?)", systems
    )
    for table in ("gpkg_data_columns", "gpkg_data_column_constraints"):
        _insert(
            to, "gpkg_extensions", (table, None, "gpkg_schema", _SCHEMA, "read-write")
        )
    described = "how QGIS draws the layers"
    styles = ("layer_styles", "attributes", "layer_styles", described, NO_CLOCK)
    _insert(to, "gpkg_contents", (*styles, None, None, None, None, 0))


def _add(to: sqlite3.Connection, layer: _Layer) -> None:
    kinds = "".join(f', "{one.name}" {one.kind}' for one in layer.columns)
    to.execute(
        f'CREATE TABLE "{layer.name}" (fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, '
        f"geom {layer.kind}{kinds})"
    )
    bounds = shapely.total_bounds(layer.shapes).tolist()
    description = plain(layer.description)
    described = (layer.name, description, NO_CLOCK, *bounds, _LONLAT)
    _insert(to, "gpkg_contents", (layer.name, "features", *described))
    geometry = (layer.name, "geom", layer.kind, _LONLAT, 0, 0)
    _insert(to, "gpkg_geometry_columns", geometry)
    for one in layer.columns:
        title = f"{one.meaning} [{one.unit}]" if one.unit else one.meaning
        meaning = (layer.name, one.name, None, title, title, None, None)
        _insert(to, "gpkg_data_columns", meaning)
    drawn = ("", "", layer.name, "geom", layer.name, layer.qml, layer.sld, 1)
    _insert(to, "layer_styles", (None, *drawn, description, "", None, NO_CLOCK))
    for shape, row in zip(layer.shapes, layer.rows, strict=True):
        _insert(to, layer.name, (None, _blob(shape), *row))


def _insert(to: sqlite3.Connection, table: str, row: tuple[object, ...]) -> None:
    to.execute(f'INSERT INTO "{table}" VALUES ({", ".join("?" * len(row))})', row)


def _blob(shape: shapely.Geometry) -> bytes:
    """Return the standard's binary: a head with the envelope, then WKB."""
    point = isinstance(shape, shapely.Point)
    west, south, east, north = shapely.bounds(shape).tolist()
    envelope = b"" if point else struct.pack("<4d", west, east, south, north)
    head = b"GP" + bytes((0, 0b1 if point else 0b11)) + struct.pack("<i", _LONLAT)
    return head + envelope + shapely.to_wkb(shape, byte_order=1)


def _multi(shape: shapely.Geometry) -> shapely.MultiPolygon:
    parts: Iterable[Any] = shapely.get_parts(shape)
    return shapely.MultiPolygon(list(parts))
