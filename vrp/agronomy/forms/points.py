"""The model of the form that prints needs at certain soil tests."""

from itertools import pairwise
from typing import Annotated, Literal

from pydantic import Field

from vrp.agronomy.figures import (
    Cited,
    Figure,
    Number,
    Rule,
    TestUnit,
    Unit,
    check_descending,
    check_unit,
)
from vrp.agronomy.forms.guideline import Crop, Guideline, part


@part
class Points:
    """
    Rates printed at certain soil tests, from the poorest soil to the richest.

    Attributes
    ----------
    tests : tuple of float
        Soil tests, rising from 0.
    test_unit : str
        The unit of soil test that they are printed in.
    values : tuple of float
        The rate at each.
    unit : str
        The unit that the rates are printed in.
    source : Source
        Where they stand, and how far that was checked.
    """

    tests: Annotated[tuple[Number, ...], Field(min_length=2)]
    test_unit: TestUnit
    values: Annotated[tuple[Number, ...], Field(min_length=2)]
    unit: Unit
    source: Cited

    def __post_init__(self) -> None:
        """Refuse points that do not follow each other."""
        if len(self.tests) != len(self.values):
            message = (
                f"values: one rate for each of the {len(self.tests)} tests, got "
                f"{len(self.values)}"
            )
            raise ValueError(message)
        if self.tests[0] != 0.0:
            raise ValueError(f"tests must begin at 0, got {self.tests[0]:g}")
        for lower, upper in pairwise(self.tests):
            if lower >= upper:
                raise ValueError(f"tests must rise, got {lower:g} before {upper:g}")
        check_descending(self.values)

    def __str__(self) -> str:
        """Return the rates with their soil tests."""
        pairs = zip(self.tests, self.values, strict=True)
        listed = ", ".join(f"{rate:g} at {test:g}" for test, rate in pairs)
        return f"{listed} {self.test_unit}, {self.unit}"


@part
class PointsCrop(Crop):
    """
    A crop of the points form.

    Attributes
    ----------
    critical : Figure
        Soil test below which the crop is held to be short.
    points : Points
        Its rates.
    """

    critical: Figure
    points: Points


@part
class PointsGuideline(Guideline):
    """
    A guideline that prints rates at certain soil tests, whatever the yield.

    Attributes
    ----------
    between : Rule
        What holds between two points.
    crops : dict of PointsCrop
        By id.
    """

    form: Literal["points"]
    between: Rule
    crops: Annotated[dict[str, PointsCrop], Field(min_length=1)]

    def __post_init__(self) -> None:
        """Refuse units that do not fit together."""
        Guideline.__post_init__(self)
        for key, crop in self.crops.items():
            test, place = self.soil_test.unit, f"crops.{key}"
            check_unit(crop.critical, test, key=f"{place}.critical")
            check_unit(crop.points, self.p2o5_unit, key=f"{place}.points")
            if crop.points.test_unit != test:
                message = (
                    f"{place}.points.test_unit: must be in {test}, got "
                    f"{crop.points.test_unit!r}"
                )
                raise ValueError(message)
