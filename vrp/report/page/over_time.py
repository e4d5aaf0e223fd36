"""What the crops of the plan take and leave, season by season."""

from dataclasses import dataclass

from vrp.evidence import whole
from vrp.prescription import Prescription

# Rows of the table: our choice, more stand in the record.
MOST_SEASONS = 120


@dataclass(frozen=True, slots=True)
class Season:
    """A season in a zone; empty where no figure was found."""

    zone: int
    first: bool  # of its zone
    crop: str
    applied: str
    removal: str
    balance: str
    low: str
    middle: str
    high: str
    straight: str


@dataclass(frozen=True, slots=True)
class Rotation:
    """All seasons of all zones."""

    seasons: tuple[Season, ...]
    left: int
    removal: bool
    band: bool
    straight: bool


def rotation(prescription: Prescription) -> Rotation:
    """Return the seasons as text; none where nothing is known of them."""
    found, last = [], 0
    for one in prescription.seasons[:MOST_SEASONS]:
        ends = (one.stp_low, one.stp_mid, one.stp_high)
        low, middle, high = ("" if end is None else f"{end:.1f}" for end in ends)
        found.append(
            Season(
                one.zone,
                one.zone != last,
                one.crop,
                whole(one.applied),
                "" if one.removal is None else whole(one.removal),
                "" if one.balance is None else whole(one.balance),
                low,
                middle,
                high,
                "" if one.stp_straight is None else f"{one.stp_straight:.1f}",
            )
        )
        last = one.zone
    known = [one for one in found if one.removal or one.middle]
    return Rotation(
        tuple(found) if known else (),
        max(0, len(prescription.seasons) - MOST_SEASONS),
        any(one.removal for one in found),
        any(one.middle for one in found),
        any(one.straight for one in found),
    )
