"""Checks of how a field was parted."""

from vrp.agronomy.checks import finding
from vrp.evidence import Finding


def bands_as_counted(
    asked: int | None, *, made: int, fewest: int
) -> tuple[Finding, ...]:
    """
    Return a finding where there are not as many bands as the plan asks for.

    Parameters
    ----------
    asked : int or None
        Number of bands in the plan.
    made : int
        Number of bands made.
    fewest : int
        Number of bands that the guideline's limits leave.

    Returns
    -------
    tuple of Finding
        At most one.
    """
    if asked is None or asked == made:
        return ()
    why = (
        "the critical level and the limit above which nothing is needed leave no fewer"
        if made == fewest and asked < made
        else "the need has no more values"
    )
    message = f"field: {made} bands of need in place of the {asked} asked for: {why}"
    return (
        finding(
            "zones-not-as-counted",
            place="field",
            message=message,
            value=made,
            unit="bands",
            bound=asked,
        ),
    )
