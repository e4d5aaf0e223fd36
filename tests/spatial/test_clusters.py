"""Clusters of layers, on places whose groups are plain."""

import subprocess
import sys

import numpy as np
import pytest

from vrp.spatial.clusters import clusterings, scaled


def _groups(rng, spread=0.03):
    """Return three groups of 200 places about corners of a triangle, and which."""
    which = rng.integers(0, 3, 600)
    centres = np.array([[0.1, 0.1], [0.5, 0.9], [0.9, 0.2]])
    return centres[which] + rng.normal(0.0, spread, (600, 2)), which


def test_groups_that_are_apart_are_found():
    """Each of three tight groups is a cluster, numbered by its first layer."""
    places, which = _groups(np.random.default_rng(1))
    found = clusterings(places, [2, 3, 4], seed=1)
    assert found[3].labels.tolist() == which.tolist()
    assert found[3].silhouette == max(one.silhouette for one in found.values())
    assert found[3].davies_bouldin == min(one.davies_bouldin for one in found.values())


def test_any_seed_will_do():
    """A seed of more than 32 bits is a seed."""
    places, which = _groups(np.random.default_rng(1))
    assert clusterings(places, [3], seed=10**12)[3].labels.tolist() == which.tolist()


def test_variance_left_by_hand():
    """Of 0 and 2, 10 and 12 the clusters leave 4 of 104."""
    values = np.array([[0.0], [2.0], [10.0], [12.0]])
    two = clusterings(values, [2], seed=1)[2]
    # About the mean of 6: 36 + 16 + 16 + 36 = 104; within: 4 times 1.
    assert two.variance_left == pytest.approx(4 / 104)
    # Between 100 on 1 degree, within 4 on 2 degrees: 100 / 2.
    assert two.calinski_harabasz == pytest.approx(50.0)
    # Mean distances of 1 and 1 over 10 between the centres.
    assert two.davies_bouldin == pytest.approx(0.2)


def test_no_more_clusters_than_unlike_places():
    """Three kinds of places part in two and in three, and not in four."""
    values = np.repeat([[0.0], [1.0], [5.0]], 20, axis=0)
    assert list(clusterings(values, [2, 3, 4], seed=1)) == [2, 3]


def test_layers_are_scaled_by_range_and_weight():
    """Heights of 200 to 210 m and EC of 20 to 60 count alike; a weight of 2 doubles."""
    heights, ec = np.linspace(200, 210, 101), np.linspace(60, 20, 101)
    both = scaled([heights, ec], weights=[1.0, 2.0])
    assert both[50] == pytest.approx([0.5, 1.0], abs=1e-6)
    assert both.min(axis=0) == pytest.approx([0.0, 0.0])
    assert both.max(axis=0) == pytest.approx([1.0, 2.0])


def test_a_stray_value_does_not_squeeze_the_rest():
    """One value of 10,000 among 1,000 from 0 to 1 leaves them from 0 to 1."""
    values = np.append(np.linspace(0, 1, 1000), 10_000.0)
    column = scaled([values], weights=[1.0]).ravel()
    assert column[-1] == 1.0
    assert column[500] == pytest.approx(0.5, abs=0.02)


def test_a_layer_without_spread_is_nothing():
    """Where all values are alike none counts."""
    assert scaled([np.full(5, 3.0)], weights=[1.0]).ravel().tolist() == [0.0] * 5


CODE = """
import numpy as np
from vrp.spatial.clusters import clusterings
rng = np.random.default_rng(7)
found = clusterings(rng.random((30_000, 3)), [5], seed=3)[5]
print(found.labels.sum(), np.bincount(found.labels), repr(found.variance_left))
"""


def test_any_number_of_threads_gives_the_same():
    """One thread and four, by two libraries' settings, agree to the last digit."""
    said = set()
    for threads in ("1", "4"):
        settings = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS")
        lines = f"import os; os.environ.update({dict.fromkeys(settings, threads)})"
        done = subprocess.run(
            [sys.executable, "-c", f"{lines}\n{CODE}"],
            capture_output=True,
            text=True,
            check=True,
        )
        said.add(done.stdout)
    assert len(said) == 1
