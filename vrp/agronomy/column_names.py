"""What the name of a column of soil tests says: quantity, unit and method."""

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass

from vrp.agronomy.soil_test import METHODS

# What may stand between the parts of a name: "P_lb/ac", "Bray-P1", "Olsen P (mg/L)".
_GAP = r"[\s_.,:;()\[\]{}/*·'-]*"
_END = r"(?![a-z])"
_START = r"(?<![a-z])"

_P2O5 = re.compile(
    rf"p{_GAP}2{_GAP}[o0]{_GAP}5(?!\d)|pentoxide"
    # "Phosphate-P" and "PO4-P" are phosphorus; "phosphate" alone is not.
    rf"|(?:phosph|fosf)at(?:e|o)?s?(?!{_GAP}p{_END}){_END}"
)
_OF_METHOD = (
    r"(?:m(?:ehlich|elich)?[\s-]?3|mehlich|bray|olsen|icp|p[12]|(?:mod\w*\s*)?morgan)"
)
_FROM = re.compile(rf"{_START}(?:from|via){_END}{_GAP}(?:the\s+)?{_OF_METHOD}")
_EQUIVALENT = re.compile(
    rf"equiv|{_START}eqv?{_END}|(?:bray|p1|p2|olsen|mehlich|m3){_GAP}eqv?{_END}"
    rf"|{_START}calc(?:d|'d|ulated?|ulation)?{_END}|calculated|computed"
    rf"|{_START}conv(?:d|erted|ersion)?{_END}|converted"
    rf"|{_START}est(?:d|imated?|imation)?{_END}|estimated"
    rf"|{_START}pred(?:icted|iction)?{_END}|predicted|derived|modell?ed"
)

# Units that a plan knows, and those that it does not; the first that fits is taken
# out of the name before the next is looked for.
_PER = rf"(?:{_GAP}(?:p{_END})?{_GAP}(?:per)?{_GAP})"
_UNITS: tuple[tuple[str, str], ...] = (
    ("mg/100 g", rf"mg{_PER}100{_GAP}(?:g|ml|cm3){_END}"),
    ("lb/1000 ft²", rf"(?:lbs?|pounds?|#){_PER}(?:1,?000|m{_END}|sq)[\w\s.]*"),
    ("kg/ha", rf"kgs?{_PER}(?:ha|hectares?){_END}"),
    ("kg/ac", rf"kgs?{_PER}(?:ac|acres?){_END}"),
    ("lb/ac", rf"(?:lbs?|pounds?|#){_PER}(?:acres?|ac|a){_END}|{_START}ppa{_END}"),
    ("mg/kg", rf"mg{_PER}kg{_END}|[uµμ]g{_PER}g{_END}"),
    (
        "mg/L",
        rf"mg{_PER}(?:l|lit(?:er|re)s?){_END}|mg{_PER}dm{_GAP}3"
        rf"|[uµμ]g{_PER}ml{_END}|{_START}g{_PER}m{_GAP}3",
    ),
    ("g/kg", rf"{_START}g{_PER}kg{_END}"),
    ("mmol/kg", rf"mmol\w*{_PER}kg{_END}"),
    ("mmol/L", rf"mmol\w*{_PER}(?:l|dm{_GAP}3)"),
    ("ppm", rf"ppm{_END}|parts per million"),
    ("ppb", rf"ppb{_END}"),
    ("%", rf"%|{_START}(?:percent|pct){_END}"),
    ("lb/ac", rf"{_START}(?:lbs?|pounds?){_END}"),
)
# The same by mass of soil; lb/ac is another figure, and mg/L is by volume.
_ALIKE = {"mg/kg": "ppm"}

_MEHLICH = frozenset({"mehlich-3-icp", "mehlich-3-colorimetric"})
_BRAY = frozenset({"bray-p1", "bray-p2"})
_NONE: frozenset[str] = frozenset()
_BRAY_NAME = rf"bray(?:{_GAP}(?:and|&)?{_GAP}kurtz)?{_GAP}(?:no|#)?{_GAP}p?{_GAP}"
# What a name says, its pattern, and the methods of a plan that fit it; each is taken
# out of the name before the next is looked for.
_METHODS: tuple[tuple[str, str, frozenset[str]], ...] = (
    ("Colwell", r"colwell", _NONE),
    (METHODS["olsen"], r"olsen|bicarb\w*|nahco3?", frozenset({"olsen"})),
    (METHODS["bray-p2"], rf"{_BRAY_NAME}(?:2|ii)(?!\d)", frozenset({"bray-p2"})),
    (METHODS["bray-p1"], rf"{_BRAY_NAME}(?:1|i){_END}(?!\d)", frozenset({"bray-p1"})),
    (METHODS["bray-p1"], rf"{_BRAY_NAME}1(?!\d)", frozenset({"bray-p1"})),
    (
        METHODS["bray-p2"],
        rf"strong{_GAP}bray|{_START}strong{_END}",
        _BRAY - {"bray-p1"},
    ),
    (METHODS["bray-p1"], rf"weak{_GAP}bray|{_START}weak{_END}", _BRAY - {"bray-p2"}),
    ("Bray", r"bray", _BRAY),
    (
        "Mehlich-1",
        rf"(?:mehlich|melich){_GAP}(?:1|i{_END})(?!\d)|{_START}m{_GAP}1(?!\d)"
        r"|double acid",
        _NONE,
    ),
    (
        "Mehlich-2",
        rf"(?:mehlich|melich){_GAP}(?:2|ii{_END})(?!\d)|{_START}m{_GAP}2(?!\d)",
        _NONE,
    ),
    (
        "Mehlich-3",
        rf"(?:mehlich|melich){_GAP}(?:3|iii{_END})?|{_START}p?m[\s_-]?3(?!\d)",
        _MEHLICH,
    ),
    (
        METHODS["modified-morgan"],
        rf"m(?:od(?:ified)?)?{_GAP}morgan",
        frozenset({"modified-morgan"}),
    ),
    ("Morgan", r"morgan", frozenset({"morgan", "modified-morgan"})),
    ("resin", r"resin", _NONE),
    ("H3A", rf"{_START}h3a|haney", _NONE),
    ("AB-DTPA", rf"{_START}(?:ab{_GAP})?dtpa", _NONE),
    ("Kelowna", r"kelowna", _NONE),
    ("Truog", r"truog", _NONE),
    ("calcium chloride", r"cacl2?", _NONE),
    ("ammonium lactate", rf"{_START}p[\s_-]?al{_END}|lactate", _NONE),
    ("CAL", rf"{_START}cal{_END}", _NONE),
    (
        "water-soluble P",
        rf"water{_GAP}(?:sol\w*|extr\w*)|{_START}wsp{_END}|dissolved",
        _NONE,
    ),
    # Signs of weak and strong Bray on laboratories' reports.
    (
        f"P2 ({METHODS['bray-p2']})",
        rf"{_START}p[\s_-]?2(?![\do])(?!\s*(?:-|–|to|in){_GAP}\d)",
        frozenset({"bray-p2"}),
    ),
    (f"P1 ({METHODS['bray-p1']})", rf"{_START}p1(?!\d)", frozenset({"bray-p1"})),
)
_READINGS: tuple[tuple[str, str, str], ...] = (
    ("ICP", rf"{_START}icp", "mehlich-3-colorimetric"),
    ("colour", rf"{_START}colou?r|{_START}col{_END}", "mehlich-3-icp"),
)

# Quantities that are no soil test of P.
_OTHER: tuple[tuple[str, str], ...] = (
    ("total P", rf"total|{_START}p?tot{_END}|{_START}tp{_END}"),
    (
        "P saturation",
        rf"saturation|p{_GAP}sat{_END}|{_START}(?:psr|dps|dpss|spsc|psc){_END}",
    ),
    ("a P sorption or site index", rf"{_START}(?:psi|pbi){_END}|sorption|buffer"),
    ("organic P", rf"organic{_GAP}(?:p{_END}|phos)"),
    ("a ratio", r"ratio"),
    (
        "a rate or an amount of P",
        rf"{_START}(?:recs?|recommend\w*|need|req\w*|rate|applied|removal|uptake){_END}",
    ),
    ("P in plants or manure", rf"{_START}(?:leaf|tissue|plant|grain|manure){_END}"),
)
_PHOSPHORUS = re.compile(rf"{_START}p{_END}|phos|fosf|{_START}(?:st|e)p{_END}")
_NUTRIENTS: tuple[tuple[str, str], ...] = (
    ("potassium", rf"{_START}(?:k|stk|k2o|potassium|potash|kalium|kali){_END}"),
    ("magnesium", rf"{_START}(?:mg|magnesium){_END}"),
    ("calcium", rf"{_START}(?:ca|calcium){_END}"),
    ("sulfur", rf"{_START}(?:s|so4|sulfur|sulphur|sulfate){_END}"),
    ("zinc", rf"{_START}(?:zn|zinc){_END}"),
    ("nitrogen", rf"{_START}(?:n|no3|nh4|nitrate|nitrogen){_END}"),
    ("sodium", rf"{_START}(?:na|sodium){_END}"),
    ("pH", rf"{_START}(?:b|soil)?{_GAP}ph{_END}"),
    ("organic matter", rf"{_START}s?om{_END}|organic{_GAP}matter|loi"),
    ("exchange capacity", rf"{_START}[ce]?ec{_END}"),
)


@dataclass(frozen=True, slots=True)
class Named:
    """
    What a column's name says beside that it holds soil tests.

    Attributes
    ----------
    units : tuple of str
        Units in it, in the plan's spelling.
    methods : tuple of tuple of str and frozenset of str
        Methods in it: how they are called, and the ids that fit.
    other : str
        The quantity, where it is no soil test of P; empty otherwise.
    """

    units: tuple[str, ...]
    methods: tuple[tuple[str, frozenset[str]], ...]
    other: str


def like_p2o5(column: str) -> bool:
    """
    Say whether a column is named like P2O5.

    Parameters
    ----------
    column : str
        Its name.

    Returns
    -------
    bool
        Whether it is.
    """
    return _P2O5.search(_plain(column)) is not None


def like_equivalent(column: str) -> bool:
    """
    Say whether a column is named like a test computed from another extract.

    Parameters
    ----------
    column : str
        Its name.

    Returns
    -------
    bool
        Whether it is.
    """
    plain = _plain(column)
    return bool(_FROM.search(plain) or _EQUIVALENT.search(plain))


def named(column: str, *, source: bool = True) -> Named:
    """
    Return the units, methods and quantity that a column's name tells.

    Parameters
    ----------
    column : str
        Its name.
    source : bool
        Whether the method behind a "from" counts.

    Returns
    -------
    Named
        All of them; nothing for a plain ``P``.
    """
    rest = _plain(column)
    if not source:
        rest = _FROM.sub(" ", rest)
    rest = _P2O5.sub(" p ", rest)
    units, rest = _taken(rest, _UNITS)
    readings, rest = _taken(rest, ((name, pattern) for name, pattern, _ in _READINGS))
    unfit = {name: method for name, _, method in _READINGS}
    methods = [
        (f"read by {name}", frozenset(METHODS) - {unfit[name]}) for name in readings
    ]
    for name, pattern, fitting in _METHODS:
        found, rest = _taken(rest, ((name, pattern),))
        methods += [(name, fitting)] * bool(found)
    whole = _plain(column)
    other = next((what for what, one in _OTHER if re.search(one, whole)), "")
    if not other and not _PHOSPHORUS.search(rest):
        other = next((what for what, one in _NUTRIENTS if re.search(one, rest)), "")
    return Named(tuple(units), tuple(methods), other)


def same_unit(one: str, other: str) -> bool:
    """
    Say whether two units are one, such as ppm and mg/kg.

    Parameters
    ----------
    one, other : str
        The units.

    Returns
    -------
    bool
        Whether they are.
    """
    return _ALIKE.get(one, one) == _ALIKE.get(other, other)


def _plain(column: str) -> str:
    """Return a name in small letters and plain digits, its joined words apart."""
    text = unicodedata.normalize("NFKC", column).replace("−", "-")
    text = re.sub(r"(?<=[a-z0-9])(?=[A-Z][a-z])", " ", text)
    return text.lower().replace("_", " ")


def _taken(rest: str, patterns: Iterable[tuple[str, str]]) -> tuple[list[str], str]:
    """Return what is found, each once, and the name without it."""
    found = []
    for name, pattern in patterns:
        without = re.sub(pattern, " ", rest)
        if without != rest and name not in found:
            found.append(name)
        rest = without
    return found, rest
