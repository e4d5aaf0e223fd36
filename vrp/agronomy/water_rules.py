"""What a set of rules on water may say: one model for each thing that it decides."""

import re
from datetime import date
from typing import Annotated, Literal, cast, get_args

from pydantic import AfterValidator, Field
from pydantic.dataclasses import dataclass

from vrp.agronomy.complaints import nearest
from vrp.agronomy.figures import STRICT, Cited, Number, TestUnit, Text
from vrp.agronomy.products import Form
from vrp.agronomy.soil_test import METHODS

Material = Literal["fertilizer", "manure"]
Feature = Literal[
    "stream",
    "ditch",
    "lake",
    "wetland",
    "well",
    "tile-inlet",
    "sinkhole",
    "slope",
    "other",
]
# Where it lies: on the surface, worked in after it was spread, or placed in the soil.
Lie = Literal["surface", "worked-in", "in-soil"]
State = Literal["frozen", "snow", "saturated"]
Does = Literal["forbids", "asks"]

FEATURES: tuple[Feature, ...] = get_args(Feature)
LIES: tuple[Lie, ...] = get_args(Lie)

_part = dataclass(frozen=True, slots=True, kw_only=True, config=STRICT)
_DAY = re.compile(r"(\d\d)-(\d\d)", re.ASCII)


def _day(text: str) -> str:
    found = _DAY.fullmatch(text)
    try:
        if found is None:
            raise ValueError(text)
        date(2024, int(found[1]), int(found[2]))
    except ValueError:
        message = f"write month and day, such as 12-15, got {text!r}"
        raise ValueError(message) from None
    return text


def _methods(methods: tuple[str, ...]) -> tuple[str, ...]:
    for one in methods:
        if one not in METHODS:
            known = ", ".join(METHODS)
            hint = nearest(one, METHODS)
            raise ValueError(f"unknown method {one!r}{hint}; one of {known}")
    return methods


Day = Annotated[Text, AfterValidator(_day)]
TestMethods = Annotated[tuple[Text, ...], Field(min_length=1), AfterValidator(_methods)]


@_part
class Limit:
    """
    A limit, and on which side of it the rule holds.

    Attributes
    ----------
    above : float, optional
        The rule holds above it and not at it. [unit]
    at_least : float, optional
        The rule holds at it and above. [unit]
    unit : str
        Its unit.
    """

    above: Number | None = None
    at_least: Number | None = None
    unit: Literal["in", "mm", "percent", "ppm", "mg/L", "lb/ac"]

    def __post_init__(self) -> None:
        """Refuse a limit with no side, or two."""
        if (self.above is None) == (self.at_least is None):
            raise ValueError("give above or at_least, one of the two")

    @property
    def value(self) -> float:
        """
        Return the limit itself.

        Returns
        -------
        float
            `above` or `at_least`. [unit]
        """
        return self.above if self.above is not None else (self.at_least or 0.0)

    def __str__(self) -> str:
        """Return the limit in words."""
        if self.above is not None:
            return f"more than {self.value:g} {self.unit}"
        return f"{self.value:g} {self.unit} or more"

    def passed_by(self, value: float) -> bool:
        """
        Return whether a value brings the rule in.

        Parameters
        ----------
        value : float
            In the limit's own unit. [unit]

        Returns
        -------
        bool
            Strictly above, or at least, as it is printed.
        """
        return value > self.value if self.above is not None else value >= self.value


@_part
class Decides:
    """
    What every rule says, whatever it decides.

    Attributes
    ----------
    text : str
        The rule in a sentence of ours.
    materials : tuple of str
        What it binds: ``fertilizer``, ``manure`` or both; it binds nothing else.
    forms : tuple of str
        ``granular``, ``liquid``; empty: any.
    lies : tuple of str
        For which placements it holds: ``surface``, ``worked-in``, ``in-soil``.
    worked_in_hours : float, optional
        Within how many hours, these included, what was spread counts as worked in;
        without it whenever it is.
    growing_crop : bool
        Whether it holds on a growing crop as well.
    does : str
        ``forbids``, or ``asks``: to wait, to keep away, to do otherwise.
    source : Source
        Where it stands, and how far that was checked.
    """

    text: Text
    materials: Annotated[tuple[Material, ...], Field(min_length=1)]
    forms: tuple[Form, ...] = ()
    lies: Annotated[tuple[Lie, ...], Field(min_length=1)] = LIES
    worked_in_hours: Annotated[float, Field(gt=0, strict=True)] | None = None
    growing_crop: Annotated[bool, Field(strict=True)] = True
    does: Does
    source: Cited

    def __str__(self) -> str:
        """Return the rule."""
        return self.text


@_part
class DistanceRule(Decides):
    """
    How near a water feature something may be spread.

    Attributes
    ----------
    features : tuple of str
        Kinds of feature that it is for.
    value : float
        The distance; nearer is not allowed, at it is. [unit]
    unit : str
        Feet or metres.
    ground : tuple of str
        States of the ground that it is for alone; empty: any.
    where : str, optional
        What else must hold that a map does not show, in words; it is taken to hold.
    alternative : str, optional
        What may stand in its place, in words; it is not applied.
    """

    features: Annotated[tuple[Feature, ...], Field(min_length=1)]
    value: Number
    unit: Literal["ft", "m"]
    ground: tuple[State, ...] = ()
    where: Text | None = None
    alternative: Text | None = None


@_part
class RainRule(Decides):
    """
    Which forecast forbids spreading.

    Attributes
    ----------
    rain : Limit
        Amount. [in or mm]
    chance : Limit
        Its probability. [percent]
    hours : float
        Within which it falls.
    """

    rain: Limit
    chance: Limit
    hours: Annotated[float, Field(gt=0, strict=True)]

    def __post_init__(self) -> None:
        """Refuse an amount or a probability in another unit."""
        if self.rain.unit not in ("in", "mm"):
            raise ValueError(f"rain: must be in in or mm, got {self.rain.unit!r}")
        if self.chance.unit != "percent":
            raise ValueError(f"chance: must be in percent, got {self.chance.unit!r}")


@_part
class GroundRule(Decides):
    """
    On which ground nothing is spread.

    Attributes
    ----------
    states : tuple of str
        ``frozen``, ``snow`` (covered by it), ``saturated`` (the top of the soil).
    """

    states: Annotated[tuple[State, ...], Field(min_length=1)]


@_part
class SeasonRule(Decides):
    """
    Between which days nothing is spread.

    Attributes
    ----------
    first, last : str
        Month and day, both included; `last` may lie in the next year.
    """

    first: Day
    last: Day

    def holds_on(self, day: date) -> bool:
        """
        Return whether a day lies within the season.

        Parameters
        ----------
        day : datetime.date
            The day.

        Returns
        -------
        bool
            Its first and its last day included.
        """
        asked = f"{day:%m-%d}"
        if self.first <= self.last:
            return self.first <= asked <= self.last
        return asked >= self.first or asked <= self.last


@_part
class PlacementRule(Decides):
    """
    Which placement is not allowed.

    Attributes
    ----------
    tillage : str, optional
        ``no-till`` or ``tilled``: the ground that it is for; absent: any.
    """

    tillage: Literal["no-till", "tilled"] | None = None


@_part
class SoilTestRule(Decides):
    """
    Above which soil test nothing is spread.

    Attributes
    ----------
    methods : tuple of str
        Methods of soil test that it was set for.
    limit : Limit
        The soil test. [ppm, mg/L or lb/ac]
    """

    methods: TestMethods
    limit: Limit

    def __post_init__(self) -> None:
        """Refuse a limit that is no soil test."""
        if self.limit.unit not in get_args(TestUnit):
            known = " or ".join(get_args(TestUnit))
            raise ValueError(f"limit: must be in {known}, got {self.limit.unit!r}")

    @property
    def test_unit(self) -> TestUnit:
        """
        Return the unit of the limit.

        Returns
        -------
        str
            ppm, mg/L or lb/ac.
        """
        return cast("TestUnit", self.limit.unit)


@_part
class CapRule(Decides):
    """
    The most P2O5 that may be spread in a year, by the soil test; it is never a need.

    Attributes
    ----------
    crops : tuple of str
        Crops that it is for, as a field file names them.
    methods : tuple of str
        Methods of soil test that it was set for.
    test_unit : str
        Unit of the soil test.
    words : tuple of str
        Names of its classes, from the poorest.
    uppers : tuple of float
        Largest soil test of each class but the last, which is open. [test_unit]
    values : tuple of float
        The most in each class, itself allowed. [unit]
    unit : str
        P2O5 by area.
    """

    crops: Annotated[tuple[Text, ...], Field(min_length=1)]
    methods: TestMethods
    test_unit: TestUnit
    words: Annotated[tuple[Text, ...], Field(min_length=1)]
    uppers: tuple[Number, ...]
    values: tuple[Number, ...]
    unit: Literal["lb P2O5/ac", "kg P2O5/ha"]

    def __post_init__(self) -> None:
        """Refuse classes that do not follow each other, or lack a figure."""
        if sorted(set(self.uppers)) != list(self.uppers):
            raise ValueError("uppers: must rise")
        if not len(self.words) == len(self.values) == len(self.uppers) + 1:
            message = (
                f"words and values: one for each of {len(self.uppers) + 1} classes, "
                f"got {len(self.words)} and {len(self.values)}"
            )
            raise ValueError(message)
