"""P2O5 that comes from elsewhere: how much of it counts, and where."""

from vrp.agronomy.forms import Guideline
from vrp.errors import GuidelineError
from vrp.evidence import Source


def manure_p2o5(amount: float, *, content: float, available: float) -> float:
    """
    P2O5 of manure that counts.

    Parameters
    ----------
    amount : float
        Manure on an acre or hectare, in the unit that its content is stated for.
    content : float
        P2O5 in each unit of manure, by analysis. [lb or kg]
    available : float
        Share of it that counts. [percent]

    Returns
    -------
    float
        P2O5 on an acre or hectare. [lb/ac or kg/ha]

    Examples
    --------
    4 (1000 gal)/ac of a slurry with 12 lb in each, 80 % of it counted, is 4 × 12 × 0.8:

    >>> round(manure_p2o5(4.0, content=12.0, available=80.0), 6)
    38.4
    """
    return amount * content * available / 100.0


def surplus_counts(guideline: Guideline, soil_class: str) -> tuple[bool, str, Source]:
    """
    Return whether a surplus of an earlier season is credited at a class of soil test.

    Parameters
    ----------
    guideline : Guideline
        Whose rule decides.
    soil_class : str
        What the guideline calls the soil.

    Returns
    -------
    tuple of bool, str, Source
        The answer, the guideline's rule, and where it stands.

    Raises
    ------
    GuidelineError
        If the guideline has no such rule.
    """
    rule = guideline.surplus
    if rule is None:
        message = (
            f"{guideline.title!r} has no rule on the surplus of an earlier season: "
            "give it as a credit without surplus, if you hold that it counts"
        )
        raise GuidelineError(message)
    return soil_class in rule.classes, rule.text, rule.source
