"""The invented fields: what they should be like, and that they are drawn alike."""

import importlib.util
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely

from vrp import job
from vrp.io.field_file import read_field_file
from vrp.io.samples import read_samples
from vrp.io.vector import read_boundary
from vrp.spatial.field import geodesic_area
from vrp.units import ACRE, HECTARE

FOLDER = Path(__file__).parents[1] / "sample_fields"


def _load():
    spec = importlib.util.spec_from_file_location("make_fields", FOLDER / "make.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules["make_fields"] = module
    spec.loader.exec_module(module)
    return module


make = _load()
SCENES = sorted(make.SCENES.values(), key=lambda scene: scene.name)


def read(folder):
    plan = read_field_file(folder).plan
    field = read_boundary(plan.boundary)
    found = read_samples(plan.samples, field, metres_per_length=plan.metres_per_length)
    return field, found


@pytest.fixture(scope="module")
def many():
    """Draw a hundred soils on the ground of each scene."""
    return {
        scene.name: [make.draw(scene, seed=seed) for seed in range(100)]
        for scene in SCENES
    }


def inside(scene, drawn):
    cells = shapely.contains_xy(scene.outline, drawn.truth.xy)
    return drawn.truth.value.ravel()[cells]


@pytest.mark.parametrize("scene", SCENES, ids=lambda scene: scene.name)
def test_drawn_alike(tmp_path, scene):
    """The script writes the files that are here, byte for byte."""
    written = make.write(tmp_path / scene.name, scene, seed=scene.seed)

    here = sorted(
        path.name for path in (FOLDER / scene.name).iterdir() if path.is_file()
    )
    assert sorted(path.name for path in written.iterdir()) == here
    for name in here:
        assert (written / name).read_bytes() == (
            FOLDER / scene.name / name
        ).read_bytes()


@pytest.mark.parametrize(
    ("name", "area", "parts", "holes", "samples"),
    [
        ("us", 75.0 * ACRE, 1, 1, 75),
        ("metric", 35.0 * HECTARE, 2, 0, 87),
        ("layers", 57.0 * ACRE, 1, 0, 57),
        ("creek", 52.0 * ACRE, 1, 0, 52),
    ],
)
def test_ground_and_number_of_samples(name, area, parts, holes, samples):
    """75, 57 and 52 acres with a sample an acre; 35 ha in two parts, one in 0.4 ha."""
    field, found = read(FOLDER / name)

    polygons = field.lonlat.geoms
    assert geodesic_area(field.lonlat) == pytest.approx(area, rel=0.01)
    assert (len(polygons), sum(len(part.interiors) for part in polygons)) == (
        parts,
        holes,
    )
    # Those that fall on the headland are left out.
    assert 0.9 <= len(found.samples.rows) / samples <= 1.05
    assert (found.used_outside, found.dropped) == ((), ())


@pytest.mark.parametrize(
    ("name", "mean"), [("us", 22.0), ("metric", 19.0), ("creek", 22.0)]
)
def test_soil_tests(name, mean):
    """Samples are skewed about their mean; their coefficient of variation is 0.5."""
    _, found = read(FOLDER / name)

    value = found.samples.value
    assert value.mean() == pytest.approx(mean, abs=1.5)
    assert value.std() / value.mean() == pytest.approx(0.5, abs=0.05)
    assert np.mean((value - value.mean()) ** 3) / value.std() ** 3 > 0.7


def test_two_layers_of_a_core():
    """The top tests higher than the core, strong Bray than weak; lime parts the two."""
    scene = make.LAYERS
    sampled = make.draw(scene, seed=scene.seed)
    drawn = make.layered(scene, sampled, seed=scene.seed)

    core = (2.0 * drawn.weak[:, 0] + 5.0 * drawn.weak[:, 1]) / 7.0
    assert np.median(drawn.weak[:, 0] / core) == pytest.approx(1.7, abs=0.1)
    ratio = drawn.strong.mean(axis=1) / drawn.weak.mean(axis=1)
    limy = drawn.ph.mean(axis=1) > 7.2
    assert 2 <= limy.sum() <= 8
    assert np.median(ratio[limy]) > 1.5 * np.median(ratio[~limy])


@pytest.mark.parametrize("scene", SCENES, ids=lambda scene: scene.name)
def test_samples_tell_the_truth(scene):
    """Composites scatter about the ground below them, without bias."""
    drawn = make.draw(scene, seed=scene.seed)

    error = np.log(drawn.soil_test / drawn.truth.at(drawn.xy))

    # Laboratory 8 %, cores 25 % / √8, and the ground that differs within the circle.
    assert 0.1 < error.std() < 0.2
    assert abs(error.mean()) < 3.0 * error.std() / np.sqrt(len(error))


@pytest.mark.parametrize("scene", SCENES, ids=lambda scene: scene.name)
def test_variogram_of_many_soils(scene):
    """Without hot spots the samples have the sill, nugget and range that were asked."""
    soil = replace(scene.soil, hot_factor=1.0)
    plain = replace(scene, soil=soil)
    variance, far, near = [], [], []
    for seed in range(100):
        drawn = make.draw(plain, seed=seed)
        log = np.log(drawn.soil_test)
        first, second = np.triu_indices(len(log), 1)
        apart = np.hypot(*(drawn.xy[first] - drawn.xy[second]).T)
        half = (log[first] - log[second]) ** 2 / 2.0
        far.append(half[apart > soil.range_m].mean())
        near.append(half[apart < 80.0].mean())
        variance.append(apart[apart < 80.0].mean())

    # The spherical model by hand.
    ratio = np.mean(variance) / soil.range_m
    model = soil.nugget_share + (1.0 - soil.nugget_share) * (
        1.5 * ratio - 0.5 * ratio**3
    )
    # A composite averages the ground in its circle, which takes about a tenth off.
    assert np.mean(far) == pytest.approx(np.log(1.0 + soil.cv**2), rel=0.15)
    assert np.mean(near) / np.mean(far) == pytest.approx(model, abs=0.05)
    assert 1.0 / 3.0 <= soil.nugget_share <= 0.5
    assert 100.0 <= soil.range_m <= 250.0


@pytest.mark.parametrize(("name", "mean"), [("us", 22.0), ("metric", 19.0)])
def test_truth_of_many_soils(many, name, mean):
    """On average the ground has the mean and the spread of the sample fields."""
    scene = make.SCENES[name]
    ground = [inside(scene, drawn) for drawn in many[name]]

    means = [value.mean() for value in ground]
    spreads = [value.std() / value.mean() for value in ground]
    assert np.mean(means) == pytest.approx(mean, abs=1.0)
    assert np.mean(spreads) == pytest.approx(0.5, abs=0.05)
    # Every field has its hot spot.
    assert min(value.max() / np.median(value) for value in ground) > 2.5


def test_true_surface_as_written(tmp_path):
    """The written truth is that of the cells, each place in the field, mean kept."""
    scene = make.US
    drawn = make.draw(scene, seed=3)
    make.write(tmp_path, scene, seed=3, truth=True)

    lon, lat, value = np.loadtxt(tmp_path / "truth.csv", delimiter=",", skiprows=1).T

    field = read_boundary(tmp_path / "boundary.geojson")
    assert np.mean(shapely.contains_xy(field.lonlat.buffer(1e-6), lon, lat)) == 1.0
    assert len(value) * 100.0 == pytest.approx(scene.outline.area, rel=0.01)
    assert value.mean() == pytest.approx(inside(scene, drawn).mean(), rel=0.01)


def test_readings_of_the_layered_field(tmp_path):
    """Its build says what the layers, the two Bray tests and the pH mean."""
    scene = make.LAYERS
    folder = make.write(tmp_path / "layers", scene, seed=scene.seed)

    prescription, _ = job.run(folder)

    codes = {one.code for one in prescription.findings}
    assert {
        "soil-test-stratified",
        "bray-weak-and-strong",
        "phosphorus-tied-up",
        "bray-p1-high-ph",
    } <= codes
    assert not prescription.held_back
    # By hand from the table: core K1 has 2 in of the first row and 5 in of the second.
    first, second = (folder / "samples.csv").read_text().splitlines()[1:3]
    top, rest = (float(row.split(",")[5]) for row in (first, second))
    core = (2.0 * top + 5.0 * rest) / 7.0
    _, found = read(folder)
    assert found.samples.value[0] == pytest.approx(core, abs=0.005)


def test_water_of_the_creek_field(tmp_path):
    """Creek, ditch and well keep their distances, and heights fall to the creek."""
    folder = make.write(tmp_path / "creek", make.CREEK, seed=make.CREEK.seed)

    prescription, _ = job.run(folder)

    kept = {one.kind: one for one in prescription.water.setbacks}
    assert {kind: one.distance for kind, one in kept.items()} == {
        "stream": 35.0,
        "ditch": 35.0,
        "well": 50.0,
    }
    assert all(one.area > 0.0 for one in kept.values())
    # A ditch of some 305 m in the field, 35 ft to both sides and round its end.
    assert kept["ditch"].area == pytest.approx(1.6, abs=0.1)
    assert 0.02 < prescription.totals.excluded_area / prescription.totals.area < 0.15
    assert not prescription.held_back
    middle = np.array([[0.0, 0.0], [0.0, -200.0]])
    upper, bank = make.heights(make.CREEK, middle, seed=make.CREEK.seed)
    assert upper - bank > 2.0


def test_two_year_programme(tmp_path):
    """Corn, then soybean: the second crop's balance is the first's less its removal."""
    folder = make.write(tmp_path / "layers", make.LAYERS, seed=make.LAYERS.seed)

    prescription, _ = job.run(folder)

    for zone in prescription.zones:
        corn, soybean = (s for s in prescription.seasons if s.zone == zone.number)
        # 210 bu × 0.37 lb and 62 bu × 0.75 lb (Illinois, 2019).
        assert (corn.removal, soybean.removal) == (77.7, 46.5)
        assert corn.balance == pytest.approx(zone.applied - 77.7, abs=0.05)
        assert soybean.balance == pytest.approx(zone.applied - 77.7 - 46.5, abs=0.05)
        assert soybean.stp_low <= soybean.stp_mid <= soybean.stp_high
