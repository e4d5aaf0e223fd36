"""Published guidelines: read from their text, every figure with its own source."""

import tomllib
from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from importlib.resources import files
from typing import Annotated, Any, TypeVar

from pydantic import Field, TypeAdapter, ValidationError

from vrp.agronomy.complaints import complaint, nearest
from vrp.agronomy.forms import (
    BuildUpMaintenance,
    ClassTable,
    Crop,
    EquationGuideline,
    Guideline,
    IndexTable,
    PointsGuideline,
)
from vrp.agronomy.soil_test import METHODS
from vrp.errors import GuidelineError
from vrp.units import System, YieldUnit

__all__ = [
    "Guideline",
    "chosen",
    "crop_of",
    "parse",
    "schema",
    "settled",
    "shipped",
    "yield_unit",
]

_FORMS = (
    BuildUpMaintenance,
    IndexTable,
    ClassTable,
    EquationGuideline,
    PointsGuideline,
)
_GUIDELINE: TypeAdapter[Guideline] = TypeAdapter(
    Annotated[
        BuildUpMaintenance
        | IndexTable
        | ClassTable
        | EquationGuideline
        | PointsGuideline,
        Field(discriminator="form"),
    ]
)
_Part = TypeVar("_Part")
_Key = TypeVar("_Key")


def parse(text: str, name: str) -> Guideline:
    """
    Guideline from its TOML text.

    Parameters
    ----------
    text : str
        The guideline, as in ``vrp/agronomy/data/guidelines``.
    name : str
        What messages call it.

    Returns
    -------
    Guideline
        Its figures as published.

    Raises
    ------
    GuidelineError
        If a figure, its source or the citation is missing, a key or unit unknown, or a
        table out of order.
    """
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise GuidelineError(f"{name}: not valid TOML: {error}") from error
    try:
        return _GUIDELINE.validate_python(table)
    except ValidationError as error:
        raise GuidelineError(f"{name}: {complaint(error, _FORMS)}") from error


def schema() -> dict[str, Any]:
    """
    Return the JSON Schema of a guideline file.

    Returns
    -------
    dict
        For any form.
    """
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **_GUIDELINE.json_schema(),
        "title": "vrp guideline file",
    }


@cache
def _shipped() -> tuple[tuple[str, Guideline], ...]:
    folder = files("vrp.agronomy") / "data" / "guidelines"
    texts = {file.name: file.read_text("utf-8") for file in folder.iterdir()}
    return tuple(
        (name.removesuffix(".toml"), parse(texts[name], name)) for name in sorted(texts)
    )


def shipped() -> dict[str, Guideline]:
    """
    Every guideline that ships with vrp.

    Returns
    -------
    dict of Guideline
        By id.
    """
    return dict(_shipped())


def settled(
    guideline: Guideline,
    *,
    method: str,
    region: str | None = None,
    build_years: int | None = None,
) -> Guideline:
    """
    Return a guideline with one set of figures left of each that it prints.

    Parameters
    ----------
    guideline : Guideline
        As published.
    method : str
        Id of the method of the soil tests.
    region : str, optional
        One of its regions; needed where it has several, refused where it has none.
    build_years : int, optional
        Years of build-up, one of its options; needed where it prints several, refused
        where it prints none.

    Returns
    -------
    Guideline
        The same where there is nothing to choose. A method that it was not made for is
        left to the check of the samples where its figures do not differ by method.

    Raises
    ------
    GuidelineError
        If a choice is missing, unknown or not the guideline's, or if its figures differ
        by method and none are for this one.
    """
    title, region_key, years_key = guideline.title, "need.region", "need.build_years"
    if isinstance(guideline, BuildUpMaintenance):
        regions = _pick(guideline.regions, region, key=region_key, title=title)
        years = guideline.build_up_years
        options = {} if years is None else {one: one for one in years.values}
        left = _pick(options, build_years, key=years_key, title=title)
        if years is not None:
            years = replace(years, values=tuple(left))
        return replace(guideline, regions=regions, build_up_years=years)
    _pick({}, region, key=region_key, title=title)
    _pick({}, build_years, key=years_key, title=title)
    apart = isinstance(guideline, ClassTable | EquationGuideline) and any(
        crop.by_method for crop in guideline.crops.values()
    )
    if not apart:
        return guideline
    accepted = guideline.soil_test.methods
    if method not in accepted:
        known = " or ".join(METHODS[one] for one in accepted)
        message = (
            f"{title!r} has no figures for soil tests by "
            f"{METHODS.get(method, method)}: it has them for {known}"
        )
        raise GuidelineError(message)
    tested = replace(guideline.soil_test, methods={method: accepted[method]})
    crops = {key: _narrowed(crop, method) for key, crop in guideline.crops.items()}
    return replace(guideline, soil_test=tested, crops=crops)


def _pick(
    options: Mapping[_Key, _Part], wanted: _Key | None, *, key: str, title: str
) -> dict[_Key, _Part]:
    """Return the one option that was asked for, or is the only one."""
    known = ", ".join(str(one) for one in options)
    if wanted is None:
        if len(options) > 1:
            raise GuidelineError(f"{key} is missing: {title!r} has {known}")
        return dict(options)
    if not options:
        raise GuidelineError(f"{key} = {wanted}: {title!r} has none; leave it out")
    if wanted not in options:
        hint = nearest(str(wanted), [str(one) for one in options])
        raise GuidelineError(
            f"{key} = {wanted} is not in {title!r}{hint}: it has {known}"
        )
    return {wanted: options[wanted]}


def _narrowed(crop: Crop, method: str) -> Crop:
    by_method: Mapping[str, Any] = getattr(crop, "by_method", {})
    if not by_method:
        return crop
    left: dict[str, Any] = {"by_method": {method: by_method[method]}}
    return replace(crop, **left)


def chosen(sets: Mapping[str, _Part], title: str) -> _Part:
    """
    Return the figures that `settled` left of a crop's.

    Parameters
    ----------
    sets : Mapping
        Figures by method of soil test.
    title : str
        Title of the guideline, for the message.

    Returns
    -------
    object
        The one set.

    Raises
    ------
    GuidelineError
        If there are several.
    """
    if len(sets) > 1:
        message = (
            f"{title!r} tells methods of soil test apart: choose one of "
            f"{', '.join(sets)}"
        )
        raise GuidelineError(message)
    (one,) = sets.values()
    return one


def crop_of(guideline: Guideline, crop: str) -> Crop:
    """
    One crop of a guideline.

    Parameters
    ----------
    guideline : Guideline
        Where it is looked for.
    crop : str
        Its id.

    Returns
    -------
    Crop
        What the guideline says of it.

    Raises
    ------
    GuidelineError
        If the guideline has no such crop.
    """
    if crop not in guideline.crops:
        known = ", ".join(guideline.crops)
        message = (
            f"crop {crop!r} is not in {guideline.title!r}"
            f"{nearest(crop, guideline.crops)}: it has {known}"
        )
        raise GuidelineError(message)
    return guideline.crops[crop]


def yield_unit(guideline: Guideline, crop: str, *, system: System) -> YieldUnit:
    """
    Return the unit in which a yield goal is written.

    Parameters
    ----------
    guideline : Guideline
        Where the crop is looked for.
    crop : str
        Its id.
    system : str
        ``us`` or ``metric``.

    Returns
    -------
    str
        t/ha in metric; otherwise the guideline's own bu/ac or ton/ac, or bu/ac where
        the crop has a bushel weight, or ton/ac.
    """
    found = crop_of(guideline, crop)
    if system == "metric":
        return "t/ha"
    if found.yield_unit != "t/ha":
        return found.yield_unit
    return "ton/ac" if found.bushel is None else "bu/ac"
