"""A field's CRS, reprojection and areas."""

import numpy as np
import pytest
import shapely

from vrp.errors import InputError
from vrp.spatial.field import LONLAT, Samples, fitting_crs, geodesic_area, reproject

# WGS 84 (NGA.STND.0036, 2014): semi-major axis [m] and flattening.
AXIS, FLATTENING = 6378137.0, 1 / 298.257223563


def _quadrangle_area(width, south, north):
    """Return the area between two parallels [m²] by integral over the ellipsoid."""
    squared = FLATTENING * (2 - FLATTENING)
    e = np.sqrt(squared)

    def below(latitude):
        s = np.sin(np.radians(latitude))
        return s / (1 - squared * s**2) + np.log((1 + e * s) / (1 - e * s)) / (2 * e)

    half = AXIS**2 * (1 - squared) / 2
    return half * np.radians(width) * (below(north) - below(south))


def test_area_is_that_of_the_ellipsoid():
    """A hundredth of a degree on the equator has the area that calculus gives."""
    expected = _quadrangle_area(0.01, 0.0, 0.01)
    assert expected == pytest.approx(1_230_907, rel=1e-5)  # 1113.19 m x 1105.74 m
    square = shapely.box(10.0, 0.0, 10.01, 0.01)
    assert geodesic_area(square) == pytest.approx(expected, rel=1e-8)


def test_holes_are_left_out_and_winding_is_not_asked():
    """A field of two parts with a hole is the parts less the hole, however wound."""
    outer, hole = shapely.box(0, 0, 0.01, 0.01), shapely.box(0.002, 0.002, 0.004, 0.004)
    other = shapely.box(0.02, 0, 0.03, 0.01)
    field = shapely.MultiPolygon([outer.difference(hole), other])
    expected = geodesic_area(outer) - geodesic_area(hole) + geodesic_area(other)
    assert geodesic_area(field) == pytest.approx(expected, rel=1e-12)
    clockwise = shapely.orient_polygons(field, exterior_cw=True)
    assert geodesic_area(clockwise) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("latitude", [-62.0, -35.0, 0.0, 41.3, 52.0, 70.0])
def test_projected_area_is_geodesic_within_a_millionth(latitude):
    """A field 2 km wide has the same area on the plane and on the ellipsoid."""
    half_height = 1000 / 111_000
    half_width = half_height / np.cos(np.radians(latitude))
    lonlat = shapely.segmentize(
        shapely.box(
            -93.4567 - half_width,
            latitude - half_height,
            -93.4567 + half_width,
            latitude + half_height,
        ),
        0.001,
    )
    plane = reproject(lonlat, LONLAT, fitting_crs(lonlat))
    assert plane.area == pytest.approx(4e6, rel=0.02)
    assert plane.area == pytest.approx(geodesic_area(lonlat), rel=1e-6)


def test_reprojection_returns_to_where_it_was():
    """There and back is the same within a millionth of a lattice step."""
    lonlat = shapely.box(8.5, 47.2, 8.51, 47.21)
    crs = fitting_crs(lonlat)
    back = reproject(reproject(lonlat, LONLAT, crs), crs, LONLAT)
    assert back.hausdorff_distance(lonlat) < 1e-12


@pytest.mark.parametrize(
    ("geometry", "message"),
    [
        (shapely.box(500_000, 4_600_000, 501_000, 4_601_000), "declare the CRS"),
        (shapely.box(10.0, 84.5, 10.01, 84.6), "declare the CRS"),
        (shapely.Polygon(), "declare the CRS"),
        (shapely.box(10.0, 50.0, 10.6, 50.1), "too far apart for one field"),
        (shapely.box(-179.99, 50.0, 179.99, 50.1), "too far apart for one field"),
    ],
)
def test_what_is_no_field_is_refused(geometry, message):
    """Metres, poles, nothing, and parts far from each other have no fitting CRS."""
    with pytest.raises(InputError, match=message):
        fitting_crs(geometry)


def test_samples_are_taken_by_mask_or_index():
    """Rows, ids, shapes, values and columns stay together; polygons have a centroid."""
    shapes = np.array([shapely.Point(1, 2), shapely.box(0, 0, 2, 2)], dtype=object)
    samples = Samples(
        "samples.csv",
        (2, 3),
        ("a", "b"),
        shapes,
        np.array([10.0, 20.0]),
        {"ph": np.array([6.5, np.nan])},
    )
    np.testing.assert_array_equal(samples.xy, [[1.0, 2.0], [1.0, 1.0]])
    for keep in (np.array([False, True]), np.array([1])):
        one = samples.take(keep)
        assert (one.rows, one.ids, one.value.tolist()) == ((3,), ("b",), [20.0])
        assert np.isnan(one.columns["ph"]).all()
