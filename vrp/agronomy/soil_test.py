"""Soil-test methods and units: what a laboratory's number is, and what it is not."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from vrp.errors import InputError
from vrp.units import SoilTestUnit, soil_test_ppm_or_mg_l

METHODS = {
    "bray-p1": "Bray P1",
    "bray-p2": "Bray P2",
    "mehlich-3-icp": "Mehlich-3, read by ICP",
    "mehlich-3-colorimetric": "Mehlich-3, read by colour",
    "olsen": "Olsen (sodium bicarbonate)",
    "morgan": "Morgan",
    "modified-morgan": "modified Morgan",
}


def in_unit(
    values: ArrayLike, unit: SoilTestUnit, *, wanted: SoilTestUnit, place: str
) -> NDArray[np.float64]:
    """
    Soil tests in the unit that a guideline uses.

    Parameters
    ----------
    values : array_like, shape (n,)
        Soil tests as the laboratory reports them. [unit]
    unit : str
        The laboratory's unit: ppm, mg/kg, lb/ac or mg/L.
    wanted : str
        The guideline's unit.
    place : str
        Whose values they are, for messages.

    Returns
    -------
    numpy.ndarray, shape (n,)
        The same tests, NaN where missing. [wanted]

    Raises
    ------
    InputError
        If one unit counts by the soil's mass and the other by its volume.

    Notes
    -----
    ppm and mg/kg are the same. A laboratory's lb/ac is twice the ppm whatever the
    depth. mg/L is by volume of soil and is not converted: that takes the density of the
    soil as the laboratory scooped it.

    Examples
    --------
    60 lb/ac is 30 ppm ("Understanding soil test reports: phosphorus values", Ohio State
    University):

    >>> in_unit([60.0], "lb/ac", wanted="ppm", place="field")
    array([30.])
    """
    factor, basis = soil_test_ppm_or_mg_l(1.0, unit)
    wanted_factor, wanted_basis = soil_test_ppm_or_mg_l(1.0, wanted)
    if basis != wanted_basis:
        kinds = {"ppm": "by mass of soil", "mg/L": "by volume of soil"}
        message = (
            f"{place}: the soil test is in {unit} ({kinds[basis]}), the guideline uses "
            f"{wanted} ({kinds[wanted_basis]}): the two are not converted; ask the "
            f"laboratory for {wanted}, or choose a guideline that uses {unit}"
        )
        raise InputError(message)
    return np.asarray(values, dtype=np.float64) * (factor / wanted_factor)
