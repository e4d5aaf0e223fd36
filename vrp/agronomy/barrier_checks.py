"""Findings on surfaces that end at barriers."""

from collections.abc import Iterator, Sequence

from vrp.agronomy.checks import finding
from vrp.evidence import Finding


def parts_apart(parts: int, *, few: Sequence[int], place: str) -> Iterator[Finding]:
    """
    Say where a surface ends at barriers, and where it could not.

    Parameters
    ----------
    parts : int
        Number of parts of the field on different sides of barriers, 0 without any.
    few : sequence of int
        Numbers of samples of the parts that are estimated from the whole field's.
    place : str
        What is named as the place.

    Yields
    ------
    Finding
        For the parts, and for each with too few samples.
    """
    if not parts:
        return
    sides = "parts on different sides of barriers"
    message = f"field: its {parts} {sides} are interpolated apart"
    yield finding("parts-interpolated-apart", place=place, message=message)
    for count in few:
        held = "1 sample" if count == 1 else f"{count or 'no'} samples"
        message = (
            f"field: a part behind a barrier has {held}, so it is estimated from those "
            "of the whole field"
        )
        yield finding("part-with-few-samples", place=place, message=message)
