"""Sets of rules on water: those that ship, one by name or from its text, distances."""

import tomllib
from collections.abc import Mapping, Sequence
from datetime import date
from functools import cache
from importlib.resources import files
from typing import Annotated, Any, Literal

from pydantic import Field, TypeAdapter, ValidationError
from pydantic.dataclasses import dataclass

from vrp.agronomy.complaints import complaint, nearest
from vrp.agronomy.figures import STRICT, Rule, Text
from vrp.agronomy.products import Form
from vrp.agronomy.water_rules import (
    LIES,
    CapRule,
    Decides,
    DistanceRule,
    Feature,
    GroundRule,
    Lie,
    Material,
    PlacementRule,
    RainRule,
    SeasonRule,
    SoilTestRule,
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


@dataclass(frozen=True, slots=True, kw_only=True, config=STRICT)
class RuleSet:
    """
    A publication's rules on water, and where they hold.

    Attributes
    ----------
    id : str
        Its short name.
    title, publisher : str
        The publication.
    number : str, optional
        Its number.
    year : int, optional
        Of the edition, where it says so.
    url : str, optional
        Where it stands.
    read_on : datetime.date
        When it was read.
    standing : str
        ``law``, ``standard`` (of an agency, a program or a permit) or ``advice``.
    place : str
        Where it holds, and for whom, in words.
    distance, rain, ground, season, placement, soil_test, cap : tuple
        Its rules, by what they decide.
    also : tuple of Rule
        What else it says that is not judged here.
    """

    id: Annotated[str, Field(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$")]
    title: Text
    publisher: Text
    number: Text | None = None
    year: Annotated[int, Field(ge=1900, le=2200, strict=True)] | None = None
    url: Annotated[str, Field(pattern=r"^https?://")] | None = None
    read_on: date
    standing: Literal["law", "standard", "advice"]
    place: Text
    distance: tuple[DistanceRule, ...] = ()
    rain: tuple[RainRule, ...] = ()
    ground: tuple[GroundRule, ...] = ()
    season: tuple[SeasonRule, ...] = ()
    placement: tuple[PlacementRule, ...] = ()
    soil_test: tuple[SoilTestRule, ...] = ()
    cap: tuple[CapRule, ...] = ()
    also: tuple[Rule, ...] = ()

    @property
    def citation(self) -> str:
        """
        Return the publication in a line.

        Returns
        -------
        str
            Title, number, publisher, year and address, as far as they are known.
        """
        parts = (self.title, self.number, self.publisher, self.year, self.url)
        return ", ".join(str(part) for part in parts if part is not None)

    def by_kind(self) -> tuple[tuple[str, tuple[Decides, ...]], ...]:
        """
        Return its rules by what they decide.

        Returns
        -------
        tuple of (str, tuple of Decides)
            Of those kinds that it has.
        """
        kinds: tuple[tuple[str, tuple[Decides, ...]], ...] = (
            ("Distances", self.distance),
            ("Forecast", self.rain),
            ("Ground", self.ground),
            ("Season", self.season),
            ("Placement", self.placement),
            ("Soil test", self.soil_test),
            ("Most P2O5", self.cap),
        )
        return tuple((kind, decided) for kind, decided in kinds if decided)


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


def plain_rules(rules: RuleSet) -> dict[str, Any]:
    """
    Return a rule set as JSON has it, which `schema` describes.

    Parameters
    ----------
    rules : RuleSet
        The rules.

    Returns
    -------
    dict
        Plain values alone.
    """
    plain: dict[str, Any] = _RULES.dump_python(rules, mode="json")
    return plain


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
