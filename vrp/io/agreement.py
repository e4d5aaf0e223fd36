"""Whether what was read back says what was meant."""

from collections.abc import Mapping, Sequence

import shapely

from vrp.errors import VrpError


def count(wanted: int, found: int, *, place: str, things: str = "zones") -> None:
    """Raise where something is missing or too many."""
    if found != wanted:
        raise VrpError(f"{place} holds {found} of {wanted} {things}")


def same(
    wanted: Mapping[str, object], found: Mapping[str, object], *, place: str
) -> None:
    """Raise where a column of a zone, or of a sample by its row, reads otherwise."""
    for name, value in wanted.items():
        if found.get(name) != value:
            reads = f"{name} reads {found.get(name)!r}, not {value!r}"
            first = next(iter(wanted))
            raise VrpError(f"{place}, {first} {wanted[first]}: {reads}")


def cover(
    wanted: Sequence[shapely.Geometry],
    found: Sequence[shapely.Geometry],
    *,
    place: str,
) -> None:
    """Raise where a zone has another shape, or the zones do not tile the field."""
    for number, (zone, shape) in enumerate(zip(wanted, found, strict=True), start=1):
        if not shapely.equals(zone, shape):
            raise VrpError(f"{place}: zone {number} reads back in another shape")
    if not shapely.coverage_is_valid(found):
        raise VrpError(f"{place}: the zones do not tile the field")
