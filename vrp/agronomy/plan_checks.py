"""What is doubtful about a guideline's use, and about zones beside their samples."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from vrp.agronomy.checks import checks, finding
from vrp.agronomy.figures import Used
from vrp.agronomy.forms import Guideline
from vrp.agronomy.guidelines import crop_of
from vrp.agronomy.season import Season, yield_in_guideline
from vrp.evidence import Finding


def yield_goal(
    guideline: Guideline, season: Season, *, place: str
) -> tuple[Finding, ...]:
    """
    Return a finding if a yield goal is not plausible.

    Parameters
    ----------
    guideline : Guideline
        Which says what is plausible.
    season : Season
        The crop and its yield goal.
    place : str
        Where the goal stands.

    Returns
    -------
    tuple of Finding
        At most one.
    """
    crop = crop_of(guideline, season.crop)
    goal, plausible = yield_in_guideline(guideline, season), crop.plausible
    if plausible.low <= goal <= plausible.high:
        return ()
    bound = plausible.low if goal < plausible.low else plausible.high
    check = checks()["yield-goal-unusual"]
    far = goal > check.far("us").value * plausible.high
    message = (
        f"{place}: yield goal of {goal:.5g} {crop.yield_unit} for {season.crop} is "
        f"outside the plausible {plausible} {crop.yield_unit}"
    )
    return (
        finding(
            "yield-goal-unusual",
            place=place,
            message=message,
            value=round(goal, 3),
            unit=crop.yield_unit,
            bound=bound,
            severity=check.worse() if far else None,
        ),
    )


def figures_status(
    used: Sequence[Used], *, guideline: str, confirmed: bool
) -> tuple[Finding, ...]:
    """
    Return a finding if a plan rests on figures that nobody read in print.

    Parameters
    ----------
    used : sequence of Used
        The figures that it rests on.
    guideline : str
        Id of the guideline.
    confirmed : bool
        Whether a person compared them with the printed copy.

    Returns
    -------
    tuple of Finding
        At most one.
    """
    memory = [one.name for one in used if one.source.status == "from-memory"]
    agrees = [one.name for one in used if one.source.status == "agrees"]
    if confirmed or not (memory or agrees):
        return ()
    parts = [
        f"{len(names)} {words} ({'; '.join(names)})"
        for names, words in (
            (memory, "from memory"),
            (agrees, "that only agree with something printed"),
        )
        if names
    ]
    many = len(memory) + len(agrees)
    verb = "was" if many == 1 else "were"
    message = (
        f"{guideline}: of {len(used)} figures used, {' and '.join(parts)} {verb} not "
        "read in print"
    )
    return (
        finding(
            "guideline-unconfirmed",
            place=guideline,
            message=message,
            value=float(many),
            unit="figures",
            bound=0.0,
        ),
    )


def superseded(guideline: Guideline, *, place: str) -> tuple[Finding, ...]:
    """
    Return a finding if a guideline was replaced.

    Parameters
    ----------
    guideline : Guideline
        The guideline.
    place : str
        Its id or file.

    Returns
    -------
    tuple of Finding
        At most one.
    """
    if guideline.state == "current":
        return ()
    message = f"{place}: {guideline.title!r}, {guideline.year}, was superseded"
    return (finding("guideline-superseded", place=place, message=message),)


def own_laboratory(guideline: Guideline, *, place: str) -> tuple[Finding, ...]:
    """
    Return a finding if a guideline is for its own laboratory's results only.

    Parameters
    ----------
    guideline : Guideline
        The guideline.
    place : str
        Its id or file.

    Returns
    -------
    tuple of Finding
        At most one.
    """
    rule = guideline.own_laboratory
    if rule is None:
        return ()
    message = f"{place}: {rule.text} ({rule.source.where})"
    return (finding("guideline-own-laboratory", place=place, message=message),)


def ph_rules(
    guideline: Guideline,
    crop: str,
    ph: ArrayLike,
    *,
    word: str,
    zone: int,
) -> tuple[Finding, ...]:
    """
    Return what a guideline adds by pH, which no rate holds.

    Parameters
    ----------
    guideline : Guideline
        Whose rules they are.
    crop : str
        Id of the crop that the map is for.
    ph : array_like, shape (n,)
        pH of the zone's samples, NaN where missing.
    word : str
        Class of the zone.
    zone : int
        Number of the zone.

    Returns
    -------
    tuple of Finding
        One for each rule that a sample of the zone brings in.
    """
    given = np.asarray(ph, dtype=np.float64)
    found = []
    for rule in guideline.ph_rule:
        acid = rule.below is not None
        meets = given[given < rule.edge if acid else given >= rule.edge]
        elsewhere = bool(rule.classes) and word not in rule.classes
        if crop not in rule.crops or not meets.size or elsewhere:
            continue
        many = f"{meets.size} of {given.size} samples"
        message = (
            f"zone {zone}: {many} have a pH {rule.bound}: the guideline gives "
            f"{crop} {rule.amount}, {rule.condition}; no rate here holds it"
        )
        found.append(
            finding(
                "guideline-ph-rule",
                place=f"zone {zone}",
                message=message,
                zone=zone,
                value=float(meets.min() if acid else meets.max()),
                unit="pH",
                bound=rule.edge,
            )
        )
    return tuple(found)


def mixed_classes(
    samples: Sequence[str], word: str, *, zone: int
) -> tuple[Finding, ...]:
    """
    Return a finding if samples of a zone have another class than the zone.

    Parameters
    ----------
    samples : sequence of str
        Class of each sample in the zone.
    word : str
        Class of the zone.
    zone : int
        Number of the zone.

    Returns
    -------
    tuple of Finding
        At most one: severe from half of the samples on.
    """
    code = "zone-of-mixed-classes"
    others = sum(sample != word for sample in samples)
    share = 100.0 * others / max(len(samples), 1)
    if share <= checks()[code].at("us").value:
        return ()
    bound = checks()[code].far("us").value
    message = (
        f"zone {zone}: {others} of {len(samples)} samples ({share:.0f} %) are not "
        f"{word!r} as the zone is"
    )
    return (
        finding(
            code,
            place=f"zone {zone}",
            message=message,
            zone=zone,
            value=round(share, 1),
            unit="%",
            bound=bound,
            severity=checks()[code].worse() if share >= bound else None,
        ),
    )


def map_mean(
    surface: float, samples: float, *, unit: str, place: str
) -> tuple[Finding, ...]:
    """
    Return a finding if the mean of the map is far from that of the samples.

    Parameters
    ----------
    surface : float
        Mean of the map. [unit]
    samples : float
        Mean of the samples. [unit]
    unit : str
        Unit of the soil test.
    place : str
        Where the samples stand.

    Returns
    -------
    tuple of Finding
        At most one.
    """
    limit = checks()["map-mean"].at("us").value
    off = abs(surface - samples)
    if round(off, 9) <= round(limit / 100.0 * abs(samples), 9):
        return ()
    message = (
        f"{place}: the map's mean of {surface:.3g} {unit} is more than {limit:g} % "
        f"from the samples' mean of {samples:.3g} {unit}"
    )
    return (
        finding(
            "map-mean",
            place=place,
            message=message,
            value=round(surface, 2),
            unit=unit,
            bound=round(samples, 2),
        ),
    )
