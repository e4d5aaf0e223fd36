"""Sets of rules on water: those that ship, one by name or from its text, distances."""

import tomllib
from collections.abc import Mapping, Sequence
from functools import cache
from importlib.resources import files
from typing import Any, Literal

from pydantic import TypeAdapter, ValidationError

from vrp.agronomy.complaints import complaint, nearest
from vrp.agronomy.products import Form
from vrp.agronomy.water_rules import (
    LIES,
    DistanceRule,
    Feature,
    Lie,
    Material,
    RuleSet,
    State,
)
from vrp.errors import InputError
from vrp.evidence import Source
from vrp.units import FOOT

Method = Literal[
    "broadcast", "incorporated", "band", "deep-band", "starter-2x2", "seed-row"
]


# The practice that is held to the day where a plan names no rules.
GENERAL = "nrcs-590-general"
ENDS_WITH = (
    "A summary for planning, not the law itself: the local code, and the nutrient plan "
    "of a certified person, come first."
)

_RULES: TypeAdapter[RuleSet] = TypeAdapter(RuleSet)


def read_rule_set(text: str, name: str) -> RuleSet:
    """
    Rule set from its TOML text.

    Parameters
    ----------
    text : str
        The rules, as in ``vrp/agronomy/data/rules``.
    name : str
        What messages call it.

    Returns
    -------
    RuleSet
        Its figures as published.

    Raises
    ------
    InputError
        If a figure, its source or the citation is missing, or a key or unit unknown.
    """
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"{name}: not valid TOML: {error}") from error
    try:
        return _RULES.validate_python(table)
    except ValidationError as error:
        raise InputError(f"{name}: {complaint(error, (RuleSet,))}") from error


def schema() -> dict[str, Any]:
    """
    Return the JSON Schema of a file of rules.

    Returns
    -------
    dict
        For any set.
    """
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **_RULES.json_schema(),
        "title": "vrp rules on water",
    }


@cache
def _shipped() -> Mapping[str, RuleSet]:
    folder = files("vrp.agronomy") / "data" / "rules"
    texts = {file.name: file.read_text("utf-8") for file in folder.iterdir()}
    found = [read_rule_set(texts[name], name) for name in sorted(texts)]
    return {one.id: one for one in found}


def rule_sets() -> dict[str, RuleSet]:
    """
    Every set of rules that ships with vrp.

    Returns
    -------
    dict of RuleSet
        By id.
    """
    return dict(_shipped())


def rule_set(name: str) -> RuleSet:
    """
    Return a set of rules that ships with vrp.

    Parameters
    ----------
    name : str
        Its id.

    Returns
    -------
    RuleSet
        Its rules.

    Raises
    ------
    InputError
        If there is none of that id.
    """
    known = _shipped()
    if name not in known:
        message = (
            f"rules {name!r} do not ship{nearest(name, known)}; use one of "
            f"{', '.join(known)}, or the path of your own .toml"
        )
        raise InputError(message)
    return known[name]


def lies(
    method: Method | None, *, worked_in: float | None, within: float | None
) -> tuple[Lie, ...]:
    """
    Return where a material may come to lie, as a rule sees it.

    Parameters
    ----------
    method : str, optional
        How it is placed, as the field file has it.
    worked_in : float, optional
        After how many hours it is worked in, where that was told.
    within : float, optional
        Within how many hours the rule wants it, these included; None: whenever.

    Returns
    -------
    tuple of str
        One of them, or all where the placement was not told. What is incorporated
        later than the rule wants, or nobody knows when, lies on the surface.

    Examples
    --------
    >>> lies("incorporated", worked_in=24.0, within=24.0)
    ('worked-in',)
    >>> lies("incorporated", worked_in=None, within=24.0)
    ('surface',)
    """
    if method is None:
        return LIES
    if method == "broadcast":
        return ("surface",)
    if method != "incorporated":
        return ("in-soil",)
    soon = within is None or (worked_in is not None and worked_in <= within)
    return ("worked-in",) if soon else ("surface",)


def distance(
    rules: RuleSet | Sequence[RuleSet],
    *,
    kind: Feature,
    material: Material,
    form: Form | None,
    method: Method | None,
    worked_in: float | None = None,
    ground: State | None = None,
) -> tuple[float, DistanceRule, Source] | None:
    """
    Return how near a feature a material may be spread.

    Parameters
    ----------
    rules : RuleSet or sequence of RuleSet
        The rules; of several the greatest distance counts.
    kind : str
        Kind of the feature: stream, ditch, lake, wetland, well, tile-inlet, sinkhole,
        slope or other.
    material : str
        ``fertilizer`` or ``manure``; a rule for one does not bind the other.
    form : str, optional
        ``granular`` or ``liquid``; where it was not told any may be meant.
    method : str, optional
        How it is placed, as the field file has it; where it was not told, the greatest
        distance of any placement.
    worked_in : float, optional
        After how many hours it is worked in, where that was told.
    ground : str, optional
        ``frozen``, ``snow`` or ``saturated``; rules for such ground hold on it alone.

    Returns
    -------
    tuple of (float, DistanceRule, Source) or None
        Distance, the rule and where it stands; nearer is not allowed, at it is. Zero
        where a rule says that none is kept. None where no rule binds. [ft]

    Notes
    -----
    Our choice: where a rule turns on something that a map does not show, such as which
    side of a sinkhole, the greatest distance counts, and what may stand in its place
    is told and not applied.

    Examples
    --------
    >>> maryland = rule_set("maryland-2012")
    >>> distance(maryland, kind="stream", material="fertilizer", form="granular",
    ...          method="broadcast")[0]
    35.0
    """
    sets = (rules,) if isinstance(rules, RuleSet) else rules
    binding = [
        rule
        for each in sets
        for rule in each.distance
        if kind in rule.features
        and material in rule.materials
        and (form is None or not rule.forms or form in rule.forms)
        and (not rule.ground or ground in rule.ground)
        and set(lies(method, worked_in=worked_in, within=rule.worked_in_hours))
        & set(rule.lies)
    ]
    if not binding:
        return None
    rule = max(binding, key=feet)
    return feet(rule), rule, rule.source


def feet(rule: DistanceRule) -> float:
    """
    Return a rule's distance in feet.

    Parameters
    ----------
    rule : DistanceRule
        The rule, in feet or metres.

    Returns
    -------
    float
        Its distance. [ft]
    """
    return rule.value if rule.unit == "ft" else rule.value / FOOT
