"""Which soil-test method suits which pH."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from vrp.agronomy.checks import checks, finding
from vrp.agronomy.soil_test import METHODS
from vrp.evidence import Finding, row_list


def method_ph(
    method: str, ph: ArrayLike, rows: Sequence[int], *, place: str
) -> tuple[Finding, ...]:
    """
    Return a finding if samples have a pH that another method suits better.

    Parameters
    ----------
    method : str
        Id of the method that the laboratory ran.
    ph : array_like, shape (n,)
        pH of the samples, NaN where missing.
    rows : sequence of int, length n
        Row of each as its file shows it.
    place : str
        Where they stand.

    Returns
    -------
    tuple of Finding
        At most one. Bray P1 beyond the pH where it fails is not counted here:
        `bray_p1_ph` warns of it.
    """
    code = "method-ph"
    turn = checks()[code].at("us").value
    given = np.asarray(ph, dtype=np.float64)
    if method == "bray-p1":
        fails = checks()["bray-p1-high-ph"].at("us").value
        odd, better = (given > turn) & (given <= fails), "olsen"
        where = f"above {turn:g} and up to {fails:g}"
    elif method == "olsen":
        odd, better, where = given < turn, "bray-p1", f"below {turn:g}"
    else:
        return ()
    if not odd.any():
        return ()
    found = np.flatnonzero(odd).tolist()
    extreme = float(given[odd].max() if method == "bray-p1" else given[odd].min())
    message = (
        f"{place}: {len(found)} of {given.size} samples have a pH {where} "
        f"({row_list([rows[index] for index in found])}), where "
        f"{METHODS[better]} is preferred to {METHODS[method]}"
    )
    return (
        finding(
            code, place=place, message=message, value=extreme, unit="pH", bound=turn
        ),
    )
