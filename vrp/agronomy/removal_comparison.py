"""Published removal figures of a crop, side by side."""

from collections import Counter
from dataclasses import dataclass

from vrp.agronomy.complaints import nearest
from vrp.agronomy.removal import canonical, converted, crop_name, crops, sets
from vrp.agronomy.removal_figures import RESIDUES, Coefficient
from vrp.errors import GuidelineError


@dataclass(frozen=True, slots=True)
class Row:
    """
    One figure beside the others.

    Attributes
    ----------
    set_id : str
        Whose figure.
    coefficient : Coefficient
        As printed.
    per_tonne : tuple of float
        Its ends. [kg P2O5/t, or kg a tonne of lint for bales]
    """

    set_id: str
    coefficient: Coefficient
    per_tonne: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Span:
    """
    How far published figures of the same thing lie apart.

    Attributes
    ----------
    kind, part, basis : str
        Of what.
    unit : str
        The unit that most of them are printed in.
    lowest, highest : float
        The ends of them all. [unit]
    sets : int
        How many figures.
    """

    kind: str
    part: str
    basis: str
    unit: str
    lowest: float
    highest: float
    sets: int

    @property
    def ratio(self) -> float:
        """
        Return how many times the lowest the highest is.

        Returns
        -------
        float
            One or more.
        """
        return self.highest / self.lowest


@dataclass(frozen=True, slots=True)
class Comparison:
    """
    All published figures of one crop.

    Attributes
    ----------
    crop, name : str
        Its id, and its name in plain words.
    rows : tuple of Row
        The figures, lowest first within each part.
    spans : tuple of Span
        How far they lie apart, a part each.
    """

    crop: str
    name: str
    rows: tuple[Row, ...]
    spans: tuple[Span, ...]


def compare(crop: str) -> Comparison:
    """
    Put all published figures of one crop side by side.

    Parameters
    ----------
    crop : str
        Its id, also one that a guideline uses.

    Returns
    -------
    Comparison
        The figures by kind and part, and how far they lie apart.

    Raises
    ------
    GuidelineError
        If no figure ships for the crop.
    """
    which, known = canonical(crop), crops()
    if which not in known:
        message = (
            f"no removal figure for {crop!r}{nearest(crop, known)}; vrp removal lists "
            "the crops"
        )
        raise GuidelineError(message)
    rows = [
        Row(set_id, figure, _per_tonne(figure, which))
        for set_id, one in sets().items()
        for figure in one.figure
        if which in {canonical(each) for each in figure.crops}
    ]
    rows.sort(key=lambda row: (_group(row), sum(row.per_tonne), row.set_id))
    groups = dict.fromkeys(_group(row) for row in rows)
    spans = [
        _span([row for row in rows if _group(row) == group], which) for group in groups
    ]
    return Comparison(which, crop_name(which), tuple(rows), tuple(spans))


def _group(row: Row) -> tuple[str, bool, str, str]:
    one = row.coefficient
    return one.kind, one.part in RESIDUES, one.part, one.basis


def _span(rows: list[Row], crop: str) -> Span:
    first = rows[0].coefficient
    printed = Counter(row.coefficient.unit for row in rows)
    unit = max(printed, key=lambda each: printed[each])
    ends = [
        converted(end, row.coefficient.unit, wanted=unit, crop=crop)
        for row in rows
        for end in row.coefficient.ends
    ]
    return Span(
        first.kind, first.part, first.basis, unit, min(ends), max(ends), len(rows)
    )


def _per_tonne(figure: Coefficient, crop: str) -> tuple[float, float]:
    low, high = (
        converted(end, figure.unit, wanted="kg P2O5/t", crop=crop)
        for end in figure.ends
    )
    return low, high
