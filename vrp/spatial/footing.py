"""Whether kriging has a footing, and by which variogram."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from vrp.spatial.solution import Apart
from vrp.spatial.variogram import Variogram
from vrp.spatial.variogram_fit import fit

Floats = NDArray[np.float64]

FEWEST_POSITIONS = 4  # our choice: three hold three pairs, too few for any variogram
ALIKE = 1e-9  # relative; what the rounding of equal numbers leaves


def find_variogram(
    xy: Floats, work: Floats, *, minimum_nugget: float, apart: Apart | None
) -> tuple[Variogram | None, str]:
    """
    Fit the variogram, and say why there is no kriging where there is none.

    Parameters
    ----------
    xy : numpy.ndarray, shape (n, 2)
        Positions, none twice. [m]
    work : numpy.ndarray, shape (n,)
        Values on the working scale.
    minimum_nugget : float
        Known noise. [unit of the values, squared]
    apart : Apart, optional
        Parts of the field across whose borders nothing is interpolated.

    Returns
    -------
    tuple of Variogram or None, and str
        None where none can be fitted; a reason where kriging has no footing.
    """
    if work.size > 1 and alike(work):
        return None, "all samples are alike"
    if work.size < FEWEST_POSITIONS:
        few = f"kriging needs samples at {FEWEST_POSITIONS} positions, not at"
        return None, f"{few} {work.size}"
    part = None if apart is None else apart.sample
    variogram = fit(xy, work, minimum_nugget=minimum_nugget, part=part)
    if apart is not None and np.unique(apart.cell).size > 1:
        # Without structure each part has its own mean, for which a nugget is needed.
        least = ALIKE * float(np.var(work))
        return replace(variogram, nugget=max(variogram.nugget, least)), ""
    if variogram.partial_sill <= 0.0:
        return variogram, "the samples show no spatial structure"
    return variogram, ""


def laboratory_variance(value: Floats, *, lab_cv: float, log: bool) -> float:
    """
    Return the variance of a laboratory's error on the working scale.

    Parameters
    ----------
    value : numpy.ndarray, shape (n,)
        Values of the samples.
    lab_cv : float
        Coefficient of variation of a repeated test. [%]
    log : bool
        Whether the working scale is the natural logarithm.

    Returns
    -------
    float
        At the mean of the samples on the linear scale. [unit of the scale, squared]
    """
    return float((lab_cv / 100.0 * (1.0 if log else abs(value.mean()))) ** 2)


def alike(value: Floats) -> bool:
    """
    Return whether values differ by rounding only.

    Parameters
    ----------
    value : numpy.ndarray, shape (n,)
        At least one.

    Returns
    -------
    bool
        True where all are the same.
    """
    return float(np.ptp(value)) <= ALIKE * float(np.abs(value).max())
