"""One crop with its yield goal, in the unit of its guideline."""

from dataclasses import dataclass
from typing import Literal

from vrp.agronomy.forms import Crop, Guideline
from vrp.agronomy.guidelines import crop_of
from vrp.errors import GuidelineError
from vrp.units import YieldUnit, tonnes_per_hectare


@dataclass(frozen=True, slots=True)
class Season:
    """
    One crop with its yield goal.

    Attributes
    ----------
    crop : str
        Id of a crop of the guideline.
    yield_goal : float
        Yield that is aimed at. [yield_unit]
    yield_unit : str
        bu/ac, ton/ac or t/ha.
    residue : str, optional
        ``left`` or ``removed``.
    """

    crop: str
    yield_goal: float
    yield_unit: YieldUnit
    residue: Literal["left", "removed"] | None = None


def yield_in_guideline(guideline: Guideline, season: Season) -> float:
    """
    Yield goal in the unit that the guideline uses for the crop.

    Parameters
    ----------
    guideline : Guideline
        Where the crop's unit comes from.
    season : Season
        The crop and its yield goal.

    Returns
    -------
    float
        The goal, untouched where the units are the same, else to three decimals (our
        choice). [the crop's yield_unit]

    Raises
    ------
    GuidelineError
        If the crop is unknown, the goal not above zero, or bushels have no weight.
    """
    crop = crop_of(guideline, season.crop)
    if not season.yield_goal > 0.0:
        message = (
            f"{season.crop}: yield goal of {season.yield_goal:g} {season.yield_unit} "
            "must be above 0"
        )
        raise GuidelineError(message)
    if season.yield_unit == crop.yield_unit:
        return season.yield_goal
    if season.yield_unit == "bu/ac" and crop.bushel is None:
        message = (
            f"{season.crop}: the guideline gives no weight of a bushel; write the "
            f"yield goal in {crop.yield_unit}"
        )
        raise GuidelineError(message)
    tonnes = _tonnes(season.yield_goal, season.yield_unit, crop)
    return round(tonnes / _tonnes(1.0, crop.yield_unit, crop), 3)


def _tonnes(value: float, unit: YieldUnit, crop: Crop) -> float:
    pounds = None if crop.bushel is None else crop.bushel.value
    return tonnes_per_hectare(value, unit, pounds)
