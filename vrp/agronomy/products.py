"""What a product carries, from its grade, and what is known of plain grades."""

import re
import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Literal

from pydantic import TypeAdapter, ValidationError
from pydantic.dataclasses import dataclass as checked

from vrp.agronomy.complaints import complaint
from vrp.agronomy.figures import STRICT, Cited, Number, Text
from vrp.errors import GuidelineError, InputError
from vrp.evidence import Source
from vrp.units import GALLON, LB, System

Form = Literal["granular", "liquid"]

_GRADE = re.compile(r"(\d+(?:\.\d+)?)-(\d+(?:\.\d+)?)-(\d+(?:\.\d+)?)", re.ASCII)

# 1 lb/gal in kg/L.
LB_GAL = LB / (GALLON * 1000.0)


@dataclass(frozen=True, slots=True)
class Grade:
    """
    A product's grade: N, P2O5, K2O, and S beside it.

    Attributes
    ----------
    nitrogen : float
        N. [percent by weight]
    p2o5 : float
        P2O5. [percent by weight]
    k2o : float
        K2O. [percent by weight]
    sulfur : float
        S, which the grade's text does not say. [percent by weight]
    """

    nitrogen: float
    p2o5: float
    k2o: float
    sulfur: float = 0.0

    @classmethod
    def parse(cls, text: str, *, sulfur: float | None = None) -> "Grade":
        """
        Grade from its usual text.

        Parameters
        ----------
        text : str
            Such as ``11-52-0``: N, P2O5 and K2O in percent by weight.
        sulfur : float, optional
            S. [percent by weight]

        Returns
        -------
        Grade
            The percentages.

        Raises
        ------
        InputError
            If the text is no grade, carries no P2O5, or sums to more than 100 %.

        Examples
        --------
        >>> Grade.parse("11-52-0")
        Grade(nitrogen=11.0, p2o5=52.0, k2o=0.0, sulfur=0.0)
        """
        match = _GRADE.fullmatch(text.strip())
        if match is None:
            message = f"grade {text!r}: write N-P2O5-K2O in percent, such as 11-52-0"
            raise InputError(message)
        nitrogen, p2o5, k2o = (float(part) for part in match.groups())
        grade = cls(nitrogen, p2o5, k2o, sulfur or 0.0)
        if grade.p2o5 == 0.0:
            message = f"grade {text}: carries no P2O5; choose a product that does"
            raise InputError(message)
        total = grade.nitrogen + grade.p2o5 + grade.k2o + grade.sulfur
        if total > 100.0:
            with_s = f" with {sulfur:g} % S" if sulfur else ""
            message = f"grade {text}{with_s}: sums to {total:g} %, more than 100 %"
            raise InputError(message)
        return grade

    def __str__(self) -> str:
        """Return the grade as it is written."""
        return f"{self.nitrogen:g}-{self.p2o5:g}-{self.k2o:g}"

    def product(self, p2o5: float) -> float:
        """
        Product that carries an amount of P2O5.

        Parameters
        ----------
        p2o5 : float
            P2O5, in any unit of mass or of mass per area.

        Returns
        -------
        float
            Product, in the same unit.
        """
        return p2o5 * 100.0 / self.p2o5

    def carried(self, product: float) -> tuple[float, float, float, float]:
        """
        Return the nutrients that an amount of product carries.

        Parameters
        ----------
        product : float
            Product, in any unit of mass or of mass per area.

        Returns
        -------
        tuple of float
            N, P2O5, K2O and S, in the same unit.
        """
        shares = (self.nitrogen, self.p2o5, self.k2o, self.sulfur)
        nitrogen, p2o5, k2o, sulfur = (product * share / 100.0 for share in shares)
        return nitrogen, p2o5, k2o, sulfur


@checked(frozen=True, slots=True, kw_only=True, config=STRICT)
class Property:
    """
    A figure of a product.

    Attributes
    ----------
    value : float
        As printed, in `unit`.
    unit : str
        Its unit, empty for a bare number.
    source : Source
        Where it stands, and how far that was checked.
    """

    value: float
    unit: Literal["", "%", "°F", "lb/gal"]
    source: Cited


@checked(frozen=True, slots=True, kw_only=True, config=STRICT)
class BulkDensity:
    """
    How much a volume of a dry product weighs.

    Attributes
    ----------
    low, high : float
        Ends of the usual range. [lb/ft³]
    unit : str
        Its unit.
    source : Source
        Where it stands, and how far that was checked.
    """

    low: Number
    high: Number
    unit: Literal["lb/ft3"]
    source: Cited


@checked(frozen=True, slots=True, kw_only=True, config=STRICT)
class Caution:
    """
    What to mind with a product.

    Attributes
    ----------
    text : str
        In our words.
    near_seed : bool
        Whether it is for placement near the seed alone.
    source : Source
        Where it stands, and how far that was checked.
    """

    text: Text
    near_seed: bool
    source: Cited


@checked(frozen=True, slots=True, kw_only=True, config=STRICT)
class PlainGrade:
    """
    What is known of a plain grade.

    Attributes
    ----------
    chemistry : str
        What it is made of.
    form : str
        ``granular`` or ``liquid``.
    density : Property, optional
        Of a liquid. [lb/gal]
    bulk_density : BulkDensity, optional
        Of a dry product.
    humidity : Property, optional
        Relative humidity from which it draws water. [%]
    salt_index : Property, optional
        Rise of osmotic pressure, an equal weight of sodium nitrate being 100: compares
        materials, and predicts no injury.
    salts_out : Property, optional
        Temperature at which a liquid forms crystals. [°F]
    seed : Caution, optional
        What is known of it near the seed where that is no warning.
    cautions : tuple of Caution
        What a person should be told.
    """

    chemistry: Text
    form: Form
    density: Property | None = None
    bulk_density: BulkDensity | None = None
    humidity: Property | None = None
    salt_index: Property | None = None
    salts_out: Property | None = None
    seed: Caution | None = None
    cautions: tuple[Caution, ...] = ()


@checked(frozen=True, slots=True, kw_only=True, config=STRICT)
class _Bounds:
    lowest: Property
    highest: Property


@checked(frozen=True, slots=True, kw_only=True, config=STRICT)
class _File:
    density: _Bounds
    products: dict[str, PlainGrade]


@cache
def _file() -> _File:
    text = (files("vrp.agronomy") / "data" / "products.toml").read_text("utf-8")
    try:
        return TypeAdapter(_File).validate_python(tomllib.loads(text))
    except ValidationError as error:
        raise GuidelineError(f"products.toml: {complaint(error, (_File,))}") from error


def plain_grades() -> dict[str, PlainGrade]:
    """
    Every plain grade that something is known of.

    Returns
    -------
    dict of PlainGrade
        By grade, such as ``10-34-0``.
    """
    return dict(_file().products)


def known(grade: Grade) -> PlainGrade | None:
    """
    Return what is known of a grade.

    Parameters
    ----------
    grade : Grade
        The grade.

    Returns
    -------
    PlainGrade or None
        None where nothing is.
    """
    return _file().products.get(str(grade))


def density_unit(system: System) -> str:
    """
    Return the unit of a liquid's density.

    Parameters
    ----------
    system : str
        ``us`` or ``metric``.

    Returns
    -------
    str
        Pounds a gallon, or kilograms a litre.
    """
    return "lb/gal" if system == "us" else "kg/L"


def shipped_density(grade: Grade, *, system: System) -> tuple[float, Source] | None:
    """
    Density of a plain liquid grade, to propose and not to use unasked.

    Parameters
    ----------
    grade : Grade
        The grade.
    system : str
        ``us`` or ``metric``, for the unit.

    Returns
    -------
    tuple of (float, Source) or None
        Density and where it stands; None where none is known. [lb/gal or kg/L]

    Examples
    --------
    >>> shipped_density(Grade.parse("10-34-0"), system="us")[0]
    11.65
    """
    plain = known(grade)
    if plain is None or plain.density is None:
        return None
    return _in_system(plain.density.value, system), plain.density.source


def density_bounds(*, system: System) -> tuple[float, float]:
    """
    Lowest and highest density that a liquid fertilizer may have.

    Parameters
    ----------
    system : str
        ``us`` or ``metric``, for the unit.

    Returns
    -------
    tuple of float
        Both ends, our choice. [lb/gal or kg/L]
    """
    bounds = _file().density
    low, high = (one.value for one in (bounds.lowest, bounds.highest))
    return _in_system(low, system), _in_system(high, system)


def liquid_density(grade: Grade, density: float | None, *, system: System) -> float:
    """
    Density of a liquid as given; one that is missing or a slip is refused.

    Parameters
    ----------
    grade : Grade
        The product's grade.
    density : float, optional
        As given. [lb/gal or kg/L]
    system : str
        ``us`` or ``metric``, for the unit.

    Returns
    -------
    float
        The density. [lb/gal or kg/L]

    Raises
    ------
    InputError
        If it is missing, with the one that ships for the grade where there is one, or
        if no liquid fertilizer can have it.
    """
    unit = density_unit(system)
    if density is None:
        message = f"density is missing: a liquid is spread by volume, so {grade} needs "
        message += f"its weight in {unit}, from the product's own sheet"
        shipped = shipped_density(grade, system=system)
        if shipped is not None:
            value, source = shipped
            message += f"; about {value:g} {unit} is known ({source.status}: "
            message += f"{source.where}): write density = {value:g} if yours agrees"
        raise InputError(message)
    low, high = density_bounds(system=system)
    if not low <= density <= high:
        message = (
            f"density of {density:g} {unit}: a liquid that carries P2O5 has {low:g} to "
            f"{high:g} {unit}; check the unit"
        )
        raise InputError(message)
    return density


def _in_system(density: float, system: System) -> float:
    return density if system == "us" else float(f"{density * LB_GAL:.4g}")
