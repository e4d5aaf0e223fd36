"""What is doubtful about soil tests that are not the laboratory's own figures."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from vrp.agronomy.checks import checks, finding
from vrp.agronomy.column_names import like_equivalent, like_p2o5, named, same_unit
from vrp.agronomy.conversions import Conversion
from vrp.agronomy.soil_test import METHODS
from vrp.evidence import Finding, row_list
from vrp.units import P2O5_PER_P


def column_name(
    column: str, *, expressed: bool, computed: bool, place: str
) -> tuple[Finding, ...]:
    """
    Return a finding if a column is named like P2O5 or like a computed test.

    Parameters
    ----------
    column : str
        Name of the column of soil tests.
    expressed : bool
        Whether the plan says if it is P or P2O5.
    computed : bool
        Whether the plan says what it was computed from.
    place : str
        Where it stands.

    Returns
    -------
    tuple of Finding
        At most one.
    """
    if like_p2o5(column) and not expressed:
        what = "P2O5 and not P"
        mend = 'write expressed_as = "P2O5", or "P" if it is P all the same'
    elif like_equivalent(column) and not computed:
        what = "a test that was computed from another extract"
        mend = "write computed_from = the method that was run"
    else:
        return ()
    message = f"{place}: column {column!r} is named like {what}: {mend}"
    return (finding("soil-test-column-name", place=place, message=message),)


def column_contradicts(
    column: str, *, method: str, source: str | None, unit: str, place: str
) -> tuple[Finding, ...]:
    """
    Return a finding if a column's name says another unit or test than the plan.

    Parameters
    ----------
    column : str
        Name of the column of soil tests.
    method : str
        Id of the method that the numbers count as, or that the laboratory ran.
    source : str, optional
        Id of the method that the numbers were computed from.
    unit : str
        Unit of the plan.
    place : str
        Where it stands.

    Returns
    -------
    tuple of Finding
        At most one, that names both.

    Notes
    -----
    ppm and mg/kg are one. A name that says Bray or Mehlich fits each of its methods.
    """
    said = named(column, source=source is not None)
    wrong = [
        f"the name says {one}, the plan says {unit}"
        for one in said.units
        if not same_unit(one, unit)
    ]
    stated = METHODS[method]
    if source is not None:
        stated += f" computed from {METHODS[source]}"
    wrong += [
        f"the name says {name}, the plan says {stated}"
        for name, fitting in said.methods
        if not fitting & {method, source}
    ]
    if said.other:
        wrong.append(f"the name says {said.other}, the plan says soil test P")
    if not wrong:
        return ()
    message = f"{place}: column {column!r}: {'; '.join(wrong)}"
    return (finding("soil-test-column-contradicts", place=place, message=message),)


def from_p2o5(*, column: str, place: str) -> tuple[Finding, ...]:
    """
    Return the finding that soil tests were given as P2O5.

    Parameters
    ----------
    column : str
        Name of their column.
    place : str
        Where it stands.

    Returns
    -------
    tuple of Finding
        One.
    """
    message = (
        f"{place}: column {column!r} is P2O5 by the plan, so each value was divided by "
        f"{P2O5_PER_P:.4f} to give P; the result is carried as converted"
    )
    return (finding("soil-test-from-p2o5", place=place, message=message),)


def computed_test(
    method: str, source: str, *, column: str, place: str
) -> tuple[Finding, ...]:
    """
    Return the finding that soil tests were computed from another extract.

    Parameters
    ----------
    method : str
        Id of the method that the numbers count as.
    source : str
        Id of the method that was run.
    column : str
        Name of their column.
    place : str
        Where it stands.

    Returns
    -------
    tuple of Finding
        One.
    """
    message = (
        f"{place}: column {column!r} is {METHODS[method]} computed from "
        f"{METHODS[source]} by the laboratory, by a line that is not known here; it is "
        "carried as converted"
    )
    return (finding("soil-test-equivalent", place=place, message=message),)


def converted_test(
    line: Conversion, ph: ArrayLike | None, rows: Sequence[int], *, place: str
) -> tuple[Finding, ...]:
    """
    Return the finding that soil tests were converted, and by which line.

    Parameters
    ----------
    line : Conversion
        The line that was used.
    ph : array_like, shape (n,), optional
        pH of the samples, NaN where missing.
    rows : sequence of int, length n
        Row of each as its file shows it.
    place : str
        Where they stand.

    Returns
    -------
    tuple of Finding
        One: severe where samples have a pH that the line is not for.
    """
    code = "soil-test-converted"
    message = (
        f"{place}: soil tests are converted by {line.id} ({line.equation} [{line.unit}]"
        f"; {line.limits}); a conversion is no calibration: {line.caution}"
    )
    if line.soil is None:
        return (finding(code, place=place, message=message),)
    given = np.full(len(rows), np.nan) if ph is None else np.asarray(ph, np.float64)
    outside = np.flatnonzero(~line.soil.hold(given)).tolist()
    unknown = int(np.isnan(given).sum())
    severity = None
    if outside:
        severity = checks()[code].worse()
        message += (
            f"; it is for soil with a pH {line.soil}, and {len(outside)} of "
            f"{len(rows)} samples have another "
            f"({row_list([rows[index] for index in outside])})"
        )
    if unknown:
        message += (
            f"; it is for soil with a pH {line.soil}, and {unknown} of {len(rows)} "
            "samples have none to check"
        )
    return (finding(code, place=place, message=message, severity=severity),)
