"""Zones tile the field: no gap, no overlap, on one lattice of coordinates."""

import numpy as np
import pytest
import shapely
from scipy.ndimage import gaussian_filter

from vrp.errors import VrpError
from vrp.spatial.bands import best_bands
from vrp.spatial.coverage import (
    cell_owners,
    polygons_from_labels,
    single_parts,
    tile,
)
from vrp.spatial.field import LONLAT, Field, fitting_crs, geodesic_area, reproject
from vrp.spatial.grid import Cells, make_cells
from vrp.spatial.widths import widen
from vrp.spatial.zones import band_labels, cut, grid_polygons, merge_small

SQUARE = shapely.box(0, 0, 100, 100)


def _field(outline, lon=-93.4567, lat=42.1234):
    """Return a field on the ground, from an outline in metres around a place."""
    parts = [part for part in shapely.get_parts(outline) if part.area > 1.0]
    crs = fitting_crs(shapely.Point(lon, lat).buffer(0.001))
    lonlat = reproject(shapely.MultiPolygon(parts), crs, LONLAT)
    return Field("boundary.geojson", lonlat, crs, reproject(lonlat, LONLAT, crs))


def _assert_tiles(tiles, field):
    """Check the law that zones tile the field, by shapely and by area."""
    tiles = [one for one in tiles if one is not None]
    parts = shapely.get_parts(tiles)
    xy = shapely.get_coordinates(tiles)
    printed = np.array([[float(f"{v:.7f}") for v in pair] for pair in xy[:50]])
    np.testing.assert_array_equal(printed, xy[:50])
    np.testing.assert_array_equal(np.round(xy, 7), xy)
    assert shapely.is_valid(tiles).all()
    assert not shapely.is_empty(tiles).any()
    assert shapely.coverage_is_valid(tiles)
    assert shapely.is_ccw(shapely.get_exterior_ring(parts)).all()
    whole = shapely.union_all(tiles)
    areas = sum(geodesic_area(one) for one in tiles)
    assert areas == pytest.approx(geodesic_area(whole), rel=1e-9)
    # Each vertex of the boundary moves by half a lattice step in each direction at
    # most, 8 mm in all: so no part of the difference is wider than 2 cm.
    ground = reproject(whole, LONLAT, field.crs)
    strips = shapely.symmetric_difference(ground, field.outline)
    assert strips.area <= 0.02 * shapely.length(field.outline)
    assert shapely.buffer(strips, -0.02).is_empty


def _star(rng, centre, radius, corners):
    angle = np.sort(rng.uniform(0, 2 * np.pi, corners))
    far = radius * rng.uniform(0.55, 1.2, corners)
    ring = centre + np.column_stack([far * np.cos(angle), far * np.sin(angle)])
    return shapely.buffer(shapely.Polygon(ring), 0)


def _random_field(rng):
    """Return an irregular field: up to two holes, and a lane through half of them."""
    radius = rng.uniform(60, 300)
    ground = _star(rng, np.zeros(2), radius, int(rng.integers(5, 40)))
    for _ in range(rng.integers(0, 3)):
        centre = rng.uniform(-0.4, 0.4, 2) * radius
        size = radius * rng.uniform(0.01, 0.3)
        ground = ground.difference(_star(rng, centre, size, int(rng.integers(3, 15))))
    if rng.random() < 0.5:
        turn = rng.uniform(0, np.pi)
        along = 2 * radius * np.array([np.cos(turn), np.sin(turn)])
        lane = shapely.LineString([-along, along]).buffer(rng.choice([0.5, 3, 8]))
        ground = ground.difference(lane)
    return _field(ground, rng.uniform(-120, 20), rng.uniform(-45, 60))


def _random_zones(rng, field):
    """Return bands of a smooth surface, or a grid with a piece cut out."""
    if rng.random() < 0.2:
        squares = grid_polygons(field.outline, side=rng.uniform(30, 120))
        by_hand = field.outline.centroid.buffer(rng.uniform(20, 60))
        if by_hand.intersection(field.outline).area < 1.0:
            return squares
        remains, pieces = cut(squares, [by_hand])
        return [one for one in remains + pieces if one is not None]
    cells = make_cells(field.outline, size=float(rng.choice([5, 8, 12])))
    surface = gaussian_filter(rng.normal(size=cells.inside.shape), rng.uniform(1, 6))
    value = (surface / surface.std())[cells.inside]
    labels = cells.spread(band_labels(value, [-1, -0.3, 0.3, 1], closed="right"), -1)
    least = float(rng.choice([0, 500, 4000]))
    merged = merge_small(labels, value, cells, min_area=least)
    zones = polygons_from_labels(merged, cells, field.outline, sliver=max(25.0, least))
    return list(zones.values())


def _random_bands(rng, field):
    """Return bands of a surface that misplace least, none of them narrow or small."""
    cells = make_cells(field.outline, size=float(rng.choice([4, 6, 9])))
    surface = gaussian_filter(rng.normal(size=cells.inside.shape), rng.uniform(2, 12))
    value = (surface / surface.std())[cells.inside]
    sides = (value > rng.uniform(-0.5, 0.5)).astype(int)
    found = best_bands(value, parts=sides, most=int(rng.integers(2, 8)))
    labels = cells.spread(found[-1].labels, -1)
    least, width = float(rng.choice([0, 500, 4000])), rng.uniform(0, 50)
    labels = merge_small(labels, value, cells, min_area=least)
    labels = widen(labels, value, cells, min_width=width)
    labels = merge_small(labels, value, cells, min_area=least)
    sliver = max(cells.size**2, least)
    zones = polygons_from_labels(labels, cells, field.outline, sliver=sliver)
    return list(zones.values())


def _check_random_fields(seeds, zones=_random_zones):
    for seed in seeds:
        rng = np.random.default_rng(seed)
        field = _random_field(rng)
        tiles = tile(zones(rng, field), field)
        _assert_tiles(tiles, field)
        # No point of the outline moves by more than half a step of the lattice, 6 mm.
        edge = shapely.length(field.outline)
        assert sum(map(geodesic_area, filter(None, tiles))) == pytest.approx(
            geodesic_area(field.lonlat), abs=0.008 * edge
        )


def test_zones_tile_300_random_fields():
    """Stars with holes and lanes, parted by bands or grids, are tiled exactly."""
    _check_random_fields(range(300))


@pytest.mark.slow
def test_zones_tile_1000_more_random_fields():
    """A thousand more fields are tiled exactly."""
    _check_random_fields(range(1000, 2000))


def test_bands_of_a_least_width_tile_60_random_fields():
    """Bands cut where they misplace least, opened by a width, are tiled exactly."""
    _check_random_fields(range(3000, 3060), zones=_random_bands)


@pytest.mark.slow
def test_bands_of_a_least_width_tile_1000_random_fields():
    """A thousand fields of such bands are tiled exactly."""
    _check_random_fields(range(4000, 5000), zones=_random_bands)


@pytest.mark.parametrize(
    ("outline", "zones"),
    [
        (SQUARE, [SQUARE]),
        # A corner of one zone lies along the edge of another.
        (
            SQUARE,
            [
                shapely.box(0, 0, 50, 100),
                shapely.box(50, 0, 100, 40),
                shapely.box(50, 40, 100, 100),
            ],
        ),
        # A hole that touches the outline in a point.
        (
            SQUARE.difference(shapely.Polygon([(0, 50), (20, 40), (20, 60)])),
            None,
        ),
        # A hole that touches another in a point.
        (
            SQUARE.difference(
                shapely.union(shapely.box(20, 20, 50, 50), shapely.box(50, 50, 70, 70))
            ),
            None,
        ),
        # A neck 2 cm wide between two halves.
        (
            shapely.union_all(
                [
                    shapely.box(0, 0, 40, 100),
                    shapely.box(60, 0, 100, 100),
                    shapely.box(40, 50, 60, 50.02),
                ]
            ),
            None,
        ),
        # A lane 1 m wide, and a part of 2 m² far from the others.
        (
            shapely.MultiPolygon(
                [
                    shapely.box(0, 0, 49, 100),
                    shapely.box(50, 0, 100, 100),
                    shapely.box(150, 0, 152, 1),
                ]
            ),
            None,
        ),
    ],
)
def test_awkward_fields_are_tiled(outline, zones):
    """T-junctions, touching holes, narrow necks, lanes and crumbs come out whole."""
    field = _field(outline)
    if zones is None:
        cells = make_cells(field.outline, size=5)
        column = np.broadcast_to(
            np.arange(cells.inside.shape[1]) // 7, cells.inside.shape
        )
        labels = np.where(cells.inside, column, -1)
        zones = list(polygons_from_labels(labels, cells, field.outline).values())
    _assert_tiles(tile(zones, field), field)


def test_a_zone_alone_is_the_field():
    """One zone has the corners of the boundary, rounded to seven decimals."""
    lonlat = shapely.MultiPolygon(
        [shapely.Polygon([(10, 50), (10.00123456789, 50), (10.0012, 50.0009)])]
    )
    crs = fitting_crs(lonlat)
    field = Field("field", lonlat, crs, reproject(lonlat, LONLAT, crs))
    (only,) = tile([field.outline], field)
    expected = [(10, 50), (10.0012346, 50), (10.0012, 50.0009), (10, 50)]
    assert list(only.exterior.coords) == expected


def test_a_field_of_30_hectares_keeps_its_area():
    """600 m by 500 m with a pond of 100 m: 29 ha on the lattice, within 1e-5."""
    ground = shapely.box(0, 0, 600, 500).difference(shapely.box(200, 200, 300, 300))
    field = _field(ground)
    tiles = tile(grid_polygons(field.outline, side=90), field)
    _assert_tiles(tiles, field)
    total = sum(geodesic_area(one) for one in tiles)
    assert total == pytest.approx(geodesic_area(field.lonlat), rel=1e-5)
    assert total == pytest.approx(290_000, rel=2e-5)


def test_tiles_do_not_depend_on_where_a_ring_begins():
    """Turned rings, and the other winding, give the same text."""
    field = _field(SQUARE)
    turned = shapely.Polygon([(100, 100), (100, 0), (0, 0), (0, 100)])
    one, other = tile([SQUARE], field), tile([turned], field)
    assert one[0].wkt == other[0].wkt


def test_a_zone_too_thin_for_the_lattice_is_none():
    """A strip of 0.2 mm vanishes, the others keep their places in the answer."""
    field = _field(SQUARE)
    strips = [
        shapely.box(0, 0, 40, 100),
        shapely.box(40, 0, 40.0002, 100),
        shapely.box(40.0002, 0, 100, 100),
    ]
    tiles = tile(strips, field)
    assert tiles[1] is None
    _assert_tiles(tiles, field)
    west, east = tiles[0], tiles[2]
    assert geodesic_area(west) == pytest.approx(4000, abs=3)
    assert geodesic_area(east) == pytest.approx(6000, abs=3)


def test_a_gap_that_noding_does_not_close_goes_to_a_neighbour():
    """A slit of 8 mm by 100 m within the tolerance for area is filled."""
    field = _field(SQUARE)
    halves = [shapely.box(0, 0, 50, 100), shapely.box(50.008, 0, 100, 100)]
    _assert_tiles(tile(halves, field), field)


@pytest.mark.parametrize(
    ("zones", "message"),
    [
        ([shapely.box(0, 0, 50, 100)], "1 zones leave out 5000.00 m²"),
        ([SQUARE, shapely.box(0, 0, 50, 100)], "2 zones overlap by 5000.00 m²"),
    ],
)
def test_what_does_not_cover_the_field_is_refused(zones, message):
    """Half a field, and half of it twice, are no coverage."""
    with pytest.raises(VrpError, match=message):
        tile(zones, _field(SQUARE))


def test_labels_become_the_ground_of_their_cells():
    """Sixteen cells of 10 m in two halves are 800 m² each, split by a straight line."""
    labels = np.array([[0, 0, 1, 1]] * 4)
    cells = Cells(0.0, 40.0, 10.0, labels >= 0)
    outline = shapely.box(0, 0, 40, 40)
    zones = polygons_from_labels(labels, cells, outline)
    assert zones[0].equals(shapely.box(0, 0, 20, 40))
    assert zones[1].equals(shapely.box(20, 0, 40, 40))


def test_the_outline_is_kept_to_the_vertex():
    """Zones end where the field ends, though the cells do not."""
    labels = np.array([[0, 0, 1, 1]] * 4)
    cells = Cells(0.0, 40.0, 10.0, labels >= 0)
    outline = shapely.Polygon([(1, 2), (39, 1), (41, 43), (7, 38), (3, 20)])
    zones = polygons_from_labels(labels, cells, outline)
    whole = shapely.union_all(list(zones.values()))
    assert whole.symmetric_difference(outline).area < 1e-9
    assert zones[0].area + zones[1].area == pytest.approx(outline.area)


def test_the_stairs_of_cells_become_a_line():
    """A border along the diagonal of 40 cells keeps fewer than 8 corners."""
    row, column = np.indices((40, 40))
    labels = (column > row).astype(int)
    cells = Cells(0.0, 40.0, 1.0, labels >= 0)
    zones = polygons_from_labels(labels, cells, shapely.box(0, 0, 40, 40))
    border = shapely.intersection(zones[0].boundary, zones[1].boundary)
    diagonal = shapely.LineString([(0, 40), (40, 0)])
    assert shapely.get_num_coordinates(shapely.line_merge(border)) < 8
    assert border.hausdorff_distance(diagonal) < 2.0
    assert border.length == pytest.approx(diagonal.length, rel=0.05)


def test_a_part_without_cells_takes_the_nearest_label():
    """A crumb of the field beside label 1 is of label 1."""
    labels = np.array([[0, 0, 1, 1]] * 4)
    cells = Cells(0.0, 40.0, 10.0, labels >= 0)
    crumb = shapely.box(43, 1, 44, 2)
    field = shapely.MultiPolygon([shapely.box(0, 0, 40, 40), crumb])
    zones = polygons_from_labels(labels, cells, field)
    assert zones[1].area == pytest.approx(801)
    assert zones[1].covers(crumb)


def test_slivers_of_the_cut_join_their_neighbour():
    """A tip of 2 m² of label 1 is left by the outline and goes to label 0."""
    labels = np.array([[0, 0, 1, 1]] * 4)
    cells = Cells(0.0, 40.0, 10.0, labels >= 0)
    outline = shapely.union(shapely.box(0, 0, 20, 40), shapely.box(20, 0, 22, 1))
    zones = polygons_from_labels(labels, cells, outline)
    assert list(zones) == [0]
    assert zones[0].area == pytest.approx(802)
    assert len(polygons_from_labels(labels, cells, outline, sliver=1.0)) == 2


def test_labels_are_needed():
    """Cells of which none has a label are no zones."""
    labels = np.full((4, 4), -1)
    with pytest.raises(VrpError, match="none of 16 cells has a label"):
        polygons_from_labels(
            labels, Cells(0.0, 40.0, 10.0, labels < 0), shapely.box(0, 0, 40, 40)
        )


def test_parts_know_their_zone():
    """Zones of two, no and one part give three parts, of the first and the third."""
    left, right = shapely.box(0, 0, 1, 1), shapely.box(2, 0, 3, 1)
    parts = single_parts([shapely.MultiPolygon([left, right]), None, left])
    assert [index for index, _ in parts] == [0, 0, 2]
    assert [part.area for _, part in parts] == [1, 1, 1]


def test_cells_know_their_polygon():
    """Cells go by their centre, and to the nearest polygon where it lies in none."""
    cells = make_cells(shapely.box(0, 0, 40, 10), size=10)
    halves = [shapely.box(0, 0, 18, 10), shapely.box(18, 0, 32, 10)]
    assert cell_owners(halves, cells).tolist() == [0, 0, 1, 1]
