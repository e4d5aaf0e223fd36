"""The form that replaces removal, and lifts a poor soil to a critical level."""

from collections.abc import Sequence
from math import inf

from vrp.agronomy.curve import NeedCurve, Piece
from vrp.agronomy.figures import Printed, Used, used
from vrp.agronomy.forms import BuildUpMaintenance, Levels
from vrp.agronomy.season import Season, yield_in_guideline
from vrp.errors import GuidelineError
from vrp.evidence import LedgerLine, Source, shown

_WORDS = ("maintenance", "drawdown", "above the limit")


def curve(
    guideline: BuildUpMaintenance,
    seasons: Sequence[Season],
    *,
    pool: bool,
    build_up: bool,
) -> NeedCurve:
    r"""
    Need of the first season, with later ones where they may be pooled.

    Parameters
    ----------
    guideline : BuildUpMaintenance
        Where every figure comes from.
    seasons : sequence of Season
        In order; the first is mapped.
    pool : bool
        Whether one application is to serve later seasons too.
    build_up : bool
        Whether a poor soil is lifted.

    Returns
    -------
    NeedCurve
        In the guideline's unit.

    Raises
    ------
    GuidelineError
        If build-up is left out where the guideline does not let it, or a region or the
        years of build-up are still to be chosen.

    Notes
    -----
    With soil test :math:`S`, critical level :math:`C`, limit :math:`L`, level
    :math:`Z` from which nothing is needed, yield goal :math:`Y_i`, removal :math:`r_i`
    and a year's build-up :math:`b`, which is the whole over its years where a guideline
    prints the whole,

    .. math::

        N = \begin{cases}
            Y_1 r_1 + b\,(C - S)                       & S < C \\
            \sum_i Y_i r_i                             & C \le S \le L \\
            \sum_i Y_i r_i \, (Z - S) / (Z - L)        & L < S < Z \\
            0                                          & \text{above}
        \end{cases}

    the sum being over the pooled seasons, or the first alone; without :math:`Z` there
    is no drawdown. Below the critical level a deficient rate is applied every year, so
    nothing is pooled there and the pooled need may step up at :math:`C`; one season's
    own need never rises with the soil test.

    References
    ----------
    "Tri-State Fertilizer Recommendations for Corn, Soybean, Wheat, and Alfalfa",
    Bulletin 974, Ohio State University Extension, 2020,
    https://agcrops.osu.edu/node/3478.
    """
    if not build_up and guideline.build_up and guideline.build_up_optional is None:
        message = f"{guideline.title!r} does not call build-up optional: leave it on"
        raise GuidelineError(message)
    levels, _ = _levels(guideline, seasons)
    critical, limit = levels.critical, levels.limit
    removals = [_removal(guideline, season) for season in seasons]
    covered = _covered(guideline, len(seasons)) if pool else 1
    lift = _a_year(guideline) if build_up else 0.0
    below = f"below {guideline.level.removesuffix(' level')}"
    within, falling, above = _WORDS
    first, kept = removals[0], sum(removals[:covered])
    pieces = [
        Piece(critical.value, False, first + lift * critical.value, -lift, below),
        Piece(limit.value, True, kept, 0.0, within),
    ]
    if levels.zero is not None:
        zero = levels.zero.value
        fall = kept / (zero - limit.value)
        pieces.append(Piece(zero, False, fall * zero, -fall, falling))
    pieces.append(Piece(inf, True, 0.0, 0.0, above))
    return NeedCurve(
        tuple(pieces),
        guideline.unit,
        guideline.soil_test.unit,
        critical.value,
        critical.source,
        covered - 1,
        guideline.pooling.text if pool else "",
    )


def build_up_part(
    guideline: BuildUpMaintenance, seasons: Sequence[Season]
) -> NeedCurve:
    r"""
    Part of `curve` that lifts a poor soil.

    Parameters
    ----------
    guideline : BuildUpMaintenance
        Where every figure comes from.
    seasons : sequence of Season
        In order; the first is mapped.

    Returns
    -------
    NeedCurve
        Computed in the guideline's unit.

    Raises
    ------
    GuidelineError
        If the guideline does not build up.

    Notes
    -----
    In the terms of `curve`, :math:`b (C - S)` below :math:`C` and 0 from there on.
    """
    lift = _a_year(guideline)
    if lift <= 0.0:
        message = f"{guideline.title!r} does not build up: it has no such part"
        raise GuidelineError(message)
    levels, _ = _levels(guideline, seasons)
    critical = levels.critical
    return NeedCurve(
        (
            Piece(critical.value, False, lift * critical.value, -lift, "build-up"),
            Piece(inf, True, 0.0, 0.0, "none"),
        ),
        guideline.unit,
        guideline.soil_test.unit,
        critical.value,
        critical.source,
    )


def lines(
    guideline: BuildUpMaintenance,
    seasons: Sequence[Season],
    soil_test: float,
    *,
    pool: bool,
    build_up: bool,
) -> tuple[LedgerLine, ...]:
    """
    Arithmetic of `curve` at one soil test, in the guideline's unit.

    Parameters
    ----------
    guideline : BuildUpMaintenance
        Where every figure comes from.
    seasons : sequence of Season
        In order; the first is mapped.
    soil_test : float
        As it is shown to the reader. [the guideline's unit]
    pool : bool
        Whether one application is to serve later seasons too.
    build_up : bool
        Whether a poor soil is lifted.

    Returns
    -------
    tuple of LedgerLine
        Critical level or limit, removal, build-up, later seasons, and need.
    """
    levels, why = _levels(guideline, seasons)
    critical, unit = levels.critical, guideline.p2o5_unit
    need = curve(guideline, seasons, pool=pool, build_up=build_up)
    total = float(need.in_unit(soil_test))
    found, without = _level_lines(levels, soil_test, why, name=guideline.level)
    end = "need at the zone's test"
    if without:
        source_ = found[0].source
        rule = f"no need above the {found[0].step}"
        return (*found, LedgerLine(end, "0", 0.0, unit, rule, source_))

    short, falling = soil_test < critical.value, soil_test > levels.limit.value
    found.append(_removal_line(guideline, seasons[0], step="removal"))
    parts = [_removal(guideline, seasons[0])]
    if short and build_up and guideline.build_up is not None:
        found.append(_build_up_line(guideline, critical.value, soil_test))
        parts.append(found[-1].value or 0.0)
    elif short and guideline.build_up is not None:
        rule = "left out as asked; the guideline calls it optional"
        source = guideline.build_up_optional or guideline.pooling
        line = LedgerLine("build-up", "0", 0.0, unit, rule, source.source)
        found.append(line)
    if pool and len(seasons) > 1:
        covered = 1 if short else need.pooled + 1
        for season in seasons[1:covered]:
            later = _removal_line(guideline, season, step="later season")
            found.append(later)
            parts.append(_removal(guideline, season))
        if covered < len(seasons):
            rule, source_ = guideline.pooling.text, guideline.pooling.source
            names = ", ".join(season.crop for season in seasons[covered:])
            sum_ = f"{names}: not added"
            found.append(LedgerLine("later season", sum_, 0.0, unit, rule, source_))
    sum_ = " + ".join(shown(part, least=1) for part in parts)
    drawdown = guideline.drawdown
    if falling and levels.zero is not None and drawdown is not None:
        limit, zero = levels.limit.value, levels.zero.value
        kept = sum_ if len(parts) == 1 else f"({sum_})"
        sum_ = f"{kept} × ({zero:g} − {soil_test:g}) / ({zero:g} − {limit:g})"
        sum_ += f" = {shown(total, least=1)}"
        rule, source_ = drawdown.text, drawdown.source
        return (*found, LedgerLine(end, sum_, round(total, 6), unit, rule, source_))
    if len(parts) > 1:
        sum_ += f" = {shown(total, least=1)}"
    ours = Source("our-choice", "no rounding was read in the guideline")
    return (*found, LedgerLine(end, sum_, round(total, 6), unit, "not rounded", ours))


def figures(
    guideline: BuildUpMaintenance, seasons: Sequence[Season], *, pool: bool
) -> tuple[Used, ...]:
    """
    Return the figures that the need of these seasons rests on.

    Parameters
    ----------
    guideline : BuildUpMaintenance
        Where every figure comes from.
    seasons : sequence of Season
        In order; the first is mapped.
    pool : bool
        Whether one application is to serve later seasons too.

    Returns
    -------
    tuple of Used
        Each once.
    """
    levels, _ = _levels(guideline, seasons)
    covered = _covered(guideline, len(seasons)) if pool else 1
    found: dict[str, Printed | None] = {
        guideline.level: levels.critical,
        "limit": levels.limit,
        "zero level": levels.zero,
        "drawdown": None if levels.zero is None else guideline.drawdown,
        "build-up": guideline.build_up,
        "build-up years": guideline.build_up_years,
        "depth": guideline.soil_test.depth,
    }
    for season in seasons[:covered]:
        found[f"{season.crop}, removal"] = guideline.crops[season.crop].removal
    if covered > 1:
        found["years of one application"] = guideline.pooled_years
    return tuple(
        used(name, figure) for name, figure in found.items() if figure is not None
    )


def _levels(
    guideline: BuildUpMaintenance, seasons: Sequence[Season]
) -> tuple[Levels, str]:
    """Return the levels that hold, and why these."""
    crops = [season.crop for season in seasons]
    rotation, own = guideline.rotation, guideline.crops[crops[0]].levels()
    if own is None:
        if len(guideline.regions) > 1:
            known = ", ".join(guideline.regions)
            message = f"{guideline.title!r} tells regions apart: choose one of {known}"
            raise GuidelineError(message)
        (region,) = guideline.regions.values()
        return region, f"for {region.name}"
    if rotation is None:
        return own, f"for {crops[0]}"
    bringing = [crop for crop in crops if crop in rotation.crops]
    if bringing:
        return rotation, f"{bringing[0]} in the rotation, so for all its crops"
    named = " and ".join(dict.fromkeys(crops))
    return own, f"{named} in the rotation, no {' or '.join(rotation.crops)}"


def _level_lines(
    levels: Levels, soil_test: float, why: str, *, name: str
) -> tuple[list[LedgerLine], bool]:
    """Return the line of the level that decides, and whether nothing is needed."""
    critical, limit, zero = levels.critical, levels.limit, levels.zero
    if soil_test <= limit.value:
        sign = "<" if soil_test < critical.value else "≥"
        step, level, rule, without = name, critical, why, False
    elif zero is None:
        step, level, sign, without = "limit", limit, ">", True
        rule = f"{why}; strictly above the limit nothing is needed"
    elif soil_test < zero.value:
        step, level, sign, without = "limit", limit, ">", False
        rule = f"{why}; from here the rate falls to 0 at {zero.value:g} {zero.unit}"
    else:
        step, level, sign, without = "zero level", zero, "≥", True
        rule = f"{why}; from this level on nothing is needed"
    sum_ = f"{soil_test:g} {sign} {level.value:g}"
    line = LedgerLine(step, sum_, level.value, level.unit, rule, level.source)
    return [line], without


def _a_year(guideline: BuildUpMaintenance) -> float:
    """Return a year's build-up for each unit of soil test."""
    if guideline.build_up is None:
        return 0.0
    return guideline.build_up.value / (_years(guideline) or 1)


def _years(guideline: BuildUpMaintenance) -> int | None:
    """Return over how many years a whole build-up is spread."""
    years = guideline.build_up_years
    if years is None:
        return None
    if len(years.values) > 1:
        message = f"{guideline.title!r} builds up over {years}: choose one of them"
        raise GuidelineError(message)
    return years.values[0]


def _build_up_line(
    guideline: BuildUpMaintenance, critical: float, soil_test: float
) -> LedgerLine:
    lift, years = guideline.build_up, _years(guideline)
    assert lift is not None
    test = max(soil_test, 0.0)
    raised = (critical - test) * _a_year(guideline)
    sum_ = f"({critical:g} − {test:g}) × {lift.value:g}"
    rule = "a year's part of what lifts the test to critical"
    if years is not None:
        sum_ += f" / {years}"
        rule = f"what lifts the test to critical, over {years} years"
    sum_ += f" = {shown(raised, least=1)}"
    unit = guideline.p2o5_unit
    return LedgerLine("build-up", sum_, round(raised, 6), unit, rule, lift.source)


def _covered(guideline: BuildUpMaintenance, seasons: int) -> int:
    years = guideline.pooled_years
    return 1 if years is None else min(seasons, int(years.value))


def _removal(guideline: BuildUpMaintenance, season: Season) -> float:
    goal = yield_in_guideline(guideline, season)
    return goal * guideline.crops[season.crop].removal.value


def _removal_line(
    guideline: BuildUpMaintenance, season: Season, *, step: str
) -> LedgerLine:
    removal = guideline.crops[season.crop].removal
    goal = yield_in_guideline(guideline, season)
    taken = _removal(guideline, season)
    sum_ = f"{shown(goal)} × {removal.value:g} = {shown(taken, least=1)}"
    unit, rule = guideline.p2o5_unit, "yield goal × removal"
    if season.yield_unit != guideline.crops[season.crop].yield_unit:
        rule += f"; {season.yield_goal:g} {season.yield_unit} is {shown(goal)}"
        rule += f" {guideline.crops[season.crop].yield_unit}"
    if step != "removal":
        rule = f"{season.crop}: {rule}, pooled"
    return LedgerLine(step, sum_, round(taken, 6), unit, rule, removal.source)
