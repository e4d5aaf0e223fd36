"""Weak and strong Bray side by side: what is available, and what is held back."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from vrp.agronomy.checks import checks, finding
from vrp.evidence import Finding, row_list


def weak_and_strong(
    weak: ArrayLike, strong: ArrayLike, rows: Sequence[int], *, unit: str, place: str
) -> tuple[Finding, ...]:
    """
    Return how a field reads by both tests, and rows whose tests may be swapped.

    Parameters
    ----------
    weak : array_like, shape (n,)
        Bray P1, none missing. [unit]
    strong : array_like, shape (n,)
        Bray P2, NaN where missing. [unit]
    rows : sequence of int, length n
        Row of each as its file shows it.
    unit : str
        Of both.
    place : str
        Where they stand.

    Returns
    -------
    tuple of Finding
        A note on the field, and a warning where the strong test reads lower.
    """
    p1, p2 = np.asarray(weak, dtype=np.float64), np.asarray(strong, dtype=np.float64)
    both = ~np.isnan(p2)
    if not both.any():
        return ()
    low, high = float(np.median(p1[both])), float(np.median(p2[both]))
    count = int(both.sum())
    wide = f", {high / low:.1f} times as much" if low > 0.0 else ""
    message = (
        f"{place}: available phosphorus (weak Bray) {low:.4g} {unit}, with part of the "
        f"reserve (strong Bray) {high:.4g} {unit}{wide} (medians of {count} samples)"
    )
    found = [finding("bray-weak-and-strong", place=place, message=message)]
    below = np.flatnonzero(both & (p2 < p1)).tolist()
    if below:
        first = below[0]
        message = (
            f"{place}: strong Bray reads lower than weak Bray in {len(below)} of "
            f"{count} samples ({row_list([rows[index] for index in below])}), as "
            f"{p2[first]:g} and {p1[first]:g} {unit} in row {rows[first]}"
        )
        found.append(finding("bray-p2-below-p1", place=place, message=message))
    return tuple(found)


def tied_up(
    weak: ArrayLike, strong: ArrayLike, rows: Sequence[int], *, zone: int, place: str
) -> tuple[Finding, ...]:
    """
    Return a finding where a zone has phosphorus that its weak test does not show.

    Parameters
    ----------
    weak : array_like, shape (n,)
        Bray P1 of the zone's samples, none missing. [ppm]
    strong : array_like, shape (n,)
        Bray P2, NaN where missing. [ppm]
    rows : sequence of int, length n
        Row of each as its file shows it.
    zone : int
        Number of the zone.
    place : str
        Where the samples stand.

    Returns
    -------
    tuple of Finding
        At most one.
    """
    code = "phosphorus-tied-up"
    check = checks()[code]
    high, low = check.at("us"), check.also
    assert low is not None
    p1, p2 = np.asarray(weak, dtype=np.float64), np.asarray(strong, dtype=np.float64)
    held = np.flatnonzero((p2 >= high.value) & (p1 <= low.value))
    if not len(held):
        return ()
    below, above = float(np.median(p1[held])), float(np.median(p2[held]))
    wide = f", {above / below:.1f} times as much" if below > 0.0 else ""
    message = (
        f"{place}, zone {zone}: {len(held)} of {p1.size} samples "
        f"({row_list([rows[index] for index in held.tolist()])}) are low by weak Bray "
        f"({below:.4g} ppm, at most {low.value:g}) and high by strong Bray "
        f"({above:.4g} ppm, at least {high.value:g}){wide}: something ties their "
        "phosphorus up"
    )
    return (
        finding(
            code,
            place=place,
            message=message,
            zone=zone,
            value=round(above, 2),
            unit="ppm",
            bound=high.value,
        ),
    )
