"""Local kriging, against the answer from all samples, PyKrige and its own claims."""

import os
import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vrp.spatial import kriging, local_kriging
from vrp.spatial.variogram import Variogram

SIDE = 600.0


def _cells(count, side=SIDE):
    line = (np.arange(count) + 0.5) * side / count
    return np.stack(np.meshgrid(line, line), -1).reshape(-1, 2)


def _drawn(count, model, *, seed, lattice=False):
    """Draw samples of a ground that has the variogram."""
    rng = np.random.default_rng(seed)
    xy = _cells(round(count**0.5)) if lattice else rng.uniform(0.0, SIDE, (count, 2))
    covariance = model.partial_sill * model.correlation(model.lags(xy, xy))
    covariance[np.diag_indices(len(xy))] += model.nugget
    return xy, np.linalg.cholesky(covariance) @ rng.standard_normal(len(xy))


MODEL = Variogram("spherical", 0.3, 0.7, 250.0)
XY, VALUE = _drawn(900, MODEL, seed=1)
LOCAL = local_kriging.prepare(XY, VALUE, variogram=MODEL)
GLOBAL = kriging.prepare(XY, VALUE, variogram=MODEL)


@pytest.fixture(autouse=True)
def _one_thread():
    """Hold BLAS at one thread, as surfaces do: many small systems are solved."""
    with kriging.one_thread():
        yield


@settings(max_examples=10, deadline=None)
@given(
    shape=st.sampled_from(["spherical", "exponential"]),
    nugget=st.floats(0.05, 0.7),
    reach=st.floats(80.0, 500.0),
    lattice=st.booleans(),
    seed=st.integers(0, 99),
)
def test_near_the_answer_from_all_samples(shape, nugget, reach, lattice, seed):
    """Within 25 % of an sd, 5 % in the root mean square; error stated no smaller."""
    model = Variogram(shape, nugget, 1.0 - nugget, reach)
    xy, value = _drawn(900, model, seed=seed, lattice=lattice)
    cells = _cells(60)

    near = local_kriging.estimate(
        local_kriging.prepare(xy, value, variogram=model), cells
    )

    whole = kriging.estimate(kriging.prepare(xy, value, variogram=model), cells)
    away = (near.value - whole.value) / value.std()
    assert np.abs(away).max() < 0.25
    assert np.sqrt(np.mean(away**2)) < 0.05
    ratio = np.sqrt(near.variance / whole.variance)
    # From all samples is the best there is, so that nothing can be surer.
    assert ratio.min() > 1.0 - 1e-9
    assert ratio.max() < 1.10


@pytest.mark.parametrize(
    "model",
    [
        Variogram("spherical", 0.3, 0.7, 300.0, angle=30.0, ratio=2.5),
        Variogram("matern", 0.3, 0.7, 250.0, smoothness=2.5),
    ],
)
def test_near_the_answer_by_other_models(model):
    """With a direction or a smooth model the bounds are the same, of blocks too."""
    xy, value = _drawn(900, model, seed=3)
    cells = _cells(60)
    local = local_kriging.prepare(xy, value, variogram=model)
    whole = kriging.prepare(xy, value, variogram=model)

    near, far = local_kriging.estimate(local, cells), kriging.estimate(whole, cells)

    away = (near.value - far.value) / value.std()
    assert np.abs(away).max() < 0.25
    assert np.sqrt(np.mean(away**2)) < 0.05
    ratio = np.sqrt(near.variance / far.variance)
    assert 1.0 - 1e-9 < ratio.min() < ratio.max() < 1.10
    zone = cells[:300]
    blocks = [
        room.block_variance(each, zone)
        for room, each in ((local_kriging, local), (kriging, whole))
    ]
    assert blocks[1] * (1.0 - 1e-9) <= blocks[0] <= blocks[1] * 1.25


def test_all_samples_near():
    """With no more than 100 samples every patch holds all, and nothing is local."""
    xy, value = _drawn(100, MODEL, seed=2)
    cells = _cells(40)
    near, whole = (
        room.estimate(room.prepare(xy, value, variogram=MODEL), cells)
        for room in (local_kriging, kriging)
    )

    np.testing.assert_allclose(near.value, whole.value, rtol=1e-9, atol=1e-12)
    np.testing.assert_allclose(near.variance, whole.variance, rtol=1e-9)
    np.testing.assert_allclose(near.lagrange, whole.lagrange, rtol=1e-9, atol=1e-12)


def test_no_seams():
    """A millionth of a metre on either side of a patch's border changes nothing."""
    along = np.linspace(1.0, SIDE - 1.0, 200)
    steps = np.arange(1, int((SIDE - 1.0 - LOCAL.origin[0]) / LOCAL.step))
    for border in LOCAL.origin[0] + steps * LOCAL.step:
        sides = [
            local_kriging.estimate(
                LOCAL, np.column_stack([np.full(200, border + shift), along])
            )
            for shift in (-1e-6, 1e-6)
        ]
        jump = np.abs(sides[0].value - sides[1].value)
        assert jump.max() < 1e-6 * VALUE.std()
        assert np.abs(sides[0].variance - sides[1].variance).max() < 1e-6


def test_flat_ground_stays_flat():
    """Samples that are all 7 give 7 everywhere: weights add up to 1."""
    flat = local_kriging.prepare(XY, np.full(len(XY), 7.0), variogram=MODEL)

    np.testing.assert_allclose(
        local_kriging.estimate(flat, _cells(50)).value, 7.0, rtol=1e-12
    )


def test_left_out_as_pykrige():
    """Leaving one out is PyKrige's kriging from the 100 nearest of the others."""
    from pykrige.ok import OrdinaryKriging

    found = local_kriging.leave_out(LOCAL, np.arange(len(XY)))

    for at in range(0, len(XY), 90):
        rest = np.arange(len(XY)) != at
        peer = OrdinaryKriging(
            *XY[rest].T,
            VALUE[rest],
            variogram_model="spherical",
            variogram_parameters={"psill": 0.7, "range": 250.0, "nugget": 0.3},
            exact_values=False,
        )
        value, variance = peer.execute(
            "points",
            *XY[at : at + 1].T,
            backend="loop",
            n_closest_points=local_kriging.NEAREST,
        )
        assert found.value[at] == pytest.approx(value.item(), rel=1e-8)
        assert found.variance[at] == pytest.approx(variance.item(), rel=1e-8)


def test_at_a_node_as_pykrige():
    """On a node of the lattice one patch counts alone: PyKrige's from 100 nearest."""
    from pykrige.ok import OrdinaryKriging

    nodes = LOCAL.origin + LOCAL.step * np.array([[3.0, 4.0], [7.0, 2.0], [9.0, 11.0]])
    peer = OrdinaryKriging(
        *XY.T,
        VALUE,
        variogram_model="spherical",
        variogram_parameters={"psill": 0.7, "range": 250.0, "nugget": 0.3},
        exact_values=False,
    )
    value, variance = peer.execute(
        "points", *nodes.T, backend="loop", n_closest_points=local_kriging.NEAREST
    )

    found = local_kriging.estimate(LOCAL, nodes)

    np.testing.assert_allclose(found.value, value, rtol=1e-8)
    np.testing.assert_allclose(found.variance + 0.3, variance, rtol=1e-8)


def test_blocks_left_out():
    """A block is predicted by a system of the 100 samples next to it alone."""
    column, row = (XY // 60.0).astype(int).T
    group = row * 10 + column

    found = local_kriging.leave_out(LOCAL, group)

    for name in (0, 45, 99):
        inside = group == name
        middle = XY[inside].mean(axis=0)
        away = np.where(inside, np.inf, np.linalg.norm(XY - middle, axis=1))
        near = np.argsort(away)[:100]
        alone = kriging.prepare(XY[near], VALUE[near], variogram=MODEL)
        expected = kriging.estimate(alone, XY[inside])
        np.testing.assert_allclose(found.value[inside], expected.value, rtol=1e-9)
        np.testing.assert_allclose(
            found.variance[inside], expected.variance + 0.3, rtol=1e-9
        )


def test_skill_as_from_all_samples():
    """Cross-validation errs as that from all samples does, to 2 %."""
    column, row = (XY // 40.0).astype(int).T
    for group in (np.arange(len(XY)), row * 15 + column):
        near, whole = (
            np.sqrt(np.mean((room.leave_out(system, group).value - VALUE) ** 2))
            for room, system in ((local_kriging, LOCAL), (kriging, GLOBAL))
        )
        assert near == pytest.approx(whole, rel=0.02)


def test_zone_variance():
    """The mean of a zone errs as much as from all samples or a little more."""
    cells = _cells(60)
    for zone in (cells, cells[(cells < 150.0).all(axis=1)], cells[:1]):
        weight = 1.0 + zone[:, 0] / SIDE
        near = local_kriging.block_variance(LOCAL, zone, weight=weight)
        whole = kriging.block_variance(GLOBAL, zone, weight=weight)
        assert whole * (1.0 - 1e-9) <= near <= 1.10 * whole


def test_variance_of_one_cell_is_at_most_the_stated():
    """The blend errs no more than the mean of its patches' variances says."""
    for cell in _cells(7):
        stated = local_kriging.estimate(LOCAL, cell[None]).variance[0]
        exact = local_kriging.block_variance(LOCAL, cell[None])
        assert 0.9 * stated <= exact <= stated * (1.0 + 1e-9)


@pytest.mark.parametrize("lattice", [False, True])
def test_order_and_place(lattice):
    """Order of samples and a shift of all change nothing but the last digits."""
    xy, value = _drawn(900, MODEL, seed=4, lattice=lattice)
    order = np.random.default_rng(9).permutation(len(xy))
    shift, cells = np.array([612_000.0, 4_480_000.0]), _cells(45)
    once = local_kriging.estimate(
        local_kriging.prepare(xy, value, variogram=MODEL), cells
    )

    mixed = local_kriging.prepare(xy[order], value[order], variogram=MODEL)
    again = local_kriging.estimate(mixed, cells)
    np.testing.assert_allclose(again.value, once.value, rtol=1e-8, atol=1e-9)

    moved = local_kriging.prepare(xy + shift, value, variogram=MODEL)
    there = local_kriging.estimate(moved, cells + shift)
    np.testing.assert_allclose(there.value, once.value, rtol=1e-5, atol=1e-6)


def test_places_do_not_know_of_each_other():
    """A cell's estimate is the same whichever other cells are asked for."""
    cells = _cells(45)
    every = local_kriging.estimate(LOCAL, cells)

    some = local_kriging.estimate(LOCAL, cells[::7])

    np.testing.assert_allclose(some.value, every.value[::7], rtol=1e-10, atol=1e-12)


def test_same_bytes_on_any_number_of_threads():
    """One processor and two, one BLAS thread and two: the same bytes."""
    code = (
        "import numpy as np, hashlib, os, sys;"
        "from vrp.spatial import kriging, local_kriging as local;"
        "from vrp.spatial.variogram import Variogram;"
        "kriging.threads = lambda: int(sys.argv[1]);"
        "rng = np.random.default_rng(1);"
        "xy = rng.uniform(0, 600, (700, 2)); value = rng.normal(size=700);"
        "hold = kriging.one_thread(); hold.__enter__();"
        "system = local.prepare(xy, value, variogram=Variogram('spherical', 1, 1, 90));"
        "found = local.estimate(system, rng.uniform(0, 600, (5000, 2)));"
        "left = local.leave_out(system, np.arange(700) // 3);"
        "parts = (found.value, found.variance, found.lagrange, left.value);"
        "print(hashlib.sha256(b''.join(p.tobytes() for p in parts)).hexdigest())"
    )
    digests = {
        subprocess.check_output(
            [sys.executable, "-c", code, threads],
            env=os.environ | {"OPENBLAS_NUM_THREADS": threads},
        )
        for threads in ("1", "2")
    }

    assert len(digests) == 1
