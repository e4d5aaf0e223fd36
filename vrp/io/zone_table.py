"""zones.csv by RFC 4180: a row a zone, for spreadsheets."""

import csv
import io
from pathlib import Path

import shapely

from vrp.legend import columns
from vrp.prescription import Prescription, Zone
from vrp.spatial.coverage import DECIMALS

NAME = "zones.csv"

# What a spreadsheet takes for a formula where a cell begins with it.
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def write(path: Path, prescription: Prescription) -> None:
    """Write the zones in the order of their numbers, each with a place inside it."""
    number, *others = columns(prescription)
    table = io.StringIO(newline="")
    to = csv.writer(table)
    to.writerow([number.name, "longitude", "latitude", *(one.name for one in others)])
    for zone in prescription.zones:
        longitude, latitude = place(zone)
        values = [one.of(zone) for one in others]
        to.writerow([zone.number, longitude, latitude, *map(cell, values)])
    path.write_text(table.getvalue(), "utf-8", newline="")


def read(path: Path) -> tuple[dict[str, str], ...]:
    """Return the cells of every row by their column, as GDAL reads them."""
    import pyogrio.raw

    meta, _, _, values = pyogrio.raw.read(path, read_geometry=False, encoding="utf-8")
    rows = zip(*(column.tolist() for column in values), strict=True)
    return tuple(dict(zip(meta["fields"], row, strict=True)) for row in rows)


def number(row: dict[str, str]) -> int | str:
    """Return the number of a row's zone, or what stands there instead."""
    text = row["zone"]
    return int(text) if text.isdecimal() else text


def place(zone: Zone) -> tuple[float, float]:
    """Return longitude and latitude of the place that is farthest from the edge."""
    line = shapely.maximum_inscribed_circle(zone.geometry)
    middle = shapely.get_coordinates(line)[0]
    longitude, latitude = (round(each, DECIMALS) for each in middle.tolist())
    return longitude, latitude


def cell(value: object) -> object:
    """Return what stands in a cell: text that a spreadsheet would compute is quoted."""
    if isinstance(value, str) and value.startswith(_FORMULA):
        return f"'{value}"
    return "" if value is None else value
