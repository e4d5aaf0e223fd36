"""What may be done instead, weighed against erosion."""

from collections.abc import Collection
from dataclasses import dataclass

from vrp.agronomy.water_figures import Action, figures
from vrp.evidence import Source


@dataclass(frozen=True, slots=True)
class Advice:
    """
    One thing that may be done instead of the plan.

    Attributes
    ----------
    action : str
        ``do-not-apply``, ``incorporate``, ``band``, ``deeper``, ``split`` or
        ``as-planned``.
    text : str
        What, in a few words.
    trade : str
        What it costs, empty where nothing.
    source : Source
        Who says so, and how far that was checked.
    """

    action: Action
    text: str
    trade: str
    source: Source


# Reasons to take phosphate off the surface: water can fetch it, or carry it there.
_REACHED = frozenset({"storm-reach", "stream-side", "slope"})


def advised(
    against: Collection[str],
    *,
    spread: bool,
    tillage: str | None,
    stratified: bool = False,
) -> tuple[Advice, ...]:
    """
    Return what may be done instead, the most telling first.

    Parameters
    ----------
    against : collection of str
        Names of the facts that stand against the zone.
    spread : bool
        Whether anything is spread there.
    tillage : str, optional
        ``no-till`` or ``tilled``.
    stratified : bool
        Whether the top of the soil is richer than a limit allows.

    Returns
    -------
    tuple of Advice
        At least one.

    Notes
    -----
    Our choice throughout. Nothing is advised where nothing is spread. Above a limit to
    the test: do not apply. Where storms reach, or on a slope: what lies on the surface
    is worked in, but banded where the ground is steep or not tilled, and placed deeper
    where its top is rich; what is placed shallow goes deeper; a rate above its limit is
    split.

    Examples
    --------
    >>> [one.action for one in advised({"on-top", "storm-reach"}, spread=True,
    ...                                tillage="tilled")]
    ['incorporate']
    """
    if not spread:
        return (_one("as-planned"),)
    if {"over-need", "very-high"} & set(against):
        return (_one("do-not-apply"),)
    actions: list[Action] = []
    if _REACHED & set(against):
        if "shallow" in against:
            actions.append("deeper")
        elif "on-top" in against:
            careful = "slope" in against or tillage == "no-till"
            covered: Action = "deeper" if stratified else "band"
            actions.append(covered if careful else "incorporate")
        if "rate" in against:
            actions.append("split")
    return tuple(_one(action) for action in actions or ["as-planned"])


def _one(action: Action) -> Advice:
    told = figures().advice[action]
    return Advice(action, told.text, told.trade, told.source)
