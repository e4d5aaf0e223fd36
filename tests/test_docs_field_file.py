"""The page about the field file."""

import re
import tomllib
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import get_args, get_type_hints

import pytest

from vrp.io.field_file import read_field_file
from vrp.plan import Plan

PAGE = (Path(__file__).parents[1] / "docs" / "field_file.md").read_text("utf-8")
EXAMPLES = re.findall(r"```toml\n(units = .*?)```", PAGE, flags=re.DOTALL)


def leaves(hint):
    """Return the types in a hint."""
    return [leaf for one in get_args(hint) for leaf in leaves(one)] or [hint]


def tables():
    """Return the keys of each table of a plan, the top level by an empty name."""
    found = {"": {one.name for one in fields(Plan)}}
    for name, hint in get_type_hints(Plan).items():
        for leaf in leaves(hint):
            if is_dataclass(leaf):
                found[name] = {one.name for one in fields(leaf)}
    return found


def documented(heading):
    """Return the keys in the first column of the tables below a heading."""
    section = re.search(rf"^## {heading}$(.*?)(?=^## |\Z)", PAGE, re.M | re.S)[1]
    rows = re.findall(r"^\| (`.*?) \|", section, re.M)
    return {key for row in rows for key in re.findall(r"`(\w+)`", row)}


def test_every_key_is_documented():
    """Each table of the page names the keys of its table, no more and no fewer."""
    known = tables()
    for name, keys in known.items():
        if name:
            lists = ("season", "credit", "override", "alternative")
            brackets = r"\[\[{}\]\]" if name in lists else r"\[{}\]"
            assert documented(f"`{brackets.format(name)}`") == keys
    inner = set(known) - {""} | {"accept", "confirm"}
    assert documented("Top level") == known[""] - inner


@pytest.mark.parametrize("example", EXAMPLES)
def test_examples_are_valid(example, tmp_path):
    """What the page shows is a field file as it stands."""
    path = tmp_path / "field.toml"
    path.write_text(example, "utf-8")

    assert read_field_file(path).plan.field.name == "Long Meadow"


def test_an_example_has_every_key():
    """The longer example holds every key, but those that others exclude."""
    whole = tomllib.loads(EXAMPLES[1])

    def held(name):
        tables = whole[name] if isinstance(whole[name], list) else [whole[name]]
        return {key for table in tables for key in table}

    known = tables()
    assert set(whole) == known[""]
    # A grid has no file, count or layers of zones; what is computed is not converted.
    excluded = {"zones": {"file", "count", "layers"}, "samples": {"computed_from"}}
    # Nothing that is banded is worked in.
    excluded["application"] = {"incorporated_within"}
    for name in set(known) - {""}:
        assert held(name) | excluded.get(name, set()) == known[name]
