"""A field file to start from: what the files tell is guessed, the rest left to type."""

import os
from pathlib import Path
from typing import TYPE_CHECKING, get_args

import shapely

from vrp.agronomy.column_names import like_p2o5
from vrp.errors import InputError
from vrp.io import vector
from vrp.io.guesses import Guess, guess_from
from vrp.io.table import Table, read_table
from vrp.plan import Method
from vrp.spatial.field import LONLAT, Field
from vrp.units import SoilTestUnit, System

if TYPE_CHECKING:
    from tomlkit import TOMLDocument
    from tomlkit.items import Table as TomlTable

NAME = "field.toml"
GUESSED = "guessed: check"
COLUMN = 33  # where comments begin

DEPTHS = {
    "depth_from": "rows seem to be layers of cores: the column of their top",
    "depth_to": "and of their bottom; for repeats of a whole core leave both out",
}
# The contiguous United States, roughly: west, south, east, north. [degrees]
UNITED_STATES = (-125.0, 24.0, -66.5, 49.5)


def draft(directory: Path, *, boundary: Path, samples: Path) -> Path:
    """Write a commented field file for a boundary and its samples, and return it."""
    target = directory / NAME
    if target.exists():
        message = f"{target}: is there already: remove it, or choose another folder"
        raise InputError(message)
    field = vector.read_boundary(boundary)
    table = read_table(samples)
    crs = vector.read_layer(boundary).crs
    declared = vector.crs_name(crs) if crs is not None else LONLAT
    guess = guess_from(table, field, candidates=(LONLAT, declared))
    document = _document(
        directory, boundary, samples, system=_system(field), table=table, guess=guess
    )
    directory.mkdir(parents=True, exist_ok=True)
    target.write_bytes(document.as_string().encode())
    return target


def _document(
    directory: Path,
    boundary: Path,
    samples: Path,
    *,
    system: System,
    table: Table,
    guess: Guess,
) -> "TOMLDocument":
    import tomlkit

    document = tomlkit.document()
    document.add(
        tomlkit.comment(f'Lines marked "{GUESSED}" are guesses from the files.')
    )
    document.add(tomlkit.comment("Remove the # before a key to state it."))
    document.add(tomlkit.nl())
    _add(
        document,
        "units",
        system,
        f"{GUESSED}; us or metric, for this file and all output",
    )
    _add(document, "boundary", _relative(boundary, directory))
    name = tomlkit.table()
    _add(name, "name", directory.resolve().name or "field", GUESSED)
    _leave(name, "year = 2027", "ages count to its start")
    document.add("field", name)
    document.add(
        "samples", _samples(_relative(samples, directory), table, guess, system)
    )
    seasons = tomlkit.aot()
    season = tomlkit.table()
    _leave(season, 'crop = "corn-grain"', "vrp guidelines lists the crops")
    goal = "bu/ac or ton/ac" if system == "us" else "t/ha"
    _leave(season, "yield_goal = 200" if system == "us" else "yield_goal = 9", goal)
    _leave(season, 'residue = "left"', "left, removed")
    seasons.append(season)
    document.add("season", seasons)
    need = tomlkit.table()
    _leave(
        need,
        'guideline = "…"',
        "an id that vrp guidelines lists, or a path; no default",
    )
    document.add("need", need)
    product = tomlkit.table()
    _leave(product, 'grade = "11-52-0"', "N-P2O5-K2O, percent by weight")
    document.add("product", product)
    machine = tomlkit.table()
    machine.add(
        tomlkit.comment("What the spreader can do; what is absent is not assumed.")
    )
    rate, length = ("lb/ac", "feet") if system == "us" else ("kg/ha", "metres")
    _leave(machine, "min_rate = 50", f"{rate} of product")
    _leave(machine, "max_rate = 400", f"{rate} of product")
    _leave(machine, "step = 5", f"{rate} of product")
    _leave(machine, "swath = 60" if system == "us" else "swath = 24", length)
    document.add("machine", machine)
    water = tomlkit.table()
    said = "Water near the field, with distances or rules; else no setback."
    water.add(tomlkit.comment(said))
    _leave(water, 'features = ["creek.geojson"]', "any vector file")
    document.add("water", water)
    return document


def _samples(file: str, table: Table, guess: Guess, system: System) -> "TomlTable":
    import tomlkit

    listed = ", ".join(table.columns)
    samples = tomlkit.table()
    samples.add(tomlkit.comment(f"Its columns: {listed}"))
    _add(samples, "file", file)
    _positions(samples, table, guess)
    if "id" in guess.columns:
        _add(samples, "id", guess.columns["id"], GUESSED)
    elif guess.layered:
        _leave(samples, 'id = "…"', "the column that joins the layers of a core")
    if "soil_test" in guess.columns:
        _add(samples, "soil_test", guess.columns["soil_test"], GUESSED)
    else:
        _leave(samples, 'soil_test = "…"', "the column of soil test P")
    methods = ", ".join(get_args(Method))
    _leave(samples, 'method = "…"', methods)
    if guess.unit is not None:
        _add(samples, "unit", guess.unit, GUESSED)
    else:
        _leave(samples, 'unit = "…"', ", ".join(get_args(SoilTestUnit)))
    length = "inches" if system == "us" else "centimetres"
    _leave(samples, f"depth = {8 if system == 'us' else 15}", f"{length}, as sampled")
    _leave(samples, "sampled = 2026-10-02", "the day of sampling")
    said = {
        "depth_from": "; rows that share an id are layers of a core",
        "bray_p2": '; strong Bray, beside method = "bray-p1"',
    }
    for key in ("depth_from", "depth_to", "ph", "organic_matter", "bray_p2"):
        if key in guess.columns:
            _add(samples, key, guess.columns[key], GUESSED + said.get(key, ""))
        elif guess.layered and key in DEPTHS:
            _leave(samples, f'{key} = "…"', DEPTHS[key])
    if like_p2o5(guess.columns.get("soil_test", "")):
        _add(samples, "expressed_as", "P2O5", f"{GUESSED}; P2O5 or P")
    _leave(samples, "lab_cv = 8", "the laboratory's repeatability, percent")
    return samples


def _positions(samples: "TomlTable", table: Table, guess: Guess) -> None:
    layer = table.layer
    if layer is not None and layer.shapes is not None:
        drawn = [shape for shape in layer.shapes if shape is not None]
        if drawn and shapely.get_dimensions(drawn[0]) == 2:
            _add(samples, "kind", "cell", f"{GUESSED}; cell or zone, as it was sampled")
        if layer.crs is None:
            _leave(samples, f'crs = "{LONLAT}"', "the file declares none")
        return
    if "x" in guess.columns and "y" in guess.columns:
        _add(samples, "x", guess.columns["x"], GUESSED)
        _add(samples, "y", guess.columns["y"], GUESSED)
        if guess.crs is not None:
            _add(
                samples,
                "crs",
                guess.crs,
                f"{GUESSED}; the samples lie in the field by it",
            )
        else:
            _leave(samples, f'crs = "{LONLAT}"', "of x and y: the samples fit no guess")
        return
    _leave(
        samples, 'points = "points.shp"', "a map file of the positions, joined by id"
    )


def _system(field: Field) -> System:
    west, south, east, north = UNITED_STATES
    middle = shapely.centroid(field.lonlat)
    american = west <= middle.x <= east and south <= middle.y <= north
    return "us" if american else "metric"


def _relative(path: Path, directory: Path) -> str:
    try:
        return Path(os.path.relpath(path, directory)).as_posix()
    except ValueError:  # another drive
        return path.absolute().as_posix()


def _add(
    table: "TOMLDocument | TomlTable", key: str, value: str, comment: str = ""
) -> None:
    import tomlkit

    item = tomlkit.item(value)
    if comment:
        item.comment(comment)
        length = len(f"{key} = {item.as_string()}")
        item.trivia.comment_ws = " " * max(COLUMN - length, 1)
    table.add(key, item)


def _leave(table: "TomlTable", line: str, comment: str) -> None:
    """Add a line that its reader is to complete and to take out of its comment."""
    import tomlkit

    table.add(tomlkit.comment(f"{line:<{COLUMN - 3}} # {comment}"))
