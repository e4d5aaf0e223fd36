"""What publications print of how a soil test moves with what is spread and taken."""

import tomllib
from functools import cache
from importlib.resources import files
from typing import Annotated, Literal

from pydantic import Field, TypeAdapter
from pydantic.dataclasses import dataclass

from vrp.agronomy.figures import STRICT, Cited, Number, Text
from vrp.units import LB_AC, P2O5_PER_P, SoilTestUnit, soil_test_ppm_or_mg_l

_part = dataclass(frozen=True, slots=True, kw_only=True, config=STRICT)

# P2O5 [kg/ha] in each unit of an amount.
_AMOUNTS = {"lb P2O5/ac": LB_AC, "kg P2O5/ha": 1.0, "kg P/ha": P2O5_PER_P}

Above = Annotated[float, Field(gt=0)]


@_part
class Build:
    """
    P2O5 beyond removal that raises the test by one unit.

    Attributes
    ----------
    value : float
        As printed. [unit]
    unit : str
        The unit that it is printed in.
    source : Source
        Where it stands, and how far that was checked.
    """

    value: Above
    unit: Literal["lb P2O5/ac per ppm", "kg P/ha per ppm", "kg P2O5/ha per mg/L"]
    source: Cited

    @property
    def per_unit(self) -> float:
        """
        Return the P2O5 that a unit of soil test takes.

        Returns
        -------
        float
            [kg/ha for each ppm or mg/L]
        """
        return self.value * _AMOUNTS[self.unit.split(" per ")[0]]


@_part
class Drawdown:
    """
    Fall of the test where less is spread than holds it.

    Attributes
    ----------
    halving : float, optional
        Unfertilised seasons that halve it.
    levels, falls : tuple of float
        Falls at levels of soil test.
    per : str, optional
        Whether a fall is what a season without P2O5 takes, or a unit of shortfall.
    unit : str, optional
        The unit of the falls.
    source : Source
        Where it stands, and how far that was checked.
    """

    halving: Above | None = None
    levels: tuple[Above, ...] = ()
    falls: tuple[Above, ...] = ()
    per: Literal["season", "shortfall"] | None = None
    unit: Literal["ppm", "ppm per kg P/ha"] | None = None
    source: Cited

    def __post_init__(self) -> None:
        """Refuse what is neither a halving time nor a table of falls."""
        if len(self.levels) != len(self.falls) or bool(self.halving) == bool(self.per):
            raise ValueError("give halving, or levels, falls, per and unit")


@_part
class Middle:
    """
    The figures of the middle of the band.

    Attributes
    ----------
    build : Build
        For a surplus.
    drawdown : str
        Id of the figures for a shortfall.
    """

    build: Build
    drawdown: Text


@_part
class Family:
    """
    Figures for soil tests that may be taken alike.

    Attributes
    ----------
    name : str
        In plain words.
    methods : tuple of str
        The methods that they hold for.
    unit : str
        The unit that they hold for.
    source : Source
        Why these may be taken alike.
    middle : Middle
        What stands in the middle of the band.
    straight : Build, optional
        The figure of the straight budget.
    build : dict of Build
        For a surplus, by id.
    drawdown : dict of Drawdown
        For a shortfall, by id.
    """

    name: Text
    methods: Annotated[tuple[Text, ...], Field(min_length=1)]
    unit: Literal["ppm", "mg/L"]
    source: Cited
    middle: Middle
    straight: Build | None = None
    build: Annotated[dict[str, Build], Field(min_length=1)]
    drawdown: Annotated[dict[str, Drawdown], Field(min_length=1)]


@_part
class Measure:
    """
    A figure that is no amount of P2O5.

    Attributes
    ----------
    value : float
        In `unit`.
    unit : str
        What it counts.
    source : Source
        Where it stands, and how far that was checked.
    """

    value: Number
    unit: Text
    source: Cited


@_part
class FieldMean:
    """
    How far a mean of a field's soil tests may be trusted.

    Attributes
    ----------
    error : Measure
        Its standard error. [%]
    interval : Measure
        Standard errors on either side that hold 80 of 100.
    least_balance : Measure
        Balance between two tests below which they say nothing. [kg P2O5/ha]
    """

    error: Measure
    least_balance: Measure
    interval: Measure


@dataclass(frozen=True, slots=True, kw_only=True, config=STRICT)
class Figures:
    """
    All that the forecast rests on.

    Attributes
    ----------
    holding : dict of Measure
        Share of removal that holds the test: low, middle, high.
    field_mean : FieldMean
        Error of a field's mean.
    family : dict of Family
        By id.
    """

    holding: dict[Literal["low", "middle", "high"], Measure]
    field_mean: FieldMean
    family: dict[str, Family]


@cache
def figures() -> Figures:
    """
    Return all that the forecast rests on.

    Returns
    -------
    Figures
        As published.
    """
    text = (files("vrp.agronomy") / "data" / "forecast.toml").read_text("utf-8")
    return TypeAdapter(Figures).validate_python(tomllib.loads(text))


def family(method: str, unit: SoilTestUnit) -> Family | None:
    """
    Return the figures that were made for a soil test.

    Parameters
    ----------
    method : str
        How the soil was tested.
    unit : str
        The unit of the test.

    Returns
    -------
    Family or None
        None where none was.
    """
    _, basis = soil_test_ppm_or_mg_l(1.0, unit)
    fitting = (
        one
        for one in figures().family.values()
        if method in one.methods and basis == one.unit
    )
    return next(fitting, None)
