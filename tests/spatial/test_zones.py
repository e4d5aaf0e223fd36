"""How a field is parted, on cases small enough to do by hand."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from shapely import affinity

from vrp.errors import InputError
from vrp.spatial.grid import Cells
from vrp.spatial.regions import connected_regions
from vrp.spatial.zones import (
    band_labels,
    cut,
    given_polygons,
    grid_polygons,
    merge_small,
    zone_order,
)

SQUARE = shapely.box(0, 0, 100, 100)
WEST, EAST = shapely.box(0, 0, 50, 100), shapely.box(50, 0, 100, 100)


def _merge(labels, values, least):
    """Merge regions of fewer than `least` cells, each of 10 m by 10 m."""
    labels = np.atleast_2d(np.array(labels))
    cells = Cells(0.0, 0.0, 10.0, labels >= 0)
    flat = np.atleast_2d(np.array(values, float))[cells.inside]
    return merge_small(labels, flat, cells, min_area=least * 100.0).tolist()


def _areas(shapes):
    return [pytest.approx(shape.area, abs=1e-6) for shape in shapes]


def test_a_value_on_a_cut_goes_where_the_band_is_closed():
    """Right closes the lower band over the cut, left the upper; missing has none."""
    values = np.array([5.0, 10.0, 15.0, 20.0, 25.0, np.nan])
    right = band_labels(values, [10.0, 20.0], closed="right")
    left = band_labels(values, [10.0, 20.0], closed="left")
    assert right.tolist() == [0, 0, 1, 1, 2, -1]
    assert left.tolist() == [0, 1, 1, 2, 2, -1]
    assert band_labels(values, [], closed="right").tolist() == [0, 0, 0, 0, 0, -1]


def test_float32_is_compared_as_it_stands():
    """The float32 next above 20 is above 20."""
    above = np.nextafter(np.float32(20.0), np.float32(21.0))
    values = np.array([20.0, above], np.float32)
    assert band_labels(values, [20.0], closed="right").tolist() == [0, 1]


def test_a_small_region_goes_where_it_has_most_border():
    """Three edges with 0 outweigh one edge with 2, whose value is nearer."""
    labels = [[0, 0, 0, 0], [0, 1, 0, 0], [2, 2, 2, 2], [2, 2, 2, 2]]
    values = [[0, 0, 0, 0], [0, 9, 0, 0], [10, 10, 10, 10], [10, 10, 10, 10]]
    merged = [[0, 0, 0, 0], [0, 0, 0, 0], [2, 2, 2, 2], [2, 2, 2, 2]]
    assert _merge(labels, values, 2) == merged
    assert _merge(labels, values, 1) == labels


@pytest.mark.parametrize(("value", "expected"), [(14, 0), (16, 2)])
def test_among_equal_borders_the_nearest_mean_is_taken(value, expected):
    """Between 10 and 20, 14 goes to 10 and 16 to 20."""
    merged = _merge([0, 0, 1, 2, 2], [10, 10, value, 20, 20], 2)
    assert merged == [[0, 0, expected, 2, 2]]


def test_merging_repeats_until_none_is_small():
    """1 joins 2 (10 is near 11); the two (mean 10.5) are short of 3 and join 0."""
    labels = [0, 0, 0, 0, 1, 2, 3, 3, 3, 3]
    values = [0, 0, 0, 0, 10, 11, 30, 30, 30, 30]
    assert _merge(labels, values, 3) == [[0, 0, 0, 0, 0, 0, 3, 3, 3, 3]]


def test_regions_that_come_together_count_together():
    """1 between two pieces of 0 makes one piece of 5 of them, which may stay."""
    labels = [0, 0, 1, 0, 0, 2, 2, 2, 2, 2]
    assert _merge(labels, labels, 5) == [[0, 0, 0, 0, 0, 2, 2, 2, 2, 2]]


def test_a_region_without_neighbour_stays():
    """Cells that meet in a corner, or stand apart, are no neighbours."""
    labels = [[0, 0, -1, 1], [0, 0, -1, -1], [-1, -1, 2, -1]]
    assert _merge(labels, labels, 4) == labels


@settings(max_examples=100, deadline=None)
@given(arrays(np.int8, (8, 9), elements=st.integers(-1, 3)), st.integers(2, 12))
def test_none_is_small_but_those_without_neighbour(labels, least):
    """After merging, every region with fewer cells than the least borders on none."""
    merged = np.array(_merge(labels, labels, least))
    np.testing.assert_array_equal(merged < 0, labels < 0)
    ids = connected_regions(merged)
    sides = [(ids[1:], ids[:-1]), (ids[:, 1:], ids[:, :-1])]
    for one, other in sides:
        border = (one != other) & (one >= 0) & (other >= 0)
        for region in {*one[border].tolist(), *other[border].tolist()}:
            assert (ids == region).sum() >= least


def test_a_grid_fills_a_rectangle_of_whole_squares():
    """400 m by 300 m, turned by any angle, is twelve squares of 100 m."""
    for angle in (0, 30, 77, 135):
        field = affinity.rotate(shapely.box(0, 0, 400, 300), angle)
        squares = grid_polygons(field, side=100)
        assert _areas(squares) == [1e4] * 12
        assert shapely.area(shapely.union_all(squares)) == pytest.approx(12e4)


def test_what_a_grid_leaves_over_is_shared_by_both_ends():
    """410 m gives ends of 55 m; where 6,000 m² are asked they join their neighbours."""
    field = shapely.box(0, 0, 410, 100)
    pieces = grid_polygons(field, side=100)
    assert _areas(pieces) == [5500, 1e4, 1e4, 1e4, 5500]
    fewer = grid_polygons(field, side=100, min_area=6000)
    assert _areas(fewer) == [15500, 1e4, 15500]


def test_a_square_across_a_lane_is_two_pieces():
    """Each piece of a grid lies in one part of the field; a small part stays whole."""
    field = shapely.MultiPolygon(
        [shapely.box(0, 0, 140, 100), shapely.box(160, 0, 300, 100)]
    )
    assert _areas(grid_polygons(field, side=100)) == [14e3, 14e3]
    pieces = grid_polygons(field, side=100, min_area=1000)
    assert _areas(pieces) == [1e4, 4e3, 4e3, 1e4]
    alone = shapely.MultiPolygon(
        [shapely.box(0, 0, 100, 100), shapely.box(150, 0, 160, 5)]
    )
    assert sorted(p.area for p in grid_polygons(alone, side=100)) == [
        pytest.approx(50),
        pytest.approx(1e4),
    ]


def test_a_grid_of_too_many_squares_is_refused():
    """A metre's grid on ten hectares is 100,000 squares."""
    with pytest.raises(InputError, match="has 100,000 squares"):
        grid_polygons(shapely.box(0, 0, 1000, 100), side=1)


def test_given_polygons_are_clipped_and_known_by_index():
    """Halves drawn far beyond the field get half the field each."""
    west, east = shapely.box(-50, -50, 50, 150), shapely.box(50, -50, 150, 150)
    parts = given_polygons(SQUARE, [east, west])
    assert [index for index, _ in parts] == [0, 1]
    assert _areas([shape for _, shape in parts]) == [5000, 5000]
    assert parts[0][1].equals(EAST)


def test_a_small_overlap_goes_to_the_first():
    """40 m² in two halves of 5,000 m² are 0.8 %: the first keeps them."""
    parts = given_polygons(SQUARE, [shapely.box(0, 0, 50.4, 100), EAST])
    assert _areas([shape for _, shape in parts]) == [5040, 4960]


def test_a_small_gap_goes_to_the_longest_border():
    """A strip of 40 m², 36 m of its border with the east and 6 m with the west."""
    west = shapely.box(0, 0, 50, 100).difference(shapely.box(45, 0, 50, 1))
    east = EAST.difference(shapely.box(50, 0, 85, 1))
    parts = given_polygons(SQUARE, [west, east])
    assert _areas([shape for _, shape in parts]) == [4995, 5005]
    assert shapely.area(shapely.union_all([s for _, s in parts])) == pytest.approx(1e4)


def test_uncovered_ground_that_touches_none_goes_to_the_nearest():
    """A part of the field that nobody drew joins the polygon nearest to it."""
    field = shapely.MultiPolygon([SQUARE, shapely.box(110, 0, 115, 10)])
    parts = given_polygons(field, [WEST, EAST])
    assert _areas([shape for _, shape in parts]) == [5000, 5050]


@pytest.mark.parametrize(
    ("polygons", "message"),
    [
        (
            [shapely.box(0, 0, 51, 100), EAST],
            r"polygon 1 and polygon 2 overlap by 2.0 % of the smaller",
        ),
        (
            [WEST, shapely.box(60, 0, 100, 100)],
            r"the polygons leave 10.0 % of the field uncovered, more than 1 %",
        ),
        (
            [WEST, EAST, shapely.box(200, 0, 300, 100)],
            r"1 of 3 polygons lie outside the field \(polygon 3\)",
        ),
        (
            [shapely.Polygon([(0, 0), (100, 100), (100, 0), (0, 100)])],
            r"polygon 1: Self-intersection.*never crosses itself",
        ),
    ],
)
def test_polygons_that_cannot_tile_the_field_are_refused(polygons, message):
    """Overlap, gap, ground elsewhere and crossed outlines are named, with a remedy."""
    with pytest.raises(InputError, match=message):
        given_polygons(SQUARE, polygons)


def test_messages_use_the_names_that_are_given():
    """The caller says what a polygon is called."""
    with pytest.raises(
        InputError, match=r"fields\.geojson row 2 and fields\.geojson row 3"
    ):
        given_polygons(
            SQUARE,
            [SQUARE, WEST],
            names=["fields.geojson row 2", "fields.geojson row 3"],
        )


def test_what_is_drawn_by_hand_is_cut_out():
    """20 m by 20 m on the middle line takes 200 m² from each half."""
    remains, pieces = cut([WEST, EAST], [shapely.box(40, 40, 60, 60)])
    assert _areas(remains) == [4800, 4800]
    assert _areas(pieces) == [400]


def test_what_is_covered_wholly_is_gone():
    """A polygon under a cutter is None; the cutter keeps to the field."""
    remains, pieces = cut([WEST, EAST], [shapely.box(-10, -10, 50, 110)])
    assert remains[0] is None
    assert _areas([remains[1], pieces[0]]) == [5000, 5000]


def test_a_sliver_left_by_the_cut_joins_its_neighbour():
    """A strip of 0.1 m along the field's edge, 10 m² in all, joins the cutter."""
    whole = shapely.box(0.1, 0, 100, 100)
    remains, pieces = cut([SQUARE], [whole], sliver=20.0)
    assert remains[0] is None
    assert _areas(pieces) == [1e4]


def test_cutters_that_overlap_or_miss_the_field_are_refused():
    """Two needs for one place, or one for none, are refused by name."""
    one, other = shapely.box(0, 0, 20, 20), shapely.box(10, 0, 30, 20)
    with pytest.raises(InputError, match="polygon 1 and polygon 2 overlap"):
        cut([WEST, EAST], [one, other])
    with pytest.raises(InputError, match=r"outside the field \(override 1\)"):
        cut([WEST, EAST], [shapely.box(200, 0, 220, 20)], names=["override 1"])


def test_zones_are_numbered_from_the_north_then_from_the_west():
    """Of four squares the north-west comes first and the south-east last."""
    squares = [shapely.box(x, y, x + 1, y + 1) for y in (0, 1) for x in (1, 0)]
    assert zone_order(squares).tolist() == [3, 2, 1, 0]
