"""What the rules say of the day of application, in the terminal or as JSON."""

from typing import IO, Any

from vrp.agronomy.ready import Judged, Outcome, Readiness
from vrp.agronomy.water import GENERAL, rule_sets
from vrp.evidence import Finding
from vrp.report import terminal

# The gravest first.
_HEADS: dict[Outcome, str] = {
    "forbids": "FORBIDS",
    "asks to wait": "Asks to wait",
    "not enough was told": "Not enough was told",
    "does not bind": "Does not bind",
}
DECIDES = (
    "The law where the field lies, the product label and the nutrient plan of a "
    "certified person decide, and the applicator answers for it."
)


def show(found: Readiness, *, as_json: bool, file: IO[str]) -> None:
    """Print the outcomes, the gravest first, and that none of them is a permit."""
    if as_json:
        terminal.print_json(_facts(found), file=file)
        return
    terminal.say(f"{found.field}, {found.grade}: the day of application", file=file)
    if not found.zones:
        terminal.say("No zone gets product: there is nothing to spread.", file=file)
        return
    terminal.say(f"{_zones(found)}. No other ground is driven with product.", file=file)
    terminal.say(_kept(found), file=file)
    if not found.named:
        terminal.say(
            "The field file names no rules (rules under [water]). General good "
            "practice is asked in their place, from memory; it forbids nothing. "
            f"Rules that ship: {', '.join(rule_sets())}.",
            file=file,
        )
    elif found.rules[-1] == GENERAL:
        terminal.say(
            "None of the rules that the field file names looks at the state of the "
            f"ground for {found.material}. General good practice is asked for it, from "
            "memory; it forbids nothing.",
            file=file,
        )
    file.write("\n")
    for outcome, head in _HEADS.items():
        entries = [
            (
                f"{one.text}: {one.why}",
                _behind(one),
            )
            for one in found.judged
            if one.outcome == outcome
        ]
        if entries:
            terminal.entries(head, entries, file=file)
    if found.also:
        said = [
            (text, f"{rules}; {source.status}: {source.where}")
            for rules, text, source in found.also
        ]
        terminal.entries(
            "Look yourself: what else they say, not judged", said, file=file
        )
    if found.unheard:
        terminal.say(
            f"Told, and no rule given here looks at it: {' and '.join(found.unheard)}. "
            "Look yourself.",
            file=file,
        )
    if found.planned:
        terminal.say("When it was planned:", file=file)
        terminal.findings(found.planned, file=file)
    terminal.say(conclusion(found), file=file)


def _behind(one: Judged) -> str:
    """Return where a rule stands; of one that does not bind, its set alone."""
    if one.outcome == "does not bind":
        return one.rules
    return f"{one.rules}; {one.source.status}: {one.source.where}"


def conclusion(found: Readiness) -> str:
    """Return what it comes to, in two sentences."""
    untold = sum(one.outcome == "not enough was told" for one in found.judged)
    own = [one.code for one in found.planned if one.holds_back and not _of_rules(one)]
    said = "None of the rules given here forbids it, which is no permission"
    if any(one.outcome == "forbids" for one in found.judged) or any(
        one.holds_back and _of_rules(one) for one in found.planned
    ):
        said = "At least one of the rules given here forbids it"
    if own:
        said += f"; stops of the plan itself hold its files back: {', '.join(own)}"
    if untold:
        said += f"; {untold} could not be judged"
    if found.unheard:
        said += f"; no rule looks at {' and '.join(found.unheard)}"
    if found.also:
        said += f"; {len(found.also)} more are not judged, look yourself"
    if any(one.code == "setback-below-rule" for one in found.planned):
        said += "; the map keeps less from water than they ask for"
    return f"{said}. {DECIDES}"


def _of_rules(one: Finding) -> bool:
    """Return whether a rule on water brought a finding up."""
    return one.code.startswith("rule-") or one.code == "setback-below-rule"


def _zones(found: Readiness) -> str:
    numbers = ", ".join(str(number) for number in found.zones)
    word = "Zone" if len(found.zones) == 1 else "Zones"
    verb = "gets" if len(found.zones) == 1 else "get"
    return f"{word} {numbers} ({found.area:g} {found.area_unit}) {verb} product"


def _kept(found: Readiness) -> str:
    if not found.kept:
        return "The map keeps no distance from water: no features were given."
    told = [f"{far:g} {found.length_unit} from {kind}" for kind, far in found.kept]
    return f"The map keeps {', '.join(told)}: mark them, and keep them."


def _facts(found: Readiness) -> dict[str, Any]:
    return {
        "field": found.field,
        "grade": found.grade,
        "material": found.material,
        "zones": list(found.zones),
        "area": found.area,
        "area_unit": found.area_unit,
        "kept": dict(found.kept),
        "length_unit": found.length_unit,
        "rules": list(found.rules),
        "rules_named": found.named,
        "forbidden": found.forbidden,
        "judged": [
            {
                "rules": one.rules,
                "outcome": one.outcome,
                "text": one.text,
                "why": one.why,
                "status": one.source.status,
                "where": one.source.where,
            }
            for one in found.judged
        ],
        "also": [
            {
                "rules": rules,
                "text": text,
                "status": source.status,
                "where": source.where,
            }
            for rules, text, source in found.also
        ],
        "unheard": list(found.unheard),
        "planned": [
            {"code": one.code, "message": one.message, "accepted": one.accepted}
            for one in found.planned
        ],
        "note": conclusion(found),
    }
