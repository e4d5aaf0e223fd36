"""Cores cut in layers: the soil test of the whole depth, and how much lies on top."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from vrp.agronomy.checks import checks, finding
from vrp.errors import InputError
from vrp.evidence import Finding, shown
from vrp.units import INCH

# Depths that differ by less meet: what a rule in the field can tell. Our choice.
MEET = 0.01  # [in or cm]
# Layers of one core stand where it was taken; positions are often written anew. Our
# choice.
ONE_PLACE = 1.0  # [m]


@dataclass(frozen=True, slots=True)
class Layers:
    """
    The layers of one sample, from the top down.

    Attributes
    ----------
    row : tuple of int, length n
        Row of each as its file shows it.
    top, bottom : tuple of float, length n
        Depths. [in or cm, by the plan]
    soil_test : tuple of float, length n
        Soil test of each. [unit of the plan]
    """

    row: tuple[int, ...]
    top: tuple[float, ...]
    bottom: tuple[float, ...]
    soil_test: tuple[float, ...]

    @property
    def thickness(self) -> tuple[float, ...]:
        """
        Return the thickness of each layer.

        Returns
        -------
        tuple of float, length n
            Thickness. [in or cm]
        """
        pairs = zip(self.top, self.bottom, strict=True)
        return tuple(bottom - top for top, bottom in pairs)

    @property
    def arithmetic(self) -> str:
        """
        Return how the mean is reckoned with a pencil, without its result.

        Returns
        -------
        str
            Such as ``(2 × 60 + 4 × 30) / 6``; one layer is just its test.
        """
        if len(self.row) == 1:
            return shown(self.soil_test[0])
        products = zip(self.thickness, self.soil_test, strict=True)
        summed = " + ".join(f"{shown(d, most=4)} × {shown(c)}" for d, c in products)
        return f"({summed}) / {shown(sum(self.thickness), most=4)}"


def weighted_mean(values: ArrayLike, thickness: ArrayLike) -> float:
    """
    Mean of layers, weighted by their thickness.

    Parameters
    ----------
    values : array_like, shape (n,)
        One a layer.
    thickness : array_like, shape (n,)
        Of each. [any one unit]

    Returns
    -------
    float
        Sum of thickness times value, over the sum of thickness; NaN where one is.

    Notes
    -----
    Takes the same bulk density in each layer: what one mixed core would show.

    Examples
    --------
    60 ppm in the top 2 in and 30 ppm in the 4 in below:

    >>> weighted_mean([60.0, 30.0], [2.0, 4.0])
    40.0
    """
    weights = np.asarray(thickness, dtype=np.float64)
    return float(weights @ np.asarray(values, dtype=np.float64) / weights.sum())


def check_layers(layers: Layers, *, depth: float, unit: str, place: str) -> None:
    """
    Refuse layers that do not make up the core.

    Parameters
    ----------
    layers : Layers
        In order of their top.
    depth : float
        Depth of the cores. [unit]
    unit : str
        ``in`` or ``cm``.
    place : str
        Where they stand, such as ``samples.csv``.

    Raises
    ------
    InputError
        If a layer is upside down, or layers leave a gap, overlap, or end elsewhere
        than the core.
    """
    reached, before = 0.0, layers.row[0]
    for row, top, bottom in zip(layers.row, layers.top, layers.bottom, strict=True):
        said = f"{place} row {row}: the layer of {top:g} to {bottom:g} {unit}"
        if bottom - top < MEET:
            raise InputError(f"{said} has no thickness: give depth_from above depth_to")
        if abs(top - reached) > MEET:
            if reached == 0.0:
                wrong = "is the uppermost of its sample and does not start at 0"
            elif top < reached:
                wrong = f"overlaps that of row {before}, which ends at {reached:g}"
            else:
                wrong = f"leaves a gap below row {before}, which ends at {reached:g}"
            message = (
                f"{said} {wrong}: the layers of a sample must follow one another from "
                "0 to the depth"
            )
            raise InputError(message)
        reached, before = bottom, row
    if abs(reached - depth) <= MEET:
        return
    message = (
        f"{place} row {before}: the layers of its sample end at {reached:g} {unit}, "
        f"but depth is {depth:g} {unit}: they must make up the whole core"
    )
    inch = INCH * 100.0
    words = {"in": "inches", "cm": "centimetres"}
    for other, factor in (("cm", inch), ("in", 1.0 / inch)):
        # Rules are rounded: 8 in is called 20 cm.
        if unit != other and abs(reached - depth * factor) <= 0.05 * reached:
            message += (
                f"; {reached:g} looks like {words[other]}: write depths in "
                f"{words[unit]}"
            )
    raise InputError(message)


def stratification(
    ratio: ArrayLike,
    *,
    top: ArrayLike,
    place: str,
    unit: str,
    zone: int | None = None,
) -> tuple[Finding, ...]:
    """
    Return how much richer the top layer is than the core, for a field or a zone.

    Parameters
    ----------
    ratio : array_like, shape (n,)
        Top layer over the mean of the core, NaN where a core was not cut.
    top : array_like, shape (n,)
        Thickness of the top layers. [unit]
    place : str
        Where the samples stand.
    unit : str
        ``in`` or ``cm``.
    zone : int, optional
        Number of the zone; without it the samples are the field's.

    Returns
    -------
    tuple of Finding
        A note for the field; a warning for a zone above the limit.
    """
    given = np.asarray(ratio, dtype=np.float64)
    cut = ~np.isnan(given)
    if not cut.any():
        return ()
    code = "soil-test-stratified"
    check = checks()[code]
    limit = check.far("us").value
    middle = round(float(np.median(given[cut])), 2)
    if zone is not None and middle <= limit:
        return ()
    depths = np.unique(np.asarray(top, dtype=np.float64)[cut])
    layer = f"{depths[0]:.3g}"
    layer += f" to {depths[-1]:.3g}" if len(depths) > 1 else ""
    count = int(cut.sum())
    where = place if zone is None else f"{place}, zone {zone}"
    message = (
        f"{where}: the top {layer} {unit} test {middle:.2f} times the whole core "
        f"(median of {count} sample{'s' if count > 1 else ''} in layers"
    )
    if zone is None:
        lowest, highest = given[cut].min(), given[cut].max()
        message += f", {lowest:.2f} to {highest:.2f}"
        richer = int(np.count_nonzero(given[cut] > limit))
        message += f"; {richer} above {limit:g})"
    else:
        message += f"; above {limit:g})"
    return (
        finding(
            code,
            place=place,
            message=message,
            zone=zone,
            value=middle,
            unit="times the core",
            bound=limit,
            severity=None if zone is None else check.worse(),
        ),
    )


def repeated_positions(
    repeated: int, shared: int, count: int, *, layered: bool, place: str
) -> tuple[Finding, ...]:
    """
    Return a finding if samples share their position with others.

    Parameters
    ----------
    repeated : int
        How many fell on the position of another and were averaged.
    shared : int
        How many share their position with a sample of another value.
    count : int
        How many samples there are.
    layered : bool
        Whether the plan declares layers.
    place : str
        Where they stand.

    Returns
    -------
    tuple of Finding
        At most one: a stop where half of the samples or more may be layers of cores.
    """
    code = "repeated-positions"
    share = 100.0 * shared / count
    limit = checks()[code].at("us")
    if not layered and shared and share >= limit.value:
        message = (
            f"{place}: {shared} of {count} samples share their position with another "
            "whose soil test differs, and no layers are declared: if the rows are "
            "layers of cores, name id, depth_from and depth_to"
        )
        return (
            finding(
                code,
                place=place,
                message=message,
                value=round(share, 1),
                unit=limit.unit,
                bound=limit.value,
                severity=checks()[code].worse(),
            ),
        )
    if not repeated:
        return ()
    message = f"{place}: {repeated} samples share the position of another"
    return (finding(code, place=place, message=message),)
