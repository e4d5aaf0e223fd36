"""P2O5 that a harvest takes away: published figures by set and crop."""

import tomllib
from functools import cache
from importlib.resources import files

from pydantic import TypeAdapter, ValidationError

from vrp.agronomy.complaints import complaint, nearest
from vrp.agronomy.removal_figures import (
    RESIDUES,
    Coefficient,
    CropNames,
    RemovalSet,
)
from vrp.errors import GuidelineError
from vrp.units import LB, P2O5_PER_P, SHORT_TON

_SET, _NAMES = TypeAdapter(RemovalSet), TypeAdapter(dict[str, CropNames])


def parse(text: str, name: str) -> RemovalSet:
    """
    Read the figures of a publication from their TOML text.

    Parameters
    ----------
    text : str
        As in ``vrp/agronomy/data/removal``.
    name : str
        What messages call it.

    Returns
    -------
    RemovalSet
        The figures as printed.

    Raises
    ------
    GuidelineError
        If a figure, its source or the citation is missing, or a unit is unknown.
    """
    try:
        return _SET.validate_python(tomllib.loads(text))
    except tomllib.TOMLDecodeError as error:
        raise GuidelineError(f"{name}: not valid TOML: {error}") from error
    except ValidationError as error:
        raise GuidelineError(f"{name}: {complaint(error, (RemovalSet,))}") from error


@cache
def _sets() -> tuple[tuple[str, RemovalSet], ...]:
    folder = files("vrp.agronomy") / "data" / "removal"
    texts = {file.name: file.read_text("utf-8") for file in folder.iterdir()}
    return tuple(
        (name.removesuffix(".toml"), parse(texts[name], name)) for name in sorted(texts)
    )


@cache
def _names() -> dict[str, CropNames]:
    text = (files("vrp.agronomy") / "data" / "crops.toml").read_text("utf-8")
    return _NAMES.validate_python(tomllib.loads(text))


def sets() -> dict[str, RemovalSet]:
    """
    Every publication whose figures ship.

    Returns
    -------
    dict of RemovalSet
        By id.
    """
    return dict(_sets())


def find(set_id: str) -> RemovalSet:
    """
    One publication's figures.

    Parameters
    ----------
    set_id : str
        Its id.

    Returns
    -------
    RemovalSet
        The figures.

    Raises
    ------
    GuidelineError
        If there is no such set.
    """
    known = sets()
    if set_id not in known:
        message = (
            f"no set of removal figures {set_id!r}{nearest(set_id, known)}; vrp "
            "removal lists them by crop"
        )
        raise GuidelineError(message)
    return known[set_id]


def canonical(crop: str) -> str:
    """
    Return the id under which a crop's figures stand.

    Parameters
    ----------
    crop : str
        An id, also one that a guideline uses.

    Returns
    -------
    str
        The same where it is not known by another.
    """
    return next((key for key, one in _names().items() if crop in one.also), crop)


def crop_name(crop: str) -> str:
    """
    Return a crop's name in plain words.

    Parameters
    ----------
    crop : str
        Its id.

    Returns
    -------
    str
        The id itself where no name is known.
    """
    names = _names().get(canonical(crop))
    return crop if names is None else names.name


def crops() -> tuple[str, ...]:
    """
    Every crop that a figure ships for.

    Returns
    -------
    tuple of str
        Ids, in the order of their list.
    """
    printed = {
        canonical(crop)
        for one in sets().values()
        for figure in one.figure
        for crop in figure.crops
    }
    return tuple(crop for crop in _names() if crop in printed)


def holding(crop: str) -> tuple[str, ...]:
    """
    Every set with a removal figure for a crop's harvest.

    Parameters
    ----------
    crop : str
        Its id.

    Returns
    -------
    tuple of str
        Ids of the sets.
    """
    return tuple(key for key, one in sets().items() if harvest(one, crop) is not None)


def harvest(one: RemovalSet, crop: str) -> Coefficient | None:
    """
    Figure for what is harvested of a crop.

    Parameters
    ----------
    one : RemovalSet
        Where it is looked for.
    crop : str
        Its id.

    Returns
    -------
    Coefficient or None
        The first removal figure as harvested, residue aside; None where there is none.
    """
    return _first(one, crop, residue=False)


def residue(one: RemovalSet, crop: str) -> Coefficient | None:
    """
    Figure for a crop's straw or other residue.

    Parameters
    ----------
    one : RemovalSet
        Where it is looked for.
    crop : str
        Its id.

    Returns
    -------
    Coefficient or None
        None where there is none.
    """
    return _first(one, crop, residue=True)


def _first(one: RemovalSet, crop: str, *, residue: bool) -> Coefficient | None:
    fitting = [
        figure
        for figure in one.figure
        if figure.kind == "removal"
        and figure.basis == "as harvested"
        and (figure.part in RESIDUES) == residue
    ]
    # What is printed for the very crop comes before what is printed for its kind.
    named = [figure for figure in fitting if crop in figure.crops]
    kind = [
        figure
        for figure in fitting
        if canonical(crop) in {canonical(each) for each in figure.crops}
    ]
    return next(iter((*named, *kind)), None)


def bushel(crop: str) -> float | None:
    """
    Weight of a bushel.

    Parameters
    ----------
    crop : str
        Its id.

    Returns
    -------
    float or None
        None where the crop is not traded in bushels. [lb]
    """
    names = _names().get(canonical(crop))
    return None if names is None or names.bushel is None else names.bushel.value


def converted(
    value: float, unit: str, *, wanted: str, crop: str, pounds: float | None = None
) -> float:
    """
    Figure in another unit of yield.

    Parameters
    ----------
    value : float
        As printed. [unit]
    unit : str
        The unit that it is printed in, such as lb P2O5/bu.
    wanted : str
        The unit to turn it into.
    crop : str
        Whose bushel, or bale, it is.
    pounds : float, optional
        Weight of a bushel, where a guideline prints its own. [lb]

    Returns
    -------
    float
        The same amount of P2O5 in the same harvest; untouched where the units are the
        same. [wanted]

    Raises
    ------
    GuidelineError
        If a measure has no weight.

    Examples
    --------
    6.61 kg/t is 0.37 lb in a bushel of 56 lb:

    >>> round(converted(0.37, "lb P2O5/bu", wanted="kg P2O5/t", crop="corn-grain"), 2)
    6.61
    """
    if unit == wanted:
        return value
    p2o5 = value * (P2O5_PER_P if " P/" in unit else 1.0)
    there, here = (_kilograms(one, crop, pounds) for one in (wanted, unit))
    mass = {"lb": LB, "kg": 1.0}
    return p2o5 * mass[unit[:2]] / here * there / mass[wanted[:2]]


def at_moisture(coefficient: Coefficient, moisture: float) -> float:
    """
    Figure for a yield with more or less water in it than it was printed for.

    Parameters
    ----------
    coefficient : Coefficient
        As printed.
    moisture : float
        Water in the yield. [percent]

    Returns
    -------
    float
        The middle figure for that yield. [the coefficient's unit]

    Raises
    ------
    GuidelineError
        If the figure was printed without its moisture.
    """
    if coefficient.moisture is None:
        message = (
            f"{coefficient.crops[0]}: {coefficient} is printed without its moisture; "
            "leave the season's moisture out, or choose a set that prints it"
        )
        raise GuidelineError(message)
    return coefficient.middle * (100.0 - moisture) / (100.0 - coefficient.moisture)


def measured(amount: float, *, percent: float, dry_matter: float) -> float:
    r"""
    P2O5 in a harvest whose own phosphorus was measured.

    Parameters
    ----------
    amount : float
        Harvest as it was weighed. [any mass per area]
    percent : float
        P in the dry matter. [percent]
    dry_matter : float
        Dry matter in the harvest. [percent]

    Returns
    -------
    float
        P2O5. [the amount's unit]

    References
    ----------
    "Nutrient Management Guide (RB209)", Agriculture and Horticulture Development Board,
    2023, Section 4, Example 4.7: wheat of 10 t/ha with 0.45 % takes 88 kg/ha.

    Examples
    --------
    10,000 kg/ha of grain at 85 % dry matter and 0.45 % P: 38.25 kg of P, 87.6 of P2O5:

    >>> round(measured(10_000.0, percent=0.45, dry_matter=85.0), 1)
    87.6
    """
    return amount * dry_matter / 100.0 * percent / 100.0 * P2O5_PER_P


def _kilograms(unit: str, crop: str, pounds: float | None) -> float:
    """Return the weight of the measure of yield in a unit [kg]."""
    measure = unit.rsplit("/", maxsplit=1)[1]
    if measure in _MEASURES:
        return _MEASURES[measure]
    names = _names().get(canonical(crop))
    figure = None
    if names is not None:
        figure = names.bushel if measure == "bu" else names.bale
    weight = pounds if measure == "bu" and pounds is not None else None
    if weight is None:
        weight = None if figure is None else figure.value
    if weight is None:
        word = {"bu": "bushel"}.get(measure, measure)
        raise GuidelineError(f"{crop}: no weight of a {word} is known")
    return weight * LB


_MEASURES = {"t": 1000.0, "ton": SHORT_TON, "cwt": 100 * LB}
