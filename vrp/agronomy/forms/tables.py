"""The models of the two forms with a table: by index, and by class."""

from typing import Annotated, Literal

from pydantic import Field

from vrp.agronomy.figures import (
    Cited,
    Classes,
    Figure,
    Rates,
    Rule,
    Text,
    check_one_each,
    check_unit,
)
from vrp.agronomy.forms.guideline import (
    Crop,
    Guideline,
    check_methods,
    part,
    per_yield,
)


@part
class ResidueRates:
    """
    A crop's row for one fate of its residue.

    Attributes
    ----------
    rates : Rates
        For each class, at the printed yield.
    offtake : Figure, optional
        What a unit of yield takes away; absent where yield changes nothing.
    """

    rates: Rates
    offtake: Figure | None = None


@part
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


@part
class IndexTable(Guideline):
    """
    A guideline whose rates stand in a table by class, and follow the yield.

    Attributes
    ----------
    element : str
        What its rates are of: ``P2O5``, or ``P``, the element.
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
    element: Literal["P2O5", "P"] = "P2O5"
    classes: Classes
    target: Figure
    critical: Figure
    adjustment: Rule
    crops: Annotated[dict[str, IndexCrop], Field(min_length=1)]

    def __post_init__(self) -> None:
        """Refuse units and rows that do not fit together."""
        Guideline.__post_init__(self)
        check_unit(self.target, self.soil_test.unit, key="target")
        check_unit(self.critical, self.soil_test.unit, key="critical")
        check_unit(self.classes, self.soil_test.unit, key="classes")
        named = [("ph_rule", word) for each in self.ph_rule for word in each.classes]
        if self.surplus is not None:
            named += [("surplus", word) for word in self.surplus.classes]
        for place, word in named:
            if word not in self.classes.words:
                raise ValueError(f"{place}.classes: no {word!r} among the words")
        for key, crop in self.crops.items():
            for residue in ("left", "removed", "either"):
                row: ResidueRates | None = getattr(crop, residue)
                if row is None:
                    continue
                place = f"crops.{key}.{residue}"
                check_unit(row.rates, self.printed_unit, key=f"{place}.rates")
                check_one_each(row.rates, self.classes, key=f"{place}.rates")
                if row.offtake is not None:
                    wanted = per_yield(self.printed_unit, crop.yield_unit)
                    check_unit(row.offtake, wanted, key=f"{place}.offtake")

    @property
    def printed_unit(self) -> str:
        """
        Return the unit of its rates as they are printed.

        Returns
        -------
        str
            Such as kg P2O5/ha; kg P/ha where the guideline prints the element.
        """
        return self.unit.replace("/", f" {self.element}/")


@part
class MethodClasses:
    """
    A crop's classes for one method of soil test.

    Attributes
    ----------
    classes : Classes
        Its classes of soil test.
    critical : Figure
        Soil test below which the crop is held to be short.
    """

    classes: Classes
    critical: Figure


@part
class RemovalClass:
    """
    The class in which a crop's rate is its removal and no printed number.

    Attributes
    ----------
    word : str
        The class.
    source : Source
        Where it stands, and how far that was checked.
    """

    word: Text
    source: Cited

    def __str__(self) -> str:
        """Return the class."""
        return self.word


@part
class ClassCrop(Crop):
    """
    A crop of the class-table form.

    Attributes
    ----------
    classes : Classes, optional
        Its classes of soil test; absent where they differ by method.
    critical : Figure, optional
        Soil test below which the crop is held to be short; absent where the classes
        differ by method.
    by_method : dict of MethodClasses
        Classes and critical level by method of soil test.
    rates : Rates
        For each class, whatever the yield, but in the removal class.
    removal_class : RemovalClass, optional
        The class in which the rate is the crop's removal; the number that `rates` holds
        there is printed for a yield that is usual, and not used.
    removal : Figure, optional
        P2O5 that a unit of yield takes away.
    """

    classes: Classes | None = None
    critical: Figure | None = None
    by_method: dict[str, MethodClasses] = Field(default_factory=dict)
    rates: Rates
    removal_class: RemovalClass | None = None
    removal: Figure | None = None

    def __post_init__(self) -> None:
        """Refuse rates that do not match the classes."""
        Crop.__post_init__(self)
        own = self.classes is not None and self.critical is not None
        half = self.classes is not None or self.critical is not None
        if own == bool(self.by_method) or half != own:
            raise ValueError("give classes and critical, or by_method for each method")
        if (self.removal_class is None) != (self.removal is None):
            raise ValueError("removal_class and removal go together")
        for one in self.sets().values():
            check_one_each(self.rates, one.classes, key="rates")
            known = one.classes.words
            if self.removal_class and self.removal_class.word not in known:
                word = self.removal_class.word
                raise ValueError(f"removal_class: no {word!r} among the words")

    def sets(self) -> dict[str, MethodClasses]:
        """
        Return the crop's classes by method.

        Returns
        -------
        dict of MethodClasses
            By an empty name alone where all methods share them.
        """
        if self.classes is None or self.critical is None:
            return self.by_method
        return {"": MethodClasses(classes=self.classes, critical=self.critical)}


@part
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
        Guideline.__post_init__(self)
        test = self.soil_test.unit
        for key, crop in self.crops.items():
            place = f"crops.{key}"
            check_methods(crop.by_method, self.soil_test, key=f"{place}.by_method")
            for name, one in crop.sets().items():
                below = f"{place}.by_method.{name}" if name else place
                check_unit(one.classes, test, key=f"{below}.classes")
                check_unit(one.critical, test, key=f"{below}.critical")
            check_unit(crop.rates, self.p2o5_unit, key=f"{place}.rates")
            if crop.removal is not None:
                wanted = per_yield(self.p2o5_unit, crop.yield_unit)
                check_unit(crop.removal, wanted, key=f"{place}.removal")
