"""Published parts of phosphorus indices: what a value means, and a table for manure."""

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from itertools import pairwise
from typing import Annotated, Any, Literal, Self

from pydantic import Field, TypeAdapter, model_validator
from pydantic.dataclasses import dataclass as checked

from vrp.agronomy.figures import STRICT, Cited, Number, Text
from vrp.errors import InputError
from vrp.evidence import Source

IndexSet = Literal["iowa"]

_part = checked(frozen=True, slots=True, kw_only=True, config=STRICT)


@_part
class _Class:
    word: Text
    to: Number | None = None
    manure: Text
    source: Cited | None = None


@_part
class _Index:
    title: Text
    unit: Text
    source: Cited
    classes: Annotated[tuple[_Class, ...], Field(min_length=2)]

    @model_validator(mode="after")
    def _rises(self) -> Self:
        ends = [one.to for one in self.classes]
        if ends[-1] is not None or None in ends[:-1]:
            raise ValueError("every class but the last must end somewhere")
        for lower, upper in pairwise(end for end in ends if end is not None):
            if lower >= upper:
                raise ValueError(f"classes must rise, got {lower:g} before {upper:g}")
        return self


@_part
class _Row:
    near: bool
    to: dict[str, Number] = Field(default_factory=dict)
    below: dict[str, Number] = Field(default_factory=dict)
    erosion_below: Number | None = None
    no_strip: Text | None = None
    strip: Text | None = None
    unclear: Text | None = None


@_part
class _Screen:
    title: Text
    source: Cited
    between: Cited
    near: Number
    most_erosion: Number
    strip: Number
    answers: dict[str, Text]
    rows: tuple[_Row, ...]


@dataclass(frozen=True, slots=True)
class IndexClass:
    """
    What the value of an index means.

    Attributes
    ----------
    word : str
        The class.
    manure : str
        What may be spread of manure there, in a few words.
    place : int
        From 0, the lowest class first.
    title : str
        Which index.
    source : Source
        Where its limits stand, and how far that was checked.
    """

    word: str
    manure: str
    place: int
    title: str
    source: Source


@dataclass(frozen=True, slots=True)
class ManureScreen:
    """
    What a table allows of manure.

    Attributes
    ----------
    answer : str or None
        ``none``, ``nitrogen``, ``nitrogen-index``, ``removal`` or ``removal-index``;
        None where the row could not be read with certainty.
    said : str
        The answer in words, or why there is none.
    source : Source
        Where the table stands, and how far that was checked.
    """

    answer: str | None
    said: str
    source: Source


def index_class(value: float, *, which: IndexSet) -> IndexClass:
    """
    Return the class of an index that somebody else computed.

    Parameters
    ----------
    value : float
        The index.
    which : str
        Whose classes: ``iowa``.

    Returns
    -------
    IndexClass
        Its class; a value on a limit belongs to the lower one.

    Raises
    ------
    InputError
        If the value is below 0 or no number.

    References
    ----------
    The publication stands in ``data/indices/iowa.toml``.

    Examples
    --------
    >>> index_class(5.0, which="iowa").word
    'medium'
    """
    if not value >= 0.0:
        raise InputError(f"phosphorus index {value:g}: must be 0 or more")
    table = _read_index(which)
    for place, one in enumerate(table.classes):
        if one.to is None or value <= one.to:
            source = one.source or table.source
            return IndexClass(one.word, one.manure, place, table.title, source)
    raise AssertionError("the last class is open")


def manure_screen(
    soil_test: float,
    *,
    method: str,
    feet: float,
    erosion: float,
    filter_strip: bool,
) -> ManureScreen:
    """
    Return what Minnesota's table allows of manure.

    Parameters
    ----------
    soil_test : float
        By `method`. [ppm]
    method : str
        ``bray-p1`` or ``olsen``.
    feet : float
        Distance to surface water. [ft]
    erosion : float
        Sheet and rill erosion. [ton/ac/yr]
    filter_strip : bool
        Whether a filter strip of the table's width lies between.

    Returns
    -------
    ManureScreen
        The answer of the first row that fits; none where the row was not readable.

    Raises
    ------
    InputError
        If the table was not made for the method, or a figure is below 0.

    References
    ----------
    The publication stands in ``data/indices/minnesota_manure.toml``.

    Examples
    --------
    >>> manure_screen(100.0, method="bray-p1", feet=400.0, erosion=3.0,
    ...               filter_strip=True).answer
    'nitrogen'
    """
    table = _read_screen()
    known = sorted({name for row in table.rows for name in (*row.to, *row.below)})
    if method not in known:
        message = f"{table.title}: is for {' or '.join(known)}, the soil test is by "
        raise InputError(f"{message}{method}: leave manure_screen out")
    given = {"distance": feet, "erosion": erosion, "soil test": soil_test}
    for name, value in given.items():
        if not value >= 0.0:
            raise InputError(f"{table.title}: {name} {value:g}: must be 0 or more")
    if erosion > table.most_erosion:
        return ManureScreen("none", table.answers["none"], table.source)
    for row in table.rows:
        if row.near != (feet < table.near):
            continue
        if method in row.to and soil_test > row.to[method]:
            continue
        if method in row.below and soil_test >= row.below[method]:
            continue
        if row.erosion_below is not None and erosion >= row.erosion_below:
            continue
        answer = row.strip if filter_strip else row.no_strip
        if answer is None:
            return ManureScreen(None, row.unclear or "not readable", table.source)
        return ManureScreen(answer, table.answers[answer], table.source)
    raise AssertionError("the last row of each side is open")


@cache
def _read_index(which: str) -> _Index:
    return TypeAdapter(_Index).validate_python(_read(which))


@cache
def _read_screen() -> _Screen:
    return TypeAdapter(_Screen).validate_python(_read("minnesota_manure"))


def _read(name: str) -> dict[str, Any]:
    file = files("vrp.agronomy") / "data" / "indices" / f"{name}.toml"
    return tomllib.loads(file.read_text("utf-8"))
