"""P2O5 in the ground beside the need: for information, never taken off it."""

import tomllib
from functools import cache
from importlib.resources import files
from typing import Annotated

from pydantic import Field, TypeAdapter
from pydantic.dataclasses import dataclass

from vrp.agronomy.figures import STRICT, Cited, Text
from vrp.evidence import LedgerLine, Source
from vrp.units import ACRE, INCH, KG_HA, LB, P2O5_PER_P, RateUnit

_part = dataclass(frozen=True, slots=True, kw_only=True, config=STRICT)

# A gram in a cubic centimetre is 1000 kg in a cubic metre.
_DENSITY = 1000.0
_WHY = "a calibrated soil test holds it already, so it is not taken off the need"


@_part
class Measure:
    """
    A figure with its unit and source.

    Attributes
    ----------
    value : float
        As printed. [unit]
    unit : str
        The unit that it is printed in.
    source : Source
        Where it stands, and how far that was checked.
    """

    value: Annotated[float, Field(gt=0)]
    unit: Text
    source: Cited


@cache
def _figures() -> dict[str, dict[str, Measure]]:
    text = (files("vrp.agronomy") / "data" / "inventory.toml").read_text("utf-8")
    kind = TypeAdapter(dict[str, dict[str, Measure]])
    return kind.validate_python(tomllib.loads(text))


def bulk_density() -> float:
    """
    Return the density that makes an acre furrow slice weigh what laboratories take.

    Returns
    -------
    float
        Derived from 2,000,000 lb in 6 2/3 in. [g/cm³]

    Examples
    --------
    2,000,000 / (6 2/3 × 226,613) is 1.324:

    >>> round(bulk_density(), 3)
    1.324
    """
    one = _figures()["bulk-density"]
    volume = ACRE * one["slice_depth"].value * INCH
    return one["slice"].value * LB / volume / _DENSITY


def soil_p(
    soil_test: float, *, depth: float, density: float | None, unit: RateUnit
) -> float:
    """
    Return the extracted P in a layer of soil.

    Parameters
    ----------
    soil_test : float
        By mass [ppm], or by volume [mg/L] where `density` is None.
    depth : float
        Of the layer. [cm]
    density : float or None
        Bulk density. [g/cm³]
    unit : str
        lb/ac or kg/ha.

    Returns
    -------
    float
        P. [unit]

    Examples
    --------
    15 cm at 1.3 g/cm³ hold 1.95 kg/ha for each ppm:

    >>> round(soil_p(1.0, depth=15.0, density=1.3, unit="kg/ha"), 2)
    1.95
    """
    by_mass = 1.0 if density is None else density
    # mg in a litre, or ppm at 1 g/cm³, are 0.1 kg/ha in each centimetre.
    return soil_test * depth * 0.1 * by_mass / KG_HA[unit]


def lines(
    soil_test: float,
    *,
    test_unit: str,
    depth: float,
    density: float | None,
    organic_matter: float | None,
    unit: RateUnit,
) -> tuple[LedgerLine, ...]:
    """
    Return what stands in the ground, as lines beside a need.

    Parameters
    ----------
    soil_test : float
        Of the zone. [test_unit]
    test_unit : str
        ppm, mg/L, or lb/ac, which is twice the ppm.
    depth : float
        Of the samples. [cm]
    density : float, optional
        Bulk density, else the furrow slice's. [g/cm³]
    organic_matter : float, optional
        Mean of the zone's samples. [percent]
    unit : str
        lb/ac or kg/ha.

    Returns
    -------
    tuple of LedgerLine
        The extracted P as P2O5, and what organic matter sets free in a year.
    """
    mass, area = unit.split("/")
    p2o5 = f"{mass} P2O5/{area}"
    used = bulk_density() if density is None else density
    value = soil_test / 2.0 if test_unit == "lb/ac" else soil_test
    by_volume = test_unit == "mg/L"
    each = soil_p(1.0, depth=depth, density=None if by_volume else used, unit=unit)
    factor, p2o5_per_p = round(each, 4), round(P2O5_PER_P, 4)
    stock = value * factor * p2o5_per_p
    of = "mg/L" if by_volume else "ppm"
    arithmetic = f"{value:g} × {factor:g} × {p2o5_per_p:g} = {stock:.1f}"
    dug = f"{depth / (100.0 * INCH):.4g} in" if unit == "lb/ac" else f"{depth:g} cm"
    rule = f"{of} × {mass}/{area} of P in 0–{dug} for each"
    rule += "" if by_volume else f" at {used:.4g} g/cm³"
    given = Source("given", "field file: depth and bulk_density")
    one = _figures()["bulk-density"]["slice"]
    default = Source(
        "computed", f"density of {one.value:,.0f} lb in 6 2/3 in of an acre"
    )
    source = Source("given", "field file: depth") if by_volume else given
    source = default if density is None and not by_volume else source
    found = [
        LedgerLine(
            "beside it: soil inventory",
            arithmetic,
            round(stock, 1),
            p2o5,
            f"{rule}, as P2O5; {_WHY}",
            source,
        )
    ]
    if organic_matter is not None:
        ends = _figures()["organic-matter"]
        factors = [
            round(ends[key].value * KG_HA["lb/ac"] / KG_HA[unit], 2)
            for key in ("low", "high")
        ]
        freed = [organic_matter * each for each in factors]
        arithmetic = "; ".join(
            f"{organic_matter:g} × {each:g} = {one:.1f}"
            for each, one in zip(factors, freed, strict=True)
        )
        found.append(
            LedgerLine(
                "beside it: organic matter",
                arithmetic,
                round(sum(freed) / 2.0, 1),
                p2o5,
                f"percent of organic matter × what each sets free in a year; {_WHY}",
                ends["high"].source,
            )
        )
    return tuple(found)
