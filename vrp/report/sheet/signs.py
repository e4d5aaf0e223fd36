"""Typesetting with the letters that come with the typesetter, none of them dropped."""

from collections.abc import Callable
from functools import cached_property
from typing import Any, Literal

# Takes what can be read aloud in order, and fails where a letter has no shape.
_STANDARD: Literal["ua-1"] = "ua-1"
_MOST_NAMED = 8  # of letters that are spelled out; our choice
# Any constant: the same input gives the same bytes.
_NO_CLOCK = 946684800  # the start of the year 2000


class Typesetter:
    """A template, and the letters that there are."""

    def __init__(self, template: bytes) -> None:
        self._template = template

    @cached_property
    def _fonts(self) -> Any:
        import typst

        return typst.Fonts(include_system_fonts=False)

    def pdf(
        self, told: dict[str, Any], drawing: str, as_text: Callable[[Any], str]
    ) -> bytes:
        """
        Return a tagged PDF of what is told.

        A letter without a shape is spelled out wherever it stands, and named under
        ``spelled``, so that nothing is lost unseen.
        """
        from typst import TypstError

        given = {"sheet": as_text(told), "map": drawing}
        for spell in (_nothing, self._lacking, _all_unusual):
            signs = spell("".join(given.values()))
            names = {sign: f"\\u{ord(sign):04x}" for sign in signs}
            # In JSON a backslash is written twice.
            twice = {ord(sign): f"\\{name}" for sign, name in names.items()}
            once = {ord(sign): name for sign, name in names.items()}
            sheet = as_text({**told, "spelled": _named(names)}).translate(twice)
            try:
                return self._compiled(
                    self._template, {"sheet": sheet, "map": drawing.translate(once)}
                )
            except TypstError as error:
                failed = error
        raise failed

    def _lacking(self, text: str) -> list[str]:
        """Return the letters of a text that have no shape."""
        return [sign for sign in _all_unusual(text) if not self._has(sign)]

    def _has(self, sign: str) -> bool:
        from typst import TypstError

        try:
            self._compiled(_ONE_SIGN, {"sign": sign})
        except TypstError:
            return False
        return True

    def _compiled(self, source: bytes, given: dict[str, str]) -> bytes:
        import typst

        made: bytes = typst.compile(
            source,
            font_paths=self._fonts,
            ignore_system_fonts=True,
            format="pdf",
            sys_inputs=given,
            pdf_standards=_STANDARD,
            timestamp=_NO_CLOCK,
        )
        return made


def _named(names: dict[str, str]) -> list[str]:
    found = sorted(names.values())
    more = len(found) - _MOST_NAMED
    return found if more <= 0 else [*found[:_MOST_NAMED], f"and {more} more"]


def _nothing(text: str) -> list[str]:
    return []


def _all_unusual(text: str) -> list[str]:
    """Return what is not sure to have a shape whatever stands beside it."""
    return sorted({sign for sign in text if not sign.isascii() and sign not in _OURS})


# Beyond ASCII, in figures and sentences of vrp's own.
_OURS = "–−×·…°²³µ\u2019\u201c\u201d"
# All letters of the sheet: a sign that one of them lacks is spelled out.
_ONE_SIGN = b"""
#set document(title: "x")
#set text(font: "Libertinus Serif")
#sys.inputs.sign *#sys.inputs.sign* #text(font: "DejaVu Sans Mono", sys.inputs.sign)
"""
