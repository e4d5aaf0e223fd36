"""The form that prints needs at certain soil tests, with straight lines between."""

from collections.abc import Sequence
from itertools import pairwise
from math import inf

from vrp.agronomy.curve import NeedCurve, Piece
from vrp.agronomy.figures import Used, used
from vrp.agronomy.forms import PointsGuideline
from vrp.agronomy.season import Season, yield_in_guideline
from vrp.errors import GuidelineError
from vrp.evidence import LedgerLine, shown


def curve(
    guideline: PointsGuideline,
    seasons: Sequence[Season],
    *,
    pool: bool,
    build_up: bool,
) -> NeedCurve:
    """
    Need of the first season; later ones add nothing.

    Parameters
    ----------
    guideline : PointsGuideline
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
        If build-up is left out: printed rates are not parted.

    Notes
    -----
    Between two printed soil tests the need lies on the straight line between their
    rates; from the last one on nothing is needed.

    References
    ----------
    "OSU Soil Test Interpretations", PSS-2225, Oklahoma State University Extension,
    https://extension.okstate.edu/fact-sheets/osu-soil-test-interpretations.html.
    """
    if not build_up:
        message = f"{guideline.title!r} does not call build-up optional: leave it on"
        raise GuidelineError(message)
    for season in seasons:
        yield_in_guideline(guideline, season)
    crop = guideline.crops[seasons[0].crop]
    points, unit = crop.points, guideline.soil_test.unit
    pieces = []
    for (low, rate), (high, other) in pairwise(
        zip(points.tests, points.values, strict=True)
    ):
        slope = (other - rate) / (high - low)
        word = f"{low:g} to {high:g} {unit}"
        pieces.append(Piece(high, False, rate - slope * low, slope, word))
    last = f"{points.tests[-1]:g} {unit} and more"
    pieces.append(Piece(inf, True, 0.0, 0.0, last))
    return NeedCurve(
        tuple(pieces),
        guideline.unit,
        unit,
        crop.critical.value,
        crop.critical.source,
        0,
        guideline.pooling.text if pool else "",
    )


def lines(
    guideline: PointsGuideline,
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
    guideline : PointsGuideline
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
        The points on both sides, and need.
    """
    need = curve(guideline, seasons, pool=pool, build_up=build_up)
    total, unit = float(need.in_unit(soil_test)), guideline.p2o5_unit
    crop = guideline.crops[seasons[0].crop]
    points, test = crop.points, guideline.soil_test.unit
    value, end = max(soil_test, 0.0), "need at the zone's test"
    found = []
    if value >= points.tests[-1]:
        sum_ = f"{value:g} ≥ {points.tests[-1]:g}"
        rule = "no need from the last printed soil test on"
        line = LedgerLine(
            "printed points", sum_, points.tests[-1], test, rule, points.source
        )
        return line, LedgerLine(end, "0", 0.0, unit, rule, points.source)
    above = next(at for at, upper in enumerate(points.tests) if value < upper)
    low, high = points.tests[above - 1], points.tests[above]
    rate, other = points.values[above - 1], points.values[above]
    sum_ = f"soil test {low:g}: {rate:g}; soil test {high:g}: {other:g}"
    rule = f"{crop.name}: the printed points on both sides, whatever the yield"
    found.append(LedgerLine("printed points", sum_, None, unit, rule, points.source))
    if pool and len(seasons) > 1:
        names = ", ".join(season.crop for season in seasons[1:])
        rule, source = guideline.pooling.text, guideline.pooling.source
        none = f"{names}: not added"
        found.append(LedgerLine("later season", none, 0.0, unit, rule, source))
    between = guideline.between
    sum_ = f"{rate:g} − ({value:g} − {low:g}) × ({rate:g} − {other:g})"
    sum_ += f" / ({high:g} − {low:g}) = {shown(total, least=1)}"
    line = LedgerLine(end, sum_, round(total, 6), unit, between.text, between.source)
    return (*found, line)


def figures(
    guideline: PointsGuideline, seasons: Sequence[Season], *, pool: bool
) -> tuple[Used, ...]:
    """
    Return the figures that the need of these seasons rests on.

    Parameters
    ----------
    guideline : PointsGuideline
        Where every figure comes from.
    seasons : sequence of Season
        In order; the first is mapped.
    pool : bool
        Whether one application is to serve later seasons too; changes nothing here.

    Returns
    -------
    tuple of Used
        Each once.
    """
    crop = guideline.crops[seasons[0].crop]
    return (
        used("critical level", crop.critical),
        used(f"{seasons[0].crop}, points", crop.points),
        used("between points", guideline.between),
        used("depth", guideline.soil_test.depth),
    )
