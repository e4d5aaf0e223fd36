"""The model of the form that replaces removal and lifts a poor soil."""

from typing import Annotated, Literal

from pydantic import Field

from vrp.agronomy.figures import Cited, Figure, Rule, TestUnit, Text, check_unit
from vrp.agronomy.forms.guideline import Crop, Guideline, part, per_yield

Year = Annotated[int, Field(strict=True, gt=0)]


@part
class Years:
    """
    Years over which a whole build-up is spread; several are a choice.

    Attributes
    ----------
    values : tuple of int
        The printed options, rising.
    unit : str
        Always years.
    source : Source
        Where they stand, and how far that was checked.
    """

    values: Annotated[tuple[Year, ...], Field(min_length=1)]
    unit: Literal["years"]
    source: Cited

    def __post_init__(self) -> None:
        """Refuse options out of order."""
        if list(self.values) != sorted(set(self.values)):
            raise ValueError("values must rise")

    def __str__(self) -> str:
        """Return the options with their unit."""
        return f"{', '.join(str(value) for value in self.values)} years"


@part
class Levels:
    """
    Soil tests that part build-up, maintenance and no need.

    Attributes
    ----------
    critical : Figure
        Soil test below which the soil is built up.
    limit : Figure
        Soil test up to which removal is replaced.
    zero : Figure, optional
        Soil test from which nothing is needed, the rate falling in a straight line from
        the limit on; absent: nothing is needed above the limit.
    """

    critical: Figure
    limit: Figure
    zero: Figure | None = None


@part
class Region(Levels):
    """
    Levels that hold on the soils of a region.

    Attributes
    ----------
    name : str
        In plain words.
    """

    name: Text


@part
class Rotation(Levels):
    """
    Levels that hold for every crop of a rotation with certain crops in it.

    Attributes
    ----------
    crops : tuple of str
        The crops that bring the levels in.
    """

    crops: tuple[Text, ...]


@part
class BuildUpCrop(Crop):
    """
    A crop of the build-up and maintenance form.

    Attributes
    ----------
    critical : Figure, optional
        Soil test below which the soil is built up; absent where regions give it.
    limit : Figure, optional
        Soil test up to which removal is replaced; absent where regions give it.
    zero : Figure, optional
        Soil test from which nothing is needed, the rate falling in a straight line from
        the limit on; absent: nothing is needed above the limit.
    removal : Figure
        P2O5 that a unit of yield takes away.
    """

    critical: Figure | None = None
    limit: Figure | None = None
    zero: Figure | None = None
    removal: Figure

    def levels(self) -> Levels | None:
        """
        Return the crop's own levels.

        Returns
        -------
        Levels or None
            None where regions give them.
        """
        if self.critical is None or self.limit is None:
            return None
        return Levels(critical=self.critical, limit=self.limit, zero=self.zero)


@part
class BuildUpMaintenance(Guideline):
    """
    A guideline that replaces removal, and lifts a poor soil to a critical level.

    Attributes
    ----------
    level : str
        What the guideline calls the level that it builds up to.
    build_up : Figure, optional
        P2O5 for each unit of soil test that is lacking: each year, or as a whole where
        `build_up_years` divides it. Absent: removal alone is replaced.
    build_up_years : Years, optional
        Years over which a whole build-up is spread.
    drawdown : Rule, optional
        How the rate falls between a limit and a zero level; needed where there is one.
    pooled_years : Figure, optional
        Years that one maintenance application may cover; absent: one.
    rotation : Rotation, optional
        Levels that hold with certain crops in the rotation.
    regions : dict of Region
        Levels by region, for all crops; where there are any, crops have none.
    crops : dict of BuildUpCrop
        By id.
    """

    form: Literal["build-up-maintenance"]
    level: Literal["critical level", "target"] = "critical level"
    build_up: Figure | None = None
    build_up_years: Years | None = None
    drawdown: Rule | None = None
    pooled_years: Figure | None = None
    rotation: Rotation | None = None
    regions: dict[str, Region] = Field(default_factory=dict)
    crops: Annotated[dict[str, BuildUpCrop], Field(min_length=1)]

    def __post_init__(self) -> None:
        """Refuse units that do not fit together, and levels out of order."""
        Guideline.__post_init__(self)
        test = self.soil_test.unit
        if self.build_up is not None:
            check_unit(self.build_up, f"{self.p2o5_unit} per {test}", key="build_up")
        elif self.build_up_years is not None:
            raise ValueError("build_up_years: needs build_up, which they divide")
        if self.pooled_years is not None:
            check_unit(self.pooled_years, "years", key="pooled_years")
        every: list[Levels | BuildUpCrop | None] = [self.rotation]
        every += [*self.regions.values(), *self.crops.values()]
        if self.drawdown is None and any(one and one.zero for one in every):
            raise ValueError("drawdown: missing, how the rate falls to a zero level")
        for key, crop in self.crops.items():
            levels = crop.levels()
            if (levels is None) != bool(self.regions) or (
                levels is None and (crop.critical or crop.limit or crop.zero)
            ):
                message = f"crops.{key}: give critical and limit, or [regions] for all"
                raise ValueError(message)
            if levels is not None:
                _check(levels, test, key=f"crops.{key}")
            wanted = per_yield(self.p2o5_unit, crop.yield_unit)
            check_unit(crop.removal, wanted, key=f"crops.{key}.removal")
        for key, region in self.regions.items():
            _check(region, test, key=f"regions.{key}")
        if self.rotation is not None:
            if self.regions:
                raise ValueError("rotation: not together with [regions]")
            _check(self.rotation, test, key="rotation")
            for crop_id in self.rotation.crops:
                if crop_id not in self.crops:
                    raise ValueError(f"rotation.crops: no {crop_id!r} among the crops")


def _check(part: Levels, unit: TestUnit, *, key: str) -> None:
    check_unit(part.critical, unit, key=f"{key}.critical")
    check_unit(part.limit, unit, key=f"{key}.limit")
    if part.limit.value < part.critical.value:
        message = (
            f"{key}.limit: must be at least the critical level of {part.critical}, got "
            f"{part.limit}"
        )
        raise ValueError(message)
    if part.zero is None:
        return
    check_unit(part.zero, unit, key=f"{key}.zero")
    if part.zero.value <= part.limit.value:
        message = (
            f"{key}.zero: must be above the limit of {part.limit}, got {part.zero}"
        )
        raise ValueError(message)
