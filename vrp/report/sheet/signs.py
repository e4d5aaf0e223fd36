"""Typesetting with the letters that come with the typesetter, none of them dropped."""

from collections.abc import Callable
from functools import cached_property
from typing import Any, Literal

# Takes what can be read aloud in order, and fails where a letter has no shape.
_STANDARD: Literal["ua-1"] = "ua-1"
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

        text = as_text(told)
        try:
            return self._compiled(self._template, {"sheet": text, "map": drawing})
        except TypstError:
            lacking = self._lacking(text + drawing)
            if not lacking:
                raise
        names = {sign: f"\\u{ord(sign):04x}" for sign in lacking}
        table = {ord(sign): name.replace("\\", "\\\\") for sign, name in names.items()}
        told = {**told, "spelled": sorted(names.values())}
        given = {
            "sheet": as_text(told).translate(table),
            "map": drawing.translate({ord(one): name for one, name in names.items()}),
        }
        return self._compiled(self._template, given)

    def _lacking(self, text: str) -> list[str]:
        """Return the letters of a text that have no shape."""
        unusual = sorted({sign for sign in text if not sign.isascii()})
        return [sign for sign in unusual if not self._has(sign)]

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


# All letters of the sheet: a sign that one of them lacks is spelled out.
_ONE_SIGN = b"""
#set document(title: "x")
#set text(font: "Libertinus Serif")
#sys.inputs.sign *#sys.inputs.sign* #text(font: "DejaVu Sans Mono", sys.inputs.sign)
"""
