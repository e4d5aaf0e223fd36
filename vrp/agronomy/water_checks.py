"""What the rules on water forbid, or ask for, when a map is planned."""

from collections.abc import Sequence
from datetime import date

from vrp.agronomy.checks import checks, finding
from vrp.agronomy.soil_test import METHODS
from vrp.agronomy.water import RuleSet
from vrp.agronomy.water_bearing import Spread, bearing
from vrp.agronomy.water_rules import CapRule, Decides, SoilTestRule
from vrp.evidence import Finding, Severity
from vrp.units import KG_HA, RateUnit, SoilTestUnit, soil_test_ppm_or_mg_l


def soil_test(
    rules: Sequence[RuleSet],
    spread: Spread,
    *,
    method: str,
    value: float,
    unit: SoilTestUnit,
    applied: float,
    zone: int,
) -> tuple[Finding, ...]:
    """
    Return a finding for each rule whose limit the soil test passes where P is spread.

    Parameters
    ----------
    rules : sequence of RuleSet
        The rules that the plan names.
    spread : Spread
        What is spread, and how.
    method : str
        Method that the soil tests count as.
    value : float
        The zone's soil test. [unit]
    unit : str
        Its unit.
    applied : float
        P2O5 that the rate carries; where it is 0 nothing is forbidden.
    zone : int
        Number of the zone.

    Returns
    -------
    tuple of Finding
        None at a limit that is printed as one to be passed.
    """
    if applied <= 0.0:
        return ()
    found = []
    for each in rules:
        for rule in each.soil_test:
            there = _in_unit(rule, value, method=method, unit=unit)
            if there is None or not bearing(rule, spread).binds:
                continue
            if rule.limit.passed_by(there):
                place = f"zone {zone}"
                message = (
                    f"{place}: soil test of {there:g} {rule.limit.unit} is "
                    f"{rule.limit}: {_told(rule, each)}"
                )
                found.append(
                    finding(
                        "rule-soil-test",
                        place=place,
                        message=message,
                        zone=zone,
                        value=round(there, 2),
                        unit=rule.limit.unit,
                        bound=rule.limit.value,
                        severity=_severity(rule, "rule-soil-test"),
                    )
                )
    return tuple(found)


def most_p2o5(
    rules: Sequence[RuleSet],
    spread: Spread,
    *,
    crop: str,
    method: str,
    value: float,
    unit: SoilTestUnit,
    applied: float,
    rate_unit: RateUnit,
    zone: int,
) -> tuple[Finding, ...]:
    """
    Return a finding for each cap that a zone's P2O5 passes.

    Parameters
    ----------
    rules : sequence of RuleSet
        The rules that the plan names.
    spread : Spread
        What is spread, and how.
    crop : str
        Id of the crop.
    method : str
        Method that the soil tests count as.
    value : float
        The zone's soil test. [unit]
    unit : str
        Its unit.
    applied : float
        P2O5 that the rate carries. [rate_unit]
    rate_unit : str
        ``lb/ac`` or ``kg/ha``.
    zone : int
        Number of the zone.

    Returns
    -------
    tuple of Finding
        None at the cap itself. A cap never makes a rate: a person lowers it.
    """
    found = []
    for each in rules:
        for rule in each.cap:
            there = _in_unit(rule, value, method=method, unit=unit)
            if crop not in rule.crops or there is None:
                continue
            if not bearing(rule, spread).binds:
                continue
            at = sum(there > upper for upper in rule.uppers)
            printed: RateUnit = "lb/ac" if rule.unit == "lb P2O5/ac" else "kg/ha"
            most = rule.values[at] * KG_HA[printed] / KG_HA[rate_unit]
            if round(applied, 1) <= round(most, 1):
                continue
            place = f"zone {zone}"
            message = (
                f"{place}: {applied:.1f} {rate_unit} of P2O5 is more than the "
                f"{most:.1f} {rate_unit} allowed at {rule.words[at]} "
                f"({rule.values[at]:g} {rule.unit}): {_told(rule, each)}"
            )
            found.append(
                finding(
                    "rule-most-p2o5",
                    place=place,
                    message=message,
                    zone=zone,
                    value=round(applied, 1),
                    unit=rate_unit,
                    bound=round(most, 1),
                    severity=_severity(rule, "rule-most-p2o5"),
                )
            )
    return tuple(found)


def season(
    rules: Sequence[RuleSet], spread: Spread, *, day: date | None
) -> tuple[Finding, ...]:
    """
    Return a finding for each closed season that holds the day of application.

    Parameters
    ----------
    rules : sequence of RuleSet
        The rules that the plan names.
    spread : Spread
        What is spread, and how.
    day : datetime.date, optional
        When; without it none is judged.

    Returns
    -------
    tuple of Finding
        The first and the last day of a season belong to it.
    """
    return tuple(
        _of_plan("rule-season", f"{day:%Y-%m-%d}", rule, each)
        for each in rules
        for rule in each.season
        if day is not None and rule.holds_on(day) and bearing(rule, spread).binds
    )


def placement(rules: Sequence[RuleSet], spread: Spread) -> tuple[Finding, ...]:
    """
    Return a finding for each placement that is not allowed.

    Parameters
    ----------
    rules : sequence of RuleSet
        The rules that the plan names.
    spread : Spread
        What is spread, and how.

    Returns
    -------
    tuple of Finding
        None where too little was told: `not_judged` says so.
    """
    found = []
    for each in rules:
        for rule in each.placement:
            held = bearing(rule, spread)
            if held.binds and not held.unless:
                found.append(_of_plan("rule-placement", str(spread.method), rule, each))
    return tuple(found)


def not_judged(
    rules: Sequence[RuleSet],
    spread: Spread,
    *,
    crop: str,
    method: str,
    unit: SoilTestUnit,
    day: date | None,
    features: bool = True,
) -> tuple[Finding, ...]:
    """
    Return a finding for each set with rules that the plan tells too little for.

    Parameters
    ----------
    rules : sequence of RuleSet
        The rules that the plan names.
    spread : Spread
        What is spread, and how.
    crop : str
        Id of the crop.
    method : str
        Method that the soil tests count as.
    unit : str
        Unit of the soil tests.
    day : datetime.date, optional
        When it is spread.
    features : bool
        Whether any water was given to keep distances from.

    Returns
    -------
    tuple of Finding
        One a set, with all that is missing.
    """
    found = []
    for each in rules:
        missing: list[str] = []
        limits = [one for one in each.soil_test if bearing(one, spread).binds]
        caps = [one for one in each.cap if bearing(one, spread).binds]
        tested = f"soil tests by {METHODS.get(method, method)} in {unit}"
        if limits and all(_misfit(one, method, unit) for one in limits):
            missing.append(f"no limit is for {tested}")
        if caps and not any(crop in one.crops for one in caps):
            crops = ", ".join(dict.fromkeys(name for one in caps for name in one.crops))
            missing.append(f"what is allowed is for other crops than {crop}: {crops}")
        elif caps and all(_misfit(one, method, unit) for one in caps):
            missing.append(f"what is allowed is not for {tested}")
        away = [one for one in each.distance if one.value > 0.0]
        if not features and any(bearing(one, spread).binds for one in away):
            missing.append("no water was given to keep its distances from")
        if day is None and any(bearing(one, spread).binds for one in each.season):
            missing.append("no day was told (application.date)")
        for rule in each.placement:
            held = bearing(rule, spread)
            if held.unless:
                missing.append(f"{rule.text}: unless {' or '.join(held.unless)}")
        if missing:
            message = f"{each.id}: {'; '.join(missing)}"
            found.append(finding("rule-not-judged", place=each.id, message=message))
    return tuple(found)


def _of_plan(code: str, said: str, rule: Decides, rules: RuleSet) -> Finding:
    message = f"field: {said}: {_told(rule, rules)}"
    return finding(code, place="field", message=message, severity=_severity(rule, code))


def _told(rule: Decides, rules: RuleSet) -> str:
    return f"{rule.text} ({rules.id}, {rule.source.status}: {rule.source.where})"


def _severity(rule: Decides, code: str) -> Severity:
    check = checks()[code]
    return check.worse() if rule.does == "forbids" else check.severity


def _misfit(rule: SoilTestRule | CapRule, method: str, unit: SoilTestUnit) -> bool:
    return _in_unit(rule, 1.0, method=method, unit=unit) is None


def _in_unit(
    rule: SoilTestRule | CapRule, value: float, *, method: str, unit: SoilTestUnit
) -> float | None:
    """Return a soil test in a rule's unit, None where the rule is for another."""
    if method not in rule.methods:
        return None
    there, kind = soil_test_ppm_or_mg_l(value, unit)
    # One unit of the rule's own, by mass or by volume: the two never mix.
    one, other = soil_test_ppm_or_mg_l(1.0, rule.test_unit)
    return round(there / one, 4) if kind == other else None
