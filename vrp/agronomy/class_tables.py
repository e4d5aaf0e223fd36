"""The two forms with a table: rates by index that follow the yield, and by class."""

from collections.abc import Sequence
from math import floor, inf

from vrp.agronomy.curve import NeedCurve, Piece
from vrp.agronomy.figures import Classes, Figure, Printed, Rates, Used, used
from vrp.agronomy.forms import (
    ClassTable,
    IndexCrop,
    IndexTable,
    MethodClasses,
    ResidueRates,
    Rounding,
)
from vrp.agronomy.guidelines import chosen
from vrp.agronomy.season import Season, yield_in_guideline
from vrp.errors import GuidelineError
from vrp.evidence import LedgerLine, Source, shown
from vrp.units import P2O5_PER_P

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
        If build-up is left out, since a table's rates hold it and are not parted; or if
        the method of the soil test is still to be chosen.

    Notes
    -----
    In an index table a rate is the printed one plus (yield − printed yield) × offtake,
    not rounded again, never below 0. It follows the yield up to the target class; above
    that, what the table still prints is a response of the crop, which is kept as
    printed but never exceeds the rate of the class below (our choice). Rates of the
    element become P2O5 last. In a class table the rate is the printed one, or the
    crop's removal in the class that says so, which never exceeds the rate of the class
    below either (our choice).

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
    needs = [need * _as_p2o5(guideline) for need in _needs(guideline, first)]
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
    season = seasons[0]
    need = curve(guideline, seasons, pool=pool, build_up=build_up)
    word = need.word(soil_test)
    which = _classes(guideline, season).words.index(word)
    total = _needs(guideline, season)[which]
    found = [_class_line(guideline, soil_test, word)]
    if isinstance(guideline, IndexTable):
        found += _index_lines(guideline, season, which, total)
    else:
        found += _rate_lines(guideline, season, which, total)
    if pool and len(seasons) > 1:
        names = ", ".join(season.crop for season in seasons[1:])
        rule, source = guideline.pooling.text, guideline.pooling.source
        none, unit = f"{names}: not added", guideline.p2o5_unit
        later = LedgerLine("later season", none, 0.0, unit, rule, source)
        found.insert(len(found) - 1, later)
    return tuple(found)


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
    found: dict[str, Printed] = {
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
            found["yield adjustment"] = guideline.adjustment
    else:
        plain = guideline.crops[season.crop]
        if plain.removal_class is not None and plain.removal is not None:
            found[f"{season.crop}, class of removal"] = plain.removal_class
            found[f"{season.crop}, removal"] = plain.removal
    return tuple(used(name, figure) for name, figure in found.items())


def _needs(guideline: Table, season: Season) -> tuple[float, ...]:
    """Return the rate of each class, in the unit that it is printed in."""
    printed = list(_rates(guideline, season).values)
    if isinstance(guideline, IndexTable):
        adjustment, target = _adjustment(guideline, season), _target(guideline)
        for which in range(target + 1):
            printed[which] = max(printed[which] + adjustment, 0.0)
    else:
        kept = _removal_class(guideline, season)
        if kept is not None:
            printed[kept] = _removal(guideline, season)
    needs: list[float] = []
    for rate in printed:
        needs.append(min(rate, needs[-1]) if needs else rate)
    return tuple(needs)


def _index_lines(
    guideline: IndexTable, season: Season, which: int, total: float
) -> list[LedgerLine]:
    """Return the printed rate, its adjustment, and the need, as P2O5 at last."""
    crop, rates = guideline.crops[season.crop], _rates(guideline, season)
    unit, printed = guideline.printed_unit, rates.values[which]
    rule = f"printed for {crop.printed_yield}{_fate(crop, season)}"
    sum_ = f"{crop.name}, {guideline.classes.words[which]}: {printed:g}"
    found = [LedgerLine("printed rate", sum_, printed, unit, rule, rates.source)]
    sum_ = shown(total)
    if which <= _target(guideline):
        adjustment = _adjustment_line(guideline, season)
        if adjustment is not None and adjustment.value is not None:
            found.append(adjustment)
            sign = "−" if adjustment.value < 0.0 else "+"
            added = shown(abs(adjustment.value), least=1)
            sum_ = f"{printed:g} {sign} {added} = {shown(total, least=1)}"
    rule, source = "not rounded again, never below 0", guideline.adjustment.source
    end, value = "need at the zone's test", round(total, 6)
    if guideline.element == "P2O5":
        return [*found, LedgerLine(end, sum_, value, unit, rule, source)]
    found.append(LedgerLine("need as P, the element", sum_, value, unit, rule, source))
    # As printed, so that the next line goes on from what stands here.
    factor = round(P2O5_PER_P, 6)
    there = round(total * factor, 4)
    sum_ = f"{shown(total)} × {factor:.6f} = {shown(there, least=2)}"
    weights = Source("read", "standard atomic weights of the elements, IUPAC, 2021")
    unit, rule = guideline.p2o5_unit, "P, the element, to P2O5"
    return [*found, LedgerLine(end, sum_, there, unit, rule, weights)]


def _rate_lines(
    guideline: ClassTable, season: Season, which: int, total: float
) -> list[LedgerLine]:
    """Return the printed rate, or the removal in its place, and the need."""
    crop, rates = guideline.crops[season.crop], guideline.crops[season.crop].rates
    unit, value = guideline.p2o5_unit, round(total, 6)
    end = "need at the zone's test"
    if which != _removal_class(guideline, season) or crop.removal is None:
        printed = rates.values[which]
        word = _classes(guideline, season).words[which]
        rule, sum_ = "whatever the yield", f"{crop.name}, {word}: {printed:g}"
        return [
            LedgerLine("printed rate", sum_, printed, unit, rule, rates.source),
            LedgerLine(end, shown(total), value, unit, "as printed", rates.source),
        ]
    goal, taken = yield_in_guideline(guideline, season), _removal(guideline, season)
    sum_ = f"{shown(goal)} × {crop.removal.value:g} = {shown(taken, least=1)}"
    rule = f"yield goal × removal{_other_unit(guideline, season)}"
    source: Source = crop.removal.source
    line = LedgerLine("removal", sum_, round(taken, 6), unit, rule, source)
    if total == taken:
        assert crop.removal_class is not None
        rule, source = "removal in this class", crop.removal_class.source
        return [line, LedgerLine(end, shown(total), value, unit, rule, source)]
    source = Source("our-choice", "no need may rise with the soil test")
    rule = "removal, never above the rate of the class below"
    sum_ = f"{shown(taken)}, so {shown(total)}"
    return [line, LedgerLine(end, sum_, value, unit, rule, source)]


def _removal_class(guideline: ClassTable, season: Season) -> int | None:
    """Return which class has the removal for its rate, if one does."""
    named = guideline.crops[season.crop].removal_class
    if named is None:
        return None
    return _classes(guideline, season).words.index(named.word)


def _removal(guideline: ClassTable, season: Season) -> float:
    removal = guideline.crops[season.crop].removal
    assert removal is not None
    return yield_in_guideline(guideline, season) * removal.value


def _as_p2o5(guideline: Table) -> float:
    """Return the P2O5 in a unit of what the table prints."""
    element = isinstance(guideline, IndexTable) and guideline.element == "P"
    return P2O5_PER_P if element else 1.0


def _other_unit(guideline: Table, season: Season) -> str:
    """Return how the yield goal was taken to the guideline's unit, if it was."""
    unit = guideline.crops[season.crop].yield_unit
    if season.yield_unit == unit:
        return ""
    goal = shown(yield_in_guideline(guideline, season))
    return f"; {season.yield_goal:g} {season.yield_unit} is {goal} {unit}"


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
    rule = f"(yield goal − printed yield) × offtake{_other_unit(guideline, season)}"
    unit = guideline.printed_unit
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
    return _of_method(guideline, season).classes


def _critical(guideline: Table, season: Season) -> Figure:
    if isinstance(guideline, IndexTable):
        return guideline.critical
    return _of_method(guideline, season).critical


def _of_method(guideline: ClassTable, season: Season) -> MethodClasses:
    return chosen(guideline.crops[season.crop].sets(), guideline.title)


def _edges(classes: Classes, rounding: Rounding) -> tuple[float, ...]:
    half = 0.5 if rounding.rule == "round-half-up" else 0.0
    return (*(upper + half for upper in classes.uppers), inf)


def _target(guideline: IndexTable) -> int:
    """Return which class the guideline aims at."""
    return sum(upper < guideline.target.value for upper in guideline.classes.uppers)
