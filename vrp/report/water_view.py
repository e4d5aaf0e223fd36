"""What matters for water in each zone, as a table of text."""

from collections.abc import Sequence
from dataclasses import dataclass

from vrp.agronomy.water_facts import ZoneWater
from vrp.evidence import row_list

MOST_ZONES = 12  # our choice: a screen
NO_INDEX = (
    "Facts side by side, most against first: no official index and no amount that is "
    "lost. Nothing of it changes a rate."
)
# Facts that are only known where water or heights were given.
_GROUND = ("storm-reach", "slope")


@dataclass(frozen=True, slots=True)
class Text:
    """A table, and sentences below it."""

    title: str
    headings: list[str]
    rows: list[list[str]]
    notes: list[str]


def water_of_zones(found: Sequence[ZoneWater]) -> Text | None:
    """Return the table; None where neither water nor heights were given."""
    if not any(
        one.name in _GROUND and one.stands != "not known"
        for zone in found
        for one in zone.facts
    ):
        return None
    common = _common(found)
    rows = [
        [
            str(zone.zone),
            f"{zone.against} of {zone.judged}",
            "; ".join(one for one in _reasons(zone) if one not in common)
            or "nothing of its own",
        ]
        for zone in found[:MOST_ZONES]
    ]
    notes = []
    if len(found) > MOST_ZONES:
        notes.append(f"{len(found) - MOST_ZONES} more zones stand in the record.")
    if common:
        notes.append(f"Against every zone: {'; '.join(common)}.")
    unknown = _alike([_unknown(zone) for zone in found])
    if unknown:
        notes.append(f"Not known: {'; '.join(unknown)}.")
    return Text(
        "What matters for water",
        ["zone", "against", "what stands against it"],
        rows,
        [*notes, *_placements(found), NO_INDEX],
    )


def _placements(found: Sequence[ZoneWater]) -> list[str]:
    """Return what may be done instead, each with its zones and what it costs."""
    told: dict[tuple[str, str], list[int]] = {}
    for zone in sorted(found, key=lambda one: one.zone):
        for advice in zone.advice:
            if advice.action != "as-planned":
                told.setdefault((advice.text, advice.trade), []).append(zone.zone)
    return [
        f"To weigh in {_zones(numbers)}: {text}. Against it: {trade}."
        for (text, trade), numbers in told.items()
    ]


def _zones(numbers: list[int]) -> str:
    return row_list(numbers).replace("row", "zone", 1)


def _common(found: Sequence[ZoneWater]) -> list[str]:
    """Return what stands against every zone in the same words, if there are several."""
    return _alike([_reasons(zone) for zone in found]) if len(found) > 1 else []


def _unknown(zone: ZoneWater) -> list[str]:
    return [one.said for one in zone.facts if one.stands == "not known"]


def _reasons(zone: ZoneWater) -> list[str]:
    """Return what stands against a zone, both distances in one."""
    against = {one.name: one for one in zone.facts if one.stands == "against"}
    near = against.pop("stream-side", None)
    said = {name: one.said for name, one in against.items()}
    if near is not None and near.limit is not None:
        said["storm-reach"] += f" and {near.limit:,.0f} {near.unit}"
    return list(said.values())


def _alike(said: Sequence[Sequence[str]]) -> list[str]:
    """Return what all zones say alike."""
    kept = [one for one in said[0] if all(one in each for each in said)]
    return list(dict.fromkeys(kept))
