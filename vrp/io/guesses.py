"""What the columns of a table of samples seem to hold."""

import contextlib
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, cast, get_args

import numpy as np
import shapely
from numpy.typing import NDArray

from vrp.agronomy.column_names import named
from vrp.errors import InputError
from vrp.io import vector
from vrp.io.table import Table, number
from vrp.spatial.field import LONLAT, Field
from vrp.units import SoilTestUnit

# Heading words by what they mean, in small letters and digits only; the first wins.
WORDS: dict[str, tuple[str, ...]] = {
    "x": ("lon", "longitude", "long", "lng", "x", "easting", "east", "xcoord"),
    "y": ("lat", "latitude", "y", "northing", "north", "ycoord"),
    "id": (
        "id",
        "sampleid",
        "sample",
        "samplenumber",
        "sampleno",
        "pointid",
        "point",
        "core",
    ),
    "ph": ("ph", "soilph", "phwater", "waterph", "phh2o"),
    "organic_matter": ("om", "organicmatter", "som", "ompercent", "ompct"),
    "bray_p2": (
        "p2",
        "brayp2",
        "bray2",
        "bray2p",
        "p2bray",
        "strongbray",
        "strongbrayp2",
        "p2strongbray",
        "strongbrayp",
        "brayp2strong",
        "bray2strong",
    ),
    "depth_from": (
        "depthfrom",
        "fromdepth",
        "from",
        "top",
        "depthtop",
        "topdepth",
        "upper",
        "upperdepth",
        "depthupper",
        "startdepth",
        "depthstart",
        "begindepth",
    ),
    "depth_to": (
        "depthto",
        "todepth",
        "to",
        "bottom",
        "depthbottom",
        "bottomdepth",
        "lower",
        "lowerdepth",
        "depthlower",
        "enddepth",
        "depthend",
    ),
}
# Headings of soil test P once their unit is taken off; the first that fits wins.
SOIL_TEST = (
    r"p[12]?",
    r"(olsen|(mehlich|m)3|bray|(modified)?morgan)p?([12]|icp)?",
    r"p(olsen|(mehlich|m)3|bray[12]?|(modified)?morgan|icp|test)",
    r"(st|soil|soiltest|test|available|avail|extractable|ext)p",
    r"weakbrayp?1?p?",
    r"p1(weak)?(bray)?",
    r"brayp1weak",
    r".*(phosphorus|phos)",
    r".*p2o5",
)
# Units at the end of a heading, in small letters and digits only.
UNITS = (
    "ppm", "mgkg1?", "mgl1?", "mgdm3", "(lbs?|pounds)(per)?(acre|ac|a)", "lbs?",
)  # fmt: skip
LENGTHS = r"(inches|inch|in|cm|centimet(er|re)s)$"
# Our choice: where this share of the rows has the position of another, they may be
# layers of cores.
LAYERED = 0.5


@dataclass(frozen=True, slots=True)
class Guess:
    """What a table of samples seems to hold; None where it does not say."""

    columns: dict[str, str]
    unit: SoilTestUnit | None
    crs: str | None
    layered: bool


def guess_from(table: Table, field: Field, *, candidates: Sequence[str]) -> Guess:
    """Return what a table seems to hold; positions are tried in the candidates."""
    plain = {re.sub(r"[^a-z0-9]", "", name.lower()): name for name in table.columns}
    unit_words = f"({'|'.join(UNITS)})$"
    bare = {
        "bray_p2": {re.sub(unit_words, "", word): one for word, one in plain.items()},
        "depth_from": {re.sub(LENGTHS, "", word): one for word, one in plain.items()},
    }
    bare["depth_to"] = bare["depth_from"]
    columns = {}
    for key, words in WORDS.items():
        of = {**bare.get(key, {}), **plain}
        found = [of[word] for word in words if word in of]
        if found:
            columns[key] = found[0]
    for key in WORDS:
        if key != "id" and key in columns and not _numeric(table, columns[key]):
            del columns[key]
    layered = _find_layers(table, columns)
    tests = [
        name
        for pattern in SOIL_TEST
        for word, name in plain.items()
        if re.fullmatch(pattern, re.sub(unit_words, "", word))
        and name not in columns.values()
        and _numeric(table, name)
    ]
    if not tests and "bray_p2" in columns:
        tests = [columns.pop("bray_p2")]
    if tests:
        columns["soil_test"] = tests[0]
    said = named(columns.get("soil_test", "")).units
    known = get_args(SoilTestUnit)
    unit = cast("SoilTestUnit", said[0]) if len(said) == 1 else None
    unit = unit if unit in known else None
    crs = _guess_crs(table, columns, field, candidates)
    return Guess(columns, unit, crs, layered)


def _find_layers(table: Table, columns: dict[str, str]) -> bool:
    """Say whether rows seem to be layers of cores, and leave out what is then amiss."""
    depths = {"depth_from", "depth_to"} <= set(columns)
    places = _repeated_places(table, columns)
    if places is not None:
        taken = {name for key, name in columns.items() if key != "id"}
        wanted = [columns["id"]] if "id" in columns else []
        wanted += [name for name in table.columns if name not in {*taken, *wanted}]
        joins = [name for name in wanted if _joins(table.columns[name], places)]
        columns.pop("id", None)
        if joins:
            columns["id"] = joins[0]
        return True
    if "id" not in columns or not depths:
        columns.pop("depth_from", None)
        columns.pop("depth_to", None)
        if "id" in columns and not _distinct(table.columns[columns["id"]]):
            # Where positions are in another file, an id that repeats still joins them.
            if "x" in columns or len(set(table.columns[columns["id"]])) == 1:
                del columns["id"]
                return False
            return _full(table.columns[columns["id"]])
        return False
    return True


def _repeated_places(
    table: Table, columns: dict[str, str]
) -> list[tuple[float, float]] | None:
    """Return the positions of the rows if half of them or more are another's too."""
    if "x" not in columns or "y" not in columns:
        return None
    x, y = (_numbers(table, columns[key]).tolist() for key in ("x", "y"))
    places = list(zip(x, y, strict=True))
    count = Counter(places)
    shared = sum(count[place] > 1 for place in places)
    return places if len(count) > 1 and shared >= LAYERED * len(places) else None


def _joins(column: Sequence[Any], places: list[tuple[float, float]]) -> bool:
    """Say whether a column tells the positions apart, and nothing else."""
    pairs = set(zip(column, places, strict=True))
    return _full(column) and len(pairs) == len(set(column)) == len(set(places))


def _full(column: Sequence[Any]) -> bool:
    return None not in column and "" not in column


def _guess_crs(
    table: Table, columns: dict[str, str], field: Field, candidates: Sequence[str]
) -> str | None:
    """Return the first CRS in which at least half of the samples lie in the field."""
    if "x" not in columns or "y" not in columns:
        return None
    x, y = (_numbers(table, columns[key]) for key in ("x", "y"))
    given = ~(np.isnan(x) | np.isnan(y))
    points = np.asarray(shapely.points(x[given], y[given]), dtype=object)
    for text in candidates:
        crs = vector.parse_crs(text, file=table.file)
        lonlat = shapely.get_coordinates(vector.transformed(points, crs, LONLAT))
        inside = shapely.contains_xy(field.lonlat, lonlat)
        if len(points) and np.mean(inside) >= 0.5:
            return text
    return None


def _numeric(table: Table, name: str) -> bool:
    """Say whether most of a column is numbers."""
    return float(np.mean(np.isfinite(_numbers(table, name)))) > 0.5


def _numbers(table: Table, name: str) -> NDArray[np.float64]:
    """Return a column's numbers, NaN where there is none."""
    values = np.full(len(table.rows), np.nan)
    for at in range(len(values)):
        with contextlib.suppress(InputError):
            values[at] = number(table, at, column=name)
    return values


def _distinct(column: Sequence[Any]) -> bool:
    return len(set(column)) == len(column) and _full(column)
