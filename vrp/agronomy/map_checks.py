"""Checks of what a map says of its own errors."""

from collections.abc import Iterator, Sequence

from vrp.agronomy.checks import checks, finding
from vrp.evidence import Finding, percent


def stated_errors(
    squared_error: float,
    *,
    coverage: Sequence[tuple[float, float]],
    samples: int,
    place: str,
) -> Iterator[Finding]:
    """
    Return findings where errors of left-out samples are not as the map states.

    Parameters
    ----------
    squared_error : float
        Mean squared error over the stated variance, 1 where they agree.
    coverage : sequence of tuple of float
        What an interval should hold, and the share of the samples that it holds.
    samples : int
        Number of samples.
    place : str
        Where the samples stand.

    Yields
    ------
    Finding
        One for the intervals, one for the size of the errors.
    """
    code = "map-intervals"
    level, share = max(coverage, key=lambda one: abs(one[1] - one[0]))
    bound, far = checks()[code].at("us").value, checks()[code].far("us").value
    off = round(100.0 * abs(share - level), 9)
    if off > bound:
        message = (
            f"{place}: the map's {percent(level)} intervals hold {percent(share)} of "
            f"{samples} left-out samples, more than {bound:g} points off"
        )
        yield finding(
            code,
            place=place,
            message=message,
            value=round(100.0 * share, 1),
            unit="%",
            bound=round(100.0 * level, 1),
            severity=checks()[code].worse() if off > far else None,
        )
    code = "map-error-size"
    bound, far = checks()[code].at("us").value, checks()[code].far("us").value
    times = max(squared_error, 1.0 / max(squared_error, 1e-9))
    if times > bound:
        message = (
            f"{place}: squared errors of {samples} left-out samples are "
            f"{squared_error:.2f} times what the map states, more than {bound:g} times "
            f"{'above' if squared_error > 1.0 else 'below'} it"
        )
        yield finding(
            code,
            place=place,
            message=message,
            value=round(squared_error, 2),
            unit="times",
            bound=bound,
            severity=checks()[code].worse() if times > far else None,
        )
