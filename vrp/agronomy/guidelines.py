"""Published guidelines: read from their text, every figure with its own source."""

import tomllib
from functools import cache
from importlib.resources import files
from typing import Annotated

from pydantic import Field, TypeAdapter, ValidationError

from vrp.agronomy.complaints import complaint, nearest
from vrp.agronomy.forms import (
    BuildUpMaintenance,
    ClassTable,
    Crop,
    Guideline,
    IndexTable,
)
from vrp.errors import GuidelineError
from vrp.units import System, YieldUnit

__all__ = ["Guideline", "crop_of", "parse", "shipped", "yield_unit"]

_FORMS = (BuildUpMaintenance, IndexTable, ClassTable)
_GUIDELINE: TypeAdapter[Guideline] = TypeAdapter(
    Annotated[BuildUpMaintenance | IndexTable | ClassTable, Field(discriminator="form")]
)


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
