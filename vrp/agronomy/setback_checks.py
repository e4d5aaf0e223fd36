"""Findings on water features, the distances kept from them, and excluded ground."""

from collections.abc import Iterator

from vrp.agronomy.checks import checks, finding
from vrp.evidence import Finding, shown
from vrp.units import System


def no_features() -> Iterator[Finding]:
    """
    Say that no water was given.

    Yields
    ------
    Finding
        Always.
    """
    message = (
        "no streams, ditches, lakes or wells were given, so no setback was applied"
    )
    yield finding("no-water-features", place="field", message=message)


def setback(reason: str, *, strip: bool, area: str, zone: int) -> Iterator[Finding]:
    """
    Say that a zone gets nothing.

    Parameters
    ----------
    reason : str
        Why.
    strip : bool
        Whether the ground is beside a setback, where product is thrown.
    area : str
        Of the zone, with its unit.
    zone : int
        Its number.

    Yields
    ------
    Finding
        Always.
    """
    what = "rate 0" if strip else "nothing is applied"
    message = f"zone {zone}: {what} on {area}: {reason}"
    if strip:
        message += "; the pass beside it throws product there"
    yield finding("setback", place=f"zone {zone}", zone=zone, message=message)


def throw_unknown() -> Iterator[Finding]:
    """
    Say that nobody knows how far the spreader throws.

    Yields
    ------
    Finding
        Always.
    """
    message = (
        "machine.swath is not given, so how far a broadcast spreader throws past its "
        "side is not known: setbacks are drawn without it"
    )
    yield finding("setback-throw-unknown", place="machine", message=message)


def far(
    kind: str, away: float, unit: str, *, file: str, system: System
) -> Iterator[Finding]:
    """
    Say that all features of a kind are far from the field.

    Parameters
    ----------
    kind : str
        Their kind.
    away : float
        How far the nearest is. [unit]
    unit : str
        ``ft`` or ``m``.
    file : str
        Where they stand.
    system : str
        ``us`` or ``metric``.

    Yields
    ------
    Finding
        Beyond the limit.
    """
    limit = checks()["water-far"].at(system).value
    if away <= limit:
        return
    message = f"{file}: the nearest {kind} is {away:,.0f} {unit} from the field"
    yield finding(
        "water-far",
        place=file,
        message=message,
        value=round(away),
        unit=unit,
        bound=limit,
    )


def below_rule(
    kind: str,
    said: float | None,
    asked: float | None,
    unit: str,
    *,
    file: str,
    forbidden: bool,
) -> Iterator[Finding]:
    """
    Say that a plan keeps less than its own rules ask for.

    Parameters
    ----------
    kind : str
        Kind of the feature.
    said, asked : float, optional
        What the plan keeps, and what a rule asks for where that is more. [unit]
    unit : str
        ``ft`` or ``m``.
    file : str
        Where the features stand.
    forbidden : bool
        Whether the rule forbids what is nearer, or only asks.

    Yields
    ------
    Finding
        Where both are known; a stop where the rule forbids.
    """
    if said is None or asked is None:
        return
    message = (
        f"{file}: the plan keeps {shown(said, most=1)} {unit} from a {kind}, and the "
        f"rules that it names ask for {shown(asked, most=1)} {unit}"
    )
    yield finding(
        "setback-below-rule",
        place=file,
        message=message,
        value=said,
        unit=unit,
        bound=asked,
        severity=checks()["setback-below-rule"].worse() if forbidden else None,
    )


def already(kind: str, away: float, unit: str, file: str) -> Iterator[Finding]:
    """
    Say that a boundary was drawn with the setback, and how near it comes.

    Parameters
    ----------
    kind : str
        Kind of the features.
    away : float
        From the nearest to the field. [unit]
    unit : str
        ``ft`` or ``m``.
    file : str
        Where they stand.

    Yields
    ------
    Finding
        Always; a warning where the boundary touches the water.
    """
    message = (
        f"{file}: nothing is cut for a {kind}, as the boundary was drawn with the "
        f"setback; it comes within {away:,.0f} {unit} of the nearest"
    )
    code, at = "boundary-set-back", away <= 0.0
    severity = checks()[code].worse() if at else None
    yield finding(code, place=file, message=message, severity=severity)


def override(number: int, area: str | None) -> Iterator[Finding]:
    """
    Say that a need set by hand lies on excluded ground.

    Parameters
    ----------
    number : int
        Of the override, from 1.
    area : str, optional
        How much of its ground, with the unit; None for one by point.

    Yields
    ------
    Finding
        Always.
    """
    where = "its point lies" if area is None else f"{area} of it lie"
    message = (
        f"override {number}: {where} on excluded ground, where nothing is applied all "
        "the same"
    )
    if area is None:
        message += "; the rest of its zone has the need that was set by hand"
    yield finding("override-in-setback", place=f"override {number}", message=message)


def default_rate(rate: float, unit: str) -> Iterator[Finding]:
    """
    Say that a terminal without position spreads beside water.

    Parameters
    ----------
    rate : float
        What it sends then. [unit]
    unit : str
        Of the rate.

    Yields
    ------
    Finding
        Where it sends any.
    """
    if rate <= 0.0:
        return
    message = (
        f"machine.default_rate: {shown(rate, most=2)} {unit} are sent where position "
        "is lost, on excluded ground as well"
    )
    yield finding("default-rate-near-water", place="machine", message=message)
