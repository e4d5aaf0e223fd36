"""The page about guideline files."""

import re
from pathlib import Path

import pytest

from vrp.agronomy.guidelines import parse, schema

PAGE = (Path(__file__).parents[1] / "docs" / "guideline_file.md").read_text("utf-8")
EXAMPLES = re.findall(r"```toml\n(form = .*?)```", PAGE, flags=re.DOTALL)


def test_every_form_has_an_example():
    """The page shows every form that can be read, one after the other."""
    shown = [re.match(r'form = "(.*)"', example)[1] for example in EXAMPLES]
    known = re.search(r"^\| `form` \| (.*) \|$", PAGE, re.MULTILINE)[1]
    mapping = schema()["discriminator"]["mapping"]

    assert list(dict.fromkeys(shown)) == re.findall(r"`(.*?)`", known)
    assert set(shown) == set(mapping)


def models():
    """Return the keys of every table of every form."""
    return {
        key
        for model in schema()["$defs"].values()
        for key in model.get("properties", {})
    }


def test_every_key_is_shown():
    """No key is read that no example on the page holds."""
    shown = "\n".join(re.findall(r"```toml\n(.*?)```", PAGE, flags=re.DOTALL))
    written = set(re.findall(r"(\w+) = ", shown))
    heads = re.findall(r"^\[+(.*?)\]+$", shown, re.MULTILINE)
    tables = {part for head in heads for part in head.split(".")}

    assert models() - written - tables - {"methods"} == set()


@pytest.mark.parametrize("example", EXAMPLES)
def test_examples_are_valid(example):
    """What the page shows is a guideline as it stands."""
    assert parse(example, "page").title == "An invented guideline"
