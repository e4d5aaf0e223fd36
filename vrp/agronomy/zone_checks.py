"""Checks of how a field was parted."""

from vrp.agronomy.checks import checks, finding
from vrp.evidence import Finding, percent


def bands_as_counted(
    asked: int | None, *, made: int | None, fewest: int | None
) -> tuple[Finding, ...]:
    """
    Return a finding where there are not as many bands as the plan asks for.

    Parameters
    ----------
    asked : int or None
        Number of bands in the plan.
    made : int or None
        Number of bands made, None for zones that are no bands.
    fewest : int or None
        Number of bands that the guideline's limits leave.

    Returns
    -------
    tuple of Finding
        At most one.
    """
    if asked is None or made is None or asked == made:
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


def layer_gaps(name: str, *, missing: float) -> tuple[Finding, ...]:
    """
    Return a finding where a layer has no value on a part of the field.

    Parameters
    ----------
    name : str
        What messages call the layer.
    missing : float
        Share of the field.

    Returns
    -------
    tuple of Finding
        At most one.
    """
    code = "zone-layer-gaps"
    bound = checks()[code].at("us").value
    share = round(100.0 * missing, 9)
    if share <= bound:
        return ()
    message = (
        f"{name}: no value on {percent(missing)} of the field, more than {bound:g} %; "
        "there the nearest cell's was taken"
    )
    return (
        finding(
            code,
            place=name,
            message=message,
            value=round(share, 1),
            unit="%",
            bound=bound,
        ),
    )
