"""The kriging of a field: exact or local by the number of samples, whole or apart."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from vrp.spatial import kriging, local_kriging
from vrp.spatial.kriging import Estimate, LeftOut
from vrp.spatial.local_kriging import LocalSystem
from vrp.spatial.validation import blocks
from vrp.spatial.variogram import Variogram

Floats = NDArray[np.float64]
Index = NDArray[np.int64]
AnyIndex = NDArray[np.integer[Any]] | NDArray[np.bool_]

# Our choice: up to here the exact answer for 25,000 cells takes some seconds and less
# than 200 MB, and both grow with the square of the samples.
MOST_EXACT = 2_000
# A part of a field with fewer samples is estimated from those of the whole field. Our
# choice: of five the mean errs by less than half of their standard deviation.
FEWEST_IN_PART = 5


@dataclass(frozen=True, slots=True)
class Apart:
    """
    Which part of a field samples and cells lie in.

    Attributes
    ----------
    sample : numpy.ndarray of int, shape (n,)
        Part of each sample, from 0.
    cell : numpy.ndarray of int, shape (m,)
        Part of each cell.
    """

    sample: Index
    cell: Index


@dataclass(frozen=True, slots=True)
class Piece:
    """
    Ground that is estimated by one system.

    Attributes
    ----------
    used : numpy.ndarray of int
        Samples that the system holds.
    samples : numpy.ndarray of int
        Those among them that lie on the ground.
    cells : numpy.ndarray of int
        Cells of the ground.
    system : kriging.System or LocalSystem
        From all of `used`, or from the nearest ones.
    """

    used: Index
    samples: Index
    cells: Index
    system: kriging.System | LocalSystem


@dataclass(frozen=True, slots=True)
class Solution:
    """
    The systems of a field.

    Attributes
    ----------
    pieces : tuple of Piece
        They hold each cell and each sample's ground once.
    few : tuple of int
        Numbers of samples of the parts that have too few, and take the whole field's.
    local : bool
        Whether a system is of nearest samples.
    """

    pieces: tuple[Piece, ...]
    few: tuple[int, ...]
    local: bool


def solve(xy: Floats, value: Floats, *, variogram: Variogram, apart: Apart) -> Solution:
    """
    Prepare the kriging of a field.

    Parameters
    ----------
    xy : numpy.ndarray, shape (n, 2)
        Positions, none twice. [m]
    value : numpy.ndarray, shape (n,)
        Values.
    variogram : Variogram
        The same for all parts.
    apart : Apart
        Parts that are estimated each from its own samples, all zeros for a whole field.

    Returns
    -------
    Solution
        Exact up to `MOST_EXACT` samples in a part, local above; a part of fewer than
        `FEWEST_IN_PART` is estimated from all samples of the field.
    """
    pieces, few = [], []
    parts = np.union1d(apart.sample, apart.cell)
    everything = np.arange(len(value))
    whole = None
    for part in parts:
        own = np.flatnonzero(apart.sample == part)
        cells = np.flatnonzero(apart.cell == part)
        if len(own) >= FEWEST_IN_PART or len(parts) == 1:
            system = _system(xy[own], value[own], variogram=variogram)
            pieces.append(Piece(own, own, cells, system))
            continue
        if whole is None:
            whole = _system(xy, value, variogram=variogram)
        few.append(len(own))
        pieces.append(Piece(everything, own, cells, whole))
    local = any(isinstance(piece.system, LocalSystem) for piece in pieces)
    return Solution(tuple(pieces), tuple(few), local)


def estimate(solution: Solution, cells_xy: Floats) -> Estimate:
    """
    Estimate the surface on the cells of a field.

    Parameters
    ----------
    solution : Solution
        From `solve`.
    cells_xy : numpy.ndarray, shape (m, 2)
        All cells, as the solution knows them. [m]

    Returns
    -------
    Estimate
        Each cell by the system of its part.
    """
    value, variance, lagrange = (np.empty(len(cells_xy)) for _ in range(3))
    for piece in solution.pieces:
        if not len(piece.cells):
            continue
        cells = cells_xy[piece.cells]
        if isinstance(piece.system, LocalSystem):
            found = local_kriging.estimate(piece.system, cells)
        else:
            found = kriging.estimate(piece.system, cells)
        value[piece.cells], variance[piece.cells] = found.value, found.variance
        lagrange[piece.cells] = found.lagrange
    return Estimate(value, variance, lagrange)


def leave_out(solution: Solution, group: Index) -> LeftOut:
    """
    Predict the samples of each group from the others of their part.

    Parameters
    ----------
    solution : Solution
        From `solve`.
    group : numpy.ndarray of int, shape (n,)
        Groups of samples that are left out together; in no part are all in one.

    Returns
    -------
    LeftOut
        Each sample by the system of its part.
    """
    value, variance, correction = (np.empty(len(group)) for _ in range(3))
    for piece in solution.pieces:
        if not len(piece.samples):
            continue
        groups = group[piece.used]
        if isinstance(piece.system, LocalSystem):
            found = local_kriging.leave_out(piece.system, groups)
        else:
            found = kriging.leave_out(piece.system, groups)
        here = np.searchsorted(piece.used, piece.samples)
        value[piece.samples], variance[piece.samples] = (
            found.value[here],
            found.variance[here],
        )
        correction[piece.samples] = found.correction[here]
    return LeftOut(value, variance, correction)


def block_variance(
    solution: Solution,
    cells_xy: Floats,
    *,
    index: AnyIndex,
    weight: Floats | None = None,
) -> float:
    """
    Variance of the error of a mean over some cells.

    Parameters
    ----------
    solution : Solution
        From `solve`.
    cells_xy : numpy.ndarray, shape (m, 2)
        All cells, as the solution knows them. [m]
    index : numpy.ndarray
        Which of them, by index or by mask, at least one.
    weight : numpy.ndarray, optional
        Weights of those cells; without them all count alike.

    Returns
    -------
    float
        By block kriging; the errors of parts count as independent. [unit squared]
    """
    chosen = np.arange(len(cells_xy))[index]
    share = np.ones(len(chosen)) if weight is None else weight
    total = 0.0
    for piece in solution.pieces:
        here = np.flatnonzero(np.isin(chosen, piece.cells))
        if not len(here):
            continue
        cells, part = cells_xy[chosen[here]], share[here]
        if isinstance(piece.system, LocalSystem):
            own = local_kriging.block_variance(piece.system, cells, weight=part)
        else:
            own = kriging.block_variance(piece.system, cells, weight=part)
        total += own * float(part.sum() / share.sum()) ** 2
    return total


def describe(solution: Solution, *, variogram: Variogram) -> list[str]:
    """
    Say what was not done from all samples at once.

    Parameters
    ----------
    solution : Solution
        From `solve`.
    variogram : Variogram
        With which it was solution.

    Returns
    -------
    list of str
        Empty for a whole field from all samples.
    """
    said, parts = [], len(solution.pieces)
    if parts > 1:
        text = f"{parts} parts on different sides of barriers are interpolated apart"
        if solution.few:
            text += f", {len(solution.few)} of them with fewer than {FEWEST_IN_PART} "
            text += "samples and therefore from all samples"
        if variogram.partial_sill <= 0.0:
            text += "; within them the samples show no spatial structure"
        said.append(text)
    if solution.local:
        largest = max(len(piece.used) for piece in solution.pieces)
        said.append(
            f"{largest:,} samples are more than {MOST_EXACT:,}: each place is kriged "
            f"from its nearest {local_kriging.NEAREST}"
        )
    return said


def blocks_apart(xy: Floats, *, side: float, apart: Apart | None) -> Index:
    """
    Square blocks of samples, none of which reaches across parts.

    Parameters
    ----------
    xy : numpy.ndarray, shape (n, 2)
        Positions. [m]
    side : float
        Side of the squares, as for `validation.blocks`. [m]
    apart : Apart, optional
        The parts.

    Returns
    -------
    numpy.ndarray of int, shape (n,)
        Number of each sample's block, from 0.
    """
    if apart is None:
        return blocks(xy, side=side)
    group, count = np.empty(len(xy), dtype=np.int64), 0
    for part in np.unique(apart.sample):
        here = apart.sample == part
        group[here] = count + blocks(xy[here], side=side)
        count = int(group[here].max()) + 1
    return group


def _system(
    xy: Floats, value: Floats, *, variogram: Variogram
) -> kriging.System | LocalSystem:
    if len(value) <= MOST_EXACT:
        return kriging.prepare(xy, value, variogram=variogram)
    return local_kriging.prepare(xy, value, variogram=variogram)
