"""Cells between meridians and parallels."""

import numpy as np
import pytest
import shapely
from pyproj import Geod

from vrp.spatial.degree_grid import DegreeGrid, cover, metres_per_degree

WGS84 = Geod(ellps="WGS84")


@pytest.mark.parametrize("latitude", [-35.0, 0.0, 42.02, 60.0])
def test_length_of_a_degree(latitude):
    """A short arc has the length of PROJ's geodesic, along both directions."""
    north, east = metres_per_degree(np.array([latitude]))

    along = WGS84.inv(10.0, latitude - 5e-4, 10.0, latitude + 5e-4)[2]
    across = WGS84.inv(10.0 - 5e-4, latitude, 10.0 + 5e-4, latitude)[2]
    assert north[0] * 1e-3 == pytest.approx(along, rel=1e-7)
    assert east[0] * 1e-3 == pytest.approx(across, rel=1e-7)


def test_cell_areas():
    """A cell of each row has PROJ's geodesic area, the first row the southernmost."""
    grid = DegreeGrid(40.0, -84.0, 0.5, 0.001, 3, 4)

    areas = grid.cell_areas()

    assert areas.shape == (3,)
    for row, area in enumerate(areas):
        south, north = 40.0 + row * 0.5, 40.5 + row * 0.5
        lat = [south, south, north, north]
        geodesic = WGS84.polygon_area_perimeter([0.0, 1e-3, 1e-3, 0.0], lat)[0]
        assert area == pytest.approx(geodesic, rel=1e-5)


def test_rows_go_north():
    """A shape at the south-east corner owns the first row's last cell, and no other."""
    grid = DegreeGrid(40.0, -84.0, 0.1, 0.1, 3, 4)

    owners = grid.owners([shapely.box(-83.69, 40.01, -83.61, 40.09)])

    expected = np.full((3, 4), -1)
    expected[0, 3] = 0
    assert owners.tolist() == expected.tolist()


def test_cover():
    """Cells of 10 m begin at the south-west corner and reach past the north-east."""
    shape = shapely.box(-84.35, 40.6, -84.3481, 40.6034)

    grid = cover(shape, side=10.0)

    assert (grid.west, grid.south) == (-84.35, 40.6)
    # 0.0034 degree of latitude at 40.6 N is 377.5 m, 0.0019 of longitude 160.8 m.
    assert (grid.rows, grid.columns) == (38, 17)
    assert WGS84.inv(-84.35, 40.6, -84.35, 40.6 + grid.north_side)[2] == pytest.approx(
        10.0, abs=1e-4
    )
    assert WGS84.inv(-84.35, 40.6, -84.35 + grid.east_side, 40.6)[2] == pytest.approx(
        10.0, abs=1e-3
    )
    assert grid.count == 38 * 17


def test_cells_that_a_shape_touches():
    """Of 4 by 4 cells a box inside one row touches two, a line on a corner its four."""
    grid = DegreeGrid(0.0, 0.0, 1.0, 1.0, 4, 4)

    box = grid.touching(shapely.box(0.5, 1.2, 1.5, 1.8))
    corner = grid.touching(shapely.Point(2.0, 2.0))

    assert np.argwhere(box).tolist() == [[1, 0], [1, 1]]
    assert np.argwhere(corner).tolist() == [[1, 1], [1, 2], [2, 1], [2, 2]]
    assert not grid.touching(shapely.Polygon()).any()
    assert not grid.touching(shapely.box(10.0, 10.0, 11.0, 11.0)).any()


def test_touched_cells_are_those_whose_box_meets_the_shape():
    """Of odd polygons with holes each cell is told as its own box would tell it."""
    rng = np.random.default_rng(4)
    grid = DegreeGrid(-0.2, -0.3, 0.31, 0.17, 40, 70)
    west = grid.west + np.arange(70) * grid.east_side
    south = (grid.south + np.arange(40) * grid.north_side)[:, None]
    boxes = shapely.box(west, south, west + grid.east_side, south + grid.north_side)
    for _ in range(40):
        turn = np.sort(rng.uniform(0.0, 2.0 * np.pi, 9))
        far = rng.uniform(0.2, 8.0, 9)
        ring = np.c_[6.0 + far * np.cos(turn), 6.0 + far * np.sin(turn)]
        hole = shapely.Point(6.0, 6.0).buffer(rng.uniform(0.05, 1.5))
        shape = shapely.Polygon(ring).buffer(0.0).difference(hole)

        found = grid.touching(shape)

        assert (found == shapely.intersects(shape, boxes)).all()
