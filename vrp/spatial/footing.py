"""Whether kriging has a footing, and by which variogram."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from vrp.spatial.direction import find_direction
from vrp.spatial.likely import MOST, Likely, likely
from vrp.spatial.solution import Apart
from vrp.spatial.variogram import Variogram, spacing
from vrp.spatial.variogram_fit import fit

Floats = NDArray[np.float64]

FEWEST_POSITIONS = 4  # our choice: three hold three pairs, too few for any variogram
ALIKE = 1e-9  # relative; what the rounding of equal numbers leaves
NOISE_LIKELIER = 2.0
NO_STRUCTURE = "the samples show no spatial structure"


@dataclass(frozen=True, slots=True)
class Footing:
    """
    What kriging can stand on.

    Attributes
    ----------
    variogram : Variogram or None
        None where none can be told.
    among : Likely or None
        The variograms that the samples leave likely; None with parts of a field, with
        more samples than that takes, or too few.
    why_not : str
        Why there is no kriging; empty where there is.
    """

    variogram: Variogram | None
    among: Likely | None
    why_not: str = ""


def find_footing(
    xy: Floats, work: Floats, *, minimum_nugget: float, apart: Apart | None
) -> Footing:
    """
    Find the variogram, and say why there is no kriging where there is none.

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
    Footing
        Up to `likely.MOST` samples by the mean of the likely variograms; above, and
        with parts of a field, by the fitted one.

    Notes
    -----
    Where the samples support a direction (`direction.find_direction`), the variograms
    have it. Nugget, partial sill and range are the means over the likely ones, weighted
    by how likely each is: a fit to the few pairs of some ten or some seventy samples
    often runs to all nugget or to none, and the mean does not. On drawn fields, also of
    kinds that no variogram describes, the map was nearer to the true need than by the
    fitted one (tests/benchmarks/candidates.py). Samples show no structure where noise
    alone is `NOISE_LIKELIER` times as likely as the likeliest variogram (our choice),
    as where neighbours are less alike than others.
    """
    if work.size > 1 and alike(work):
        return Footing(None, None, "all samples are alike")
    if work.size < FEWEST_POSITIONS:
        few = f"kriging needs samples at {FEWEST_POSITIONS} positions, not at"
        return Footing(None, None, f"{few} {work.size}")
    part = None if apart is None else apart.sample
    angle, ratio = find_direction(xy, work, part=part)
    fitted = fit(
        xy, work, minimum_nugget=minimum_nugget, part=part, angle=angle, ratio=ratio
    )
    if apart is not None and np.union1d(apart.sample, apart.cell).size > 1:
        # Without structure each part has its own mean, for which a nugget is needed.
        least = ALIKE * float(np.var(work))
        return Footing(replace(fitted, nugget=max(fitted.nugget, least)), None)
    if work.size > MOST:
        none = NO_STRUCTURE if fitted.partial_sill <= 0.0 else ""
        return Footing(fitted, None, none)
    among = likely(xy, work, spacing=spacing(xy), angle=angle, ratio=ratio)
    if among.noise > NOISE_LIKELIER:
        sill = fitted.nugget + fitted.partial_sill
        flat = replace(fitted, nugget=sill, partial_sill=0.0)
        return Footing(flat, among, NO_STRUCTURE)
    return Footing(_mean(among, minimum_nugget, fitted), among)


def _mean(among: Likely, minimum_nugget: float, fitted: Variogram) -> Variogram:
    each = [one.variogram for one in among.systems]
    nugget, sill, reach = among.weight @ np.array(
        [(one.nugget, one.partial_sill, one.range) for one in each]
    )
    return replace(
        each[0],
        nugget=max(float(nugget), minimum_nugget),
        partial_sill=float(sill),
        range=float(reach),
        bins=fitted.bins,
    )


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
