"""What a publication prints: figures, ranges and tables, each with its source."""

from collections.abc import Iterator
from dataclasses import asdict, fields, is_dataclass
from dataclasses import dataclass as plain_dataclass
from itertools import pairwise
from typing import Annotated, Literal, Protocol

from pydantic import AfterValidator, BeforeValidator, ConfigDict, Field
from pydantic.dataclasses import dataclass

from vrp.evidence import Source

Number = Annotated[float, Field(strict=True, ge=0)]
Text = Annotated[str, Field(min_length=1)]
Unit = Literal[
    "ppm",
    "mg/L",
    "lb/ac",
    "in",
    "cm",
    "years",
    "lb/bu",
    "bu/ac",
    "ton/ac",
    "t/ha",
    "lb P2O5/ac",
    "kg P2O5/ha",
    "kg P/ha",
    "lb P2O5/ac per ppm",
    "lb P2O5/ac per mg/L",
    "lb P2O5/ac per lb/ac",
    "kg P2O5/ha per ppm",
    "kg P2O5/ha per mg/L",
    "lb P2O5/bu",
    "lb P2O5/ton",
    "kg P2O5/t",
    "kg P/t",
    "lb P2O5/bu per ppm",
    "lb P2O5/bu per lb/ac",
    "lb P2O5/ton per ppm",
    "lb P2O5/ton per lb/ac",
    "kg P2O5/t per ppm",
    "kg P2O5/t per mg/L",
]
# lb/ac of a soil test: twice the ppm, whatever the depth.
TestUnit = Literal["ppm", "mg/L", "lb/ac"]

STRICT = ConfigDict(extra="forbid", allow_inf_nan=False)


class Printed(Protocol):
    """Anything that a publication prints, with where it stands."""

    @property
    def source(self) -> Source:
        """Return where it stands, and how far that was checked."""
        ...


class Measured(Protocol):
    """Anything printed in a unit."""

    @property
    def unit(self) -> str:
        """Return the unit that it is printed in."""
        ...


@dataclass(frozen=True, slots=True, config=STRICT)
class _Citation(Source):
    """A source as a publication's file may state it."""

    status: Literal["read", "agrees", "from-memory", "common-practice", "our-choice"]
    where: Text


def _read_again(cited: object) -> object:
    """Return a source that was read before as it stood in its file."""
    return asdict(cited) if type(cited) is Source else cited


# Read strictly, kept as a plain Source.
Cited = Annotated[
    _Citation,
    BeforeValidator(_read_again),
    AfterValidator(lambda cited: Source(cited.status, cited.where)),
]


@dataclass(frozen=True, slots=True, kw_only=True, config=STRICT)
class Figure:
    """
    A figure as published.

    Attributes
    ----------
    value : float
        As printed, in `unit`.
    unit : str
        The unit that it is printed in.
    source : Source
        Where it stands, and how far that was checked.
    """

    value: Number
    unit: Unit
    source: Cited

    def __str__(self) -> str:
        """Return the figure with its unit."""
        return f"{self.value:g} {self.unit}"


@dataclass(frozen=True, slots=True, kw_only=True, config=STRICT)
class Rates:
    """
    A row of a published table: one rate for each class of soil test.

    Attributes
    ----------
    values : tuple of float
        Rates from the poorest class to the richest.
    unit : str
        The unit that they are printed in.
    source : Source
        Where the row stands, and how far that was checked.
    """

    values: Annotated[tuple[Number, ...], Field(min_length=1)]
    unit: Unit
    source: Cited

    def __post_init__(self) -> None:
        """Refuse a row that rises with the soil test."""
        check_descending(self.values)

    def __str__(self) -> str:
        """Return the rates with their unit."""
        return f"{', '.join(f'{value:g}' for value in self.values)} {self.unit}"


@dataclass(frozen=True, slots=True, kw_only=True, config=STRICT)
class Classes:
    """
    Classes of soil test, from the poorest to the richest.

    Attributes
    ----------
    words : tuple of str
        What the guideline calls them.
    uppers : tuple of float
        Largest value of each class but the last, which is open.
    unit : str
        The unit of soil test that they are printed in.
    source : Source
        Where they stand, and how far that was checked.
    """

    words: Annotated[tuple[Text, ...], Field(min_length=1)]
    uppers: tuple[Number, ...]
    unit: TestUnit
    source: Cited

    def __post_init__(self) -> None:
        """Refuse classes that do not follow each other."""
        if len(self.words) != len(self.uppers) + 1:
            message = (
                f"{len(self.words)} words need {len(self.words) - 1} uppers, the last "
                f"class being open, got {len(self.uppers)}"
            )
            raise ValueError(message)
        for lower, upper in pairwise(self.uppers):
            if lower >= upper:
                raise ValueError(f"uppers must rise, got {lower:g} before {upper:g}")

    def __str__(self) -> str:
        """Return the classes with their limits."""
        limits = (*(f"to {upper:g}" for upper in self.uppers), "above")
        pairs = zip(self.words, limits, strict=True)
        return f"{', '.join(f'{word} {limit}' for word, limit in pairs)} {self.unit}"


@dataclass(frozen=True, slots=True, kw_only=True, config=STRICT)
class Range:
    """
    Lowest and highest plausible value.

    Attributes
    ----------
    low, high : float
        In the unit that stands beside the range.
    source : Source
        Who holds it plausible.
    """

    low: Number
    high: Number
    source: Cited

    def __post_init__(self) -> None:
        """Refuse an empty range."""
        if self.low >= self.high:
            message = f"low must be below high, got {self.low:g} and {self.high:g}"
            raise ValueError(message)

    def __str__(self) -> str:
        """Return both ends."""
        return f"{self.low:g} to {self.high:g}"


@dataclass(frozen=True, slots=True, kw_only=True, config=STRICT)
class Rule:
    """
    A rule in words.

    Attributes
    ----------
    text : str
        The rule in a sentence of ours.
    source : Source
        Where it stands, and how far that was checked.
    """

    text: Text
    source: Cited

    def __str__(self) -> str:
        """Return the rule."""
        return self.text


@plain_dataclass(frozen=True, slots=True)
class Used:
    """
    One figure of a guideline by name, for lists and findings.

    Attributes
    ----------
    name : str
        Which figure.
    printed : str
        Its value with its unit, or its text.
    source : Source
        Where it stands, and how far that was checked.
    """

    name: str
    printed: str
    source: Source


def used(name: str, figure: Printed) -> Used:
    """
    One figure by name.

    Parameters
    ----------
    name : str
        Which figure.
    figure : Printed
        A figure, a row, classes, a range or a rule.

    Returns
    -------
    Used
        Name, text and source.
    """
    return Used(name, str(figure), figure.source)


def walk(thing: object, name: str = "") -> Iterator[Used]:
    """
    Every figure below a value, in the order of its fields.

    Parameters
    ----------
    thing : object
        A guideline, or a part of one.
    name : str
        Name of that part, words joined by dots.

    Yields
    ------
    Used
        Each figure with its name.
    """
    source = getattr(thing, "source", None)
    if isinstance(source, Source):
        yield Used(name, str(thing), source)
    elif isinstance(thing, Source):
        yield Used(name, "accepted", thing)
    elif isinstance(thing, dict):
        for key, value in thing.items():
            yield from walk(value, f"{name}.{key}".lstrip("."))
    elif isinstance(thing, tuple):
        for number, value in enumerate(thing, start=1):
            yield from walk(value, f"{name}.{number}".lstrip("."))
    elif is_dataclass(thing):
        for field in fields(thing):
            value = getattr(thing, field.name)
            yield from walk(value, f"{name}.{field.name}".lstrip("."))


def check_unit(figure: Measured, *wanted: str, key: str) -> None:
    """
    Refuse a figure that is not in one of the wanted units.

    Parameters
    ----------
    figure : Measured
        What is printed: a figure, a row or classes.
    *wanted : str
        The units that would do.
    key : str
        What the message calls it.

    Raises
    ------
    ValueError
        If its unit is another.
    """
    if figure.unit not in wanted:
        raise ValueError(
            f"{key}: must be in {' or '.join(wanted)}, got {figure.unit!r}"
        )


def check_one_each(rates: Rates, classes: Classes, *, key: str) -> None:
    """
    Refuse a row without one rate for each class.

    Parameters
    ----------
    rates : Rates
        The row.
    classes : Classes
        The classes that it is for.
    key : str
        What the message calls it.

    Raises
    ------
    ValueError
        If their numbers differ.
    """
    if len(rates.values) != len(classes.words):
        message = (
            f"{key}: one rate for each of the {len(classes.words)} classes, got "
            f"{len(rates.values)}"
        )
        raise ValueError(message)


def check_descending(values: tuple[float, ...]) -> None:
    """
    Refuse rates that rise with the soil test.

    Parameters
    ----------
    values : tuple of float
        From the poorest soil to the richest.

    Raises
    ------
    ValueError
        If one is above the one before.
    """
    for before, after in pairwise(values):
        if after > before:
            message = (
                f"rates must not rise with the soil test, got {after:g} after "
                f"{before:g}"
            )
            raise ValueError(message)
