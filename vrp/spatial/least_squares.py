"""Straight lines that neither fall nor start below 0, in closed form."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def non_negative_lines(
    shape: Floats, target: Floats, weight: Floats
) -> tuple[Floats, Floats]:
    """
    Fit target = a + b × shape by least squares, with a and b at least 0.

    Parameters
    ----------
    shape : numpy.ndarray, shape (k, m)
        A row for each fit.
    target : numpy.ndarray, shape (m,)
        What all rows are fitted to.
    weight : numpy.ndarray, shape (m,)
        Weights, above 0.

    Returns
    -------
    tuple of numpy.ndarray, shape (k,)
        a and b of each row.
    """
    total = weight.sum()
    mean_shape, mean_target = shape @ weight / total, target @ weight / total
    spread = (shape - mean_shape[:, None]) ** 2 @ weight
    joint = (shape - mean_shape[:, None]) @ (weight * (target - mean_target))
    slope = np.divide(joint, spread, out=np.zeros_like(joint), where=spread > 0.0)
    free = mean_target - slope * mean_shape

    through = np.maximum(shape @ (weight * target) / (shape**2 @ weight), 0.0)
    flat = np.full_like(slope, max(mean_target, 0.0))
    miss_through = (weight * (target - through[:, None] * shape) ** 2).sum(axis=1)
    miss_flat = (weight * (target - flat[:, None]) ** 2).sum(axis=1)
    bound = (
        np.where(miss_through < miss_flat, 0.0, flat),
        np.where(miss_through < miss_flat, through, 0.0),
    )
    allowed = (slope >= 0.0) & (free >= 0.0)
    return np.where(allowed, free, bound[0]), np.where(allowed, slope, bound[1])
