"""Fields parted by lines, and surfaces that end at them."""

import numpy as np
import pytest
import shapely

from vrp.errors import InputError
from vrp.spatial import kriging
from vrp.spatial.barriers import part_by_lines, part_of
from vrp.spatial.solution import MOST_EXACT, Apart
from vrp.spatial.surface import build_surface

FIELD = shapely.box(0.0, 0.0, 600.0, 400.0)
LANE = shapely.LineString([(300.0, 0.0), (300.0, 400.0)])


def _grid(step, left=0.0, right=600.0):
    x = np.arange(left + step / 2.0, right, step)
    y = np.arange(step / 2.0, 400.0, step)
    return np.stack(np.meshgrid(x, y), -1).reshape(-1, 2)


XY, CELLS = _grid(50.0), _grid(10.0)
WEST, WEST_CELLS = XY[:, 0] < 300.0, CELLS[:, 0] < 300.0
APART = Apart((~WEST).astype(np.int64), (~WEST_CELLS).astype(np.int64))


def _levels(low=20.0, high=60.0):
    rng = np.random.default_rng(3)
    pattern = 3.0 * np.sin(XY[:, 0] / 70.0) + 3.0 * np.cos(XY[:, 1] / 90.0)
    return np.where(WEST, low, high) + pattern + rng.standard_normal(len(XY))


def test_two_halves():
    """A lane through the middle makes two parts that tile the field."""
    parts = part_by_lines(FIELD, [LANE], names=["lane"])

    assert [part.bounds for part in parts] == [
        (0.0, 0.0, 300.0, 400.0),
        (300.0, 0.0, 600.0, 400.0),
    ]


@pytest.mark.parametrize(
    ("lines", "areas"),
    [
        # Drawn beyond the boundary, or short of it by less than a metre.
        ([[(300, -50), (300, 450)]], [120_000, 120_000]),
        ([[(300, 0.8), (300, 399.5)]], [120_000, 120_000]),
        # In two features that meet, and one more that ends on them.
        ([[(300, 0), (300, 200)], [(300, 200), (300, 400)]], [120_000, 120_000]),
        ([[(300, 0), (300, 400)], [(300, 100), (600, 100)]], [120_000, 30_000, 90_000]),
        # A fence around a yard.
        ([[(10, 10), (110, 10), (110, 110), (10, 110), (10, 10)]], [10_000, 230_000]),
    ],
)
def test_how_lines_may_be_drawn(lines, areas):
    """What reaches from boundary to boundary, or closes, parts the field."""
    drawn = [shapely.LineString(line) for line in lines]

    parts = part_by_lines(FIELD, drawn, names=["a"] * len(drawn))

    assert sorted(part.area for part in parts) == pytest.approx(sorted(areas), rel=1e-9)


@pytest.mark.parametrize(
    ("line", "complaint"),
    [
        ([(300, 0), (300, 250)], "lane 1: 25[01] m of it inside the field do not cut"),
        ([(300, 100), (300, 250)], "lane 1: 152 m of it inside the field do not cut"),
        (
            [(700, 0), (700, 400)],
            r"lane 1: does not cross the field \(it is 100 m away",
        ),
    ],
)
def test_lines_that_part_nothing(line, complaint):
    """A line that ends inside the field, or misses it, is refused by name."""
    with pytest.raises(InputError, match=complaint):
        part_by_lines(FIELD, [shapely.LineString(line)], names=["lane 1"])


def test_two_grounds():
    """A field of two polygons, one of them cut, has three parts."""
    other = shapely.box(700.0, 0.0, 900.0, 400.0)

    parts = part_by_lines(shapely.union_all([FIELD, other]), [LANE], names=["lane"])

    assert [part.area for part in parts] == [120_000.0, 120_000.0, 80_000.0]


def test_hole():
    """A line from the outline to a hole cuts nothing; two of them do."""
    ground = FIELD.difference(shapely.box(250.0, 150.0, 350.0, 250.0))
    south = shapely.LineString([(300.0, 0.0), (300.0, 150.0)])
    north = shapely.LineString([(300.0, 250.0), (300.0, 400.0)])

    with pytest.raises(InputError, match=r"south: 15[012] m of it"):
        part_by_lines(ground, [south], names=["south"])
    parts = part_by_lines(ground, [south, north], names=["south", "north"])

    assert [part.area for part in parts] == [115_000.0, 115_000.0]


def test_sides():
    """Places belong to their side, those on a line to the first part."""
    parts = part_by_lines(FIELD, [LANE], names=["lane"])
    places = np.array([[10.0, 10.0], [300.0, 10.0], [300.1, 10.0], [650.0, 10.0]])

    assert part_of(parts, places).tolist() == [0, 0, 1, 1]


def test_map_jumps_at_the_barrier():
    """Two levels stay two levels up to the line, where without it they run together."""
    value = _levels()
    beside = np.abs(CELLS[:, 0] - 300.0) < 10.0
    west, east = beside & WEST_CELLS, beside & ~WEST_CELLS

    apart = build_surface(XY, value, CELLS, apart=APART)
    whole = build_surface(XY, value, CELLS)

    assert np.min(apart.estimate[east] - apart.estimate[west]) > 25.0
    assert np.max(whole.estimate[east] - whole.estimate[west]) < 15.0
    assert "2 parts on different sides of barriers are interpolated apart" in (
        apart.reason
    )


def test_each_half_is_kriged_from_its_own_samples():
    """Each half is the kriging of its samples, by the variogram of both."""
    value = _levels()

    surface = build_surface(XY, value, CELLS, apart=APART)

    assert not surface.log
    for samples, cells in ((WEST, WEST_CELLS), (~WEST, ~WEST_CELLS)):
        alone = kriging.prepare(
            XY[samples], value[samples], variogram=surface.variogram
        )
        expected = kriging.estimate(alone, CELLS[cells])
        np.testing.assert_allclose(surface.estimate[cells], expected.value, rtol=1e-6)
        np.testing.assert_allclose(
            surface.sd[cells], np.sqrt(expected.variance), rtol=1e-6
        )
        left = kriging.leave_out(alone, np.arange(samples.sum()))
        np.testing.assert_allclose(
            surface.cross.kriging.leave_one_out[samples], left.value, rtol=1e-8
        )


def test_other_side_does_not_count():
    """What the soil is beyond the barrier changes no estimate before it."""
    value = _levels()
    raised = np.where(WEST, value, value + 500.0)

    once, again = (
        build_surface(XY, each, CELLS, apart=APART) for each in (value, raised)
    )

    assert not again.log
    np.testing.assert_allclose(
        again.estimate[WEST_CELLS], once.estimate[WEST_CELLS], rtol=1e-5
    )
    assert again.variogram.partial_sill == pytest.approx(
        once.variogram.partial_sill, rel=1e-9
    )


def test_interval_across_the_barrier():
    """Over both halves variances add up by the square of the shares."""
    surface = build_surface(XY, _levels(), CELLS, apart=APART)
    halves = (WEST_CELLS, ~WEST_CELLS)

    widths = [np.ptp(surface.interval(half)) for half in halves]
    both = np.ptp(surface.interval(np.ones(len(CELLS), dtype=bool)))

    assert both == pytest.approx(np.hypot(*widths) / 2.0, rel=1e-6)


def test_no_structure_within_parts():
    """Where only the level differs, each part has the mean of its samples."""
    value = np.where(WEST, 20.0, 60.0)

    surface = build_surface(XY, value, CELLS, apart=APART)

    np.testing.assert_allclose(surface.estimate[WEST_CELLS], 20.0, rtol=1e-6)
    np.testing.assert_allclose(surface.estimate[~WEST_CELLS], 60.0, rtol=1e-6)
    assert "within them the samples show no spatial structure" in surface.reason


def test_part_with_few_samples():
    """A part of four samples is estimated from all samples, as if it were not apart."""
    corner = (XY[:, 0] > 500.0) & (XY[:, 1] > 300.0)
    corner_cells = (CELLS[:, 0] > 500.0) & (CELLS[:, 1] > 300.0)
    assert corner.sum() == 4
    value = _levels(20.0, 25.0)
    apart = Apart(corner.astype(np.int64), corner_cells.astype(np.int64))

    surface = build_surface(XY, value, CELLS, apart=apart)

    assert surface.log
    everything = kriging.prepare(XY, np.log(value), variogram=surface.variogram)
    expected = kriging.estimate(everything, CELLS[corner_cells])
    np.testing.assert_allclose(
        surface.estimate[corner_cells], np.exp(expected.value), rtol=1e-6
    )
    assert surface.solution.few == (4,)
    assert "1 of them with fewer than 5 samples" in surface.reason


def test_many_samples_are_kriged_locally():
    """Above 2,000 samples in a part its places are kriged from the nearest."""
    rng = np.random.default_rng(2)
    xy = rng.uniform(0.0, 600.0, (MOST_EXACT + 1, 2))
    value = 20.0 + np.sin(xy[:, 0] / 60.0) + 0.5 * rng.standard_normal(len(xy))

    local = build_surface(xy, value, CELLS[::9])
    exact = build_surface(xy[1:], value[1:], CELLS[::9])

    assert "2,001 samples are more than 2,000" in local.reason
    assert "nearest 100" in local.reason
    assert "nearest 100" not in exact.reason
    away = (local.estimate - exact.estimate) / value.std()
    assert np.abs(away).max() < 0.25
    rmse = [
        np.sqrt(np.mean((one.cross.kriging.blocked - one.cross.observed) ** 2))
        for one in (local, exact)
    ]
    assert rmse[0] == pytest.approx(rmse[1], rel=0.02)
    zone = np.arange(50)
    assert np.ptp(local.interval(zone)) == pytest.approx(
        np.ptp(exact.interval(zone)), rel=0.1
    )
