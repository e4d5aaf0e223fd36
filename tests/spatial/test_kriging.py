"""
Kriging, against gstat, PyKrige and systems solved anew.

reference_values.json was computed with R and gstat; README.md beside it says how.
"""

import csv
import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from vrp.spatial.kriging import block_variance, estimate, leave_out, prepare
from vrp.spatial.variogram import Variogram

DATA = Path(__file__).parents[1] / "data"
REFERENCE = json.loads((DATA / "reference_values.json").read_text("utf-8"))
XY = np.column_stack([REFERENCE["meuse"]["x"], REFERENCE["meuse"]["y"]]).astype(float)
LOG_ZINC = np.log(np.array(REFERENCE["meuse"]["zinc"], dtype=float))
POINTS = np.column_stack([REFERENCE["points"]["x"], REFERENCE["points"]["y"]]) * 1.0
AT_SAMPLE = 6  # the seventh point is the place of the first sample

SPHERICAL = Variogram("spherical", 0.05, 0.59, 897.0)
EXPONENTIAL = Variogram("exponential", 0.05, 0.6, 3 * 300.0)
MATERN = Variogram("matern", 0.05, 0.6, 900.0, smoothness=2.5)
# gstat's anis = c(45, 0.5): the longest range to the north-east, half of it across.
ANISOTROPIC = Variogram("spherical", 0.05, 0.59, 1200.0, angle=45.0, ratio=2.0)
ALL = [SPHERICAL, EXPONENTIAL, MATERN, ANISOTROPIC]


def _rows(name):
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def _solve(xy, value, model, place):
    """Solve the textbook's bordered system of semivariances for one place."""
    n = len(value)
    matrix = np.ones((n + 1, n + 1))
    apart = np.linalg.norm(xy[:, None] - xy[None], axis=2)
    matrix[:n, :n] = model.semivariance(apart)
    matrix[n, n] = 0.0
    right = np.append(model.semivariance(np.linalg.norm(xy - place, axis=1)), 1.0)
    weight = np.linalg.solve(matrix, right)
    return weight[:n] @ value, weight @ right, weight[:n]


@pytest.mark.parametrize(
    ("name", "model"),
    [
        ("sph_logzinc", SPHERICAL),
        ("exp_logzinc", EXPONENTIAL),
        ("sph_logzinc_anis", ANISOTROPIC),
    ],
)
def test_away_from_samples(name, model):
    """There the estimate is gstat's, whose variance is larger by the nugget."""
    expected, away = REFERENCE["ok"][name], np.arange(len(POINTS)) != AT_SAMPLE

    found = estimate(prepare(XY, LOG_ZINC, variogram=model), POINTS[away])

    np.testing.assert_allclose(found.value, np.array(expected["pred"])[away], rtol=1e-8)
    variance = np.array(expected["var"])[away] - model.nugget
    np.testing.assert_allclose(found.variance, variance, rtol=1e-8)


def test_away_from_samples_in_ppm():
    """Without logarithms too, and where sills are of ten thousands."""
    expected, away = REFERENCE["ok"]["sph_zinc"], np.arange(len(POINTS)) != AT_SAMPLE
    model = Variogram("spherical", 20_000.0, 120_000.0, 900.0)

    system = prepare(XY, np.exp(LOG_ZINC), variogram=model)
    found = estimate(system, POINTS[away])

    np.testing.assert_allclose(found.value, np.array(expected["pred"])[away], rtol=1e-8)
    variance = np.array(expected["var"])[away] - model.nugget
    np.testing.assert_allclose(found.variance, variance, rtol=1e-8)


@pytest.mark.parametrize(
    ("name", "model"),
    [
        ("exp_logzinc_measurement_error", EXPONENTIAL),
        ("sph_logzinc_nonugget", Variogram("spherical", 0.0, 0.64, 897.0)),
    ],
)
def test_at_samples_too(name, model):
    """With the nugget as error, or without one, gstat agrees everywhere."""
    expected = REFERENCE["ok"][name]

    found = estimate(prepare(XY, LOG_ZINC, variogram=model), POINTS)

    np.testing.assert_allclose(found.value, expected["pred"], rtol=1e-8)
    np.testing.assert_allclose(found.variance, expected["var"], rtol=1e-8, atol=1e-12)


@pytest.mark.parametrize("model", [SPHERICAL, EXPONENTIAL])
def test_against_pykrige(model):
    """On cells, PyKrige finds the same; its variance holds the nugget."""
    from pykrige.ok import OrdinaryKriging

    rng = np.random.default_rng(3)
    cells = XY.min(axis=0) + rng.uniform(size=(700, 2)) * np.ptp(XY, axis=0)
    peer = OrdinaryKriging(
        *XY.T,
        LOG_ZINC,
        variogram_model=model.model,
        variogram_parameters={
            "psill": model.partial_sill,
            "range": model.range,
            "nugget": model.nugget,
        },
        exact_values=False,
    )
    value, variance = peer.execute("points", *cells.T)

    found = estimate(prepare(XY, LOG_ZINC, variogram=model), cells)

    np.testing.assert_allclose(found.value, value, rtol=1e-8)
    np.testing.assert_allclose(found.variance + model.nugget, variance, rtol=1e-8)


def test_anisotropy_against_pykrige():
    """PyKrige, which turns counterclockwise from east and scales across, agrees."""
    from pykrige.ok import OrdinaryKriging

    model = Variogram("exponential", 0.05, 0.6, 1000.0, angle=25.0, ratio=2.5)
    cells = POINTS[np.arange(len(POINTS)) != AT_SAMPLE]
    peer = OrdinaryKriging(
        *XY.T,
        LOG_ZINC,
        variogram_model="exponential",
        variogram_parameters={"psill": 0.6, "range": 1000.0, "nugget": 0.05},
        anisotropy_scaling=2.5,
        anisotropy_angle=90.0 - 25.0,
        exact_values=False,
    )
    value, variance = peer.execute("points", *cells.T)

    found = estimate(prepare(XY, LOG_ZINC, variogram=model), cells)

    np.testing.assert_allclose(found.value, value, rtol=1e-8)
    np.testing.assert_allclose(found.variance + 0.05, variance, rtol=1e-8)


@pytest.mark.parametrize("smoothness", [1.5, 2.5])
def test_matern_against_gstools(smoothness):
    """GSTools, whose Bessel function takes sqrt(nu) h / length, kriges alike."""
    import gstools

    reach = 900.0
    own = {1.5: 4.74903138601, 2.5: 5.92446261895}[smoothness]  # see test_variogram
    model = Variogram("matern", 0.05, 0.6, reach, smoothness=smoothness)
    peer = gstools.Matern(
        dim=2,
        var=0.6,
        nugget=0.05,
        nu=smoothness,
        len_scale=reach / own,
        rescale=1.0 / np.sqrt(smoothness),
    )
    cells = POINTS[np.arange(len(POINTS)) != AT_SAMPLE]
    value, variance = gstools.krige.Ordinary(peer, XY.T, LOG_ZINC)(cells.T)

    found = estimate(prepare(XY, LOG_ZINC, variogram=model), cells)

    np.testing.assert_allclose(found.value, value, rtol=1e-7)
    np.testing.assert_allclose(found.variance + 0.05, variance, rtol=1e-7)


def test_block():
    """The variance of a mean over 64 places is gstat's, and so is the mean."""
    block = REFERENCE["block"]
    expected = block["sph_logzinc_block160_64pts"]
    offsets = np.column_stack([block["offx"], block["offy"]])
    system = prepare(XY, LOG_ZINC, variogram=SPHERICAL)

    for point, value, variance in zip(
        POINTS, expected["pred"], expected["var"], strict=True
    ):
        cells = point + offsets
        assert estimate(system, cells).value.mean() == pytest.approx(value, rel=1e-8)
        assert block_variance(system, cells) == pytest.approx(variance, rel=1e-8)


def test_weighted_block():
    """All weight on one cell gives the variance of that cell."""
    system = prepare(XY, LOG_ZINC, variogram=EXPONENTIAL)
    weight = np.eye(len(POINTS))[2]

    found = block_variance(system, POINTS, weight=weight)

    assert found == pytest.approx(estimate(system, POINTS).variance[2], rel=1e-12)


@pytest.mark.parametrize("model", ALL)
def test_block_of_one_cell(model):
    """A block of one cell has the variance of the cell, by every model."""
    system = prepare(XY, LOG_ZINC, variogram=model)

    found = block_variance(system, POINTS[:1])

    assert found == pytest.approx(estimate(system, POINTS[:1]).variance[0], rel=1e-10)


@pytest.mark.parametrize("model", ALL)
def test_moved_and_turned(model):
    """Moved and turned with its longest range, a field has the same estimates."""
    turn = np.radians(37.0)  # clockwise
    turned = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    shift = np.array([3000.0, -7000.0])
    there = replace(model, angle=(model.angle + 37.0) % 180.0)

    found = estimate(prepare(XY, LOG_ZINC, variogram=model), POINTS)
    elsewhere = estimate(
        prepare(XY @ turned + shift, LOG_ZINC, variogram=there), POINTS @ turned + shift
    )

    np.testing.assert_allclose(elsewhere.value, found.value, rtol=1e-8)
    np.testing.assert_allclose(elsewhere.variance, found.variance, rtol=1e-6)


@pytest.mark.parametrize("model", ALL)
def test_unit(model):
    """In a unit k times as small, estimates are k and variances k² times as large."""
    factor = 2.2420236
    larger = replace(
        model,
        nugget=model.nugget * factor**2,
        partial_sill=model.partial_sill * factor**2,
    )

    found = estimate(prepare(XY, LOG_ZINC, variogram=model), POINTS)
    other = estimate(prepare(XY, LOG_ZINC * factor, variogram=larger), POINTS)

    np.testing.assert_allclose(other.value, found.value * factor, rtol=1e-9)
    np.testing.assert_allclose(other.variance, found.variance * factor**2, rtol=1e-9)


def test_thinned_block():
    """Of 2,500 cells every seventh tells the variance to 2 %."""
    side = np.arange(50.0) * 8.0
    cells = np.stack(np.meshgrid(side + 180000.0, side + 331300.0), -1).reshape(-1, 2)
    system = prepare(XY, LOG_ZINC, variogram=SPHERICAL)
    apart = np.linalg.norm(cells[:, None] - cells[None], axis=2)
    among = 0.59 * SPHERICAL.correlation(apart).mean()
    gap = np.linalg.norm(XY[:, None] - cells[None], axis=2)
    near = 0.59 * SPHERICAL.correlation(gap).mean(axis=1)
    lags = np.linalg.norm(XY[:, None] - XY[None], axis=2)
    covariance = 0.59 * SPHERICAL.correlation(lags) + 0.05 * np.eye(len(XY))
    bordered = np.block([[covariance, np.ones((155, 1))], [np.ones((1, 155)), 0.0]])
    right = np.append(near, 1.0)
    variance = among - np.linalg.solve(bordered, right) @ right

    assert block_variance(system, cells) == pytest.approx(variance, rel=0.02)


@pytest.mark.parametrize(
    ("name", "group"),
    [
        ("loo_sph_logzinc", np.arange(155)),
        ("fivefold_mod5_sph_logzinc", np.arange(155) % 5),
    ],
)
def test_cross_validation(name, group):
    """Leaving out one, or a fifth, gives gstat's predictions, variances and errors."""
    expected = REFERENCE["cv"][name]

    found = leave_out(prepare(XY, LOG_ZINC, variogram=SPHERICAL), group)

    error = LOG_ZINC - found.value
    np.testing.assert_allclose(found.value[:10], expected["first10_pred"], rtol=1e-8)
    np.testing.assert_allclose(found.variance[:10], expected["first10_var"], rtol=1e-8)
    assert np.sqrt(np.mean(error**2)) == pytest.approx(expected["RMSE"], rel=1e-8)
    assert np.mean(error**2 / found.variance) == pytest.approx(
        expected["MSDR"], rel=1e-8
    )


def test_soil_p_left_out():
    """On the 256 soil tests of soja98, the closed form is systems solved anew."""
    rows = _rows("soja98.csv")
    xy = np.array([[float(row["X"]), float(row["Y"])] for row in rows])
    value = np.array([float(row["P"]) for row in rows])
    model = Variogram("exponential", 0.9, 0.7, 60.0)

    found = leave_out(prepare(xy, value, variogram=model), np.arange(len(value)))

    for at in range(0, len(value), 15):
        rest = np.arange(len(value)) != at
        predicted, variance, _ = _solve(xy[rest], value[rest], model, xy[at])
        assert found.value[at] == pytest.approx(predicted, rel=1e-8)
        assert found.variance[at] == pytest.approx(variance, rel=1e-8)


def test_block_left_out():
    """Leaving a block out is solving without it, the lognormal correction included."""
    model, group = EXPONENTIAL, (XY[:, 0] // 400.0).astype(int)
    apart = np.linalg.norm(XY[:, None] - XY[None], axis=2)
    covariance = 0.6 * model.correlation(apart) + 0.05 * np.eye(len(XY))

    found = leave_out(prepare(XY, LOG_ZINC, variogram=model), group)

    for at in range(0, len(XY), 15):
        rest = group != group[at]
        predicted, variance, weight = _solve(XY[rest], LOG_ZINC[rest], model, XY[at])
        spread = weight @ covariance[np.ix_(rest, rest)] @ weight
        assert found.value[at] == pytest.approx(predicted, rel=1e-8)
        assert found.variance[at] == pytest.approx(variance, rel=1e-8)
        assert found.correction[at] == pytest.approx((0.65 - spread) / 2.0, rel=1e-8)


def test_pure_nugget():
    """Without structure the estimate is the mean, with variance nugget / n."""
    model = Variogram("spherical", 2.0, 0.0, 100.0)

    found = estimate(prepare(XY, LOG_ZINC, variogram=model), POINTS)

    np.testing.assert_allclose(found.value, LOG_ZINC.mean(), rtol=1e-12)
    np.testing.assert_allclose(found.variance, 2.0 / 155, rtol=1e-12)


def test_lagrange():
    """The multiplier is what makes the bordered system's weights add up to 1."""
    system = prepare(XY, LOG_ZINC, variogram=SPHERICAL)
    *_, weight = _solve(XY, LOG_ZINC, SPHERICAL, POINTS[0])
    apart = np.linalg.norm(XY[:, None] - XY[None], axis=2)
    covariance = 0.59 * SPHERICAL.correlation(apart) + 0.05 * np.eye(len(XY))
    near = 0.59 * SPHERICAL.correlation(np.linalg.norm(XY - POINTS[0], axis=1))

    multiplier = (covariance @ weight - near)[0]

    assert estimate(system, POINTS[:1]).lagrange[0] == pytest.approx(
        multiplier, rel=1e-8
    )


def test_same_bytes_on_any_number_of_threads(monkeypatch):
    """Two threads give the bytes that one gives."""
    generator = np.random.default_rng(5)
    xy, value = generator.uniform(0.0, 800.0, (90, 2)), generator.normal(size=90)
    system = prepare(xy, value, variogram=Variogram("spherical", 0.3, 0.7, 200.0))
    cells = generator.uniform(0.0, 800.0, (5_000, 2))

    found = {}
    for processors in (1, 2):
        monkeypatch.setattr(
            "vrp.spatial.kriging.os.sched_getaffinity",
            lambda _, count=processors: set(range(count)),
            raising=False,
        )
        found[processors] = estimate(system, cells)

    for name in ("value", "variance", "lagrange"):
        one, two = (getattr(found[count], name) for count in (1, 2))
        assert one.tobytes() == two.tobytes()


def test_factor_of_many_samples():
    """The factor of 700 samples, inverted by halves, makes the covariance's inverse."""
    xy = np.random.default_rng(6).uniform(0.0, 500.0, (700, 2))
    model = Variogram("exponential", 0.1, 0.9, 300.0)
    apart = np.linalg.norm(xy[:, None] - xy[None], axis=2)
    covariance = 0.9 * model.correlation(apart) + 0.1 * np.eye(700)

    factor = prepare(xy, xy[:, 0], variogram=model).factor

    assert (np.tril(factor, -1) == 0.0).all()
    np.testing.assert_allclose(
        factor @ factor.T @ covariance, np.eye(700), rtol=0.0, atol=1e-10
    )
