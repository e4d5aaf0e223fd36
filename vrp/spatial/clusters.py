"""Cells that are alike in several layers, and how well they part."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

TAIL = 0.01  # our choice: of the values at each end, which count as the next ones
STARTS = 10  # our choice: the best of as many starts is taken
MOST_FITTED = 25_000  # cells, our choice: more are drawn from, and then all assigned
MOST_COMPARED = 2_000  # cells whose silhouettes are averaged, our choice

_Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Clustering:
    """
    Cells in clusters, and criteria of how well they part.

    Attributes
    ----------
    labels : numpy.ndarray of int, shape (m,)
        Cluster of each cell, from 0 for the lowest in the first layer upwards.
    variance_left : float
        Share of the layers' variance that lies within clusters.
    silhouette : float
        Mean silhouette, -1 to 1; the more the better.
    calinski_harabasz : float
        Variance between over within clusters, by their degrees; the more the better.
    davies_bouldin : float
        Spread over distance of the nearest clusters; the less the better.
    """

    labels: NDArray[np.intp]
    variance_left: float
    silhouette: float
    calinski_harabasz: float
    davies_bouldin: float


def scaled(layers: Sequence[_Floats], *, weights: Sequence[float]) -> _Floats:
    """
    Return layers of unlike scale side by side, each from 0 to its weight.

    Parameters
    ----------
    layers : sequence of numpy.ndarray, shape (m,)
        Values on the cells, none missing.
    weights : sequence of float
        How much each counts.

    Returns
    -------
    numpy.ndarray, shape (m, k)
        Scaled values, rounded so that sums of them are exact.

    Notes
    -----
    By range, less the `TAIL` of values at each end, so that no stray value squeezes the
    rest. Scaling by range did best of three on three fields ("Normalization of data for
    delineating management zones", Computers and Electronics in Agriculture; abstract
    read). A layer without spread is 0 throughout.

    Examples
    --------
    >>> scaled([np.array([2.0, 4.0, 6.0])], weights=[1.0]).ravel().tolist()
    [0.0, 0.5, 1.0]
    """
    columns = []
    for values, weight in zip(layers, weights, strict=True):
        low, high = np.quantile(values, [TAIL, 1.0 - TAIL], method="nearest")
        spread = high - low if high > low else 1.0
        columns.append(np.clip((values - low) / spread, 0.0, 1.0) * weight)
    lattice = 2.0**-20
    return np.round(np.column_stack(columns) / lattice) * lattice


def clusterings(
    features: _Floats, counts: Sequence[int], *, seed: int
) -> dict[int, Clustering]:
    """
    Return cells in clusters by k-means, for several numbers of them.

    Parameters
    ----------
    features : numpy.ndarray, shape (m, k)
        Scaled layers on the cells.
    counts : sequence of int
        Numbers of clusters, 2 or more.
    seed : int
        Where starts, and the cells drawn, come from.

    Returns
    -------
    dict of Clustering
        By number of clusters, without those for which there are too few unlike cells.

    Notes
    -----
    K-means by scikit-learn, on one thread: the same on any computer but for
    cells that lie between two centres to a millionth.
    """
    from sklearn.cluster import KMeans
    from threadpoolctl import threadpool_limits

    random = np.random.default_rng(seed)
    start = int(np.random.default_rng(seed).integers(2**32))
    drawn = features
    if len(features) > MOST_FITTED:
        drawn = features[np.sort(random.choice(len(features), MOST_FITTED, False))]
    compared = drawn
    if len(drawn) > MOST_COMPARED:
        compared = drawn[np.sort(random.choice(len(drawn), MOST_COMPARED, False))]
    unlike = len(np.unique(drawn, axis=0))
    found = {}
    with threadpool_limits(limits=1):
        for count in counts:
            if count <= unlike:
                means = KMeans(count, n_init=STARTS, random_state=start).fit(drawn)
                centres = np.round(means.cluster_centers_, 6)
                centres = centres[np.lexsort(centres.T[::-1])]
                found[count] = _described(features, drawn, compared, centres)
    return found


def _described(
    features: _Floats, drawn: _Floats, compared: _Floats, centres: _Floats
) -> Clustering:
    from sklearn.metrics import (
        calinski_harabasz_score,
        davies_bouldin_score,
        silhouette_score,
    )

    labels = _nearest(features, centres)
    within = float(((features - centres[labels]) ** 2).sum())
    whole = float(((features - features.mean(axis=0)) ** 2).sum())
    few, own = _nearest(compared, centres), _nearest(drawn, centres)
    alone = len(np.unique(few)) < 2
    return Clustering(
        labels,
        within / whole,
        np.nan if alone else float(silhouette_score(compared, few)),
        float(calinski_harabasz_score(drawn, own)),
        float(davies_bouldin_score(drawn, own)),
    )


def _nearest(features: _Floats, centres: _Floats) -> NDArray[np.intp]:
    far = [((features - centre) ** 2).sum(axis=1) for centre in centres]
    return np.asarray(np.argmin(far, axis=0))
