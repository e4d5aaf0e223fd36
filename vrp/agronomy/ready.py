"""On the day: which rule forbids, which asks to wait, and what was not told."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

from vrp.agronomy.water import RuleSet, distance, feet
from vrp.agronomy.water_bearing import Bearing, Spread, bearing
from vrp.agronomy.water_rules import (
    Decides,
    Feature,
    GroundRule,
    PlacementRule,
    RainRule,
    SeasonRule,
    State,
)
from vrp.evidence import Finding, Source
from vrp.units import FOOT, INCH, System

_Daily = GroundRule | RainRule | SeasonRule | PlacementRule
Outcome = Literal["forbids", "asks to wait", "not enough was told", "does not bind"]

_MM = INCH * 1000.0  # of an inch
_STATES: dict[State, str] = {
    "frozen": "frozen",
    "snow": "covered with snow",
    "saturated": "saturated at its top",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Forecast:
    """
    What is forecast.

    Attributes
    ----------
    rain : float
        Amount. [in or mm, by the system of units]
    hours : float
        Within how many hours from spreading.
    chance : float
        Probability. [percent]
    """

    rain: float
    hours: float
    chance: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Day:
    """
    What was told of the day; None where it was not.

    Attributes
    ----------
    day : datetime.date, optional
        Which day.
    forecast : tuple of Forecast
        One or several windows.
    frozen, snow, saturated : bool, optional
        State of the ground; saturated: in the top 2 inches.
    """

    day: date | None = None
    forecast: tuple[Forecast, ...] = ()
    frozen: bool | None = None
    snow: bool | None = None
    saturated: bool | None = None


@dataclass(frozen=True, slots=True)
class Judged:
    """
    What one rule says of the day.

    Attributes
    ----------
    rules : str
        Id of its set.
    outcome : str
        ``forbids``, ``asks to wait``, ``not enough was told`` or ``does not bind``.
    text : str
        The rule.
    why : str
        What of the day, or what is missing.
    source : Source
        Where the rule stands, and how far that was checked.
    """

    rules: str
    outcome: Outcome
    text: str
    why: str
    source: Source


@dataclass(frozen=True, slots=True, kw_only=True)
class Readiness:
    """
    What the rules say of a built field on the day.

    Attributes
    ----------
    field, grade, material : str
        What is spread where.
    zones : tuple of int
        Numbers of the zones that get product.
    area : float
        Of these zones. [area_unit]
    area_unit : str
        ``ac`` or ``ha``.
    rules : tuple of str
        Ids of the sets that were asked.
    named : bool
        Whether the field file names them; else general good practice was asked.
    kept : tuple of (str, float)
        Distance that the map keeps, by kind of feature. [ft or m]
    length_unit : str
        ``ft`` or ``m``.
    judged : tuple of Judged
        What every rule says.
    planned : tuple of Finding
        What rules said when the map was planned, and what holds it back.
    also : tuple of (str, str, Source)
        What the sets say besides and nothing here judges: set, text, where it stands.
    unheard : tuple of str
        What was told of the day and no rule for this material looks at.
    """

    field: str
    grade: str
    material: str
    zones: tuple[int, ...]
    area: float
    area_unit: str
    rules: tuple[str, ...]
    named: bool
    kept: tuple[tuple[str, float], ...]
    length_unit: str
    judged: tuple[Judged, ...]
    planned: tuple[Finding, ...]
    also: tuple[tuple[str, str, Source], ...] = ()
    unheard: tuple[str, ...] = ()

    @property
    def forbidden(self) -> bool:
        """
        Return whether a rule forbids, today or since it was planned.

        Returns
        -------
        bool
            That it is False is no permission.
        """
        return any(one.outcome == "forbids" for one in self.judged) or any(
            one.holds_back for one in self.planned
        )


def looks_at_ground(rules: Sequence[RuleSet], spread: Spread) -> bool:
    """
    Return whether a rule looks at the state of the ground for a material.

    Parameters
    ----------
    rules : sequence of RuleSet
        The rules.
    spread : Spread
        What is spread.

    Returns
    -------
    bool
        Also where such a rule frees what is placed so.
    """
    return any(
        spread.material in one.materials for each in rules for one in each.ground
    )


def unheard(rules: Sequence[RuleSet], spread: Spread, day: Day) -> tuple[str, ...]:
    """
    Return what was told of the day though no rule looks at it.

    Parameters
    ----------
    rules : sequence of RuleSet
        The rules.
    spread : Spread
        What is spread.
    day : Day
        What was told of the day.

    Returns
    -------
    tuple of str
        Of the forecast and the states of the ground that hold.
    """
    rain = any(spread.material in one.materials for each in rules for one in each.rain)
    states: set[State] = set()
    for each in rules:
        for one in each.ground:
            states |= set(one.states) if spread.material in one.materials else set()
        for far in each.distance:
            states |= set(far.ground) if spread.material in far.materials else set()
    found = ["the forecast of rain"] if day.forecast and not rain else []
    found += [
        f"ground that is {said}"
        for state, said in _STATES.items()
        if getattr(day, state) and state not in states
    ]
    return tuple(found)


def judge(
    rules: Sequence[RuleSet],
    spread: Spread,
    day: Day,
    *,
    system: System,
    kept: Mapping[str, float] | None = None,
    planned: Spread | None = None,
) -> tuple[Judged, ...]:
    """
    Return what every rule that looks at the day says of it.

    Parameters
    ----------
    rules : sequence of RuleSet
        The rules.
    spread : Spread
        What is spread, and how.
    day : Day
        What was told of the day.
    system : str
        ``us`` for inches, ``metric`` for millimetres.
    kept : mapping of float, optional
        Distance that the map keeps, by kind of feature. [ft]
    planned : Spread, optional
        What was to be spread, and how, when the map was made: where it is placed
        otherwise on the day, a greater distance may hold than the map keeps.

    Returns
    -------
    tuple of Judged
        Set by set. Rules on soil tests and caps are not among them: they were held to
        the map when it was planned.

    Notes
    -----
    What was not told never frees from a rule: a rule that its condition brings in
    binds, and what would free from it is named. That none forbids is no permission.
    """
    found: list[Judged] = []
    for each in rules:
        looking: list[_Daily] = [*each.ground, *each.rain]
        looking += [*each.season, *each.placement]
        found += [_judged(one, each, spread, day, system=system) for one in looking]
        found += _farther(each, spread, day, system=system, kept=kept or {})
        if planned is not None:
            found += _otherwise(each, spread, planned, system=system, kept=kept or {})
    return tuple(found)


def _judged(
    rule: _Daily,
    rules: RuleSet,
    spread: Spread,
    day: Day,
    *,
    system: System,
) -> Judged:
    held = bearing(rule, spread)
    if not held.binds:
        return _said(rule, rules, "does not bind", held.why)
    if isinstance(rule, GroundRule):
        met, why = _of_ground(rule.states, day)
    elif isinstance(rule, RainRule):
        met, why = _of_rain(rule, day.forecast, system=system)
    elif isinstance(rule, SeasonRule):
        met, why = _of_season(rule, day.day)
    elif held.unless:
        return _said(rule, rules, "not enough was told", _unless(held))
    else:
        met, why = True, f"application.method = {spread.method}"
    return _outcome(rule, rules, met=met, why=why, held=held)


def _outcome(
    rule: Decides, rules: RuleSet, *, met: bool | None, why: str, held: Bearing
) -> Judged:
    """Return the outcome of a rule that binds, by whether its condition is met."""
    if met is None:
        return _said(rule, rules, "not enough was told", why)
    if not met:
        return _said(rule, rules, "does not bind", why)
    outcome: Outcome = "forbids" if rule.does == "forbids" else "asks to wait"
    more = f"; {_unless(held)}" if held.unless else ""
    return _said(rule, rules, outcome, why + more)


def _said(rule: Decides, rules: RuleSet, outcome: Outcome, why: str) -> Judged:
    return Judged(rules.id, outcome, rule.text, why, rule.source)


def _unless(held: Bearing) -> str:
    return f"unless {' or '.join(held.unless)}, which was not told"


def _of_ground(states: Sequence[State], day: Day) -> tuple[bool | None, str]:
    told: dict[State, bool | None] = {state: getattr(day, state) for state in states}
    met = [_STATES[state] for state, holds in told.items() if holds]
    if met:
        return True, f"the ground is {' and '.join(met)}"
    untold = [_STATES[state] for state, holds in told.items() if holds is None]
    if untold:
        return None, f"tell whether the ground is {' or '.join(untold)}"
    return False, f"the ground is not {' or '.join(_STATES[one] for one in told)}"


def _of_rain(
    rule: RainRule, forecast: Sequence[Forecast], *, system: System
) -> tuple[bool | None, str]:
    """
    Hold each forecast to a rule's window.

    What passes both limits within a shorter time passes them within the rule's; what
    does not within a longer one does not within the rule's.
    """
    unit, given = rule.rain.unit, "in" if system == "us" else "mm"
    factor = 1.0 if unit == given else (1.0 / _MM if unit == "in" else _MM)
    free = ""
    for one in forecast:
        # Inches typed as millimetres come a hair off.
        rain = round(one.rain * factor, 6)
        met = rule.rain.passed_by(rain) and rule.chance.passed_by(one.chance)
        said = (
            f"the forecast has a chance of {one.chance:g} percent of {one.rain:g} "
            f"{given} within {one.hours:g} hours"
        )
        if met and one.hours <= rule.hours:
            return True, said
        if not met and one.hours >= rule.hours:
            free = said
    if free:
        return False, f"{free}, not {rule.chance} of {rule.rain}"
    return None, f"tell the forecast for {rule.hours:g} hours"


def _of_season(rule: SeasonRule, day: date | None) -> tuple[bool | None, str]:
    if day is None:
        return None, "tell the day"
    return rule.holds_on(day), f"{day:%Y-%m-%d}"


def _farther(
    rules: RuleSet,
    spread: Spread,
    day: Day,
    *,
    system: System,
    kept: Mapping[str, float],
) -> list[Judged]:
    """Return the distances that hold on such ground alone."""
    length, size = ("ft", 1.0) if system == "us" else ("m", FOOT)
    found = []
    for rule in rules.distance:
        if not rule.ground:
            continue
        held = bearing(rule, spread)
        if not held.binds:
            found.append(_said(rule, rules, "does not bind", held.why))
            continue
        met, why = _of_ground(rule.ground, day)
        if met:
            far = feet(rule)
            told = [
                f"{kept[kind] * size:.4g} {length} from {kind}"
                for kind in rule.features
                if kind in kept
            ]
            why += f": nearer than {far * size:.4g} {length} to "
            why += f"{', '.join(rule.features)}; the map keeps "
            why += f"{', '.join(told) or 'no such distance'}"
            # A kind that nobody gave may be there all the same.
            met = any(
                round(kept.get(kind, 0.0), 3) < round(far, 3) for kind in rule.features
            )
        found.append(_outcome(rule, rules, met=met, why=why, held=held))
    return found


def _otherwise(
    rules: RuleSet,
    spread: Spread,
    planned: Spread,
    *,
    system: System,
    kept: Mapping[str, float],
) -> list[Judged]:
    """Return the distances that are greater as it is placed now than as planned."""
    length, size = ("ft", 1.0) if system == "us" else ("m", FOOT)
    found = []
    for rule in rules.distance:
        held, far = bearing(rule, spread), feet(rule)
        if rule.ground or not held.binds:
            continue
        near = [
            f"{kept[kind] * size:.4g} {length} from {kind}"
            for kind in rule.features
            if kind in kept
            and round(kept[kind], 3) < round(far, 3)
            and _asked(rules, planned, kind) < far
        ]
        if near:
            why = (
                f"it is not placed as planned: nearer than {far * size:.4g} {length}; "
                f"the map keeps {', '.join(near)}"
            )
            found.append(_outcome(rule, rules, met=True, why=why, held=held))
    return found


def _asked(rules: RuleSet, planned: Spread, kind: Feature) -> float:
    """Return the distance that a set asks for as it was planned [ft]."""
    asked = distance(
        rules,
        kind=kind,
        material=planned.material,
        form=planned.form,
        method=planned.method,
        worked_in=planned.worked_in,
    )
    return 0.0 if asked is None else asked[0]
