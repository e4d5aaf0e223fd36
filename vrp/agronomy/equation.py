"""The form that prints an equation in soil test and yield goal."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf

from vrp.agronomy.curve import NeedCurve, Piece
from vrp.agronomy.figures import Printed, Used, used
from vrp.agronomy.forms import EquationGuideline, Terms
from vrp.agronomy.guidelines import chosen
from vrp.agronomy.season import Season, yield_in_guideline
from vrp.errors import GuidelineError
from vrp.evidence import LedgerLine, Source, shown

_WORDS = ("with need", "least rate", "no need")
_ENDS = Source(
    "our-choice",
    "the guideline names no critical level: where its equation reaches 0",
)


@dataclass(frozen=True, slots=True)
class _Line:
    """need = start − fall × test, up to where it ends."""

    start: float
    fall: float
    end: float
    source: Source  # of the end


def curve(
    guideline: EquationGuideline,
    seasons: Sequence[Season],
    *,
    pool: bool,
    build_up: bool,
) -> NeedCurve:
    r"""
    Need of the first season; later ones add nothing.

    Parameters
    ----------
    guideline : EquationGuideline
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
        If build-up is left out, since an equation is not parted; or if the method of
        the soil test is still to be chosen.

    Notes
    -----
    With soil test :math:`S`, yield goal :math:`Y`, printed :math:`a, b \ge 0` and
    :math:`c, d \le 0`, critical level :math:`C` and least rate :math:`m`,

    .. math::

        N = \begin{cases}
            \max(a + bY + cS + dYS,\; m) & S < C \\
            0                            & S \ge C
        \end{cases}

    Without :math:`m` the need is never below 0; without a printed :math:`C` it ends
    where the equation reaches 0.

    References
    ----------
    "Fertilizer Recommendations Guide", EC750, South Dakota State University Extension,
    2023, https://extension.sdstate.edu/fertilizer-recommendation-guide.
    """
    if not build_up:
        message = f"{guideline.title!r} does not call build-up optional: leave it on"
        raise GuidelineError(message)
    for season in seasons:
        yield_in_guideline(guideline, season)
    line, least = _line(guideline, seasons[0]), guideline.minimum
    falling, lowest, none = _WORDS
    until = line.end
    pieces = []
    if least is not None:
        until = _reaches(line, least.value)
    elif line.fall > 0.0:
        until = min(until, line.start / line.fall)
    if until > 0.0:
        pieces.append(Piece(until, False, line.start, -line.fall, falling))
    if least is not None and until < line.end:
        pieces.append(Piece(line.end, False, least.value, 0.0, lowest))
    pieces.append(Piece(inf, True, 0.0, 0.0, none))
    return NeedCurve(
        tuple(pieces),
        guideline.unit,
        guideline.soil_test.unit,
        line.end,
        line.source,
        0,
        guideline.pooling.text if pool else "",
    )


def lines(
    guideline: EquationGuideline,
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
    guideline : EquationGuideline
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
        Critical level, each term of the equation, their sum, and need.
    """
    season, unit = seasons[0], guideline.p2o5_unit
    need = curve(guideline, seasons, pool=pool, build_up=build_up)
    total, terms = float(need.in_unit(soil_test)), _terms(guideline, season)
    found: list[LedgerLine] = []
    end, rule = "need at the zone's test", "not rounded"
    ours = Source("our-choice", "no rounding was read in the guideline")
    if terms.critical is not None:
        critical = terms.critical
        short = soil_test < critical.value
        sum_ = f"{soil_test:g} {'<' if short else '≥'} {critical.value:g}"
        line = LedgerLine(
            "critical level",
            sum_,
            critical.value,
            critical.unit,
            f"for {season.crop}",
            critical.source,
        )
        if not short:
            rule = "no need from the critical level on"
            return line, LedgerLine(end, "0", 0.0, unit, rule, critical.source)
        found.append(line)
    each = _term_lines(guideline, season, max(soil_test, 0.0))
    found += each
    sum_, exact = _summed(each)
    later = None
    if pool and len(seasons) > 1:
        names = ", ".join(one.crop for one in seasons[1:])
        rule_, source = guideline.pooling.text, guideline.pooling.source
        none = f"{names}: not added"
        later = LedgerLine("later season", none, 0.0, unit, rule_, source)
    if guideline.minimum is not None and exact < guideline.minimum.value:
        least = guideline.minimum
        rule = "what the equation gives"
        found.append(LedgerLine("equation", sum_, round(exact, 6), unit, rule, ours))
        sum_ = f"{shown(exact, least=1).replace('-', '−')}, so {least.value:g}"
        rule, ours = "never below the least rate under critical", least.source
    elif exact < 0.0:
        rule = "what the equation gives"
        found.append(LedgerLine("equation", sum_, round(exact, 6), unit, rule, ours))
        sum_, rule = "0", "never below 0"
        ours = Source("our-choice", "a need below 0 is none")
    if later is not None:
        found.append(later)
    return (*found, LedgerLine(end, sum_, round(total, 6), unit, rule, ours))


def figures(
    guideline: EquationGuideline, seasons: Sequence[Season], *, pool: bool
) -> tuple[Used, ...]:
    """
    Return the figures that the need of these seasons rests on.

    Parameters
    ----------
    guideline : EquationGuideline
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
    crop = seasons[0].crop
    terms = _terms(guideline, seasons[0])
    found: dict[str, Printed | None] = {
        "critical level": terms.critical,
        f"{crop}, base": terms.base,
        f"{crop}, by yield": terms.by_yield,
        f"{crop}, by soil test": terms.by_test,
        f"{crop}, by yield and soil test": terms.by_both,
        "least rate": guideline.minimum,
        "depth": guideline.soil_test.depth,
    }
    return tuple(
        used(name, figure) for name, figure in found.items() if figure is not None
    )


def _terms(guideline: EquationGuideline, season: Season) -> Terms:
    return chosen(guideline.crops[season.crop].sets(), guideline.title)


def _line(guideline: EquationGuideline, season: Season) -> _Line:
    terms, goal = _terms(guideline, season), yield_in_guideline(guideline, season)
    base, by_yield, by_test, by_both = (
        0.0 if one is None else one.value
        for one in (terms.base, terms.by_yield, terms.by_test, terms.by_both)
    )
    start, fall = base + by_yield * goal, -(by_test + by_both * goal)
    if terms.critical is not None:
        return _Line(start, fall, terms.critical.value, terms.critical.source)
    return _Line(start, fall, start / fall, _ENDS)


def _reaches(line: _Line, rate: float) -> float:
    """Return the soil test at which the line reaches a rate, within its stretch."""
    if line.start <= rate:
        return 0.0
    return (
        line.end if line.fall == 0.0 else min((line.start - rate) / line.fall, line.end)
    )


def _term_lines(
    guideline: EquationGuideline, season: Season, soil_test: float
) -> list[LedgerLine]:
    terms, goal = _terms(guideline, season), yield_in_guideline(guideline, season)
    harvest, test, unit = shown(goal), f"{soil_test:g}", guideline.p2o5_unit
    other = ""
    crop = guideline.crops[season.crop]
    if season.yield_unit != crop.yield_unit:
        given = f"{season.yield_goal:g} {season.yield_unit}"
        other = f"; {given} is {harvest} {crop.yield_unit}"
    found = []
    if terms.base is not None:
        figure = f"{terms.base.value:g}"
        rule, value = "whatever the yield", terms.base.value
        source = terms.base.source
        found.append(LedgerLine("base", figure, value, unit, rule, source))
    for step, term, factor, factors, each in (
        ("by yield", terms.by_yield, goal, harvest, "for each unit of yield"),
        ("by soil test", terms.by_test, soil_test, test, "for each unit of soil test"),
        (
            "by yield and soil test",
            terms.by_both,
            goal * soil_test,
            f"{harvest} × {test}",
            "for each unit of yield and of soil test",
        ),
    ):
        if term is None:
            continue
        value = term.value * factor + 0.0  # 0 has no sign
        figure = f"{term.value:g}".replace("-", "−")
        result = shown(value, least=1).replace("-", "−")
        sum_ = f"{figure} × {factors} = {result}"
        rule = f"{each}{other}" if "yield" in step else each
        found.append(LedgerLine(step, sum_, round(value, 6), unit, rule, term.source))
    return found


def _summed(each: Sequence[LedgerLine]) -> tuple[str, float]:
    """Return the sum of the terms, in writing and as a figure."""
    text, total = "", 0.0
    for line in each:
        value = line.value or 0.0
        sign = "−" if value < 0.0 else "+"
        figure = shown(abs(value), least=1)
        text += f" {sign} {figure}" if text else f"{'−' if value < 0.0 else ''}{figure}"
        total += value
    total = round(total, 9) + 0.0  # no sign on what binary fractions leave of 0
    if len(each) > 1:
        text += f" = {shown(total, least=1).replace('-', '−')}"
    return text, total
