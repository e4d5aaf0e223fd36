"""Named conversions of one soil test into another: published lines, with limits."""

import tomllib
from collections.abc import Sequence
from functools import cache
from importlib.resources import files
from typing import Annotated, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from pydantic import Field, TypeAdapter, ValidationError
from pydantic.dataclasses import dataclass

from vrp.agronomy.complaints import complaint, nearest
from vrp.agronomy.figures import STRICT, Cited, Number, Text
from vrp.agronomy.soil_test import METHODS
from vrp.errors import GuidelineError, InputError
from vrp.evidence import shown

Share = Annotated[float, Field(strict=True, gt=0, le=1)]
Positive = Annotated[float, Field(strict=True, gt=0)]

_part = dataclass(frozen=True, slots=True, kw_only=True, config=STRICT)


@_part
class Bounds:
    """
    Where a line holds.

    Attributes
    ----------
    above : float, optional
        It holds above this, not at it.
    least : float, optional
        It holds from here on.
    most : float, optional
        It holds up to here.
    source : Source
        Who says so.
    """

    above: Number | None = None
    least: Number | None = None
    most: Number | None = None
    source: Cited

    def hold(self, values: ArrayLike) -> NDArray[np.bool_]:
        """
        Return which values lie within the bounds.

        Parameters
        ----------
        values : array_like, shape (n,)
            NaN lies within: what is not known is not held against anyone.

        Returns
        -------
        numpy.ndarray of bool, shape (n,)
            True within.
        """
        given = np.asarray(values, dtype=np.float64)
        held = np.ones(given.shape, dtype=bool)
        if self.above is not None:
            held &= ~(given <= self.above)
        if self.least is not None:
            held &= ~(given < self.least)
        if self.most is not None:
            held &= ~(given > self.most)
        return held

    def __str__(self) -> str:
        """Return the bounds in words."""
        words = []
        if self.above is not None:
            words.append(f"above {self.above:g}")
        if self.least is not None:
            words.append(f"from {self.least:g}")
        if self.most is not None:
            words.append(f"up to {self.most:g}")
        return " ".join(words)


@_part
class Conversion:
    """
    A published line from one soil test to another.

    Attributes
    ----------
    id : str
        Its name, in files and under ``[samples]``.
    from_method, to_method : str
        Ids of the method that was run and of the one that the line estimates.
    factor, divisor : float, optional
        What the test is multiplied or divided by, as printed: one of the two.
    intercept : float
        What is added. [unit]
    unit : str
        Of both tests.
    region : str
        Whose soils it was made for.
    range : Bounds, optional
        Of the test that goes in; none where no range was seen in print. [unit]
    soil : Bounds, optional
        pH of the soils that it is for.
    r2 : float, optional
        Share of the variation that it explains; none where no figure was seen.
    source : Source
        Where it stands, and how far that was checked.
    caution : str
        What to know before it is used.
    """

    id: Text
    from_method: Text
    to_method: Text
    factor: Positive | None = None
    divisor: Positive | None = None
    intercept: Annotated[float, Field(strict=True)] = 0.0
    unit: Literal["ppm"]
    region: Text
    range: Bounds | None = None
    soil: Bounds | None = None
    r2: Share | None = None
    source: Cited
    caution: Text

    def __post_init__(self) -> None:
        """Refuse methods that are not known, and a slope that is not one figure."""
        for method in (self.from_method, self.to_method):
            if method not in METHODS:
                raise ValueError(f"{method!r} is no method{nearest(method, METHODS)}")
        if (self.factor is None) == (self.divisor is None):
            raise ValueError("needs either factor or divisor")

    @property
    def slope(self) -> float:
        """
        Return what the result rises by for each ppm.

        Returns
        -------
        float
            The factor, or one over the divisor.
        """
        return self.factor if self.factor is not None else 1.0 / (self.divisor or 1.0)

    def at(self, values: ArrayLike) -> NDArray[np.float64]:
        """
        Return the line at soil tests, within its range or not.

        Parameters
        ----------
        values : array_like, shape (n,)
            Tests by `from_method`. [unit]

        Returns
        -------
        numpy.ndarray, shape (n,)
            Estimated tests by `to_method`, not rounded. [unit]
        """
        given = np.asarray(values, dtype=np.float64)
        if self.divisor is not None:
            return given / self.divisor + self.intercept
        return given * self.slope + self.intercept

    def arithmetic(self, value: float | str) -> str:
        """
        Return the line as it is worked with a pencil, without its result.

        Parameters
        ----------
        value : float or str
            Test by `from_method`, or a word for it.

        Returns
        -------
        str
            Such as ``22 × 0.832 − 8.08``.
        """
        given = value if isinstance(value, str) else shown(value)
        steps = f"{given} × {self.factor:g}" if self.factor else ""
        steps = steps or f"{given} / {self.divisor:g}"
        if self.intercept:
            sign = "−" if self.intercept < 0.0 else "+"
            steps += f" {sign} {abs(self.intercept):g}"
        return steps

    @property
    def equation(self) -> str:
        """
        Return the line in words.

        Returns
        -------
        str
            Such as ``Bray P1 = (Mehlich-3, read by ICP) × 0.832 − 8.08``.
        """
        before, after = METHODS[self.from_method], METHODS[self.to_method]
        if "," in before:
            before = f"({before})"
        return f"{after} = {self.arithmetic(before)}"

    @property
    def limits(self) -> str:
        """
        Return region, range and R² in words.

        Returns
        -------
        str
            One phrase, no figure left out in silence.
        """
        held = f"{self.range} {self.unit}" if self.range else "no range seen in print"
        fit = "no R² seen in print" if self.r2 is None else f"R² {self.r2:g}"
        return f"{self.region}; {held}; {fit}"


_CONVERSIONS = TypeAdapter(dict[str, Conversion])


@cache
def _conversions() -> dict[str, Conversion]:
    text = (files("vrp.agronomy") / "data" / "conversions.toml").read_text("utf-8")
    table = {name: {"id": name, **entry} for name, entry in tomllib.loads(text).items()}
    try:
        return _CONVERSIONS.validate_python(table)
    except ValidationError as error:
        found = complaint(error, (Conversion,))
        raise GuidelineError(f"conversions.toml: {found}") from error


def conversions() -> dict[str, Conversion]:
    """
    Return every conversion that ships.

    Returns
    -------
    dict of Conversion
        By id.
    """
    return dict(_conversions())


def conversion(name: str, *, method: str) -> Conversion:
    """
    Return a conversion by its id.

    Parameters
    ----------
    name : str
        Its id.
    method : str
        Id of the method that the laboratory used.

    Returns
    -------
    Conversion
        The one asked for.

    Raises
    ------
    InputError
        If there is none, or it converts another method.

    Examples
    --------
    >>> conversion("bray-p1-from-mehlich-3-ohio", method="mehlich-3-icp").equation
    'Bray P1 = (Mehlich-3, read by ICP) × 0.832 − 8.08'
    """
    known = _conversions()
    fitting = [one.id for one in known.values() if one.from_method == method]
    listed = f"from {method} there are {', '.join(fitting)}"
    listed = listed if fitting else f"from {method} there is none"
    if name not in known:
        message = f"convert {name!r} is no conversion{nearest(name, known)}; {listed}"
        raise InputError(message)
    if known[name].from_method != method:
        message = f"convert {name!r} is from {known[name].from_method}; {listed}"
        raise InputError(message)
    return known[name]


def converted(
    values: ArrayLike, line: Conversion, *, rows: Sequence[int], place: str
) -> NDArray[np.float64]:
    """
    Soil tests by another method than the laboratory's, estimated by a line.

    Parameters
    ----------
    values : array_like, shape (n,)
        Tests by the line's `from_method`, none missing. [ppm]
    line : Conversion
        The line.
    rows : sequence of int, length n
        Row of each as its file shows it.
    place : str
        Where they stand.

    Returns
    -------
    numpy.ndarray, shape (n,)
        Estimated tests by the line's `to_method`, not rounded. [ppm]

    Raises
    ------
    InputError
        If a test lies outside the line's range, or the line gives nothing or less.

    References
    ----------
    "Understanding soil test reports: phosphorus values", Ohio State University, prints
    22 ppm of Mehlich-3 as 10 ppm of Bray P1.

    Examples
    --------
    >>> line = conversion("bray-p1-from-mehlich-3-ohio", method="mehlich-3-icp")
    >>> converted([22.0], line, rows=[2], place="s.csv").round(2)
    array([10.22])
    """
    given = np.asarray(values, dtype=np.float64)
    result = line.at(given)
    # A hair above 0 is the rounding of the division and no phosphorus.
    outside = ~(result > 1e-9)
    if line.range is not None:
        outside |= ~line.range.hold(given)
    if outside.any():
        first = int(np.argmax(outside))
        others = int(outside.sum()) - 1
        held = (
            f"{line.range} {line.unit}" if line.range else "where it gives more than 0"
        )
        more = f" (and {others} more)" if others else ""
        message = (
            f"{place} row {rows[first]}{more}: {shown(given[first])} {line.unit} by "
            f"{METHODS[line.from_method]} is outside the range of {line.id!r}, which "
            f"holds {held} ({line.arithmetic(float(given[first]))} = "
            f"{result[first]:.4g}): choose a guideline made for {line.from_method}, or "
            f"have the soil tested by {METHODS[line.to_method]}"
        )
        raise InputError(message)
    return result
