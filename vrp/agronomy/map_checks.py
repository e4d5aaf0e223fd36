"""Checks of what a map says of its own errors."""

from collections.abc import Iterator, Sequence

from vrp.agronomy.checks import checks, finding
from vrp.evidence import Finding, percent
from vrp.units import System


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


def clustered(
    ratio: float, *, samples: int, system: System, place: str
) -> Iterator[Finding]:
    """
    Return a finding where samples lie in clusters.

    Parameters
    ----------
    ratio : float
        How far the ground lies from its nearest sample over how far samples do; NaN
        where it cannot be told.
    samples : int
        Number of samples.
    system : str
        ``us`` or ``metric``.
    place : str
        Where the samples stand.

    Yields
    ------
    Finding
        At most one.
    """
    code = "samples-clustered"
    bound = checks()[code].at(system).value
    if ratio > bound:
        message = (
            f"{place}: the field lies {ratio:.1f} times as far from its nearest sample "
            f"as the {samples} samples lie from each other, more than {bound:g} times: "
            "they are clustered, and the verdict goes by wider blocks alone"
        )
        yield finding(
            code,
            place=place,
            message=message,
            value=round(ratio, 2),
            unit="times",
            bound=bound,
        )


def beaten(
    others: Sequence[tuple[str, float, float, float]],
    *,
    taken: tuple[str, float],
    unit: str,
    samples: int,
    system: System,
    place: str,
) -> Iterator[Finding]:
    """
    Return a finding where something simpler is nearer to left-out samples.

    Parameters
    ----------
    others : sequence of tuple
        Name and blocked root mean squared error of each candidate [unit]; how far its
        mean squared error lies above that of what is taken, and the standard error of
        that [unit squared].
    taken : tuple
        Name and error of the surface that is taken. [unit]
    unit : str
        Of the soil test.
    samples : int
        Number of samples.
    system : str
        ``us`` or ``metric``.
    place : str
        Where the samples stand.

    Yields
    ------
    Finding
        At most one, for the nearest.
    """
    bound = checks()["map-beaten"].at(system).value
    nearer = [one for one in others if one[2] < -bound * one[3]]
    if not nearer:
        return
    name, error, *_ = min(nearer, key=lambda one: one[2])
    message = (
        f"{place}: of {samples} samples left out in blocks, {name} is off by "
        f"{error:.1f} {unit} (root mean squared error), and {taken[0]}, which is "
        f"taken, by {taken[1]:.1f} {unit}: more than {bound:g} standard errors apart"
    )
    yield finding(
        "map-beaten",
        place=place,
        message=message,
        value=round(taken[1], 2),
        unit=unit,
        bound=round(error, 2),
    )


def drawn_zones(
    between: float,
    *,
    by_chance: float,
    zones: int,
    samples: int,
    skill: float | None,
    by_map: float | None,
    place: str,
) -> Iterator[Finding]:
    """
    Say how far zones that were drawn part the samples.

    Parameters
    ----------
    between : float
        Share of the samples' variance that lies between the zones.
    by_chance : float
        What zones drawn blindly would have of it.
    zones, samples : int
        Their numbers.
    skill : float or None
        Share of the field mean's squared error of left-out samples that the zones'
        means remove; None where there is none.
    by_map : float or None
        What the map from the samples removes; None without a map.
    place : str
        The file of zones, or the layers.

    Yields
    ------
    Finding
        One; more severe where the means remove nothing.
    """
    code = "drawn-zones"
    message = (
        f"{place}: {percent(between)} of the variance of {samples} samples lies "
        f"between the {zones} zones that hold one ({percent(by_chance)} would by "
        "chance)"
    )
    if skill is not None:
        message += (
            f"; of the field mean's squared error of left-out samples their means "
            f"remove {percent(skill)}"
        )
        if by_map is not None:
            message += f", the map from the samples {percent(by_map)}"
    poor = skill is not None and skill <= 0.0
    yield finding(
        code,
        place=place,
        message=message,
        value=round(100.0 * between, 1),
        unit="%",
        bound=round(100.0 * by_chance, 1),
        severity=checks()[code].worse() if poor else None,
    )
