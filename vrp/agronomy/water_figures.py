"""Limits that count for or against a zone near water, and what may be done instead."""

import tomllib
from functools import cache
from importlib.resources import files
from typing import Annotated, Literal

from pydantic import Field, TypeAdapter, ValidationError
from pydantic.dataclasses import dataclass

from vrp.agronomy.complaints import complaint
from vrp.agronomy.figures import STRICT, Cited, Number, Text
from vrp.errors import GuidelineError

Action = Literal["do-not-apply", "incorporate", "band", "deeper", "split", "as-planned"]

_part = dataclass(frozen=True, slots=True, kw_only=True, config=STRICT)


@_part
class Bound:
    """
    A limit with its unit and source.

    Attributes
    ----------
    value : float
        The limit itself. [unit]
    unit : str
        Its unit.
    source : Source
        Who set it, and how far that was checked.
    """

    value: Number
    unit: Text
    source: Cited


@_part
class HighBound(Bound):
    """
    A limit to the soil test.

    Attributes
    ----------
    methods : tuple of str
        For which methods it was set.
    """

    methods: tuple[Text, ...]


@_part
class Said:
    """
    Something that no number decides.

    Attributes
    ----------
    source : Source
        Who says so, and how far that was checked.
    """

    source: Cited


@_part
class Months(Said):
    """
    Months in which the surface is bare or wet, north of the equator.

    Attributes
    ----------
    months : tuple of int
        From 1 to 12.
    """

    months: tuple[Annotated[int, Field(ge=1, le=12)], ...]


@_part
class Instead(Said):
    """
    What may be done instead of the plan.

    Attributes
    ----------
    text : str
        What, in a few words.
    trade : str
        What it costs, empty where nothing.
    """

    text: Text
    trade: str


@_part
class _File:
    over_need: Bound
    very_high: tuple[HighBound, ...]
    storm_reach: Bound
    stream_side: Bound
    slope: Bound
    tillage: Said
    residue: Said
    on_top: Said
    placed_below: Bound
    rate: Bound
    late: Months
    advice: dict[Action, Instead]


@cache
def figures() -> _File:
    """
    Return every limit, as its file has it.

    Returns
    -------
    dataclass
        By the names of ``water_facts.toml``.

    Raises
    ------
    GuidelineError
        If a limit or its source is missing.
    """
    text = (files("vrp.agronomy") / "data" / "water_facts.toml").read_text("utf-8")
    try:
        return TypeAdapter(_File).validate_python(tomllib.loads(text))
    except ValidationError as error:
        found = complaint(error, (_File,))
        raise GuidelineError(f"water_facts.toml: {found}") from error


def very_high(method: str) -> HighBound | None:
    """
    Return the limit above which a soil test is very high.

    Parameters
    ----------
    method : str
        How the soil was tested.

    Returns
    -------
    HighBound or None
        None where none was set for the method.

    Examples
    --------
    >>> very_high("mehlich-3-icp").value
    120.0
    """
    return next((one for one in figures().very_high if method in one.methods), None)
