"""What a person is told beside the figures, and beside which of them."""

import tomllib
from collections.abc import Collection
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Literal

from pydantic import TypeAdapter, ValidationError
from pydantic.dataclasses import dataclass as checked

from vrp.agronomy.checks import checks
from vrp.agronomy.complaints import complaint
from vrp.agronomy.figures import STRICT, Cited, Text
from vrp.agronomy.products import Form, Grade, known
from vrp.agronomy.water import Method
from vrp.agronomy.water_rules import Material
from vrp.errors import GuidelineError
from vrp.evidence import Source

Where = Literal[
    "rates",
    "product",
    "placement",
    "water",
    "samples",
    "machine",
    "forecast",
    "general",
]
Trigger = Literal[
    "always",
    "broadcast",
    "carbonate",
    "depth",
    "forecast",
    "gaps",
    "granular",
    "liquid",
    "manure",
    "nitrogen",
    "no-rules",
    "old",
    "over-limit",
    "part-rate",
    "sandy",
    "screen",
    "seed-row",
    "several-rates",
    "sparse",
    "sulfur",
    "unit",
    "untold",
    "very-rich",
    "zones",
]

# Placements that bring fertilizer near the seed.
_NEAR_SEED = ("starter-2x2", "seed-row")


@checked(frozen=True, slots=True, kw_only=True, config=STRICT)
class Entry:
    """
    A caution as its file has it.

    Attributes
    ----------
    code : str
        Its name.
    when : str
        What brings it up.
    where : str
        Beside which part of a page it stands.
    short, text : str
        In few words, and in full; ``{nitrogen}`` and ``{unit}`` are filled in.
    source : Source
        Where it stands, and how far that was checked.
    """

    code: Text
    when: Trigger
    where: Where
    short: Text
    text: Text
    source: Cited


@checked(frozen=True, slots=True, kw_only=True, config=STRICT)
class _File:
    triggers: dict[Trigger, Text]
    cautions: tuple[Entry, ...]


@dataclass(frozen=True, slots=True)
class Caution:
    """
    What to mind, and where it is said.

    Attributes
    ----------
    code : str
        Its name.
    text : str
        In a sentence or two.
    source : Source
        Where it stands, and how far that was checked.
    where : str
        Which part of a page it stands beside: rates, product, placement, water,
        samples, machine, forecast or general.
    short : str
        The same in a few words.
    """

    code: str
    text: str
    source: Source
    where: Where
    short: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """
    What of a map brings cautions up.

    Attributes
    ----------
    codes : collection of str
        Codes of its findings.
    grade : Grade
        The product.
    form : str
        ``granular`` or ``liquid``.
    material : str
        ``fertilizer`` or ``manure``.
    nitrogen : float
        The most N that a rate carries. [unit]
    unit : str
        ``lb/ac`` or ``kg/ha``.
    method : str, optional
        How it is placed, as the field file has it.
    band_factor : float
        Share of the need that a band gets.
    soil_test_method : str
        Method of the laboratory.
    soil_test_unit : str
        Unit of the laboratory.
    as_p2o5 : bool
        Whether it reports P2O5.
    ph : float, optional
        The highest of the samples, where any was given.
    texture : str, optional
        ``sandy``, ``medium`` or ``fine``.
    zones : int
        How many rates differ.
    over_limit : bool
        Whether a zone is above the guideline's limit.
    manure_credit : bool
        Whether manure is credited.
    forecast : bool
        Whether the soil test after the crops is told.
    rules : bool
        Whether rules on water were named.
    water : bool
        Whether water features or heights were given.
    """

    codes: Collection[str]
    grade: Grade
    form: Form
    material: Material
    nitrogen: float
    unit: str
    method: Method | None
    band_factor: float
    soil_test_method: str
    soil_test_unit: str
    as_p2o5: bool
    ph: float | None
    texture: str | None
    zones: int
    over_limit: bool
    manure_credit: bool
    forecast: bool
    rules: bool
    water: bool


@cache
def _file() -> _File:
    text = (files("vrp.agronomy") / "data" / "cautions.toml").read_text("utf-8")
    try:
        return TypeAdapter(_File).validate_python(tomllib.loads(text))
    except ValidationError as error:
        raise GuidelineError(f"cautions.toml: {complaint(error, (_File,))}") from error


def every_caution() -> tuple[tuple[Entry, str], ...]:
    """
    Every caution that can come up.

    Returns
    -------
    tuple of (Entry, str)
        As the file lists them, each with what brings it up in words.
    """
    found = _file()
    return tuple((one, found.triggers[one.when]) for one in found.cautions)


def cautions(case: Case) -> tuple[Caution, ...]:
    """
    Return what a person is told beside the figures of a map.

    Parameters
    ----------
    case : Case
        What of the map brings cautions up.

    Returns
    -------
    tuple of Caution
        In the order of the file; what is known of the product's grade comes last.
    """
    held = _triggers(case)
    figures = {"nitrogen": case.nitrogen, "unit": case.unit}
    told = [
        Caution(
            one.code,
            one.text.format(**figures),
            one.source,
            one.where,
            one.short.format(**figures),
        )
        for one in _file().cautions
        if held[one.when]
    ]
    return (*told, *_of_grade(case))


def _triggers(case: Case) -> dict[Trigger, bool]:
    codes = set(case.codes)
    bray = case.soil_test_method == "bray-p1"
    limit = checks()["bray-p1-high-ph"].at("us").value
    return {
        "always": True,
        "broadcast": case.method == "broadcast",
        "carbonate": bray and (case.ph is None or case.ph > limit),
        "depth": "sampling-depth" in codes,
        "forecast": case.forecast,
        "gaps": bool(codes & {"guideline-unconfirmed", "samples-dropped"}),
        "granular": case.form == "granular",
        "liquid": case.form == "liquid",
        "several-rates": case.zones > 1 and case.form == "granular",
        "manure": case.material == "manure" or case.manure_credit,
        "nitrogen": case.nitrogen > 0.0,
        "no-rules": not case.rules,
        "old": bool(codes & {"samples-old", "samples-undated"}),
        "over-limit": case.over_limit,
        "part-rate": case.band_factor < 1.0,
        "sandy": case.texture == "sandy",
        "screen": case.water or bool(codes & {"p-index", "manure-screen"}),
        "seed-row": case.method == "seed-row",
        "sparse": "samples-sparse" in codes,
        "sulfur": case.grade.sulfur > 0.0,
        "unit": case.as_p2o5 or case.soil_test_unit == "lb/ac",
        "untold": case.method is None,
        "very-rich": "soil-test-very-high" in codes,
        "zones": case.zones > 1,
    }


def _of_grade(case: Case) -> list[Caution]:
    """Return what is known of the grade: handling, and the seed where it is near."""
    plain = known(case.grade)
    if plain is None:
        return []
    lines = list(plain.cautions)
    if plain.seed is not None and case.method in _NEAR_SEED:
        lines.append(plain.seed)
    near = (None, *_NEAR_SEED)
    return [
        Caution(
            "product-seed" if one.near_seed else "product-handling",
            f"{case.grade} ({plain.chemistry}): {one.text}.",
            one.source,
            "product",
            f"{case.grade}: {one.text}",
        )
        for one in lines
        if not one.near_seed or one is plain.seed or case.method in near
    ]
