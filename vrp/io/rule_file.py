"""Rules on water by id, or from a person's own file."""

from collections.abc import Iterable
from pathlib import Path

from vrp.agronomy.water import RuleSet, read_rule_set, rule_set
from vrp.errors import InputError


def find(which: str) -> RuleSet:
    """Return a set of rules that ships, or that of a file."""
    if not which.endswith(".toml"):
        return rule_set(which)
    path = Path(which)
    try:
        text = path.read_text("utf-8-sig")
    except (OSError, UnicodeDecodeError) as exc:
        raise InputError(f"rules {path.name}: cannot be read: {exc}") from exc
    return read_rule_set(text, path.name)


def find_all(names: Iterable[str]) -> tuple[RuleSet, ...]:
    """Return the sets that a plan names, each once."""
    found: dict[str, RuleSet] = {}
    for name in names:
        one = find(name)
        if one.id in found:
            raise InputError(f"water.rules: {one.id} stands twice; name it once")
        found[one.id] = one
    return tuple(found.values())
