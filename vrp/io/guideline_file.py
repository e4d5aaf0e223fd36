"""A guideline by id, or from a person's own file."""

from collections.abc import Iterable
from pathlib import Path

from vrp.agronomy.guidelines import Guideline, parse, shipped
from vrp.errors import InputError


def find(which: str) -> tuple[str, Guideline]:
    """Return id and content of a shipped guideline, or name and content of a file."""
    if not which.endswith(".toml"):
        known = shipped()
        if which not in known:
            message = (
                f"guideline {which!r} does not ship; use one of {', '.join(known)}, or "
                "the path of your own .toml"
            )
            raise InputError(message)
        return which, known[which]
    path = Path(which)
    try:
        text = path.read_text("utf-8-sig")
    except (OSError, UnicodeDecodeError) as exc:
        raise InputError(f"guideline {path.name}: cannot be read: {exc}") from exc
    return path.stem, parse(text, path.name)


def every(own: Iterable[str] = ()) -> dict[str, Guideline]:
    """Return all that ship and a person's own by name, told apart where names meet."""
    found = shipped()
    for path in own:
        if not path.endswith(".toml"):
            raise InputError(
                f"guideline {path!r}: your own is a .toml file; give its path"
            )
        name, guideline = find(path)
        name = f"{name} (own)" if name in shipped() else name
        if name in found:
            message = f"guideline {Path(path).name}: another of that name was given"
            raise InputError(f"{message}: rename one of the files")
        found[name] = guideline
    return found
