"""Where samples lie: at one position, on one line."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_MERGE = 3  # decimals of a metre; nearer samples are at one position


def merge_positions(xy: Floats, value: Floats) -> tuple[NDArray[np.intp], Floats]:
    """
    Average samples at one position.

    Parameters
    ----------
    xy : numpy.ndarray, shape (n, 2)
        Positions. [m]
    value : numpy.ndarray, shape (n,)
        Values.

    Returns
    -------
    tuple of numpy.ndarray
        Index of the first sample at each position, in the order of the samples, and the
        mean of those there.
    """
    _, first, inverse = np.unique(
        np.round(xy, _MERGE), axis=0, return_index=True, return_inverse=True
    )
    group = inverse.reshape(-1)
    total = np.bincount(group, value)
    order = np.argsort(first)
    return first[order], (total / np.bincount(group))[order]


def on_a_line(xy: Floats) -> bool:
    """
    Say whether positions lie on one line.

    Parameters
    ----------
    xy : numpy.ndarray, shape (n, 2)
        Positions, three or more. [m]

    Returns
    -------
    bool
        True where they stray from it by less than a millionth of its length.
    """
    away = xy - xy.mean(axis=0)
    singular = np.linalg.svd(away, compute_uv=False)
    return bool(singular[1] <= 1e-6 * singular[0])
