"""The shapefile that a spreader loads: one numeric column, the rate."""

import hashlib
import re
import struct
import unicodedata
from collections.abc import Iterator
from io import BytesIO
from itertools import pairwise
from pathlib import Path
from typing import Any

import shapely
from shapely.geometry import mapping

from vrp.errors import VrpError
from vrp.legend import rate_column
from vrp.plan import Plan
from vrp.prescription import Prescription

LONGEST_NAME = 24

Records = tuple[tuple[shapely.Geometry, dict[str, Any]], ...]

# WGS 84 as the shapefile's own dialect of well-known text spells it.
_PRJ = (
    'GEOGCS["GCS_WGS_1984",DATUM["D_WGS_1984",'
    'SPHEROID["WGS_1984",6378137.0,298.257223563]],'
    'PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]]'
)


def file_name(plan: Plan) -> str:
    """
    Return the stem of the machine files: field, year and grade in safe characters.

    Where transliteration or the length of 24 loses anything, six characters of a hash
    of the full name take its place, so that two fields never share a name.
    """
    year = "" if plan.field.year is None else f"_{plan.field.year}"
    tail = f"{year}_{plan.product.grade}".replace(".", "p")
    full = f"{plan.field.name}{tail}"
    plain = unicodedata.normalize("NFKD", plan.field.name).encode("ascii", "ignore")
    safe = re.sub(r"[^A-Za-z0-9]+", "_", plain.decode()).strip("_")
    if _keeps_all(plan.field.name, safe) and len(safe + tail) <= LONGEST_NAME:
        return safe + tail
    short = hashlib.sha256(full.encode()).hexdigest()[:6]
    room = LONGEST_NAME - len(tail) - len(short) - 1
    return f"{safe[: max(room, 0)].rstrip('_')}_{short}{tail}"[:LONGEST_NAME]


def _keeps_all(name: str, safe: str) -> bool:
    """
    Return whether no other name gives the same file on a stick, which has no case.

    What ends like a year or like the hash of another name could be taken for one.
    """
    return (
        safe.replace("_", " ") == name == name.title()
        and re.search(r"_(\d{4}|[0-9a-fA-F]{6})$", safe) is None
    )


def write(folder: Path, prescription: Prescription) -> None:
    """Write .shp, .shx, .dbf, .prj and .cpg, a record for each zone."""
    import shapefile

    parts = {suffix: BytesIO() for suffix in ("shp", "shx", "dbf")}
    # In memory first: on a full disk the library would fail again while it closes.
    with shapefile.Writer(shapeType=shapefile.POLYGON, encoding="utf-8", **parts) as to:
        to.field(rate_column(prescription).upper(), "N", size=10, decimal=2)
        to.field("PRODUCT", "C", size=20)
        for zone in prescription.zones:
            # A shapefile's outer rings run clockwise, the reverse of GeoJSON's.
            clockwise = shapely.orient_polygons(zone.geometry, exterior_cw=True)
            to.shape(mapping(clockwise))
            to.record(zone.rate, prescription.plan.product.grade)
    content = {suffix: part.getvalue() for suffix, part in parts.items()}
    content["dbf"] = _without_clock(content["dbf"])
    content |= {"prj": _PRJ.encode(), "cpg": b"UTF-8"}
    stem = file_name(prescription.plan)
    for suffix, data in content.items():
        (folder / f"{stem}.{suffix}").write_bytes(data)


def _without_clock(dbf: bytes) -> bytes:
    """Set the date in a table's head to 2000-01-01: same input, same bytes."""
    return dbf[:1] + bytes((100, 1, 1)) + dbf[4:]  # years since 1900, month, day


def path(folder: Path, plan: Plan) -> Path:
    """Return where the main file of a plan's shapefile stands."""
    return folder / f"{file_name(plan)}.shp"


def read(shp: Path) -> Records:
    """Return geometry and columns of every record, as GDAL reads them."""
    import pyogrio.raw

    meta, _, shapes, values = pyogrio.raw.read(shp)
    names = [str(name) for name in meta["fields"]]
    rows = zip(*(column.tolist() for column in values), strict=True)
    return tuple(
        (shape, dict(zip(names, row, strict=True)))
        for shape, row in zip(shapely.from_wkb(shapes), rows, strict=True)
    )


def read_by_pyshp(shp: Path) -> Records:
    """Return geometry and columns of every record, as pyshp reads them."""
    import shapefile

    parts = {suffix: _part(shp, suffix) for suffix in ("shp", "shx", "dbf")}
    try:
        with shapefile.Reader(**parts, encoding="utf-8") as source:
            # A row that is marked as deleted is left out, its shape is not.
            shapes, rows = source.shapes(), source.records()
    except shapefile.ShapefileException as exc:
        raise VrpError(str(exc)) from exc
    if len(rows) != len(shapes):
        raise VrpError(f"its table holds {len(rows)} rows for {len(shapes)} shapes")
    return tuple(
        (_shape(shape), row.as_dict()) for shape, row in zip(shapes, rows, strict=True)
    )


def shapes(shp: Path) -> tuple[shapely.Geometry, ...]:
    """Return the geometries alone, whatever became of the other files."""
    import shapefile

    try:
        with shapefile.Reader(shp=_part(shp, "shp")) as source:
            return tuple(map(_shape, source.shapes()))
    except shapefile.ShapefileException as exc:
        raise VrpError(str(exc)) from exc


def sizes(shp: Path) -> Iterator[tuple[str, int, int]]:
    """Yield each part's name, its bytes and those that its own head states."""
    for suffix in ("shp", "shx"):
        content = shp.with_suffix(f".{suffix}").read_bytes()
        stated = 2 * struct.unpack(">i", content[24:28])[0]  # in words of two bytes
        yield f"{shp.stem}.{suffix}", len(content), stated
    content = shp.with_suffix(".dbf").read_bytes()
    records, head, each = struct.unpack("<IHH", content[4:12])
    held = len(content) - content.endswith(b"\x1a")  # a mark of the end, or none
    yield f"{shp.stem}.dbf", held, head + records * each


def extent(shp: Path) -> list[float]:
    """Return the extent that the main file's head states."""
    return list(struct.unpack("<4d", shp.read_bytes()[36:68]))


def _part(shp: Path, suffix: str) -> BytesIO:
    return BytesIO(shp.with_suffix(f".{suffix}").read_bytes())


def _shape(record: Any) -> shapely.Geometry:
    """Return polygons from their rings, without the library's words on faulty ones."""
    from shapefile import organize_polygon_rings

    ends = pairwise([*record.parts, len(record.points)])
    rings = [record.points[start:end] for start, end in ends]
    parts = [shapely.Polygon(one[0], one[1:]) for one in organize_polygon_rings(rings)]
    return parts[0] if len(parts) == 1 else shapely.MultiPolygon(parts)
