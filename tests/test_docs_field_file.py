"""The page about the field file."""

import re
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import get_args, get_type_hints

from vrp.plan import Plan

PAGE = (Path(__file__).parents[1] / "docs" / "field_file.md").read_text("utf-8")


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
            brackets = (
                r"\[\[{}\]\]" if name in ("season", "credit", "override") else r"\[{}\]"
            )
            assert documented(f"`{brackets.format(name)}`") == keys
    inner = set(known) - {""} | {"accept", "confirm"}
    assert documented("Top level") == known[""] - inner
