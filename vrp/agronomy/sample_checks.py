"""What is doubtful about the samples, and how much that matters."""

import re
from collections.abc import Sequence
from datetime import date

import numpy as np
from numpy.typing import ArrayLike

from vrp.agronomy.checks import checks, finding
from vrp.agronomy.forms import Guideline
from vrp.agronomy.soil_test import METHODS
from vrp.evidence import Finding
from vrp.units import ACRE, HECTARE, INCH, System

_INDEX = re.compile(r"ind(ex|ices)|idx", re.IGNORECASE)
_DAYS = 365.25


def soil_test_method(
    guideline: Guideline, method: str, *, place: str
) -> tuple[Finding, ...]:
    """
    Return a finding if the guideline was not made for a method.

    Parameters
    ----------
    guideline : Guideline
        Whose figures are to be used.
    method : str
        Id of the method of the samples.
    place : str
        Where the samples stand.

    Returns
    -------
    tuple of Finding
        At most one.
    """
    if method in guideline.soil_test.methods:
        return ()
    accepted = " or ".join(METHODS[one] for one in guideline.soil_test.methods)
    message = (
        f"{place}: tested by {METHODS.get(method, method)}, but {guideline.title!r} "
        f"was made for {accepted}"
    )
    return (finding("soil-test-method", place=place, message=message),)


def looks_like_index(
    values: ArrayLike, *, column: str, place: str
) -> tuple[Finding, ...]:
    """
    Return a finding if soil tests may be a P Index and no concentration.

    Parameters
    ----------
    values : array_like, shape (n,)
        Soil tests as given, NaN where missing.
    column : str
        Name of their column.
    place : str
        Where they stand.

    Returns
    -------
    tuple of Finding
        At most one.
    """
    code = "looks-like-p-index"
    limit = checks()[code].at("us").value
    given = np.asarray(values, dtype=np.float64)
    given = given[~np.isnan(given)]
    if _INDEX.search(column):
        message = f"{place}: column {column!r} is named like an index"
        return (finding(code, place=place, message=message),)
    if given.size and np.all(given == np.floor(given)) and given.max() <= limit:
        largest = float(given.max())
        message = (
            f"{place}: all {given.size} values of {column!r} are whole and the largest "
            f"is {largest:g}, at most {limit:g}, as in a P Index"
        )
        return (
            finding(code, place=place, message=message, value=largest, bound=limit),
        )
    return ()


def outliers(
    values: ArrayLike, rows: Sequence[int], *, unit: str, place: str
) -> tuple[Finding, ...]:
    """
    Return a finding for each soil test that is many times the median.

    Parameters
    ----------
    values : array_like, shape (n,)
        Soil tests, none missing. [unit]
    rows : sequence of int, length n
        Row of each as its file shows it.
    unit : str
        Unit of the soil tests.
    place : str
        Where they stand.

    Returns
    -------
    tuple of Finding
        One for each, severe beyond 30 times the median; none where the median is 0.
    """
    code = "soil-test-outlier"
    limit, far = checks()[code].at("us").value, checks()[code].far("us").value
    given = np.asarray(values, dtype=np.float64)
    median = float(np.median(given))
    found = []
    if median <= 0.0:
        return ()
    for index in np.flatnonzero(given > limit * median).tolist():
        value = float(given[index])
        message = (
            f"{place} row {rows[index]}: {value:g} {unit} is {value / median:.0f} "
            f"times the median of {median:g} {unit}"
        )
        severity = checks()[code].worse() if value > far * median else None
        found.append(
            finding(
                code,
                place=f"{place} row {rows[index]}",
                message=message,
                value=value,
                unit=unit,
                bound=round(limit * median, 2),
                severity=severity,
            )
        )
    return tuple(found)


def low_throughout(
    values: ArrayLike, *, column: str, place: str
) -> tuple[Finding, ...]:
    """
    Return a finding if soil tests may be pH or organic matter.

    Parameters
    ----------
    values : array_like, shape (n,)
        Soil tests as given, none missing.
    column : str
        Name of their column.
    place : str
        Where they stand.

    Returns
    -------
    tuple of Finding
        At most one.
    """
    code = "soil-test-low-throughout"
    limit = checks()[code].at("us").value
    largest = float(np.max(values))
    if largest >= limit:
        return ()
    message = (
        f"{place}: the largest of {column!r} is {largest:g}, below {limit:g}, as of pH "
        "or organic matter"
    )
    return (finding(code, place=place, message=message, value=largest, bound=limit),)


def bray_p1_ph(
    method: str, ph: ArrayLike, *, zone: int, place: str
) -> tuple[Finding, ...]:
    """
    Return a finding if a zone has samples on which Bray P1 reads low.

    Parameters
    ----------
    method : str
        Id of the method of the samples.
    ph : array_like, shape (n,)
        pH of the zone's samples, NaN where missing.
    zone : int
        Number of the zone.
    place : str
        Where the samples stand.

    Returns
    -------
    tuple of Finding
        At most one: severe where no sample of the zone has a lower pH.
    """
    code = "bray-p1-high-ph"
    limit = checks()[code].at("us").value
    given = np.asarray(ph, dtype=np.float64)
    high = given > limit
    if method != "bray-p1" or not high.any():
        return ()
    decides = bool(high.all())
    top, many = float(given[high].max()), int(high.sum())
    message = (
        f"{place}, zone {zone}: {many} of {given.size} samples have a pH above "
        f"{limit:g}, up to {top:g}, where Bray P1 reads low"
    )
    if decides:
        message += ", and no other sample speaks for the zone"
    return (
        finding(
            code,
            place=place,
            message=message,
            zone=zone,
            value=top,
            unit="pH",
            bound=limit,
            severity=checks()[code].worse() if decides else None,
        ),
    )


def sampling_depth(
    guideline: Guideline, depth: float, *, system: System, place: str
) -> tuple[Finding, ...]:
    """
    Return a finding if samples were taken to another depth than the guideline's.

    Parameters
    ----------
    guideline : Guideline
        Whose depth counts.
    depth : float
        Depth of the samples. [cm]
    system : str
        ``us`` or ``metric``, for the limits and the message.
    place : str
        Where the samples stand.

    Returns
    -------
    tuple of Finding
        At most one: severe beyond 2 in (5 cm).
    """
    code = "sampling-depth"
    size, unit = (INCH * 100.0, "in") if system == "us" else (1.0, "cm")
    figure = guideline.soil_test.depth
    # Limits in the guideline's own unit: the same cores get the same answer in a plan
    # of inches and in one of centimetres.
    printed: System = "us" if figure.unit == "in" else "metric"
    own = INCH * 100.0 if figure.unit == "in" else 1.0
    apart = round(abs(depth / own - figure.value), 6)
    if apart <= checks()[code].at(printed).value:
        return ()
    limit = checks()[code].far(printed).value
    far = apart > limit
    wanted, taken = figure.value * own / size, depth / size
    off, bound = apart * own / size, limit * own / size
    than = f"more than {bound:.3g}" if far else f"up to {bound:.3g}"
    message = (
        f"{place}: sampled to {taken:.3g} {unit}, {off:.2g} {unit} off the guideline's "
        f"{wanted:.3g} {unit} ({than} {unit})"
    )
    return (
        finding(
            code,
            place=place,
            message=message,
            value=round(taken, 3),
            unit=unit,
            bound=round(wanted, 3),
            severity=checks()[code].worse() if far else None,
        ),
    )


def sample_age(
    sampled: date | None, *, counted_to: date | None, place: str
) -> tuple[Finding, ...]:
    """
    Return a finding if samples are old, dated too late, or of an unknown age.

    Parameters
    ----------
    sampled : datetime.date, optional
        When they were taken.
    counted_to : datetime.date, optional
        Day of application, or start of the field's year.
    place : str
        Where the samples stand.

    Returns
    -------
    tuple of Finding
        At most one.
    """
    if sampled is None or counted_to is None:
        what = "no date of sampling" if sampled is None else "no date to count to"
        message = f"{place}: the age of the samples cannot be told, {what} is given"
        return (finding("samples-undated", place=place, message=message),)
    if sampled > counted_to:
        message = (
            f"{place}: sampled {sampled.isoformat()}, after {counted_to.isoformat()}, "
            "the day that ages count to"
        )
        return (finding("samples-dated-later", place=place, message=message),)
    limit = checks()["samples-old"].at("us")
    before = (counted_to.year - int(limit.value), counted_to.month, counted_to.day)
    if (sampled.year, sampled.month, sampled.day) >= before:
        return ()
    years = round((counted_to - sampled).days / _DAYS, 2)
    message = (
        f"{place}: sampled {sampled.isoformat()}, {years:.2f} years before "
        f"{counted_to.isoformat()}, more than {limit.value:g} years"
    )
    return (
        finding(
            "samples-old",
            place=place,
            message=message,
            value=years,
            unit=limit.unit,
            bound=limit.value,
        ),
    )


def sample_density(
    count: int, area: float, *, system: System, place: str
) -> tuple[Finding, ...]:
    """
    Return a finding if each sample speaks for much ground.

    Parameters
    ----------
    count : int
        Number of samples.
    area : float
        Area of the field. [m²]
    system : str
        ``us`` or ``metric``, for the limit and the message.
    place : str
        Where the samples stand.

    Returns
    -------
    tuple of Finding
        At most one.
    """
    limit = checks()["samples-sparse"].at(system)
    each = area / (ACRE if system == "us" else HECTARE) / count
    if round(each, 6) <= limit.value:
        return ()
    message = (
        f"{place}: {count} samples, one in {each:.3g} {limit.unit}, fewer than one in "
        f"{limit.value:g} {limit.unit}"
    )
    return (
        finding(
            "samples-sparse",
            place=place,
            message=message,
            value=round(each, 2),
            unit=limit.unit,
            bound=limit.value,
        ),
    )
