"""The field file, and the farm file above it: TOML in, a plan out."""

import re
import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields, is_dataclass
from datetime import date
from difflib import get_close_matches
from pathlib import Path
from typing import Any, get_args, get_type_hints

import pydantic

from vrp.errors import InputError
from vrp.io.product_rules import contradiction
from vrp.io.sample_rules import check_conversion, contradictions
from vrp.io.season_rules import season_contradiction
from vrp.io.water_file import resolve_water, water_contradiction
from vrp.legend import HIDDEN
from vrp.plan import Plan

NAME, FARM = "field.toml", "farm.toml"

# Keys that name a file, by the tables that lead to them.
_PATHS = (
    ("boundary",),
    ("samples", "file"),
    ("samples", "points"),
    ("samples", "barriers"),
    ("zones", "file"),
    ("zones", "layers", "file"),
    ("season", "yield_goal", "file"),
    ("credit", "p2o5", "file"),
    ("override", "file"),
    ("water", "features", "file"),
    ("water", "elevation"),
    ("water", "p_index", "value", "file"),
)
_PLAN = pydantic.TypeAdapter(Plan)

# Units that manure is counted in, by the plan's units.
_MANURE = {"us": ("ton", "1000 gal"), "metric": ("t", "m3")}

LONGEST = 1000  # our choice: what a path may need; names are shorter still


@dataclass(frozen=True, slots=True)
class FieldFile:
    """A plan and the files that it came from."""

    plan: Plan
    path: Path
    farm: Path | None


def read_field_file(path: Path) -> FieldFile:
    """Return the plan of a field file, or of the folder that holds one."""
    path = path / NAME if path.is_dir() else path
    asked = _load(path)
    farm = _farm_above(path)
    supply = {} if farm is None else _load(farm)
    both = asked
    if farm is not None:
        both = _supply(asked, supply, name=path.name, farm=farm)
    try:
        plan = _PLAN.validate_python(both)
    except pydantic.ValidationError as exc:
        place, complaint = _complaint(exc)
        supplied = _holds(supply, place) and not _holds(asked, place)
        file = FARM if supplied else path.name
        raise InputError(f"{file}: {complaint}") from exc
    _check(plan, path.name)
    return FieldFile(plan, path, farm)


def schema() -> dict[str, Any]:
    """Return the JSON Schema of a field file."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **_PLAN.json_schema(),
        "title": "vrp field file",
    }


def _load(path: Path) -> dict[str, Any]:
    try:
        asked = tomllib.loads(path.read_text("utf-8-sig"))
    except FileNotFoundError as exc:
        raise InputError(f"{path}: no such file; vrp new writes one to start") from exc
    except (OSError, UnicodeDecodeError) as exc:
        raise InputError(f"{path.name}: cannot be read as text: {exc}") from exc
    except tomllib.TOMLDecodeError as exc:
        twice = ": put its keys under the one that stands already"
        remedy = twice if "twice" in str(exc) else ""
        raise InputError(f"{path.name}: not TOML: {exc}{remedy}") from exc
    except RecursionError as exc:
        message = f"{path.name}: nested too deep: a field file has tables of keys"
        raise InputError(message) from exc
    for keys, text in _texts(asked, ()):
        if len(text) > LONGEST:
            message = (
                f"{path.name}: {_spoken(keys)} has {len(text):,} characters; write "
                f"{LONGEST:,} at most"
            )
            raise InputError(message)
        hidden = HIDDEN.search(text)
        if hidden is not None:
            message = (
                f"{path.name}: {_spoken(keys)} holds U+{ord(hidden[0]):04X}, a "
                "character that does not show; remove it"
            )
            raise InputError(message)
    _resolve(asked, path.parent.absolute())
    return asked


def _texts(value: Any, keys: tuple[Any, ...]) -> Iterator[tuple[tuple[Any, ...], str]]:
    """Walk over every key and every text of a table, each with the way to it."""
    if isinstance(value, str):
        yield keys, value
    elif isinstance(value, dict):
        for key, one in value.items():
            yield (*keys, "a key"), key
            yield from _texts(one, (*keys, key))
    elif isinstance(value, list):
        for index, one in enumerate(value):
            yield from _texts(one, (*keys, index))


def _resolve(asked: dict[str, Any], folder: Path) -> None:
    """Make paths absolute: they belong to the file that names them."""
    resolve_water(asked.get("water"), folder)
    for keys in _PATHS:
        tables: list[Any] = [asked]
        for key in keys[:-1]:
            found = [table.get(key) for table in tables if isinstance(table, dict)]
            tables = [
                one
                for each in found
                for one in (each if isinstance(each, list) else [each])
            ]
        for table in tables:
            if isinstance(table, dict) and isinstance(table.get(keys[-1]), str):
                table[keys[-1]] = str(folder / table[keys[-1]])
    need = asked.get("need")
    if isinstance(need, dict) and str(need.get("guideline", "")).endswith(".toml"):
        need["guideline"] = str(folder / need["guideline"])


def _farm_above(path: Path) -> Path | None:
    above = path.absolute().parents
    return next((one / FARM for one in above if (one / FARM).is_file()), None)


def _supply(
    asked: dict[str, Any], supply: dict[str, Any], *, name: str, farm: Path
) -> dict[str, Any]:
    """Fill in what the field file leaves out; tables merge key by key."""
    if supply.get("units") != asked.get("units", supply.get("units")):
        raise InputError(
            f"{name}: units is {asked['units']!r}, but {farm} states "
            f"{supply.get('units')!r}: both must state the same"
        )
    if "units" not in supply:
        raise InputError(f"{farm}: units is missing; it must be that of its fields")
    if "accept" in supply:
        raise InputError(
            f"{farm}: accept is for one field and its own findings; write it in {name}"
        )
    return _merged(asked, supply)


def _merged(asked: dict[str, Any], supply: dict[str, Any]) -> dict[str, Any]:
    both = {**supply, **asked}
    for key, value in supply.items():
        if isinstance(value, dict) and isinstance(asked.get(key), dict):
            both[key] = _merged(asked[key], value)
    return both


def _check(plan: Plan, name: str) -> None:
    """Refuse keys that contradict each other."""
    samples, zones, machine, need = plan.samples, plan.zones, plan.machine, plan.need
    complaints = {
        **contradictions(samples),
        'zones.by = "file" needs zones.file': zones.by == "file" and zones.file is None,
        'zones.file is given, but zones.by is not "file"': (
            zones.by != "file" and zones.file is not None
        ),
        'zones.by = "grid" needs zones.side, the side of a square': (
            zones.by == "grid" and zones.side is None
        ),
        'zones.side is given, but zones.by is not "grid"': (
            zones.by != "grid" and zones.side is not None
        ),
        'zones.count is given, but zones.by is not "need" or "layers"': (
            zones.count is not None and zones.by not in (None, "need", "layers")
        ),
        'zones.by = "layers" needs zones.layers': (
            zones.by == "layers" and not zones.layers
        ),
        'zones.layers is given, but zones.by is not "layers"': (
            zones.by != "layers" and bool(zones.layers)
        ),
        "each of zones.layers needs either file or soil_test = true": any(
            (one.file is None) != one.soil_test for one in zones.layers
        ),
        'zones.by = "samples" needs samples.kind "cell" or "zone"': (
            zones.by == "samples" and samples.kind == "point"
        ),
        f'zones.by = "{zones.by}" needs a surface, and samples.kind = "{samples.kind}" '
        'has none: use "samples" or "file"': (
            zones.by in ("need", "grid") and samples.kind != "point"
        ),
        "[[override]] needs either file or point": any(
            (one.file is None) == (one.point is None) for one in plan.override
        ),
        "[[credit]] needs either p2o5 or manure": any(
            (one.p2o5 is None) == (one.manure is None) for one in plan.credit
        ),
        f"credit.manure.unit: write {' or '.join(_MANURE[plan.units])}": any(
            one.manure is not None and one.manure.unit not in _MANURE[plan.units]
            for one in plan.credit
        ),
        '[confirm] wants page, who and when, such as "page 12, farm agronomist, '
        '2026-11-20"': any(
            not re.search(r"\d", text) for text in plan.confirm.values()
        ),
        f"machine.min_rate {machine.min_rate:g} exceeds machine.max_rate": (
            machine.max_rate is not None and machine.min_rate > machine.max_rate
        ),
        f"machine.default_rate {machine.default_rate:g} lies outside machine.min_rate "
        "and machine.max_rate: give a rate within them, or 0": (
            machine.default_rate > 0.0
            and not machine.min_rate
            <= machine.default_rate
            <= (machine.max_rate or machine.default_rate)
        ),
        'need.basis: "expected" is over the error of a surface, which composites have '
        'not: use "estimate"': (
            need.basis == "expected" and plan.samples.kind != "point"
        ),
        'need.basis: "expected" is about build-up, and need.build_up = false leaves it '
        "out: drop one of the two": need.basis == "expected" and not need.build_up,
        f"need.min_p2o5 {need.min_p2o5:g} exceeds need.max_p2o5": (
            need.max_p2o5 is not None and need.min_p2o5 > need.max_p2o5
        ),
    }
    for complaint, holds in complaints.items():
        if holds:
            raise InputError(f"{name}: {complaint}")
    check_conversion(samples, file=name)
    found = (
        contradiction(plan) or season_contradiction(plan) or water_contradiction(plan)
    )
    if found is not None:
        raise InputError(f"{name}: {found}")


def _complaint(error: pydantic.ValidationError) -> tuple[list[Any], str]:
    """Say the first complaint in a sentence, with key, value and remedy; and where."""
    complaints = [one for one in error.errors() if not _idle(one)]
    first = next(
        (one for one in complaints if one["type"].startswith("unexpected")),
        complaints[0],
    )
    keys = _keys(first["loc"])
    place = _spoken(keys) or "the file"
    if first["type"].startswith("missing"):
        missing = [
            _spoken(_keys(one["loc"]))
            for one in complaints
            if one["type"].startswith("missing")
        ]
        verb = "is" if len(missing) == 1 else "are"
        return keys, f"{', '.join(missing)} {verb} missing"
    if first["type"] == "unexpected_keyword_argument":
        return keys, f"{place} is not a key here{_nearest(keys)}"
    if first["type"] == "tuple_type":
        return keys, f"{place} must be a list (tables: [[{place}]])"
    kind = "grade" if keys[-1:] == ["grade"] else first["type"]
    remedy = first["msg"].replace("Input should", "should")
    if kind in _REMEDIES:
        remedy = _REMEDIES[kind].format(**first.get("ctx", {}))
    return keys, f"{place} = {_shown(first['input'])}: {remedy}"


_DATE = "must be a date like 2026-10-02"
_REMEDIES = {
    "bool_parsing": "must be true or false",
    "bool_type": "must be true or false",
    "date_from_datetime_inexact": _DATE,
    "date_from_datetime_parsing": _DATE,
    "date_type": _DATE,
    "dataclass_type": "must be a table of keys",
    "dict_type": "must be a table of keys",
    "finite_number": "must be a finite number",
    "float_parsing": "must be a number",
    "float_type": "must be a number",
    "grade": 'write it as N-P2O5-K2O, like "11-52-0"',
    "greater_than": "must be more than {gt:g}",
    "greater_than_equal": "must be at least {ge:g}",
    "int_type": "must be a whole number",
    "less_than_equal": "must be at most {le:g}",
    "literal_error": "use one of {expected}",
    "path_type": "must be the name of a file, in quotes",
    "string_too_long": "must have at most {max_length} characters",
    "value_error": "{error}",
    "string_too_short": "must not be empty",
    "string_type": "must be text, in quotes",
    "too_short": "must have at least {min_length}",
}
# What the places of errors hold besides keys: branches of a union, keys of a table.
_NUMBER, _TABLES, _KEY = "constrained-float", ("YieldMap", "CreditMap"), "[key]"


def _idle(complaint: Any) -> bool:
    """Say whether a complaint is of the branch of a union that was not meant."""
    place = complaint["loc"]
    if _NUMBER in place:
        return isinstance(complaint["input"], dict)
    return any(one in place for one in _TABLES) and (
        complaint["type"] == "dataclass_type"
    )


def _keys(place: tuple[int | str, ...]) -> list[Any]:
    """Return the keys of a place, without what is no key in it."""
    keys = [key for key in place if key not in (_NUMBER, *_TABLES)]
    return keys[:-1] if _KEY in keys[-1:] else keys


def _holds(asked: Any, keys: list[Any]) -> bool:
    for key in keys:
        if isinstance(key, int):
            if not isinstance(asked, list) or key >= len(asked):
                return False
        elif not isinstance(asked, dict) or key not in asked:
            return False
        asked = asked[key]
    return True


def _spoken(keys: Sequence[Any]) -> str:
    words = ""
    for key in keys:
        if isinstance(key, int):
            words += f"[{key + 1}]"
        else:
            shown = key if key.isprintable() and key else repr(key)
            plain = shown if len(shown) <= 60 else f"{shown[:57]}..."
            words += f".{plain}" if words else plain
    return words


def _shown(value: object) -> str:
    text = str(value) if isinstance(value, date) else repr(value)
    return text if len(text) <= 60 else text[:57] + "..."


def _nearest(keys: list[Any]) -> str:
    """Name the nearest key that is known where this one stands, or all of them."""
    known = _known(Plan, [key for key in keys[:-1] if not isinstance(key, int)])
    near = get_close_matches(str(keys[-1]), known, n=1)
    return f"; did you mean {near[0]}?" if near else f"; known here: {', '.join(known)}"


def _known(table: Any, keys: list[str]) -> list[str]:
    for key in keys:
        hint = get_type_hints(table)[key]
        table = next((one for one in _leaves(hint) if is_dataclass(one)), table)
    return [one.name for one in fields(table)]


def _leaves(hint: Any) -> list[Any]:
    arguments = get_args(hint)
    return [leaf for one in arguments for leaf in _leaves(one)] or [hint]
