"""What every guideline says of itself, of its soil test and of a crop."""

from collections.abc import Mapping
from datetime import date
from typing import Annotated, Any, Literal, TypeVar, cast, dataclass_transform

from pydantic import Field
from pydantic.dataclasses import dataclass

from vrp.agronomy.complaints import nearest
from vrp.agronomy.figures import (
    STRICT,
    Cited,
    Figure,
    Number,
    Range,
    Rule,
    TestUnit,
    Text,
    check_unit,
)
from vrp.agronomy.soil_test import METHODS
from vrp.units import RateUnit, YieldUnit

_T = TypeVar("_T")


@dataclass_transform(kw_only_default=True, frozen_default=True)
def part(model: type[_T]) -> type[_T]:
    """
    Make a class a frozen dataclass that pydantic reads strictly.

    Parameters
    ----------
    model : type
        A class with annotated fields.

    Returns
    -------
    type
        The same, as a dataclass.
    """
    made = dataclass(frozen=True, slots=True, kw_only=True, config=STRICT)
    return cast("type[_T]", made(model))


Ph = Annotated[float, Field(strict=True, gt=0, le=14)]


@part
class Rounding:
    """
    What a guideline's limits make of a decimal.

    Attributes
    ----------
    rule : str
        ``as-is``: compared as it is, an upper limit being the last value of its class.
        ``round-half-up``: to a whole number first.
    source : Source
        Who says so.
    """

    rule: Literal["as-is", "round-half-up"]
    source: Cited

    def __str__(self) -> str:
        """Return the rule."""
        return self.rule


@part
class SoilTest:
    """
    The soil test that a guideline was made for.

    Attributes
    ----------
    unit : str
        ppm, by mass, lb/ac, which is twice that, or mg/L, by volume.
    depth : Figure
        Depth of sampling. [in or cm]
    rounding : Rounding
        What becomes of decimals.
    methods : dict of Source
        Methods that are accepted.
    """

    unit: TestUnit
    depth: Figure
    rounding: Rounding
    methods: Annotated[dict[str, Cited], Field(min_length=1)]

    def __post_init__(self) -> None:
        """Refuse methods that are unknown, and a depth that is no depth."""
        for method in self.methods:
            if method not in METHODS:
                known = ", ".join(METHODS)
                hint = nearest(method, METHODS)
                message = f"unknown method {method!r}{hint}; one of {known}"
                raise ValueError(message)
        check_unit(self.depth, "in", "cm", key="depth")


@part
class Crop:
    """
    What every form says of a crop.

    Attributes
    ----------
    name : str
        In plain words.
    also : tuple of str
        Other ids by which a comparison of guidelines finds the crop.
    yield_unit : str
        bu/ac, ton/ac (short tons) or t/ha.
    bushel : Figure, optional
        Weight of a bushel. [lb/bu]
    plausible : Range
        Yield goals that raise no question. [yield_unit]
    """

    name: Text
    also: tuple[Text, ...] = ()
    yield_unit: YieldUnit
    bushel: Figure | None = None
    plausible: Range

    def __post_init__(self) -> None:
        """Refuse bushels without a weight."""
        if self.bushel is None and self.yield_unit == "bu/ac":
            raise ValueError("bushel: missing, the weight of a bushel in lb/bu")
        if self.bushel is not None:
            check_unit(self.bushel, "lb/bu", key="bushel")


@part
class PhRule:
    """
    What a guideline adds by pH; never part of a rate, since pH is not mapped.

    Attributes
    ----------
    crops : tuple of str
        The crops that it is for.
    below, at_or_above : float, optional
        The pH that brings it in; one of the two.
    classes : tuple of str
        Words of the classes of soil test that it is for; empty: all.
    add, rate : float, optional
        What is added to the rate, or what the rate is; one of the two. [unit]
    unit : str
        Unit of `add` or `rate`, with what it is of.
    condition : str
        What else must hold, in words.
    source : Source
        Where it stands, and how far that was checked.
    """

    crops: Annotated[tuple[Text, ...], Field(min_length=1)]
    below: Ph | None = None
    at_or_above: Ph | None = None
    classes: tuple[Text, ...] = ()
    add: Number | None = None
    rate: Number | None = None
    unit: Literal["lb P2O5/ac", "kg P2O5/ha", "kg P/ha"]
    condition: Text
    source: Cited

    def __post_init__(self) -> None:
        """Refuse a rule without one pH and one amount."""
        if (self.below is None) == (self.at_or_above is None):
            raise ValueError("give below or at_or_above, one of the two")
        if (self.add is None) == (self.rate is None):
            raise ValueError("give add or rate, one of the two")

    def __str__(self) -> str:
        """Return the rule in a sentence."""
        where = f" in {' and '.join(self.classes)}" if self.classes else ""
        return (
            f"{' and '.join(self.crops)} at a pH {self.bound}{where}: {self.amount}, "
            f"{self.condition}"
        )

    @property
    def edge(self) -> float:
        """
        Return the pH at which the rule begins or ends.

        Returns
        -------
        float
            `below` or `at_or_above`.
        """
        return self.below if self.below is not None else (self.at_or_above or 0.0)

    @property
    def bound(self) -> str:
        """
        Return which pH brings the rule in.

        Returns
        -------
        str
            Such as ``below 5.5`` or ``of 7.0 or more``.
        """
        if self.below is not None:
            return f"below {self.edge:.1f}"
        return f"of {self.edge:.1f} or more"

    @property
    def amount(self) -> str:
        """
        Return what the rule adds or gives.

        Returns
        -------
        str
            Such as ``30 lb P2O5/ac more``.
        """
        if self.add is not None:
            return f"{self.add:g} {self.unit} more"
        return f"{self.rate:g} {self.unit}"


@part
class Surplus:
    """
    What a guideline says of phosphate that a crop gets beyond its offtake.

    Attributes
    ----------
    crops : tuple of str
        The crops that it is for.
    classes : tuple of str
        Words of the classes in which the surplus counts for later crops.
    text : str
        The rule in a sentence of ours.
    source : Source
        Where it stands, and how far that was checked.
    """

    crops: Annotated[tuple[Text, ...], Field(min_length=1)]
    classes: Annotated[tuple[Text, ...], Field(min_length=1)]
    text: Text
    source: Cited

    def __str__(self) -> str:
        """Return the rule."""
        return self.text


@part
class Guideline:
    """
    What every guideline says of itself, whatever its form.

    Attributes
    ----------
    title, publisher, number : str
        The publication.
    year : int
        Of the edition.
    url : str
        Where it stands.
    read_on : datetime.date
        When it was read.
    state : str
        ``current`` or ``superseded``.
    unit : str
        Unit of its rates, of P2O5: lb/ac or kg/ha.
    soil_test : SoilTest
        The soil test that it was made for.
    pooling : Rule
        Whether one application may serve several seasons.
    build_up_optional : Rule, optional
        Says that build-up may be left out; absent where the guideline does not.
    own_laboratory : Rule, optional
        Says that the guideline is for its own laboratory's results only.
    ph_rule : tuple of PhRule
        What it adds by pH.
    surplus : Surplus, optional
        What it says of phosphate beyond offtake.
    crops : Mapping of Crop
        By id.
    """

    title: Text
    publisher: Text
    number: Text
    year: Annotated[int, Field(ge=1900, le=2200, strict=True)]
    url: Annotated[str, Field(pattern=r"^https?://")]
    read_on: date
    state: Literal["current", "superseded"]
    unit: RateUnit
    soil_test: SoilTest
    pooling: Rule
    build_up_optional: Rule | None = None
    own_laboratory: Rule | None = None
    ph_rule: tuple[PhRule, ...] = ()
    surplus: Surplus | None = None
    crops: Annotated[Mapping[str, Crop], Field(min_length=1)]

    def __post_init__(self) -> None:
        """Refuse names of crops that are not there, and ids that stand twice."""
        named = [("ph_rule.crops", crop) for one in self.ph_rule for crop in one.crops]
        if self.surplus is not None:
            named += [("surplus.crops", crop) for crop in self.surplus.crops]
        for key, crop in named:
            if crop not in self.crops:
                raise ValueError(f"{key}: no {crop!r} among the crops")
        taken = list(self.crops)
        for key, one in self.crops.items():
            for other in one.also:
                if other in taken:
                    raise ValueError(f"crops.{key}.also: {other!r} stands twice")
                taken.append(other)

    @property
    def p2o5_unit(self) -> str:
        """
        Return the unit of its need with what it is of.

        Returns
        -------
        str
            Such as lb P2O5/ac.
        """
        return self.unit.replace("/", " P2O5/")

    @property
    def printed_unit(self) -> str:
        """
        Return the unit of its rates as they are printed.

        Returns
        -------
        str
            Such as lb P2O5/ac; kg P/ha where the guideline prints the element.
        """
        return self.p2o5_unit


def per_yield(rate: str, harvest: YieldUnit) -> str:
    """
    Return the unit of what a unit of yield takes away.

    Parameters
    ----------
    rate : str
        Unit of rates with what they are of, such as lb P2O5/ac.
    harvest : str
        Unit of the yield, such as bu/ac.

    Returns
    -------
    str
        Such as lb P2O5/bu.
    """
    mass, unit = rate.partition("/")[0], harvest.partition("/")[0]
    return f"{mass}/{unit}"


def check_methods(by_method: Mapping[str, Any], tested: SoilTest, *, key: str) -> None:
    """
    Refuse figures by method that are not for the methods that are accepted.

    Parameters
    ----------
    by_method : Mapping
        Figures by the id of a method.
    tested : SoilTest
        Which methods are accepted.
    key : str
        What the message calls them.

    Raises
    ------
    ValueError
        If one is missing or too many.
    """
    for method in by_method:
        if method not in tested.methods:
            raise ValueError(f"{key}: {method!r} is not among soil_test.methods")
    missing = [method for method in tested.methods if method not in by_method]
    if by_method and missing:
        raise ValueError(f"{key}: {missing[0]} is missing, which soil_test accepts")
