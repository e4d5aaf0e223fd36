"""Prices per nutrient, costs, and how often phosphate raised a yield."""

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from pydantic import TypeAdapter, ValidationError
from pydantic.dataclasses import dataclass as checked

from vrp.agronomy.complaints import complaint
from vrp.agronomy.figures import STRICT, Cited, Number, Text
from vrp.agronomy.products import Form, Grade
from vrp.errors import GuidelineError, InputError
from vrp.evidence import LedgerLine
from vrp.units import LB, SHORT_TON, System


def price_per_nutrient(price: float, *, mass: float, percent: float) -> float:
    """
    Price of a nutrient in a product that carries no other of worth.

    Parameters
    ----------
    price : float
        Price of the product by its unit, such as a ton.
    mass : float
        Mass of that unit. [lb or kg]
    percent : float
        Nutrient. [percent by weight]

    Returns
    -------
    float
        Price by unit of mass of the nutrient.

    References
    ----------
    Guide A-133, New Mexico State University, http://aces.nmsu.edu/pubs/_a/A133/.

    Examples
    --------
    0-46-0 at 996 a ton of 2000 lb holds 920 lb P2O5:

    >>> round(price_per_nutrient(996.0, mass=2000.0, percent=46.0), 2)
    1.08
    """
    return price / (mass * percent / 100.0)


def price_of_p2o5(
    price: float, grade: Grade, *, mass: float, nitrogen_price: float | None = None
) -> float:
    """
    Price of the P2O5 in a product, its N priced first where it has a price.

    Parameters
    ----------
    price : float
        Price of the product by its unit, such as a ton.
    grade : Grade
        What the product carries.
    mass : float
        Mass of that unit. [lb or kg]
    nitrogen_price : float, optional
        Price by unit of mass of N.

    Returns
    -------
    float
        Price by unit of mass of P2O5.

    Raises
    ------
    InputError
        If the N alone is worth more than the product.

    References
    ----------
    Guide A-133, New Mexico State University, http://aces.nmsu.edu/pubs/_a/A133/: a
    price to the N first, the rest divided by the P2O5.
    """
    nitrogen = mass * grade.nitrogen / 100.0 * (nitrogen_price or 0.0)
    if nitrogen > price:
        message = (
            f"{grade} at a price of {price:g}: its N alone is worth {nitrogen:.2f} at "
            f"a nitrogen_price of {nitrogen_price:g}; check both prices and their units"
        )
        raise InputError(message)
    return price_per_nutrient(price - nitrogen, mass=mass, percent=grade.p2o5)


def priced_by(form: Form, *, system: System) -> tuple[float, str]:
    """
    Return how much product a price is for.

    Parameters
    ----------
    form : str
        ``granular`` or ``liquid``.
    system : str
        ``us`` or ``metric``.

    Returns
    -------
    tuple of (float, str)
        Units of the rate in the unit of the price, and its name: 2000 lb in a ton,
        1000 kg in a tonne, a gallon, a litre.
    """
    if form == "liquid":
        return 1.0, "gal" if system == "us" else "L"
    return (SHORT_TON / LB, "ton") if system == "us" else (1000.0, "tonne")


@checked(frozen=True, slots=True, kw_only=True, config=STRICT)
class _ByWord:
    word: Text
    chance: Number
    under: bool = False

    @property
    def said(self) -> str:
        return f"{'under ' if self.under else ''}{self.chance:g} %"


@checked(frozen=True, slots=True, kw_only=True, config=STRICT)
class _ByTest:
    low: Number
    high: Number | None = None
    chance: Number

    @property
    def word(self) -> str:
        end = "and more" if self.high is None else f"to {self.high:g}"
        return f"{self.low:g} {end} ppm"

    @property
    def said(self) -> str:
        return f"{self.chance:g} %"


@checked(frozen=True, slots=True, kw_only=True, config=STRICT)
class _Published:
    where: Text
    publisher: Text
    crops: tuple[Text, ...]
    methods: tuple[Text, ...]
    classes: tuple[_ByWord, ...] = ()
    tests: tuple[_ByTest, ...] = ()
    source: Cited


@checked(frozen=True, slots=True, kw_only=True, config=STRICT)
class _Warning:
    text: Text
    source: Cited


@checked(frozen=True, slots=True, kw_only=True, config=STRICT)
class _File:
    caution: _Warning
    published: tuple[_Published, ...]


@cache
def _file() -> _File:
    text = (files("vrp.agronomy") / "data" / "response.toml").read_text("utf-8")
    try:
        return TypeAdapter(_File).validate_python(tomllib.loads(text))
    except ValidationError as error:
        raise GuidelineError(f"response.toml: {complaint(error, (_File,))}") from error


@dataclass(frozen=True, slots=True)
class Case:
    """
    What decides whether a published chance of a response fits.

    Attributes
    ----------
    publisher : str
        Who published the guideline.
    crop : str
        Id of the season's crop.
    method : str
        Id of the soil test's method.
    word : str
        Class of the soil test by the guideline.
    soil_test : float, optional
        Soil test; publications class whole numbers. None where it is no mass. [ppm]
    """

    publisher: str
    crop: str
    method: str
    word: str
    soil_test: float | None


def response(case: Case) -> LedgerLine | None:
    """
    Line that tells how often phosphate raised the yield at such a soil test.

    Parameters
    ----------
    case : Case
        Guideline, crop, method, class and soil test.

    Returns
    -------
    LedgerLine or None
        For information: no rate is made from it. None where the guideline's state, the
        crop or the method is not that of a publication, or where it has no such class.
    """
    for one in _file().published:
        if (
            one.publisher in case.publisher
            and case.crop in one.crops
            and case.method in one.methods
        ):
            found = _row(one, case)
            if found is None:
                return None
            caution = _file().caution
            rule = (
                f"beside it, for information: how often phosphate raised the yield in "
                f"{one.where}; {caution.text} ({caution.source.status}: "
                f"{caution.source.where})"
            )
            return LedgerLine(
                "chance of a yield response",
                f"{found.word}: {found.said}",
                found.chance,
                "%",
                rule,
                one.source,
            )
    return None


def _row(published: _Published, case: Case) -> _ByWord | _ByTest | None:
    word = case.word.casefold()
    for by_word in published.classes:
        if by_word.word == word:
            return by_word
    if case.soil_test is None:
        return None
    # Limits are printed in whole ppm; half goes up, our choice.
    whole = int(case.soil_test + 0.5)
    for by_test in published.tests:
        if by_test.low <= whole <= (by_test.high or whole):
            return by_test
    return None
