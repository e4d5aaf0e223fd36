"""The two forms with a table: rates by index that follow the yield, and by class."""

from collections.abc import Sequence
from math import floor, inf

from vrp.agronomy.curve import NeedCurve, Piece
from vrp.agronomy.figures import Classes, Figure, Rates, Used, used
from vrp.agronomy.forms import (
    ClassTable,
    IndexCrop,
    IndexTable,
    ResidueRates,
    Rounding,
)
from vrp.agronomy.season import Season, yield_in_guideline
from vrp.errors import GuidelineError
from vrp.evidence import LedgerLine, shown

Table = IndexTable | ClassTable


def curve(
    guideline: Table, seasons: Sequence[Season], *, pool: bool, build_up: bool
) -> NeedCurve:
    """
    Need of the first season; later ones add nothing.

    Parameters
    ----------
    guideline : IndexTable or ClassTable
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
        If build-up is left out: a table's rates hold it and are not parted.

    Notes
    -----
    In an index table a rate is the printed one plus (yield − printed yield) × offtake,
    not rounded again, never below 0. It follows the yield up to the target class; above
    that, what the table still prints is a response of the crop, which is kept as
    printed but never exceeds the rate of the class below (our choice). In a class table
    the rate is the printed one.

    References
    ----------
    "Nutrient Management Guide (RB209)", Agriculture and Horticulture Development Board,
    2023, Section 4, Examples 4.8 to 4.10.
    """
    if not build_up:
        message = f"{guideline.title!r} does not call build-up optional: leave it on"
        raise GuidelineError(message)
    for season in seasons:
        yield_in_guideline(guideline, season)
    first = seasons[0]
    classes, critical = _classes(guideline, first), _critical(guideline, first)
    needs = _needs(guideline, first)
    rounding = guideline.soil_test.rounding
    pieces = tuple(
        Piece(edge, rounding.rule == "as-is", need, 0.0, word)
        for edge, need, word in zip(
            _edges(classes, rounding), needs, classes.words, strict=True
        )
    )
    return NeedCurve(
        pieces,
        guideline.unit,
        guideline.soil_test.unit,
        critical.value,
        critical.source,
        0,
        guideline.pooling.text if pool else "",
    )


def lines(
    guideline: Table,
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
    guideline : IndexTable or ClassTable
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
        Class, printed rate, yield adjustment, and need.
    """
    season, unit = seasons[0], guideline.p2o5_unit
    need = curve(guideline, seasons, pool=pool, build_up=build_up)
    total, word = float(need.in_unit(soil_test)), need.word(soil_test)
    classes = _classes(guideline, season)
    rates, which = _rates(guideline, season), classes.words.index(word)
    printed = rates.values[which]
    crop = guideline.crops[season.crop]
    found = [_class_line(guideline, soil_test, word)]
    rule = "whatever the yield"
    if isinstance(crop, IndexCrop):
        rule = f"printed for {crop.printed_yield}{_fate(crop, season)}"
    sum_ = f"{crop.name}, {word}: {printed:g}"
    found.append(LedgerLine("printed rate", sum_, printed, unit, rule, rates.source))
    sum_ = shown(total)
    if isinstance(guideline, IndexTable) and which <= _target(guideline):
        adjustment = _adjustment_line(guideline, season)
        if adjustment is not None and adjustment.value is not None:
            found.append(adjustment)
            sign = "−" if adjustment.value < 0.0 else "+"
            added = shown(abs(adjustment.value), least=1)
            sum_ = f"{printed:g} {sign} {added} = {shown(total, least=1)}"
    if pool and len(seasons) > 1:
        names = ", ".join(season.crop for season in seasons[1:])
        rule, source = guideline.pooling.text, guideline.pooling.source
        none = f"{names}: not added"
        found.append(LedgerLine("later season", none, 0.0, unit, rule, source))
    rule = "as printed"
    if isinstance(guideline, IndexTable):
        rule = "not rounded again, never below 0"
    end = "need at the zone's test"
    source = rates.source
    if isinstance(guideline, IndexTable):
        source = guideline.adjustment.source
    return (*found, LedgerLine(end, sum_, round(total, 6), unit, rule, source))


def figures(
    guideline: Table, seasons: Sequence[Season], *, pool: bool
) -> tuple[Used, ...]:
    """
    Return the figures that the need of these seasons rests on.

    Parameters
    ----------
    guideline : IndexTable or ClassTable
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
    season = seasons[0]
    found: dict[str, Figure | Rates | Classes] = {
        "classes": _classes(guideline, season),
        "critical level": _critical(guideline, season),
        "depth": guideline.soil_test.depth,
        f"{season.crop}, rates": _rates(guideline, season),
    }
    if isinstance(guideline, IndexTable):
        crop = guideline.crops[season.crop]
        offtake = _row(crop, season).offtake
        if offtake is not None:
            found[f"{season.crop}, printed yield"] = crop.printed_yield
            found[f"{season.crop}, offtake"] = offtake
    return tuple(used(name, figure) for name, figure in found.items())


def _needs(guideline: Table, season: Season) -> tuple[float, ...]:
    printed = _rates(guideline, season).values
    if isinstance(guideline, ClassTable):
        return printed
    adjustment, target = _adjustment(guideline, season), _target(guideline)
    needs: list[float] = []
    for which, rate in enumerate(printed):
        need = max(rate + adjustment, 0.0) if which <= target else rate
        needs.append(min(need, needs[-1]) if needs else need)
    return tuple(needs)


def _adjustment(guideline: IndexTable, season: Season) -> float:
    crop = guideline.crops[season.crop]
    offtake = _row(crop, season).offtake
    if offtake is None:
        return 0.0
    goal = yield_in_guideline(guideline, season)
    return (goal - crop.printed_yield.value) * offtake.value


def _adjustment_line(guideline: IndexTable, season: Season) -> LedgerLine | None:
    crop = guideline.crops[season.crop]
    offtake = _row(crop, season).offtake
    if offtake is None:
        return None
    goal, added = yield_in_guideline(guideline, season), _adjustment(guideline, season)
    result = shown(added, least=1).replace("-", "−")
    sum_ = f"({shown(goal)} − {crop.printed_yield.value:g}) × {offtake.value:g}"
    sum_ += f" = {result}"
    rule = "(yield goal − printed yield) × offtake"
    if season.yield_unit != crop.yield_unit:
        rule += f"; {season.yield_goal:g} {season.yield_unit} is {shown(goal)}"
        rule += f" {crop.yield_unit}"
    unit = guideline.p2o5_unit
    return LedgerLine(
        "yield adjustment", sum_, round(added, 6), unit, rule, offtake.source
    )


def _class_line(guideline: Table, soil_test: float, word: str) -> LedgerLine:
    rounding, unit = guideline.soil_test.rounding, guideline.soil_test.unit
    if rounding.rule == "as-is":
        sum_, value = f"{soil_test:g} {unit} → {word}", soil_test
        return LedgerLine("class", sum_, value, "", "as it is", rounding.source)
    whole = float(floor(max(soil_test, 0.0) + 0.5))
    sum_ = f"{soil_test:g} {unit} → {whole:g} → {word}"
    rule = "rounded half up to a whole number, then classed"
    return LedgerLine("class", sum_, whole, "", rule, rounding.source)


def _row(crop: IndexCrop, season: Season) -> ResidueRates:
    if crop.either is not None:
        return crop.either
    if season.residue == "removed" or crop.left is None:
        row, fate = crop.removed, "removed"
    else:
        row, fate = crop.left, "left"
    both = crop.left is not None and crop.removed is not None
    if season.residue is None and both:
        message = (
            f"{season.crop}: the guideline tells residue left and removed apart; say "
            'residue = "left" or residue = "removed"'
        )
        raise GuidelineError(message)
    if row is None or (season.residue is not None and season.residue != fate):
        other = "left" if season.residue == "removed" else "removed"
        message = (
            f"{season.crop}: the guideline has no figure for residue "
            f"{season.residue}; it has one for residue {other}"
        )
        raise GuidelineError(message)
    return row


def _fate(crop: IndexCrop, season: Season) -> str:
    if crop.either is not None:
        return ""
    return ", residue removed" if season.residue == "removed" else ", residue left"


def _rates(guideline: Table, season: Season) -> Rates:
    if isinstance(guideline, IndexTable):
        return _row(guideline.crops[season.crop], season).rates
    return guideline.crops[season.crop].rates


def _classes(guideline: Table, season: Season) -> Classes:
    if isinstance(guideline, IndexTable):
        return guideline.classes
    return guideline.crops[season.crop].classes


def _critical(guideline: Table, season: Season) -> Figure:
    if isinstance(guideline, IndexTable):
        return guideline.critical
    return guideline.crops[season.crop].critical


def _edges(classes: Classes, rounding: Rounding) -> tuple[float, ...]:
    half = 0.5 if rounding.rule == "round-half-up" else 0.0
    return (*(upper + half for upper in classes.uppers), inf)


def _target(guideline: IndexTable) -> int:
    """Return which class the guideline aims at."""
    return sum(upper < guideline.target.value for upper in guideline.classes.uppers)
