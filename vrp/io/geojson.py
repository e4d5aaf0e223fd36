"""Zones as GeoJSON by RFC 7946."""

import json
from pathlib import Path
from typing import Any

import shapely
from shapely.geometry import mapping

from vrp.legend import columns
from vrp.prescription import Prescription, Zone

NAME = "rates.geojson"

# About a centimetre: the lattice of the zones' coordinates.
DECIMALS = 7


def write(path: Path, prescription: Prescription) -> None:
    """Write the zones, longitude before latitude, in the order of their numbers."""
    names = columns(prescription)
    zones = prescription.zones
    collection = {
        "type": "FeatureCollection",
        "bbox": _bbox(shapely.GeometryCollection([zone.geometry for zone in zones])),
        "features": [
            {
                "type": "Feature",
                "id": zone.number,
                "bbox": _bbox(zone.geometry),
                "properties": {one.name: one.of(zone) for one in names},
                "geometry": _geometry(zone),
            }
            for zone in zones
        ],
    }
    text = json.dumps(collection, ensure_ascii=False, allow_nan=False)
    path.write_text(text + "\n", "utf-8", newline="\n")


def read(path: Path) -> tuple[tuple[shapely.Geometry, dict[str, Any]], ...]:
    """Return geometry and columns of every zone."""
    collection = json.loads(path.read_text("utf-8"))
    return tuple(
        (shapely.from_geojson(json.dumps(one["geometry"])), one["properties"])
        for one in collection["features"]
    )


def extents(path: Path) -> tuple[list[float] | None, ...]:
    """Return the box that the file states, then that of every zone."""
    collection = json.loads(path.read_text("utf-8"))
    return tuple(one.get("bbox") for one in (collection, *collection["features"]))


def read_by_gdal(path: Path) -> tuple[str | None, list[dict[str, Any]]]:
    """Return the CRS and the columns of every zone, as GDAL reads them."""
    import pyogrio.raw

    meta, _, _, values = pyogrio.raw.read(path, read_geometry=False)
    rows = zip(*(column.tolist() for column in values), strict=True)
    return meta["crs"], [dict(zip(meta["fields"], row, strict=True)) for row in rows]


def _geometry(zone: Zone) -> dict[str, Any]:
    shape = mapping(zone.geometry)
    return {"type": shape["type"], "coordinates": shape["coordinates"]}


def _bbox(geometry: shapely.Geometry) -> list[float]:
    return [round(value, DECIMALS) for value in shapely.bounds(geometry).tolist()]
