"""What a publication prints of the P2O5 in a harvest."""

from datetime import date
from typing import Annotated, Literal

from pydantic import Field
from pydantic.dataclasses import dataclass

from vrp.agronomy.figures import STRICT, Cited, Figure, Number, Text

_part = dataclass(frozen=True, slots=True, kw_only=True, config=STRICT)

Unit = Literal["lb P2O5/bu", "lb P2O5/ton", "lb P2O5/cwt", "lb P2O5/bale", "kg P2O5/t"]

# What stays behind unless it is taken off: not the harvest itself.
RESIDUES = ("straw", "stover", "residue")


@_part
class Coefficient:
    """
    P2O5 in a unit of yield, as printed.

    Attributes
    ----------
    crops : tuple of str
        Ids of the crops that it is printed for.
    part : str
        Part of the plant.
    kind : str
        ``removal``: what leaves the field; ``uptake``: what the whole crop holds.
    value : float, optional
        As printed; absent where a range is.
    low, high : float, optional
        The printed range.
    unit : str
        The unit that it is printed in.
    basis : str
        ``as harvested`` or ``dry matter``.
    moisture : float, optional
        Water in the yield, where that is printed. [percent]
    source : Source
        Where it stands, and how far that was checked.
    """

    crops: Annotated[tuple[Text, ...], Field(min_length=1)]
    part: Text
    kind: Literal["removal", "uptake"]
    value: Number | None = None
    low: Number | None = None
    high: Number | None = None
    unit: Unit
    basis: Literal["as harvested", "dry matter"]
    moisture: Annotated[float, Field(ge=0, lt=100)] | None = None
    source: Cited

    def __post_init__(self) -> None:
        """Refuse a figure that is neither a value nor a range."""
        ranged = self.low is not None and self.high is not None
        half = self.low is not None or self.high is not None
        if half != ranged or ranged == (self.value is not None):
            raise ValueError("give value, or low and high")
        if self.low is not None and self.high is not None and self.low >= self.high:
            message = f"low must be below high, got {self.low:g} and {self.high:g}"
            raise ValueError(message)

    @property
    def ends(self) -> tuple[float, float]:
        """
        Return the printed range, or the value twice.

        Returns
        -------
        tuple of float
            Lowest and highest. [unit]
        """
        if self.value is not None:
            return self.value, self.value
        assert self.low is not None
        assert self.high is not None
        return self.low, self.high

    @property
    def middle(self) -> float:
        """
        Return the value, or the middle of the range (our choice).

        Returns
        -------
        float
            In `unit`.
        """
        return sum(self.ends) / 2.0

    def __str__(self) -> str:
        """Return the figure with its unit."""
        low, high = self.ends
        figure = f"{low:g}" if low == high else f"{low:g}–{high:g}"
        return f"{figure} {self.unit}"


@_part
class RemovalSet:
    """
    The figures of one publication.

    Attributes
    ----------
    title, publisher : str
        The publication.
    year : int, optional
        Of the edition, where it is known.
    url : str, optional
        Where it stands; a publication without a year needs one.
    read_on : datetime.date, optional
        When it was read; absent where all of it is from memory.
    state : str
        ``current`` or ``superseded``.
    figure : tuple of Coefficient
        Its figures.
    """

    title: Text
    publisher: Text
    year: Annotated[int, Field(ge=1900, le=2200)] | None = None
    url: Annotated[str, Field(pattern=r"^https?://")] | None = None
    read_on: date | None = None
    state: Literal["current", "superseded"]
    figure: Annotated[tuple[Coefficient, ...], Field(min_length=1)]

    def __post_init__(self) -> None:
        """Refuse a citation that leads nowhere."""
        if self.year is None and self.url is None:
            raise ValueError("give year or url: a publication must be found again")

    def __str__(self) -> str:
        """Return the citation."""
        parts = (self.title, self.publisher, self.year, self.url)
        return ", ".join(str(one) for one in parts if one is not None)


@_part
class Weight:
    """
    Weight of a measure of trade.

    Attributes
    ----------
    value : float
        In `unit`.
    unit : str
        Pounds a bale.
    source : Source
        Who says so.
    """

    value: Number
    unit: Literal["lb/bale"]
    source: Cited


@_part
class CropNames:
    """
    A crop's name, and the weights of its measures.

    Attributes
    ----------
    name : str
        In plain words.
    also : tuple of str
        Other ids of the same crop.
    bushel, bale : Figure, optional
        Weight of a bushel, of a bale. [lb]
    """

    name: Text
    also: tuple[Text, ...] = ()
    bushel: Figure | None = None
    bale: Weight | None = None
