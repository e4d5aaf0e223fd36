"""Rules on water in the terminal: which sets there are, and every rule of one."""

from typing import IO, Any

from vrp.agronomy.water import ENDS_WITH, RuleSet, plain_rules, rule_sets
from vrp.agronomy.water_rules import Decides, DistanceRule
from vrp.report import terminal

_LIES = {
    "surface": "on the surface",
    "worked-in": "worked in",
    "in-soil": "placed in the soil",
}


def listing(*, as_json: bool, file: IO[str]) -> None:
    """Print the sets that ship, with their place and what they decide."""
    known = rule_sets()
    if as_json:
        terminal.print_json(
            {name: _facts(one) for name, one in known.items()}, file=file
        )
        return
    for name, one in known.items():
        rows = [
            ("publication", one.citation),
            ("where", one.place),
            ("standing", one.standing),
            ("decides", _decides(one)),
        ]
        terminal.table(name, ("", ""), rows, file=file)
    terminal.say(ENDS_WITH, file=file)


def one(rules: RuleSet, *, as_json: bool, file: IO[str]) -> None:
    """Print every rule of a set with its status and source."""
    if as_json:
        terminal.print_json(plain_rules(rules), file=file)
        return
    rows = [
        ("publication", rules.citation),
        ("where", rules.place),
        ("standing", rules.standing),
        ("read on", str(rules.read_on)),
    ]
    terminal.table(rules.id, ("", ""), rows, file=file)
    for what, decided in rules.by_kind():
        entries = [(f"{rule.text} ({_binds(rule)})", _behind(rule)) for rule in decided]
        terminal.entries(what, entries, file=file)
    if rules.also:
        entries = [
            (rule.text, f"{rule.source.status}: {rule.source.where}")
            for rule in rules.also
        ]
        terminal.entries("What else it says, not judged here", entries, file=file)
    terminal.say(ENDS_WITH, file=file)


def _facts(rules: RuleSet) -> dict[str, Any]:
    return {
        "citation": rules.citation,
        "place": rules.place,
        "standing": rules.standing,
        "decides": {what: len(decided) for what, decided in rules.by_kind()},
    }


def _decides(rules: RuleSet) -> str:
    counts = [f"{what} ({len(decided)})" for what, decided in rules.by_kind()]
    return ", ".join(counts) or "nothing that vrp judges"


def _binds(rule: Decides) -> str:
    """Return what a rule binds, in a few words."""
    what = " and ".join(rule.materials)
    if rule.forms:
        what = f"{' or '.join(rule.forms)} {what}"
    said = [f"{rule.does}; {what}"]
    if len(rule.lies) < len(_LIES):
        said.append(" or ".join(_LIES[lie] for lie in rule.lies))
    if rule.worked_in_hours is not None:
        said.append(f"worked in means within {rule.worked_in_hours:g} hours")
    if not rule.growing_crop:
        said.append("not on a growing crop")
    return ", ".join(said)


def _behind(rule: Decides) -> str:
    said = f"{rule.source.status}: {rule.source.where}"
    if isinstance(rule, DistanceRule):
        if rule.alternative is not None:
            said = f"in its place: {rule.alternative}. {said}"
        if rule.where is not None:
            said = f"where {rule.where}. {said}"
        said = f"{rule.value:g} {rule.unit}; {', '.join(rule.features)}. {said}"
    return said
