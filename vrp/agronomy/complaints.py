"""What is wrong with a file of figures, in plain words."""

from collections.abc import Iterable
from dataclasses import fields, is_dataclass
from difflib import get_close_matches
from typing import Any, get_args

from pydantic import ValidationError

_EXPECTED = {
    "float_type": "must be a number",
    "float_parsing": "must be a number",
    "int_type": "must be a whole number",
    "int_parsing": "must be a whole number",
    "int_from_float": "must be a whole number",
    "string_type": "must be text",
    "bool_type": "must be true or false",
    "tuple_type": "must be a list",
    "dict_type": "must be a table of keys",
    "mapping_type": "must be a table of keys",
    "dataclass_type": "must be a table of keys",
    "finite_number": "must be a finite number",
    "date_type": "must be a date such as 2026-11-25",
    "date_parsing": "must be a date such as 2026-11-25",
    "date_from_datetime_parsing": "must be a date such as 2026-11-25",
    "date_from_datetime_inexact": "must be a date such as 2026-11-25, without a time",
    "string_too_short": "must not be empty",
    "too_short": "must not be empty",
}


def nearest(word: str, known: Iterable[str]) -> str:
    """
    Hint at the nearest known word.

    Parameters
    ----------
    word : str
        What was written.
    known : iterable of str
        What could have been meant.

    Returns
    -------
    str
        Such as ``, did you mean 'wheat'``; empty where nothing is near.
    """
    words = list(known)
    close = get_close_matches(word.lower(), words, n=1)
    close += [one for one in words if word and one.startswith(word.lower())]
    return f", did you mean {close[0]!r}" if close else ""


def complaint(error: ValidationError, models: Iterable[type]) -> str:
    """
    First complaint of a validation: key, what is wrong, value.

    Parameters
    ----------
    error : pydantic.ValidationError
        What pydantic found.
    models : iterable of type
        Dataclasses that the text was read as; their fields are the known keys.

    Returns
    -------
    str
        One line, without the name of the file.
    """
    known: set[str] = set()
    forms: set[str] = set()
    for model in models:
        _gather(model, known, forms, set())
    # A key that is unknown explains one that is missing: say it first.
    unknown = "unexpected_keyword_argument"
    first = min(error.errors(), key=lambda found: found["type"] != unknown)
    location = [str(part) for part in first["loc"]]
    if location and location[0] in forms:
        location = location[1:]
    place = ".".join(location)
    kind, value = first["type"], first["input"]
    context = first.get("ctx", {})
    if kind == unknown:
        return f"{place}: unknown key{nearest(location[-1], known)}"
    if kind in {"missing", "missing_keyword_only_argument", "missing_argument"}:
        return f"{place}: missing"
    if kind == "union_tag_not_found":
        return f"form: missing; one of {', '.join(sorted(forms))}"
    if kind == "union_tag_invalid":
        tag = str(context["tag"])
        return (
            f"form: unknown {tag!r}{nearest(tag, forms)}; one of "
            f"{', '.join(sorted(forms))}"
        )
    if kind == "value_error":
        return f"{place}: {context['error']}" if place else str(context["error"])
    return f"{place}: {_expected(kind, context, first['msg'])}, got {_shown(value)}"


def _expected(kind: str, context: dict[str, Any], message: str) -> str:
    if kind in _EXPECTED:
        return _EXPECTED[kind]
    bounds = {"greater_than": "gt", "greater_than_equal": "ge"}
    bounds |= {"less_than": "lt", "less_than_equal": "le"}
    words = {"gt": "above", "ge": "at least", "lt": "below", "le": "at most"}
    if kind in bounds:
        bound = bounds[kind]
        return f"must be {words[bound]} {context[bound]:g}"
    if kind == "literal_error":
        return f"must be one of {context['expected'].replace(' or ', ', ')}"
    if kind == "string_pattern_mismatch":
        return "must be an address that begins with https:// or http://"
    return message[0].lower() + message[1:]


def _shown(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 60 else f"{text[:57]}..."


def _gather(model: Any, known: set[str], forms: set[str], seen: set[Any]) -> None:
    if model in seen:
        return
    seen.add(model)
    for part in get_args(model):
        if not isinstance(part, str | list | tuple):
            _gather(part, known, forms, seen)
    if is_dataclass(model):
        for field in fields(model):
            known.add(field.name)
            if field.name == "form":
                forms.update(get_args(field.type))
            _gather(field.type, known, forms, seen)
