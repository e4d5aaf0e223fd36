"""The cells of a field."""

import numpy as np
import pytest
import shapely

from vrp.errors import InputError
from vrp.spatial.grid import make_cells


def test_a_cell_belongs_where_its_centre_lies():
    """A right triangle of side 4 holds the centres of 3 + 2 + 1 cells of side 1."""
    cells = make_cells(shapely.Polygon([(0, 0), (4, 0), (0, 4)]), size=1)
    np.testing.assert_array_equal(
        cells.inside,
        [[0, 0, 0, 0], [1, 0, 0, 0], [1, 1, 0, 0], [1, 1, 1, 0]],
    )


def test_cells_go_from_north_to_south_and_west_to_east():
    """Positions come row by row from the north, and values are spread alike."""
    cells = make_cells(shapely.box(100, 200, 120, 220), size=10)
    assert (cells.x0, cells.y0) == (100, 220)
    expected = [[105, 215], [115, 215], [105, 205], [115, 205]]
    np.testing.assert_array_equal(cells.xy, expected)
    np.testing.assert_array_equal(
        cells.spread(np.array([1, 2, 3, 4], np.int16), -1), [[1, 2], [3, 4]]
    )


def test_edges_lie_on_multiples_of_the_size():
    """An outline from 2 to 17 is covered by cells from 0 to 20; 2.5 is in, 17.5 not."""
    cells = make_cells(shapely.box(2, 2, 17, 17), size=5)
    assert (cells.x0, cells.y0, cells.inside.shape) == (0, 20, (4, 4))
    assert cells.xy[0].tolist() == [2.5, 12.5]
    assert len(cells.xy) == 9


def test_holes_and_parts_without_a_centre_have_no_cells():
    """A hole of one cell is left out; a part of 1 m beside cells of 10 m has none."""
    ring = shapely.box(0, 0, 30, 30).difference(shapely.box(10, 10, 20, 20))
    crumb = shapely.box(41, 1, 42, 2)
    cells = make_cells(shapely.MultiPolygon([ring, crumb]), size=10)
    assert cells.inside.sum() == 8
    assert not cells.inside[1, 1]
    assert cells.spread(np.ones(8), np.nan).shape == (3, 5)


def test_cells_too_small_or_too_large_are_refused():
    """A million hectares in cells of 1 m, or a garden in cells of 1 km, is refused."""
    with pytest.raises(InputError, match="cell 1 m makes 10,000,000,000 cells"):
        make_cells(shapely.box(0, 0, 1e5, 1e5), size=1)
    with pytest.raises(InputError, match="no cell of 1000 m has its centre"):
        make_cells(shapely.box(0, 0, 10, 10), size=1000)
