"""Figures that no plan asks for on purpose: a slip of the keyboard or of a unit."""

from itertools import permutations

from vrp.agronomy.checks import checks, finding
from vrp.agronomy.products import Grade, plain_grades
from vrp.evidence import Finding
from vrp.units import P2O5_PER_P, RateUnit, System

# What whole percents round off a grade in P, the element. Our choice.
_ROUNDED = 0.6


def need(p2o5: float, *, system: System, zone: int) -> tuple[Finding, ...]:
    """
    Return a finding if a zone's need is more than any guideline asks for.

    Parameters
    ----------
    p2o5 : float
        Need. [lb/ac or kg/ha]
    system : str
        ``us`` or ``metric``, for the unit.
    zone : int
        Number of the zone.

    Returns
    -------
    tuple of Finding
        At most one.
    """
    return _above("need-beyond-sense", p2o5, "a need", system=system, zone=zone)


def nitrogen(carried: float, *, system: System, zone: int) -> tuple[Finding, ...]:
    """
    Return a finding if a rate carries much N along.

    Parameters
    ----------
    carried : float
        N that the rate carries. [lb/ac or kg/ha]
    system : str
        ``us`` or ``metric``, for the unit.
    zone : int
        Number of the zone.

    Returns
    -------
    tuple of Finding
        At most one.
    """
    return _above(
        "much-nitrogen", carried, "the rate carries N", system=system, zone=zone
    )


def credit(
    brought: float, name: str, *, system: System, place: str
) -> tuple[Finding, ...]:
    """
    Return a finding if a credit is more than any guideline asks for.

    Parameters
    ----------
    brought : float
        P2O5 that it brings where it brings most. [lb/ac or kg/ha]
    name : str
        What the plan calls it.
    system : str
        ``us`` or ``metric``, for the unit.
    place : str
        Its key.

    Returns
    -------
    tuple of Finding
        At most one.
    """
    limit = checks()["credit-beyond-sense"].at(system)
    if brought <= limit.value:
        return ()
    message = (
        f"{place}: {name} brings {brought:,.1f} {limit.unit}, more than {limit.value:g}"
    )
    return (
        finding(
            "credit-beyond-sense",
            place=place,
            message=message,
            value=round(brought, 1),
            unit=limit.unit,
            bound=limit.value,
        ),
    )


def grade(given: Grade, *, place: str) -> tuple[Finding, ...]:
    """
    Return a finding if a grade may be a known one turned round, or in P, the element.

    Parameters
    ----------
    given : Grade
        The product's grade.
    place : str
        Its key.

    Returns
    -------
    tuple of Finding
        At most one.
    """
    own = (given.nitrogen, given.p2o5, given.k2o)
    known = [Grade.parse(text) for text in plain_grades()]
    triples = [(one.nitrogen, one.p2o5, one.k2o) for one in known]
    if own in triples:
        return ()
    said = ""
    for one, triple in zip(known, triples, strict=True):
        if own in permutations(triple):
            said = f"holds the figures of {one} in another order"
        elif (
            own[0] == triple[0]
            and own[2] == triple[2]
            and abs(own[1] - triple[1] / P2O5_PER_P) <= _ROUNDED
        ):
            said = f"would be {one} if its {own[1]:g} were P, the element"
        if said:
            message = f"{place}: {given} {said}"
            return (finding("grade-turned-round", place=place, message=message),)
    return ()


def accepted_in_vain(accepted: dict[str, str], stops: set[str]) -> tuple[Finding, ...]:
    """
    Return a finding for each accepted code that no stop of this run has.

    Parameters
    ----------
    accepted : dict of str
        Reasons by code, as the plan has them.
    stops : set of str
        Codes of the stops that came up.

    Returns
    -------
    tuple of Finding
        One for each.
    """
    return tuple(
        finding(
            "accepted-in-vain",
            place=f"accept.{code}",
            message=f"accept.{code}: no such stop came up in this run",
        )
        for code in accepted
        if code not in stops
    )


def _above(
    code: str, value: float, what: str, *, system: System, zone: int
) -> tuple[Finding, ...]:
    limit = checks()[code].at(system)
    if value <= limit.value:
        return ()
    rate: RateUnit = "lb/ac" if system == "us" else "kg/ha"
    message = (
        f"zone {zone}: {what} of {value:,.1f} {rate}, more than {limit.value:g} {rate}"
    )
    return (
        finding(
            code,
            place=f"zone {zone}",
            message=message,
            zone=zone,
            value=round(value, 1),
            unit=limit.unit,
            bound=limit.value,
        ),
    )
