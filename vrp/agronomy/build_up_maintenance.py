"""The form that replaces removal, and lifts a poor soil to a critical level."""

from collections.abc import Sequence
from math import inf

from vrp.agronomy.curve import NeedCurve, Piece
from vrp.agronomy.figures import Figure, Used, used
from vrp.agronomy.forms import BuildUpMaintenance
from vrp.agronomy.season import Season, yield_in_guideline
from vrp.errors import GuidelineError
from vrp.evidence import LedgerLine, Source, shown

_WORDS = ("below critical", "maintenance", "above the limit")


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
        If build-up is left out where the guideline does not let it.

    Notes
    -----
    With soil test :math:`S`, critical level :math:`C`, limit :math:`L`, yield goal
    :math:`Y_i`, removal :math:`r_i` and build-up :math:`b`,

    .. math::

        N = \begin{cases}
            Y_1 r_1 + b\,(C - S) & S < C \\
            \sum_i Y_i r_i       & C \le S \le L \\
            0                    & S > L
        \end{cases}

    the sum being over the pooled seasons, or the first alone. Below the critical level
    a deficient rate is applied every year, so nothing is pooled there and the pooled
    need may step up at :math:`C`; one season's own need never rises with the soil test.

    References
    ----------
    "Tri-State Fertilizer Recommendations for Corn, Soybean, Wheat, and Alfalfa",
    Bulletin 974, Ohio State University Extension, 2020,
    https://agcrops.osu.edu/node/3478.
    """
    if not build_up and guideline.build_up_optional is None:
        message = f"{guideline.title!r} does not call build-up optional: leave it on"
        raise GuidelineError(message)
    critical, limit, _ = _levels(guideline, seasons)
    removals = [_removal(guideline, season) for season in seasons]
    covered = _covered(guideline, len(seasons)) if pool else 1
    lift = guideline.build_up.value if build_up else 0.0
    below, within, above = _WORDS
    first = removals[0]
    pieces = (
        Piece(critical.value, False, first + lift * critical.value, -lift, below),
        Piece(limit.value, True, sum(removals[:covered]), 0.0, within),
        Piece(inf, True, 0.0, 0.0, above),
    )
    return NeedCurve(
        pieces,
        guideline.unit,
        guideline.soil_test.unit,
        critical.value,
        critical.source,
        covered - 1,
        guideline.pooling.text if pool else "",
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
    critical, limit, why = _levels(guideline, seasons)
    test, unit = f"{soil_test:g}", guideline.p2o5_unit
    need = curve(guideline, seasons, pool=pool, build_up=build_up)
    total = float(need.in_unit(soil_test))
    end = "need at the zone's test"
    if soil_test > limit.value:
        sum_ = f"{test} > {limit.value:g}"
        rule = f"{why}; strictly above the limit nothing is needed"
        return (
            LedgerLine("limit", sum_, limit.value, limit.unit, rule, limit.source),
            LedgerLine(end, "0", 0.0, unit, "no need above the limit", limit.source),
        )

    short = soil_test < critical.value
    sign = "<" if short else "≥"
    sum_ = f"{test} {sign} {critical.value:g}"
    found = [
        LedgerLine(
            "critical level",
            sum_,
            critical.value,
            critical.unit,
            why,
            critical.source,
        ),
        _removal_line(guideline, seasons[0], step="removal"),
    ]
    parts = [_removal(guideline, seasons[0])]
    if short and build_up:
        lift = guideline.build_up
        raised = (critical.value - max(soil_test, 0.0)) * lift.value
        sum_ = (
            f"({critical.value:g} − {test}) × {lift.value:g} = {shown(raised, least=1)}"
        )
        rule = "a year's part of what lifts the test to critical"
        found.append(
            LedgerLine("build-up", sum_, round(raised, 6), unit, rule, lift.source)
        )
        parts.append(raised)
    elif short:
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
    if len(parts) > 1:
        sum_ += f" = {shown(total, least=1)}"
    ours = Source("our-choice", "the guideline prints no rounding")
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
    critical, limit, _ = _levels(guideline, seasons)
    covered = _covered(guideline, len(seasons)) if pool else 1
    found = {
        "critical level": critical,
        "limit": limit,
        "build-up": guideline.build_up,
        "depth": guideline.soil_test.depth,
    }
    for season in seasons[:covered]:
        found[f"{season.crop}, removal"] = guideline.crops[season.crop].removal
    if covered > 1 and guideline.pooled_years is not None:
        found["years of one application"] = guideline.pooled_years
    return tuple(used(name, figure) for name, figure in found.items())


def _levels(
    guideline: BuildUpMaintenance, seasons: Sequence[Season]
) -> tuple[Figure, Figure, str]:
    """Return the critical level, the limit, and why these."""
    crops = [season.crop for season in seasons]
    rotation, first = guideline.rotation, guideline.crops[crops[0]]
    if rotation is None:
        return first.critical, first.limit, f"for {crops[0]}"
    bringing = [crop for crop in crops if crop in rotation.crops]
    if bringing:
        why = f"{bringing[0]} in the rotation, so for all its crops"
        return rotation.critical, rotation.limit, why
    named = " and ".join(dict.fromkeys(crops))
    why = f"{named} in the rotation, no {' or '.join(rotation.crops)}"
    return first.critical, first.limit, why


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
