"""The model of the form that prints an equation in soil test and yield."""

from typing import Annotated, Literal

from pydantic import Field

from vrp.agronomy.figures import Cited, Figure, Unit, check_unit
from vrp.agronomy.forms.guideline import (
    Crop,
    Guideline,
    check_methods,
    part,
    per_yield,
)

Falling = Annotated[float, Field(strict=True, le=0)]


@part
class Fall:
    """
    What a unit of soil test takes off; never above zero, so that a rate never rises.

    Attributes
    ----------
    value : float
        As printed with its sign, in `unit`.
    unit : str
        The unit that it is printed in.
    source : Source
        Where it stands, and how far that was checked.
    """

    value: Falling
    unit: Unit
    source: Cited

    def __str__(self) -> str:
        """Return the figure with its unit and a true minus."""
        return f"−{-self.value:g} {self.unit}"


@part
class Terms:
    """
    need = base + by_yield × yield + by_test × test + by_both × yield × test.

    Attributes
    ----------
    base : Figure, optional
        Need whatever the yield, where the soil test is zero.
    by_yield : Figure, optional
        Need for a unit of yield, where the soil test is zero.
    by_test : Fall, optional
        What a unit of soil test takes off.
    by_both : Fall, optional
        What a unit of soil test takes off for each unit of yield.
    critical : Figure, optional
        Soil test from which nothing is needed; absent: from where the equation
        reaches 0.
    """

    base: Figure | None = None
    by_yield: Figure | None = None
    by_test: Fall | None = None
    by_both: Fall | None = None
    critical: Figure | None = None

    def __post_init__(self) -> None:
        """Refuse an equation that is none, or that never ends."""
        if self.base is None and self.by_yield is None:
            raise ValueError("give base or by_yield")
        falls = any(
            one is not None and one.value for one in (self.by_test, self.by_both)
        )
        if self.critical is None and not falls:
            raise ValueError(
                "give critical, or by_test or by_both below 0: else no end"
            )


@part
class EquationCrop(Crop):
    """
    A crop of the equation form.

    Attributes
    ----------
    equation : Terms, optional
        Its equation, whatever the method; absent where it differs by method.
    by_method : dict of Terms
        Its equation by method of soil test.
    """

    equation: Terms | None = None
    by_method: dict[str, Terms] = Field(default_factory=dict)

    def __post_init__(self) -> None:
        """Refuse two equations for one method."""
        Crop.__post_init__(self)
        if (self.equation is None) != bool(self.by_method):
            raise ValueError("give equation, or by_method for each method")

    def sets(self) -> dict[str, Terms]:
        """
        Return the crop's equations by method.

        Returns
        -------
        dict of Terms
            By an empty name alone where all methods share one.
        """
        return self.by_method if self.equation is None else {"": self.equation}


@part
class EquationGuideline(Guideline):
    """
    A guideline that prints an equation in soil test and yield goal.

    Attributes
    ----------
    minimum : Figure, optional
        Least rate below the critical level.
    crops : dict of EquationCrop
        By id.
    """

    form: Literal["equation"]
    minimum: Figure | None = None
    crops: Annotated[dict[str, EquationCrop], Field(min_length=1)]

    def __post_init__(self) -> None:
        """Refuse units that do not fit together, and a minimum without an end."""
        Guideline.__post_init__(self)
        test, rate = self.soil_test.unit, self.p2o5_unit
        if self.minimum is not None:
            check_unit(self.minimum, rate, key="minimum")
        for key, crop in self.crops.items():
            place = f"crops.{key}"
            check_methods(crop.by_method, self.soil_test, key=f"{place}.by_method")
            each = per_yield(rate, crop.yield_unit)
            wanted = {
                "base": rate,
                "by_yield": each,
                "by_test": f"{rate} per {test}",
                "by_both": f"{each} per {test}",
                "critical": test,
            }
            for name, terms in crop.sets().items():
                below = f"{place}.by_method.{name}" if name else f"{place}.equation"
                for term, unit in wanted.items():
                    figure: Figure | Fall | None = getattr(terms, term)
                    if figure is not None:
                        check_unit(figure, unit, key=f"{below}.{term}")
                if self.minimum is not None and terms.critical is None:
                    message = f"{below}.critical: missing, where the minimum ends"
                    raise ValueError(message)
