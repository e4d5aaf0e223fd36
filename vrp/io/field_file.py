"""The field file, and the farm file above it: TOML in, a plan out."""

import tomllib
from dataclasses import dataclass, fields, is_dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import Any, get_args, get_type_hints

import pydantic

from vrp.errors import InputError
from vrp.plan import Plan

NAME, FARM = "field.toml", "farm.toml"

# Keys that name a file, by the tables that lead to them.
_PATHS = (
    ("boundary",),
    ("samples", "file"),
    ("samples", "points"),
    ("zones", "file"),
    ("season", "yield_goal", "file"),
    ("override", "file"),
)
_PLAN = pydantic.TypeAdapter(Plan)


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
    if farm is not None:
        asked = _supply(asked, _load(farm), name=path.name, farm=farm)
    try:
        plan = _PLAN.validate_python(asked)
    except pydantic.ValidationError as exc:
        raise InputError(f"{path.name}: {_complaint(exc)}") from exc
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
        raise InputError(f"{path.name}: not TOML: {exc}") from exc
    _resolve(asked, path.parent.absolute())
    return asked


def _resolve(asked: dict[str, Any], folder: Path) -> None:
    """Make paths absolute: they belong to the file that names them."""
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
        "samples.x and samples.y go together": (samples.x is None)
        != (samples.y is None),
        "samples.points needs samples.id, the column that joins results to positions": (
            samples.points is not None and samples.id is None
        ),
        "samples.points and samples.x are two positions for one sample; keep one": (
            samples.points is not None and samples.x is not None
        ),
        'zones.by = "file" needs zones.file': zones.by == "file" and zones.file is None,
        'zones.file is given, but zones.by is not "file"': (
            zones.by != "file" and zones.file is not None
        ),
        'zones.by = "grid" needs zones.side, the side of a square': (
            zones.by == "grid" and zones.side is None
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
        f"machine.min_rate {machine.min_rate:g} exceeds machine.max_rate": (
            machine.max_rate is not None and machine.min_rate > machine.max_rate
        ),
        f"need.min_p2o5 {need.min_p2o5:g} exceeds need.max_p2o5": (
            need.max_p2o5 is not None and need.min_p2o5 > need.max_p2o5
        ),
    }
    for complaint, holds in complaints.items():
        if holds:
            raise InputError(f"{name}: {complaint}")


def _complaint(error: pydantic.ValidationError) -> str:
    """Say the first complaint in a sentence, with key, value and remedy."""
    complaints = error.errors()
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
        return f"{', '.join(missing)} {'is' if len(missing) == 1 else 'are'} missing"
    if first["type"] == "unexpected_keyword_argument":
        return f"{place} is not a key here{_nearest(keys)}"
    if first["type"] == "tuple_type":
        return f"{place} must be a list (tables: [[{place}]])"
    kind = "grade" if keys[-1:] == ["grade"] else first["type"]
    remedy = _REMEDIES.get(kind, first["msg"].replace("Input should", "should"))
    remedy = remedy.format(**first.get("ctx", {}))
    return f"{place} = {_shown(first['input'])}: {remedy}"


_REMEDIES = {
    "date_from_datetime_inexact": "must be a date like 2026-10-02",
    "date_from_datetime_parsing": "must be a date like 2026-10-02",
    "date_type": "must be a date like 2026-10-02",
    "dataclass_type": "must be a table of keys",
    "float_type": "must be a number",
    "grade": 'write it as N-P2O5-K2O, like "11-52-0"',
    "greater_than": "must be more than {gt:g}",
    "greater_than_equal": "must be at least {ge:g}",
    "less_than_equal": "must be at most {le:g}",
    "literal_error": "use one of {expected}",
    "string_too_short": "must not be empty",
}
YIELD_BRANCH = "YieldMap"


def _keys(place: tuple[int | str, ...]) -> list[Any]:
    """Return the keys of a place, without the branches of a union in it."""
    return [
        part
        for part in place
        if isinstance(part, int) or ("-" not in part and part != YIELD_BRANCH)
    ]


def _spoken(keys: list[Any]) -> str:
    words = ""
    for key in keys:
        if isinstance(key, int):
            words += f"[{key + 1}]"
        else:
            words += f".{key}" if words else key
    return words


def _shown(value: object) -> str:
    text = repr(value) if not isinstance(value, Path) else f"'{value.name}'"
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
