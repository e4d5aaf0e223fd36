"""Labels of cells without strips and tongues narrower than a machine can follow."""

import numpy as np
from numpy.typing import NDArray

from vrp.spatial.grid import Cells
from vrp.spatial.regions import cell_borders, connected_regions, join_small

STAIR = 0.75  # [cells], our choice: what a slanting border of cells steps out of it
ROUNDS = 4  # our choice: what one round gives to a neighbour may be narrow there

_STAYS = 1e12  # cells; more than any map has

_Labels = NDArray[np.integer]


def widen(
    labels: _Labels,
    values: NDArray[np.floating],
    cells: Cells,
    *,
    min_width: float,
) -> _Labels:
    """
    Return the labels of cells, what is narrower than a width given to a neighbour.

    Parameters
    ----------
    labels : numpy.ndarray of int, shape (rows, columns)
        Label of each cell, negative where it has none.
    values : numpy.ndarray, shape (m,)
        Values of the cells inside, for ties.
    cells : Cells
        The cells.
    min_width : float
        Ground of a label that no circle of this diameter within it covers goes to the
        neighbour with the longest shared border, its own label's among them; among
        equals to the one with the nearest mean value. [m]

    Returns
    -------
    numpy.ndarray of int, shape (rows, columns)
        Labels. Ground between edges of the field that are nearer than the width keeps
        a label all the same, and so do corners of the field.

    Notes
    -----
    It is a morphological opening of all labels at once, by a circle on the centres of
    the cells: an even number of cells counts as one cell less than it is. What is lost
    is given away region by region, the smallest first, and the labels are opened
    anew, `ROUNDS` times at most. A width of two cells and less changes nothing.
    """
    across = min_width / cells.size
    if across <= 2.0:
        return labels
    for _ in range(ROUNDS):
        wide = opened(labels, across=across)
        changed = _given_away(labels, wide, values, cells)
        if np.array_equal(changed, labels):
            break
        labels = changed
    return labels


def opened(labels: _Labels, *, across: float) -> NDArray[np.bool_]:
    """
    Return which cells a circle within the ground of their label covers.

    Parameters
    ----------
    labels : numpy.ndarray of int, shape (rows, columns)
        Label of each cell, negative where it has none.
    across : float
        Diameter of the circle. [cells]

    Returns
    -------
    numpy.ndarray of bool, shape (rows, columns)
        Whether a cell's centre lies in such a circle; not where it has no label.
    """
    from scipy.ndimage import distance_transform_edt

    around = np.pad(labels, 1, constant_values=-1)
    middle = around[1:-1, 1:-1]
    edge = np.zeros(labels.shape, dtype=bool)
    for beside in (around[:-2, 1:-1], around[2:, 1:-1], around[1:-1, :-2]):
        edge |= beside != middle
    edge |= around[1:-1, 2:] != middle
    has = labels >= 0
    far = distance_transform_edt(~edge)
    core: NDArray[np.bool_] = (far >= across / 2.0 - 0.5) & has
    if not core.any():
        return core
    far, nearest = distance_transform_edt(~core, return_indices=True)
    alike = labels[tuple(nearest)] == labels
    covered: NDArray[np.bool_] = (far <= across / 2.0 + STAIR) & alike
    return covered & has


def _given_away(
    labels: _Labels,
    wide: NDArray[np.bool_],
    values: NDArray[np.floating],
    cells: Cells,
) -> _Labels:
    """Return the labels, what is not wide given to the longest shared border."""
    has = labels >= 0
    # Wide ground by its label, the rest by numbers of its own above them.
    ids = connected_regions(np.where(has, 2 * labels + wide, -1))
    id_of = ids[has]
    count = np.bincount(id_of)
    label = np.empty(len(count), dtype=labels.dtype)
    label[id_of] = labels[has]
    stays = np.zeros(len(count), dtype=bool)
    stays[id_of] = wide[has]
    if stays.all() or not stays.any():
        return labels
    known = cells.spread(values.astype(np.float64), np.nan)[has]
    own = np.where(stays, label, label.max() + 1 + np.arange(len(count)))
    root = join_small(
        count + _STAYS * stays,
        label=own,
        mean=np.bincount(id_of, weights=known) / count,
        borders=cell_borders(ids),
        min_area=_STAYS,
    )
    given = labels.copy()
    given[has] = label[root][id_of]
    return given
