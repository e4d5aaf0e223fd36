"""Whether samples lie in clusters, and how far apart ground is then left out."""

import numpy as np
from numpy.typing import NDArray

from vrp.spatial.variogram import distances, row_blocks

Floats = NDArray[np.float64]

# Above it samples are clustered, from FEWEST_TO_TELL on. Our choice: of random designs
# on the sample field's ground it calls 7 in 100 clustered with 15 samples, 2 with 30
# and none with 60; of grids none. A square grid has about 0.4, random places about 1.
CLUSTERED_ABOVE = 1.4
FEWEST_TO_TELL = 15

# Mean distance to the nearest node of a square grid of side 1, over the whole plane:
# (root 2 + asinh 1) / 6.
GRID_DISTANCE = 0.3825978
_MOST_CELLS = 4_000  # our choice: more change the ratio by less than a hundredth


def distance_to_samples(xy: Floats, cells_xy: Floats) -> float:
    """
    Mean distance from the ground to its nearest sample.

    Parameters
    ----------
    xy : numpy.ndarray, shape (n, 2)
        Positions of the samples. [m]
    cells_xy : numpy.ndarray, shape (m, 2)
        Centres of the cells; of many, some thousand are taken. [m]

    Returns
    -------
    float
        Over the cells. [m]
    """
    cells = cells_xy[:: -(-len(cells_xy) // _MOST_CELLS)]
    nearest = np.empty(len(cells))
    for rows in row_blocks(max(len(cells), len(xy))):
        nearest[rows] = distances(cells[rows], xy).min(axis=1)
    return float(nearest.mean())


def clustering(xy: Floats, cells_xy: Floats) -> float:
    """
    How far places lie from the nearest sample, over how far samples do.

    Parameters
    ----------
    xy : numpy.ndarray, shape (n, 2)
        Positions of the samples, none twice. [m]
    cells_xy : numpy.ndarray, shape (m, 2)
        Centres of the cells. [m]

    Returns
    -------
    float
        The ratio of the two mean distances to the nearest sample; NaN with fewer than
        `FEWEST_TO_TELL` samples, too few to tell.

    Notes
    -----
    A left-out sample is predicted from as far as its nearest neighbour, a cell of the
    map from as far as its nearest sample. Where the second is farther, leaving out one
    sample at a time flatters the map: random cross-validation was too good by up to
    40 % in [1]_, and plain cross-validation of clustered samples is optimistic in [2]_.

    References
    ----------
    .. [1] https://arxiv.org/abs/2005.14263 (abstract read).
    .. [2] https://arxiv.org/abs/2303.07334 (abstract read).

    Examples
    --------
    Fifteen samples a metre apart on one side of 100 m:

    >>> side = np.column_stack([np.arange(15.0), np.zeros(15)])
    >>> ground = np.column_stack([np.arange(0.0, 100.0), np.zeros(100)])
    >>> clustering(side, ground)
    36.55
    """
    if len(xy) < FEWEST_TO_TELL:
        return float("nan")
    own = np.empty(len(xy))
    for rows in row_blocks(len(xy)):
        apart = distances(xy[rows], xy)
        apart[np.arange(len(apart)), np.arange(len(xy))[rows]] = np.inf
        own[rows] = apart.min(axis=1)
    return distance_to_samples(xy, cells_xy) / float(own.mean())


def grid_spacing(xy: Floats, cells_xy: Floats) -> float:
    """
    Spacing of a square grid that would leave the ground as far from its samples.

    Parameters
    ----------
    xy : numpy.ndarray, shape (n, 2)
        Positions of the samples. [m]
    cells_xy : numpy.ndarray, shape (m, 2)
        Centres of the cells. [m]

    Returns
    -------
    float
        In blocks of this side clustered samples are left out. [m]
    """
    return distance_to_samples(xy, cells_xy) / GRID_DISTANCE
