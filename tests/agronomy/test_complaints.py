"""What is wrong with a file of figures, in plain words."""

from datetime import date
from typing import Annotated, Literal

import pytest
from pydantic import Field, TypeAdapter, ValidationError
from pydantic.dataclasses import dataclass

from vrp.agronomy.complaints import complaint, nearest
from vrp.agronomy.figures import STRICT


@dataclass(frozen=True, kw_only=True, config=STRICT)
class Part:
    """A part of the tests' own."""

    depth: Annotated[float, Field(gt=0, lt=10)] = 1.0
    share: Annotated[float, Field(ge=0, le=1)] = 1.0


@dataclass(frozen=True, kw_only=True, config=STRICT)
class Whole:
    """A whole of the tests' own."""

    name: Annotated[str, Field(min_length=1)]
    part: Part | None = None
    years: int = 1
    word: Literal["low", "high"] = "low"
    read_on: date | None = None
    rows: tuple[float, ...] = ()
    code: Annotated[str, Field(max_length=3)] = ""


def said(**given):
    """Return the complaint about a whole."""
    with pytest.raises(ValidationError) as refused:
        TypeAdapter(Whole).validate_python(given)
    return complaint(refused.value, (Whole,))


@pytest.mark.parametrize(
    ("given", "expected"),
    [
        ({}, "name: missing"),
        # A key that is unknown explains one that is missing.
        ({"nam": "x"}, "nam: unknown key, did you mean 'name'"),
        ({"name": "x", "colour": 1}, "colour: unknown key"),
        # Keys of a part are known too.
        ({"name": "x", "dept": 1}, "dept: unknown key, did you mean 'depth'"),
        ({"name": ""}, "name: must not be empty, got ''"),
        # What has no words of ours keeps its own.
        (
            {"name": "x", "code": "long"},
            "code: string should have at most 3 characters, got 'long'",
        ),
        ({"name": 5}, "name: must be text, got 5"),
        (
            {"name": "x", "part": {"depth": 0}},
            "part.depth: must be above 0, got 0",
        ),
        (
            {"name": "x", "part": {"depth": 10.0}},
            "part.depth: must be below 10, got 10.0",
        ),
        (
            {"name": "x", "part": {"share": -0.5}},
            "part.share: must be at least 0, got -0.5",
        ),
        (
            {"name": "x", "part": {"share": 1.5}},
            "part.share: must be at most 1, got 1.5",
        ),
        ({"name": "x", "years": "two"}, "years: must be a whole number, got 'two'"),
        ({"name": "x", "years": 1.5}, "years: must be a whole number, got 1.5"),
        ({"name": "x", "word": "mid"}, "word: must be one of 'low', 'high', got 'mid'"),
        ({"name": "x", "part": 3}, "part: must be a table of keys, got 3"),
        (
            {"name": "x", "read_on": "soon"},
            "read_on: must be a date such as 2026-11-25, got 'soon'",
        ),
        ({"name": "x", "rows": 3}, "rows: must be a list, got 3"),
        ({"name": "x", "rows": ["a"]}, "rows.0: must be a number, got 'a'"),
        # A value is shown up to 60 signs, with its quotes.
        (
            {"name": "x", "years": "y" * 58},
            f"years: must be a whole number, got '{'y' * 58}'",
        ),
        (
            {"name": "x", "years": "y" * 59},
            f"years: must be a whole number, got '{'y' * 56}...",
        ),
    ],
)
def test_complaint(given, expected):
    """Key, what is wrong, and the value stand in one line."""
    assert said(**given) == expected


@pytest.mark.parametrize(
    ("word", "expected"),
    [
        ("weat", ", did you mean 'wheat'"),
        ("Wheat", ", did you mean 'wheat'"),
        # The beginning of a word is near enough.
        ("c", ", did you mean 'corn-grain'"),
        ("zzz", ""),
    ],
)
def test_nearest(word, expected):
    """The nearest known word is hinted at, where one is near."""
    assert nearest(word, ["wheat", "corn-grain", "corn-silage"]) == expected
