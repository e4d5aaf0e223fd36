"""What is doubtful about what the crops leave."""

from collections.abc import Sequence

from vrp.agronomy.checks import finding
from vrp.agronomy.removal import holding
from vrp.evidence import Finding


def runs_below(
    soil_test: float,
    middles: Sequence[tuple[str, float | None]],
    *,
    critical: float,
    unit: str,
    zone: int,
) -> tuple[Finding, ...]:
    """
    Return a finding if a zone is forecast to fall below the critical level.

    Parameters
    ----------
    soil_test : float
        Of the zone now. [unit]
    middles : sequence of tuple
        Crop of each season, and the middle of the forecast after it. [unit]
    critical : float
        Critical level. [unit]
    unit : str
        Of the soil test.
    zone : int
        Number of the zone.

    Returns
    -------
    tuple of Finding
        At most one, for the first such season.
    """
    if soil_test < critical:
        return ()
    for number, (crop, middle) in enumerate(middles, start=1):
        if middle is not None and middle < critical:
            message = (
                f"zone {zone}: forecast to fall from {soil_test:g} to {middle:g} "
                f"{unit} after season {number}, {crop}: below the critical {critical:g}"
            )
            return (
                finding(
                    "runs-below-critical",
                    place=f"zone {zone}",
                    message=message,
                    zone=zone,
                    value=middle,
                    unit=unit,
                    bound=critical,
                ),
            )
    return ()


def draws_down(
    soil_class: str, balance: float | None, *, short: bool, unit: str, zone: int
) -> tuple[Finding, ...]:
    """
    Return a finding if a poor zone gives more than it gets.

    Parameters
    ----------
    soil_class : str
        What the guideline calls the zone's soil now.
    balance : float or None
        After the plan's last season with a figure. [unit]
    short : bool
        Whether the zone's soil test is below the critical level.
    unit : str
        Of the balance: lb/ac or kg/ha.
    zone : int
        Number of the zone.

    Returns
    -------
    tuple of Finding
        At most one.
    """
    if not short or balance is None or balance >= 0.0:
        return ()
    message = (
        f"zone {zone}: {soil_class}, and the plan's crops take {-balance:g} {unit} of "
        "P2O5 more than it gives"
    )
    return (
        finding(
            "draws-down",
            place=f"zone {zone}",
            message=message,
            zone=zone,
            value=balance,
            unit=unit,
            bound=0.0,
        ),
    )


def no_removal(crop: str, *, season: int, guideline: str) -> Finding:
    """
    Return the finding that nothing says what a harvest takes.

    Parameters
    ----------
    crop : str
        Id of the crop.
    season : int
        Number of the season, from 1.
    guideline : str
        Id of the guideline.

    Returns
    -------
    Finding
        With the sets that have the crop.
    """
    sets = ", ".join(holding(crop)) or "none that ships"
    message = (
        f"season[{season}]: {guideline} prints no removal for {crop}, so there is no "
        f"balance from there on; sets that have it: {sets}"
    )
    return finding("balance-absent", place=f"season[{season}]", message=message)


def other_removal(crop: str, *, season: int, chosen: str, guideline: str) -> Finding:
    """
    Return the finding that a chosen set lacks a crop.

    Parameters
    ----------
    crop : str
        Id of the crop.
    season : int
        Number of the season, from 1.
    chosen : str
        Id of the set.
    guideline : str
        Id of the guideline, whose figure stands.

    Returns
    -------
    Finding
        With the sets that have the crop.
    """
    sets = ", ".join(holding(crop)) or "none that ships"
    message = (
        f"season[{season}]: {chosen} has no removal for {crop}, so {guideline}'s "
        f"stands; sets that have it: {sets}"
    )
    return finding("removal-not-in-set", place=f"season[{season}]", message=message)


def no_straw(crop: str, *, season: int) -> Finding:
    """
    Return the finding that straw leaves the field uncounted.

    Parameters
    ----------
    crop : str
        Id of the crop.
    season : int
        Number of the season, from 1.

    Returns
    -------
    Finding
        For that season.
    """
    message = (
        f"season[{season}]: residue of {crop} is removed, and the balance counts none "
        "of it"
    )
    return finding("straw-not-counted", place=f"season[{season}]", message=message)


def no_forecast(method: str, unit: str) -> Finding:
    """
    Return the finding that a soil test cannot be forecast.

    Parameters
    ----------
    method : str
        How the soil was tested.
    unit : str
        The unit of the test.

    Returns
    -------
    Finding
        For the field.
    """
    message = (
        f"field: no published figures say how {method} in {unit} moves with the balance"
    )
    return finding("forecast-absent", place="field", message=message)


def too_little_history(least: float, *, unit: str) -> Finding:
    """
    Return the finding that a field's past says nothing of its soil test.

    Parameters
    ----------
    least : float
        Balance between two tests that would speak. [unit]
    unit : str
        lb/ac or kg/ha.

    Returns
    -------
    Finding
        For the history.
    """
    place = "balance.history"
    message = (
        f"{place}: no balance between two tests reaches {least:.0f} {unit} of P2O5 on "
        "either side of 0, so it says nothing of what moves the test"
    )
    return finding("history-set-aside", place=place, message=message)


def own_history(
    side: str,
    changes: int,
    amounts: tuple[float, float, float] | None,
    *,
    unit: str,
    test: str,
) -> Finding:
    """
    Return the finding of what a field's own past says.

    Parameters
    ----------
    side : str
        ``build-up`` or ``drawdown``.
    changes : int
        How many changes of soil test speak for it.
    amounts : tuple of float or None
        P2O5 for each unit of test, and its ends; None where the test moved against the
        balance. [unit]
    unit : str
        lb/ac or kg/ha.
    test : str
        Unit of the soil test.

    Returns
    -------
    Finding
        ``history-used`` or ``history-set-aside``.
    """
    place = "balance.history"
    many = f"{changes} change{'s' if changes > 1 else ''}"
    surplus = side == "build-up"
    if amounts is None:
        moved = "fell" if surplus else "rose"
        moved += f" or stayed though {'more' if surplus else 'less'} was"
        shows = "build-up" if surplus else "drawdown"
        message = (
            f"{place}: by {many} the test {moved} spread than taken: the field's "
            f"history shows no {shows}"
        )
        return finding("history-set-aside", place=place, message=message)
    middle, low, high = (
        "no amount" if amount == float("inf") else f"{amount:.0f}" for amount in amounts
    )
    verb = "raise it by" if surplus else "taken beyond what was spread lower it by"
    message = (
        f"{place}: by {many} of the field's own test {middle} {unit} of P2O5 {verb} 1 "
        f"{test} ({low} to {high}); used for {side} in place of the published figures"
    )
    return finding("history-used", place=place, message=message)
