"""Rules on water by id, or from a person's own file."""

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
