"""P2O5 that a season's harvest takes, and what applications and harvests leave."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate

from vrp.agronomy.figures import Figure
from vrp.agronomy.forms import Crop, Guideline, IndexCrop
from vrp.agronomy.guidelines import crop_of
from vrp.agronomy.removal import (
    at_moisture,
    bushel,
    converted,
    find,
    harvest,
    measured,
    residue,
    sets,
)
from vrp.agronomy.removal_figures import Coefficient, RemovalSet
from vrp.agronomy.season import Season
from vrp.errors import GuidelineError
from vrp.evidence import LedgerLine, Source, shown
from vrp.units import LB, P2O5_PER_P, SHORT_TON, YieldUnit

_PER_YIELD: dict[YieldUnit, str] = {
    "bu/ac": "lb P2O5/bu",
    "ton/ac": "lb P2O5/ton",
    "t/ha": "kg P2O5/t",
}


@dataclass(frozen=True, slots=True)
class Taken:
    """
    What is known of a harvest beside its crop and yield.

    Attributes
    ----------
    straw_yield : float, optional
        Straw that is taken off. [ton/ac or t/ha]
    grain_p : tuple of float, optional
        Measured P in the dry matter, and dry matter in the harvest. [percent]
    moisture : float, optional
        Water in the yield. [percent]
    """

    straw_yield: float | None = None
    grain_p: tuple[float, float] | None = None
    moisture: float | None = None


@dataclass(frozen=True, slots=True)
class Removal:
    """
    P2O5 that a season's harvest takes.

    Attributes
    ----------
    value : float
        In `unit`, not rounded.
    unit : str
        lb P2O5/ac or kg P2O5/ha.
    lines : tuple of LedgerLine
        A line for the harvest, and one for straw where it is counted.
    from_elsewhere : bool
        Whether the chosen set lacks the crop, so that the guideline's figure stands.
    straw_left_out : bool
        Whether residue is removed, but no straw is counted.
    """

    value: float
    unit: str
    lines: tuple[LedgerLine, ...]
    from_elsewhere: bool
    straw_left_out: bool


def removal(
    guideline: Guideline,
    season: Season,
    *,
    own_set: str,
    chosen: str | None,
    taken: Taken,
) -> Removal | None:
    """
    P2O5 that a season's harvest takes.

    Parameters
    ----------
    guideline : Guideline
        Whose own figure is the default.
    season : Season
        Crop, yield goal and what becomes of the residue.
    own_set : str
        Id of the guideline: its straw figures stand in the set of that id.
    chosen : str, optional
        Id of another set.
    taken : Taken
        What was measured of the harvest.

    Returns
    -------
    Removal or None
        In pounds an acre where the yield is, else in kilograms a hectare; None where
        neither the set nor the guideline has a figure.

    Raises
    ------
    GuidelineError
        If the set is unknown, or a figure cannot be turned into the yield's unit.

    References
    ----------
    "Nutrient Management Guide (RB209)", Agriculture and Horticulture Development Board,
    2023, Section 1, Example 1.4, and Section 4, Examples 4.6 and 4.7.
    """
    pounds = _bushel(crop_of(guideline, season.crop), season.crop)
    unit = "kg P2O5/ha" if season.yield_unit == "t/ha" else "lb P2O5/ac"
    named = None if chosen is None else find(chosen)
    straw = _straw(named or sets().get(own_set), season, taken, unit=unit)
    grain, from_elsewhere, holds_straw = None, False, False
    if taken.grain_p is not None:
        grain = _analysed(season, taken.grain_p, pounds, unit=unit)
    elif named is not None:
        found = harvest(named, season.crop)
        from_elsewhere = found is None
        if found is not None:
            grain = _printed(found, named, season, taken, pounds, unit=unit)
    elif straw is not None:
        # The guideline's own figure for residue removed holds the straw already.
        one = sets()[own_set]
        found = harvest(one, season.crop)
        if found is not None:
            grain = _printed(found, one, season, taken, pounds, unit=unit)
    if grain is None:
        own, holds_straw = _own(crop_of(guideline, season.crop), season)
        if own is None:
            return None
        if taken.moisture is not None:
            message = (
                f"{season.crop}: the guideline prints its {own} without a moisture; "
                "leave the season's moisture out, or choose a set that prints one"
            )
            raise GuidelineError(message)
        grain = _line(
            own.value, own.unit, season, pounds, rule="", source=own.source, unit=unit
        )
        if holds_straw:
            straw = None
    lines = (grain,) if straw is None else (grain, straw)
    left_out = season.residue == "removed" and straw is None and not holds_straw
    total = sum(line.value for line in lines if line.value is not None)
    return Removal(total, unit, lines, from_elsewhere, left_out)


def running(applied: Sequence[float], removed: Sequence[float]) -> tuple[float, ...]:
    """
    Sum of what was applied less what was removed, season by season.

    Parameters
    ----------
    applied, removed : sequence of float
        P2O5 in each season. [lb/ac or kg/ha]

    Returns
    -------
    tuple of float
        The balance after each season, to 0.1. [the same]

    Examples
    --------
    >>> running([78.0, 0.0], [70.0, 48.0])
    (8.0, -40.0)
    """
    kept = (give - take for give, take in zip(applied, removed, strict=True))
    return tuple(round(each, 1) + 0.0 for each in accumulate(kept))


def _bushel(crop: Crop, crop_id: str) -> float | None:
    return bushel(crop_id) if crop.bushel is None else crop.bushel.value


def _own(crop: Crop, season: Season) -> tuple[Figure | None, bool]:
    """Return the guideline's own figure, and whether it holds the straw."""
    if isinstance(crop, IndexCrop):
        removed = season.residue == "removed"
        row = crop.either or (crop.removed if removed else crop.left) or crop.left
        if row is None:
            return None, False
        # A publication that prints one figure for both fates counts no straw.
        left = None if crop.left is None else crop.left.offtake
        apart = row.offtake is not None and (
            left is None or left.value != row.offtake.value
        )
        return row.offtake, removed and row is crop.removed and apart
    figure = getattr(crop, "removal", None)
    return (figure if isinstance(figure, Figure) else None), False


def _printed(
    found: Coefficient,
    one: RemovalSet,
    season: Season,
    taken: Taken,
    pounds: float | None,
    *,
    unit: str,
) -> LedgerLine:
    low, high = found.ends
    rule = "" if low == high else f"the middle of {found}"
    value = found.middle
    if taken.moisture is not None:
        value = at_moisture(found, taken.moisture)
        assert found.moisture is not None
        rule = (
            f"{found.middle:g} at {found.moisture:g} % moisture is {value:.4g} at "
            f"{taken.moisture:g} %"
        )
    return _line(
        value,
        found.unit,
        season,
        pounds,
        rule=rule,
        source=Source(found.source.status, f"{one.title}: {found.source.where}"),
        unit=unit,
    )


def _line(
    value: float,
    printed: str,
    season: Season,
    pounds: float | None,
    *,
    rule: str,
    source: Source,
    unit: str,
) -> LedgerLine:
    wanted = _PER_YIELD[season.yield_unit]
    factor = round(
        converted(value, printed, wanted=wanted, crop=season.crop, pounds=pounds), 4
    )
    amount = season.yield_goal * factor
    said = f"yield goal × removal, {wanted}"
    if printed != wanted:
        said += f"; that is {value:.4g} {printed}"
    said += f"; {rule}" if rule else ""
    sum_ = f"{shown(season.yield_goal)} × {shown(factor, most=4)}"
    return LedgerLine(
        "removal",
        f"{sum_} = {shown(amount, least=1, most=4)}",
        amount,
        unit,
        said,
        source,
    )


def _analysed(
    season: Season, grain_p: tuple[float, float], pounds: float | None, *, unit: str
) -> LedgerLine:
    percent, dry = grain_p
    size = {"t/ha": 1000.0, "ton/ac": SHORT_TON / LB, "bu/ac": pounds}[
        season.yield_unit
    ]
    if size is None:
        raise GuidelineError(f"{season.crop}: no weight of a bushel is known")
    amount = measured(season.yield_goal * size, percent=percent, dry_matter=dry)
    sum_ = (
        f"{shown(season.yield_goal)} × {size:g} × {shown(dry / 100.0)} × "
        f"{shown(percent / 100.0)} × {P2O5_PER_P:.6f} = {amount:.1f}"
    )
    return LedgerLine(
        "removal",
        sum_,
        amount,
        unit,
        "yield goal × dry matter × P in it × P2O5 in P",
        Source("given", "field file: grain_p"),
    )


def _straw(
    one: RemovalSet | None, season: Season, taken: Taken, *, unit: str
) -> LedgerLine | None:
    found = None if one is None else residue(one, season.crop)
    if (
        season.residue != "removed"
        or taken.straw_yield is None
        or found is None
        or one is None
    ):
        return None
    wanted = "kg P2O5/t" if season.yield_unit == "t/ha" else "lb P2O5/ton"
    factor = round(
        converted(found.middle, found.unit, wanted=wanted, crop=season.crop), 4
    )
    amount = taken.straw_yield * factor
    sum_ = f"{taken.straw_yield:g} × {shown(factor, most=4)}"
    return LedgerLine(
        "removal in straw",
        f"{sum_} = {shown(amount, least=1, most=4)}",
        amount,
        unit,
        f"straw yield × removal in {found.part}, {wanted}",
        Source(found.source.status, f"{one.title}: {found.source.where}"),
    )
