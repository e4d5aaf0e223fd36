"""
Variograms, against gstat and against hand arithmetic.

reference_values.json was computed with R and gstat; README.md beside it says how.
"""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from vrp.spatial.bins import bin_pairs
from vrp.spatial.variogram import Variogram, distances, spacing
from vrp.spatial.variogram_fit import fit, fit_to

DATA = Path(__file__).parents[1] / "data"
REFERENCE = json.loads((DATA / "reference_values.json").read_text("utf-8"))
XY = np.column_stack([REFERENCE["meuse"]["x"], REFERENCE["meuse"]["y"]]).astype(float)
ZINC = np.array(REFERENCE["meuse"]["zinc"], dtype=float)

GRID = np.stack(np.meshgrid(np.arange(9.0), np.arange(9.0)), -1).reshape(-1, 2) * 64.0


@pytest.mark.parametrize(
    ("name", "value", "edges"),
    [
        ("logzinc_cut1500_w100", np.log(ZINC), np.arange(0, 1501, 100)),
        ("zinc_cut1500_w100", ZINC, np.arange(0, 1501, 100)),
        ("zinc_boundaries", ZINC, [0, 100, 200, 400, 700, 1100, 1600]),
        # gstat's own choice: 15 bins up to a third of the diagonal.
        (
            "logzinc_default",
            np.log(ZINC),
            np.linspace(0.0, np.hypot(*np.ptp(XY, axis=0)) / 3.0, 16),
        ),
    ],
)
def test_bins(name, value, edges):
    """Pairs, distances and semivariances are those of gstat."""
    expected = REFERENCE["variogram"][name]

    bins = bin_pairs(XY, value, edges=edges)

    np.testing.assert_array_equal(bins.pairs, expected["np"])
    np.testing.assert_allclose(bins.distance, expected["dist"], rtol=1e-8)
    np.testing.assert_allclose(bins.semivariance, expected["gamma"], rtol=1e-8)


def test_robust_bins():
    """The fourth root's semivariances are those of gstat."""
    expected = REFERENCE["variogram"]["logzinc_cressie_cut1500_w100"]

    bins = bin_pairs(XY, np.log(ZINC), edges=np.arange(0, 1501, 100))

    np.testing.assert_array_equal(bins.pairs, expected["np"])
    np.testing.assert_allclose(bins.robust, expected["gamma"], rtol=1e-8)


def test_robust_bin_by_hand():
    """
    Of the differences 1, 1 and 16 the roots' mean is 2, and 2⁴ is 16.

    Half of 16 / (0.457 + 0.494 / 3) is 12.87, where moments give 43: half of 258 / 3.
    """
    xy = np.array([[0.0, 0.0], [10.0, 0.0], [500.0, 0.0], [510.0, 0.0]])
    xy = np.vstack([xy, xy[:2] + 2000.0])
    value = np.array([0.0, 1.0, 0.0, 1.0, 0.0, 16.0])

    found = bin_pairs(xy, value, edges=[0.0, 20.0])

    assert found.robust[0] == pytest.approx(8.0 / (0.457 + 0.494 / 3.0))
    assert found.semivariance[0] == pytest.approx(43.0)


def test_bin_limits():
    """A pair at a limit belongs to the bin below it; an empty bin is left out."""
    xy = np.array([[0.0, 0.0], [100.0, 0.0], [0.0, 300.0]])

    bins = bin_pairs(xy, np.array([1.0, 3.0, 7.0]), edges=[0, 100, 200, 300])

    # 0 to 100: (1, 3), half of 2² is 2; 200 to 300: (1, 7), half of 6² is 18.
    np.testing.assert_array_equal(bins.pairs, [1, 1])
    np.testing.assert_array_equal(bins.distance, [100.0, 300.0])
    np.testing.assert_array_equal(bins.semivariance, [2.0, 18.0])


@pytest.mark.parametrize(
    ("model", "name", "partial_sill", "reach"),
    [("spherical", "Sph", 0.59, 897.0), ("exponential", "Exp", 0.6, 3 * 300.0)],
)
def test_models(model, name, partial_sill, reach):
    """Semivariances are gstat's, whose exponential range is the e-folding length."""
    models = REFERENCE["models"]

    found = Variogram(model, 0.05, partial_sill, reach).semivariance(models["h"])

    np.testing.assert_allclose(found, models[name], rtol=1e-8)


def _length(smoothness):
    """Find where a Matern correlation of length 1 is exp(-3), by its Bessel form."""
    from scipy.optimize import brentq

    return brentq(lambda s: _matern(s, smoothness) - np.exp(-3.0), 1.0, 20.0)


def _matern(s, smoothness):
    from scipy.special import gamma, kv

    return (
        2.0 ** (1.0 - smoothness)
        / gamma(smoothness)
        * s**smoothness
        * kv(smoothness, s)
    )


@pytest.mark.parametrize("smoothness", [1.5, 2.5])
def test_matern_is_the_bessel_function(smoothness):
    """Correlations are the Bessel form's, and exp(-3) at the range."""
    s = np.linspace(0.01, 12.0, 200)
    reach = 250.0
    model = Variogram("matern", 0.0, 1.0, reach, smoothness=smoothness)

    found = model.correlation(s * reach / _length(smoothness))

    np.testing.assert_allclose(found, _matern(s, smoothness), rtol=1e-8, atol=1e-14)
    assert model.correlation(reach) == pytest.approx(np.exp(-3.0), rel=1e-12)
    assert model.correlation(0.0) == 1.0


def test_matern_of_gstat():
    """At smoothness 1.5 semivariances are gstat's, with a length of 200."""
    models = REFERENCE["models"]
    model = Variogram("matern", 0.05, 0.6, 200.0 * _length(1.5), smoothness=1.5)

    found = model.semivariance(models["h"])

    np.testing.assert_allclose(found, models["Mat15"], rtol=1e-8)


@pytest.mark.parametrize("smoothness", [1.5, 2.5])
def test_matern_of_scikit_learn(smoothness):
    """scikit-learn's kernel correlates alike, its length being that over sqrt(2 nu)."""
    from sklearn.gaussian_process.kernels import Matern

    model = Variogram("matern", 0.0, 1.0, 900.0, smoothness=smoothness)
    length = 900.0 / _length(smoothness) * np.sqrt(2.0 * smoothness)

    found = model.correlation(model.lags(XY[:40], XY[40:90]))

    peer = Matern(length_scale=length, nu=smoothness)(XY[:40], XY[40:90])
    np.testing.assert_allclose(found, peer, rtol=1e-8)


def test_lags_of_an_anisotropic_model():
    """Along the longest range a distance counts once, across it `ratio` times."""
    model = Variogram("spherical", 0.0, 1.0, 100.0, angle=30.0, ratio=3.0)
    along = 10.0 * np.array([np.sin(np.radians(30.0)), np.cos(np.radians(30.0))])
    across = np.array([along[1], -along[0]])
    here = np.array([[500.0, 900.0]])

    found = model.lags(here, here + np.array([along, across, along + across]))

    np.testing.assert_allclose(found, [[10.0, 30.0, 10.0 * np.sqrt(10.0)]], rtol=1e-12)


def test_models_end():
    """Far away nothing correlates, whatever the model."""
    models = [
        Variogram("spherical", 0.0, 1.0, 10.0),
        Variogram("exponential", 0.0, 1.0, 10.0),
        Variogram("matern", 0.0, 1.0, 10.0, smoothness=1.5),
        Variogram("matern", 0.0, 1.0, 10.0, smoothness=2.5),
    ]
    found = [float(model.correlation(1e4)) for model in models]

    assert found == [0.0, 0.0, 0.0, 0.0]


def _misfit(bins, model):
    gap = bins.semivariance - model.semivariance(bins.distance)
    return float(np.sum(bins.pairs / bins.distance**2 * gap**2))


def test_fit_of_meuse():
    """The fit is what gstat's iteration finds, to the step of the range grid."""
    bins = bin_pairs(XY, np.log(ZINC), edges=np.arange(0, 1501, 100))
    expected = REFERENCE["fit"]["sph"]

    found = fit_to(bins, ranges=np.geomspace(100.0, 2000.0, 1000))

    assert found.model == "spherical"
    assert _misfit(bins, found) == pytest.approx(expected["SSErr"], rel=1e-4)
    assert found.range == pytest.approx(expected["range"], rel=0.003)
    assert found.nugget == pytest.approx(expected["nugget"], rel=0.01)
    assert found.partial_sill == pytest.approx(expected["psill"], rel=0.003)


@pytest.mark.parametrize("model", ["spherical", "exponential"])
@pytest.mark.parametrize("nugget", [0.0, 0.4])
def test_fit_finds_exact_model(model, nugget):
    """Semivariances that lie on a model give the model back."""
    true = Variogram(model, nugget, 0.6, 250.0)
    bins = bin_pairs(XY, ZINC, edges=np.arange(0, 1001, 50))
    exact = type(bins)(bins.pairs, bins.distance, true.semivariance(bins.distance))

    found = fit_to(exact, ranges=np.array([100.0, 250.0, 400.0]))

    assert (found.model, found.range) == (model, 250.0)
    assert found.nugget == pytest.approx(nugget, abs=1e-12)
    assert found.partial_sill == pytest.approx(0.6, rel=1e-9)


@pytest.mark.parametrize("minimum", [0.0, 0.2])
def test_fit_is_non_negative_least_squares(minimum):
    """Nugget and partial sill are those of scipy's active-set solver."""
    from scipy.optimize import nnls

    rng = np.random.default_rng(1)
    for _ in range(20):
        value = rng.normal(size=len(GRID)) + GRID[:, 0] * rng.uniform(0.0, 0.01)
        bins = bin_pairs(GRID, value, edges=np.arange(16.0, 400.0, 32.0))
        found = fit_to(bins, ranges=np.array([200.0]), minimum_nugget=minimum)

        root = np.sqrt(bins.pairs) / bins.distance
        shape = Variogram(found.model, 0.0, 1.0, 200.0).semivariance(bins.distance)
        matrix = np.column_stack([root, root * shape])
        (nugget, partial), _ = nnls(matrix, root * (bins.semivariance - minimum))

        assert found.nugget == pytest.approx(minimum + nugget, abs=1e-9)
        assert found.partial_sill == pytest.approx(partial, abs=1e-9)


def test_fit_stays_within_the_field():
    """A trend across the field, which has no range, gets none above half its size."""
    found = fit(GRID, GRID[:, 0] + GRID[:, 1])

    assert found.range <= 0.5 * np.hypot(512.0, 512.0)


def test_sparse_rule():
    """Below 30 samples the nugget is the nearest pairs' and the sill the variance."""
    xy = np.array([[i * 100.0, j * 100.0] for i in range(4) for j in range(3)])
    value = np.array(
        [4.0, 6.0, 5.0, 9.0, 8.0, 12.0, 14.0, 13.0, 17.0, 16.0, 20.0, 18.0]
    )
    apart = distances(xy, xy)
    side_by_side = [
        (value[i] - value[j]) ** 2
        for i in range(12)
        for j in range(i)
        if apart[i, j] == 100.0
    ]

    found = fit(xy, value)

    assert found.nugget == pytest.approx(np.mean(side_by_side) / 2.0)
    assert found.nugget + found.partial_sill == pytest.approx(np.var(value, ddof=1))


def test_spacing():
    """The spacing of a grid is its step, whatever lies alone beside it."""
    assert spacing(np.vstack([GRID, [[5000.0, 5000.0]]])) == 64.0


def _drawn(count):
    rng = np.random.default_rng(count)
    return rng.uniform(0.0, 500.0, (count, 2)), rng.normal(size=count)


def _pairs(xy, value):
    apart = np.linalg.norm(xy[:, None] - xy[None], axis=2)
    return apart, 0.5 * (value[:, None] - value[None]) ** 2


def test_many_samples_are_binned_in_blocks():
    """The bins of 700 samples are those of all their pairs at once."""
    xy, value = _drawn(700)
    apart, halves = _pairs(xy, value)
    once = np.triu(np.ones_like(apart, dtype=bool), 1)

    found = bin_pairs(xy, value, edges=[0.0, 20.0, 50.0, 90.0])

    for at, (low, high) in enumerate([(0.0, 20.0), (20.0, 50.0), (50.0, 90.0)]):
        here = once & (low < apart) & (apart <= high)
        assert found.pairs[at] == here.sum()
        assert found.distance[at] == pytest.approx(apart[here].mean(), rel=1e-12)
        assert found.semivariance[at] == pytest.approx(halves[here].mean(), rel=1e-12)
    np.fill_diagonal(apart, np.inf)
    assert spacing(xy) == pytest.approx(np.median(apart.min(axis=1)), rel=1e-12)


def test_pairs_across_parts_do_not_count():
    """Bins of a parted field are the means of those of its parts, by pairs."""
    xy, value = _drawn(60)
    part = (xy[:, 0] > 250.0).astype(np.int64)
    edges = [0.0, 60.0, 150.0]

    found = bin_pairs(xy, value + 1000.0 * part, edges=edges, part=part)

    each = [
        bin_pairs(xy[part == one], value[part == one], edges=edges) for one in (0, 1)
    ]
    assert (found.pairs == each[0].pairs + each[1].pairs).all()
    total = sum(one.pairs * one.semivariance for one in each)
    np.testing.assert_allclose(found.semivariance, total / found.pairs, rtol=1e-7)


def test_sparse_sill_is_that_within_parts():
    """Below 30 samples the sill is the variance within parts: levels don't widen it."""
    xy, value = _drawn(20)
    part = (xy[:, 0] > 250.0).astype(np.int64)
    away = np.concatenate(
        [value[part == one] - value[part == one].mean() for one in (0, 1)]
    )

    found = fit(xy, value + 1000.0 * part, part=part)

    sill = found.nugget + found.partial_sill
    assert sill == pytest.approx((away**2).sum() / 18.0, rel=1e-6)


def _turned(xy, degrees):
    turn = np.radians(degrees)
    return xy @ np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])


@pytest.mark.parametrize("count", [12, 29, 30, 60, 220])
def test_fit_moved_turned_and_in_another_unit(count):
    """Moving and turning changes no figure, and a unit the nugget and the sill only."""
    xy, value = _drawn(count)
    value = value + xy[:, 0] / 100.0

    found = fit(xy, value)

    for other, factor in (
        (fit(_turned(xy, 31.0) + np.array([9e3, -4e3]), value), 1.0),
        (fit(xy, 2.2420236 * value - 7.0), 2.2420236),
    ):
        assert (other.model, other.smoothness) == (found.model, found.smoothness)
        assert other.range == pytest.approx(found.range, rel=1e-6)
        assert other.nugget == pytest.approx(found.nugget * factor**2, abs=1e-7)
        assert other.partial_sill == pytest.approx(
            found.partial_sill * factor**2, rel=1e-6, abs=1e-7
        )


def test_edge_of_the_sparse_rule():
    """At 29 samples the sill is their variance, at 30 it is fitted."""
    xy, value = _drawn(30)
    value = value + xy[:, 0] / 100.0

    below, at = fit(xy[:29], value[:29]), fit(xy, value)

    variance = np.var(value[:29], ddof=1)
    assert below.nugget + below.partial_sill == pytest.approx(variance)
    reach = at.bins.distance
    assert reach.max() <= 0.6 * 500.0 * 2.0**0.5
    assert at.nugget + at.partial_sill != pytest.approx(np.var(value, ddof=1), rel=1e-3)


@pytest.mark.parametrize("smoothness", [1.5, 2.5])
def test_a_matern_model_is_taken_where_it_may_be(smoothness):
    """Bins that lie on a Matern model give it back, if it may be tried."""
    true = Variogram("matern", 0.1, 0.9, 400.0, smoothness=smoothness)
    bins = bin_pairs(XY, ZINC, edges=np.arange(0, 1001, 50))
    exact = replace(bins, semivariance=true.semivariance(bins.distance))
    ranges = np.array([200.0, 400.0, 600.0, 800.0])

    found = fit_to(exact, ranges=ranges, smooth=True)
    plain = fit_to(exact, ranges=ranges)

    assert (found.model, found.smoothness) == ("matern", smoothness)
    assert (found.range, found.bins) == (400.0, exact)
    assert found.nugget == pytest.approx(0.1, rel=1e-9)
    assert plain.smoothness is None


def test_a_matern_model_has_to_be_much_better():
    """Bins on an exponential model stay with it, though Matern models are tried."""
    true = Variogram("exponential", 0.1, 0.9, 400.0)
    bins = bin_pairs(XY, ZINC, edges=np.arange(0, 1001, 50))
    noise = 1.0 + 0.02 * np.random.default_rng(3).standard_normal(len(bins.pairs))
    near = replace(bins, semivariance=noise * true.semivariance(bins.distance))

    found = fit_to(near, ranges=np.geomspace(100.0, 900.0, 60), smooth=True)

    assert found.smoothness is None


def _ground(model, count, seed):
    rng = np.random.default_rng(seed)
    xy = rng.uniform(0.0, 1000.0, (count, 2))
    covariance = model.partial_sill * model.correlation(distances(xy, xy))
    root = np.linalg.cholesky(covariance + model.nugget * np.eye(count))
    return xy, root @ rng.standard_normal(count)


def test_smooth_ground_from_many_samples():
    """Ground of a smooth Matern model is told from 400 samples, and can be kriged."""
    from vrp.spatial.kriging import estimate, prepare

    true = Variogram("matern", 0.002, 1.0, 350.0, smoothness=2.5)
    found = [fit(*_ground(true, 400, seed)) for seed in range(6)]
    rough = Variogram("exponential", 0.1, 0.9, 350.0)
    other = [fit(*_ground(rough, 400, seed)) for seed in range(6)]

    assert sum(one.smoothness is not None for one in found) >= 4
    assert sum(one.smoothness is not None for one in other) <= 1
    smooth = next(one for one in found if one.smoothness is not None)
    assert smooth.nugget >= 1e-3 * smooth.partial_sill
    xy, value = _ground(true, 400, 50)
    near = estimate(prepare(xy, value, variogram=smooth), xy + 3.0)
    assert np.abs(near.value - value).max() < 0.5


def test_few_samples_try_no_matern_model():
    """From 199 samples smooth ground has a plain model."""
    xy, value = _ground(Variogram("matern", 0.002, 1.0, 350.0, smoothness=2.5), 199, 1)

    assert fit(xy, value).smoothness is None


def test_a_nugget_that_is_known_bounds_a_matern_model():
    """A laboratory's variance bounds the nugget of a smooth model from below."""
    xy, value = _ground(Variogram("matern", 0.002, 1.0, 350.0, smoothness=2.5), 400, 1)

    found = fit(xy, value, minimum_nugget=0.05)

    assert found.nugget >= 0.05
