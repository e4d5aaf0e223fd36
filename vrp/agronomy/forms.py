"""What a published guideline may say: one model for each form."""

from collections.abc import Mapping
from datetime import date
from typing import Annotated, Literal

from pydantic import Field
from pydantic.dataclasses import dataclass

from vrp.agronomy.complaints import nearest
from vrp.agronomy.figures import (
    STRICT,
    Cited,
    Classes,
    Figure,
    Range,
    Rates,
    Rule,
    TestUnit,
    Text,
    check_one_each,
    check_unit,
)
from vrp.agronomy.soil_test import METHODS
from vrp.units import RateUnit, YieldUnit

_part = dataclass(frozen=True, slots=True, kw_only=True, config=STRICT)


@_part
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


@_part
class SoilTest:
    """
    The soil test that a guideline was made for.

    Attributes
    ----------
    unit : str
        ppm, by mass, or mg/L, by volume.
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


@_part
class Crop:
    """
    What every form says of a crop.

    Attributes
    ----------
    name : str
        In plain words.
    yield_unit : str
        bu/ac, ton/ac (short tons) or t/ha.
    bushel : Figure, optional
        Weight of a bushel. [lb/bu]
    plausible : Range
        Yield goals that raise no question. [yield_unit]
    """

    name: Text
    yield_unit: YieldUnit
    bushel: Figure | None = None
    plausible: Range

    def __post_init__(self) -> None:
        """Refuse bushels without a weight."""
        if self.bushel is None and self.yield_unit == "bu/ac":
            raise ValueError("bushel: missing, the weight of a bushel in lb/bu")
        if self.bushel is not None:
            check_unit(self.bushel, "lb/bu", key="bushel")


@_part
class BuildUpCrop(Crop):
    """
    A crop of the build-up and maintenance form.

    Attributes
    ----------
    critical : Figure
        Soil test below which the soil is built up.
    limit : Figure
        Soil test above which nothing is needed.
    removal : Figure
        P2O5 that a unit of yield takes away.
    """

    critical: Figure
    limit: Figure
    removal: Figure


@_part
class Rotation:
    """
    Levels that hold for every crop of a rotation with certain crops in it.

    Attributes
    ----------
    crops : tuple of str
        The crops that bring the levels in.
    critical : Figure
        Soil test below which the soil is built up.
    limit : Figure
        Soil test above which nothing is needed.
    """

    crops: tuple[Text, ...]
    critical: Figure
    limit: Figure


@_part
class ResidueRates:
    """
    A crop's row for one fate of its residue.

    Attributes
    ----------
    rates : Rates
        For each class, at the printed yield.
    offtake : Figure, optional
        P2O5 that a unit of yield takes away; absent where yield changes nothing.
    """

    rates: Rates
    offtake: Figure | None = None


@_part
class IndexCrop(Crop):
    """
    A crop of the index-table form.

    Attributes
    ----------
    printed_yield : Figure
        Yield that the rates are printed for.
    left : ResidueRates, optional
        Where residue is left on the field.
    removed : ResidueRates, optional
        Where it is removed.
    either : ResidueRates, optional
        Where the guideline does not tell the two apart.
    """

    printed_yield: Figure
    left: ResidueRates | None = None
    removed: ResidueRates | None = None
    either: ResidueRates | None = None

    def __post_init__(self) -> None:
        """Refuse a crop without a row, or with rows that contradict each other."""
        Crop.__post_init__(self)
        check_unit(self.printed_yield, self.yield_unit, key="printed_yield")
        told_apart = self.left is not None or self.removed is not None
        if told_apart == (self.either is not None):
            raise ValueError("give either, or left and removed where told apart")


@_part
class ClassCrop(Crop):
    """
    A crop of the class-table form.

    Attributes
    ----------
    classes : Classes
        Its classes of soil test.
    rates : Rates
        For each class, whatever the yield.
    critical : Figure
        Soil test below which the crop is held to be short.
    """

    classes: Classes
    rates: Rates
    critical: Figure

    def __post_init__(self) -> None:
        """Refuse rates that do not match the classes."""
        Crop.__post_init__(self)
        check_one_each(self.rates, self.classes, key="rates")


@_part
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
    crops: Annotated[Mapping[str, Crop], Field(min_length=1)]

    @property
    def p2o5_unit(self) -> str:
        """
        Return the unit of its rates with what they are of.

        Returns
        -------
        str
            Such as lb P2O5/ac.
        """
        return self.unit.replace("/", " P2O5/")


@_part
class BuildUpMaintenance(Guideline):
    """
    A guideline that replaces removal, and lifts a poor soil to a critical level.

    Attributes
    ----------
    build_up : Figure
        P2O5 a year for each unit of soil test that is lacking.
    pooled_years : Figure, optional
        Years that one maintenance application may cover; absent: one.
    rotation : Rotation, optional
        Levels that hold with certain crops in the rotation.
    crops : dict of BuildUpCrop
        By id.
    """

    form: Literal["build-up-maintenance"]
    build_up: Figure
    pooled_years: Figure | None = None
    rotation: Rotation | None = None
    crops: Annotated[dict[str, BuildUpCrop], Field(min_length=1)]

    def __post_init__(self) -> None:
        """Refuse units that do not fit together, and levels out of order."""
        test = self.soil_test.unit
        check_unit(self.build_up, f"{self.p2o5_unit} per {test}", key="build_up")
        if self.pooled_years is not None:
            check_unit(self.pooled_years, "years", key="pooled_years")
        for key, crop in self.crops.items():
            _levels(crop, test, key=f"crops.{key}")
            wanted = _per_yield(self.unit, crop.yield_unit)
            check_unit(crop.removal, wanted, key=f"crops.{key}.removal")
        if self.rotation is not None:
            _levels(self.rotation, test, key="rotation")
            for crop_id in self.rotation.crops:
                if crop_id not in self.crops:
                    raise ValueError(f"rotation.crops: no {crop_id!r} among the crops")


@_part
class IndexTable(Guideline):
    """
    A guideline whose rates stand in a table by class, and follow the yield.

    Attributes
    ----------
    classes : Classes
        Classes of soil test, one set for all crops.
    target : Figure
        Smallest soil test of the class that the guideline aims at.
    critical : Figure
        Soil test below which a crop is held to be short.
    adjustment : Rule
        How far, and in which classes, a rate follows the yield.
    crops : dict of IndexCrop
        By id.
    """

    form: Literal["index-table"]
    classes: Classes
    target: Figure
    critical: Figure
    adjustment: Rule
    crops: Annotated[dict[str, IndexCrop], Field(min_length=1)]

    def __post_init__(self) -> None:
        """Refuse units and rows that do not fit together."""
        check_unit(self.target, self.soil_test.unit, key="target")
        check_unit(self.critical, self.soil_test.unit, key="critical")
        check_unit(self.classes, self.soil_test.unit, key="classes")
        for key, crop in self.crops.items():
            for residue in ("left", "removed", "either"):
                row: ResidueRates | None = getattr(crop, residue)
                if row is None:
                    continue
                place = f"crops.{key}.{residue}"
                check_unit(row.rates, self.p2o5_unit, key=f"{place}.rates")
                check_one_each(row.rates, self.classes, key=f"{place}.rates")
                if row.offtake is not None:
                    wanted = _per_yield(self.unit, crop.yield_unit)
                    check_unit(row.offtake, wanted, key=f"{place}.offtake")


@_part
class ClassTable(Guideline):
    """
    A guideline whose rates stand in a table by class, whatever the yield.

    Attributes
    ----------
    crops : dict of ClassCrop
        By id.
    """

    form: Literal["class-table"]
    crops: Annotated[dict[str, ClassCrop], Field(min_length=1)]

    def __post_init__(self) -> None:
        """Refuse units that do not fit together."""
        for key, crop in self.crops.items():
            test = self.soil_test.unit
            check_unit(crop.classes, test, key=f"crops.{key}.classes")
            check_unit(crop.critical, test, key=f"crops.{key}.critical")
            check_unit(crop.rates, self.p2o5_unit, key=f"crops.{key}.rates")


def _per_yield(rate: RateUnit, harvest: YieldUnit) -> str:
    return f"{rate.split('/')[0]} P2O5/{harvest.split('/')[0]}"


def _levels(part: BuildUpCrop | Rotation, unit: TestUnit, *, key: str) -> None:
    check_unit(part.critical, unit, key=f"{key}.critical")
    check_unit(part.limit, unit, key=f"{key}.limit")
    if part.limit.value < part.critical.value:
        message = (
            f"{key}.limit: must be at least the critical level of {part.critical}, got "
            f"{part.limit}"
        )
        raise ValueError(message)
