"""Whether a rule on water bears on an application, and what would free it."""

from dataclasses import dataclass
from typing import Literal

from vrp.agronomy.products import Form
from vrp.agronomy.water import Method, lies
from vrp.agronomy.water_rules import Decides, Lie, Material, PlacementRule


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """
    What is spread, and how; None where it was not told.

    Attributes
    ----------
    material : str
        ``fertilizer`` or ``manure``.
    form : str, optional
        ``granular`` or ``liquid``.
    method : str, optional
        Placement, as the field file has it.
    worked_in : float, optional
        After how many hours it is worked in.
    tillage : str, optional
        ``no-till`` or ``tilled``.
    growing_crop : bool, optional
        Whether it goes onto a growing crop.
    """

    material: Material
    form: Form | None = None
    method: Method | None = None
    worked_in: float | None = None
    tillage: Literal["no-till", "tilled"] | None = None
    growing_crop: bool | None = None


@dataclass(frozen=True, slots=True)
class Bearing:
    """
    Whether a rule binds.

    Attributes
    ----------
    binds : bool
        Whether it does, as far as was told.
    why : str
        Why it does not, empty where it does.
    unless : tuple of str
        What was not told and would free from it.
    """

    binds: bool
    why: str = ""
    unless: tuple[str, ...] = ()


def bearing(rule: Decides, spread: Spread) -> Bearing:
    """
    Return whether a rule binds an application.

    Parameters
    ----------
    rule : Decides
        Any rule.
    spread : Spread
        What is spread, and how.

    Returns
    -------
    Bearing
        With the reason. What was not told binds, and is named.

    Examples
    --------
    >>> from vrp.agronomy.water import rule_set
    >>> rule = rule_set("ohio-western-lake-erie").rain[0]
    >>> bearing(rule, Spread(material="manure")).why
    'it is for fertilizer'
    """
    if spread.material not in rule.materials:
        return Bearing(False, f"it is for {' and '.join(rule.materials)}")
    if rule.forms and spread.form is not None and spread.form not in rule.forms:
        return Bearing(False, f"it is for {' and '.join(rule.forms)} {spread.material}")
    unless = []
    if rule.forms and spread.form is None:
        unless.append(f"it is not {' or '.join(rule.forms)}")
    possible = _possible(rule, spread)
    if not possible & set(rule.lies):
        where = [
            _lying(lie, rule.worked_in_hours)
            for lie in ("worked-in", "in-soil", "surface")
            if lie in possible
        ]
        return Bearing(False, " or ".join(where))
    unless += [
        _lying(lie, rule.worked_in_hours)
        for lie in ("worked-in", "in-soil", "surface")
        if lie in possible and lie not in rule.lies
    ]
    if isinstance(rule, PlacementRule) and rule.tillage is not None:
        if spread.tillage not in (None, rule.tillage):
            return Bearing(False, f"the ground is {_TILLED[spread.tillage]}")
        if spread.tillage is None:
            unless.append(f"the ground is not {_TILLED[rule.tillage]}")
    if not rule.growing_crop:
        if spread.growing_crop:
            return Bearing(False, "it goes onto a growing crop")
        if spread.growing_crop is None:
            unless.append("it goes onto a growing crop")
    return Bearing(True, "", tuple(unless))


_TILLED = {"tilled": "tilled", "no-till": "in no-till", None: "tilled"}


def _possible(rule: Decides, spread: Spread) -> set[Lie]:
    """Return where it may come to lie; worked in as well, where no hour was told."""
    within = rule.worked_in_hours
    found = set(lies(spread.method, worked_in=spread.worked_in, within=within))
    if spread.method == "incorporated" and spread.worked_in is None:
        found.add("worked-in")
    return found


def _lying(lie: Lie, within: float | None) -> str:
    if lie == "in-soil":
        return "it is placed in the soil"
    if lie == "surface":
        return "it is spread on the surface"
    hours = "" if within is None else f" within {within:g} hours"
    return f"it is worked in{hours}"
