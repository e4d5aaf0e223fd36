"""Regions of cells and parts of polygons."""

import numpy as np
import pytest
import shapely

from vrp.spatial.regions import (
    connected_regions,
    gather,
    merge_parts,
    polygon_parts,
    shared_borders,
    union_of,
)


def test_cells_connect_by_edges_and_not_by_corners():
    """A chequered corner is four regions; what is outside has none."""
    labels = np.array([[7, 7, -1], [7, 3, 3], [3, 7, 3]])
    np.testing.assert_array_equal(
        connected_regions(labels), [[0, 0, -1], [0, 1, 1], [2, 3, 1]]
    )


def test_shared_borders_are_as_long_as_the_edge_in_common():
    """Boxes share 10 m or 4 m; a touch in a corner, and what is apart, share none."""
    boxes = np.array(
        [
            shapely.box(0, 0, 10, 10),
            shapely.box(10, 0, 20, 10),
            shapely.box(0, 10, 4, 14),
            shapely.box(20, 10, 30, 20),
            shapely.box(50, 50, 60, 60),
        ]
    )
    first, second, border = shared_borders(boxes, np.arange(5))
    pairs = zip(first.tolist(), second.tolist(), border.tolist(), strict=True)
    found = {(min(a, b), max(a, b)): length for a, b, length in pairs}
    assert found == {
        (0, 1): pytest.approx(10, abs=0.002),
        (0, 2): pytest.approx(4, abs=0.002),
    }
    first, second, _ = shared_borders(boxes, np.array([2]))
    assert (first.tolist(), second.tolist()) == ([2], [0])


def test_small_parts_take_the_key_of_the_longest_border():
    """A strip of 1 m by 10 m joins the box along it, not the one at its end."""
    parts = np.array(
        [
            shapely.box(0, 0, 10, 10),
            shapely.box(10, 0, 11, 10),
            shapely.box(0, 10, 20, 20),
        ]
    )
    keys, merged = merge_parts(parts, np.array([5, 6, 7]), min_area=20)
    assert keys.tolist() == [5, 7]
    assert shapely.area(merged).tolist() == pytest.approx([110, 200])


def test_a_union_leaves_no_slit():
    """Boxes a hundredth of a millimetre apart become one without a hole."""
    boxes = [shapely.box(0, 0, 10, 10), shapely.box(10.00001, 0, 20, 10)]
    whole = union_of(np.array(boxes))
    assert whole.geom_type == "Polygon"
    assert whole.area == pytest.approx(200)


def test_lines_and_points_are_left_out():
    """Of a collection only its polygons count, each with where it comes from."""
    box = shapely.box(0, 0, 1, 1)
    mixed = shapely.GeometryCollection([shapely.Point(5, 5), box])
    both = shapely.MultiPolygon([box, shapely.box(2, 0, 3, 1)])
    parts, index = polygon_parts(np.array([mixed, shapely.Polygon(), both]))
    assert (len(parts), index.tolist()) == (3, [0, 2, 2])
    assert gather(parts[1:]).equals(both)
    assert gather(parts[:1]).equals(box)
