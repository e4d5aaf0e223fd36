"""Values of layers on cells, by hand."""

import numpy as np
import pytest
import shapely
from pyproj import CRS

from vrp.spatial.field import fitting_crs, reproject
from vrp.spatial.grid import Cells
from vrp.spatial.layer_values import (
    AreaValues,
    PointValues,
    RasterValues,
    filled,
    on_cells,
)

METRES = CRS.from_epsg(32616)


def _cells(rows, columns, size=10.0):
    """Return cells from the origin, east and south."""
    return Cells(0.0, 0.0, size, np.ones((rows, columns), bool))


def _raster(values, side, crs=METRES, west=0.0, north=0.0):
    return RasterValues("r", np.array(values, float), west, north, side, side, crs)


def test_a_pixel_for_each_cell_gives_its_own_value():
    """Where pixels are the cells every cell has its pixel's value."""
    values = [[1.0, 2.0, 3.0], [4.0, 5.0, 6.0]]
    found, how = on_cells(_raster(values, 10.0), _cells(2, 3), crs=METRES)
    assert found.tolist() == [1, 2, 3, 4, 5, 6]
    assert how == "bilinear at the cell's centre"


def test_between_pixels_values_are_bilinear():
    """A cell's centre a quarter of the way from 0 to 8, and from 0 to 4, is 2 + 1."""
    # Centres of the pixels lie 40 m apart at 20 and 60 m; the cell's at 30 and 30 m.
    raster = _raster([[0.0, 8.0], [4.0, 12.0]], 40.0)
    found, _ = on_cells(
        raster, Cells(25.0, -25.0, 10.0, np.ones((1, 1), bool)), crs=METRES
    )
    assert found.tolist() == pytest.approx([3.0])


def test_small_pixels_are_averaged():
    """A cell of 10 m over pixels of 5 m is the mean of four."""
    raster = _raster([[1.0, 3.0], [5.0, 7.0]], 5.0)
    found, how = on_cells(raster, _cells(1, 1), crs=METRES)
    assert found.tolist() == pytest.approx([4.0])
    assert how == "mean of 4 places in the cell"


def test_gaps_and_ground_beyond_a_raster_are_missing():
    """A pixel without a value, and a cell outside, have none; others keep theirs."""
    raster = _raster([[1.0, np.nan, 3.0]], 10.0)
    found, _ = on_cells(raster, _cells(1, 4), crs=METRES)
    np.testing.assert_array_equal(found, [1.0, np.nan, 3.0, np.nan])


def test_a_raster_in_degrees_is_met_where_it_lies():
    """A slope of 1 a millidegree eastwards is read at the cells' own longitudes."""
    crs = fitting_crs(shapely.box(-84.31, 40.60, -84.30, 40.61))
    side = 0.0005
    values = np.tile(np.arange(40.0), (40, 1))
    raster = RasterValues("r", values, -84.315, 40.615, side, side, CRS.from_epsg(4326))
    corner = reproject(shapely.Point(-84.306, 40.606), CRS.from_epsg(4326), crs)
    cells = Cells(corner.x, corner.y, 20.0, np.ones((3, 5), bool))
    found, _ = on_cells(raster, cells, crs=crs)
    places = reproject(shapely.MultiPoint(cells.xy), crs, CRS.from_epsg(4326))
    lon = shapely.get_coordinates(places)[:, 0]
    assert found == pytest.approx((lon + 84.315) / side - 0.5, abs=1e-6)


def test_points_within_the_radius_are_averaged():
    """Of 1 and 3 at 4 m and 9 at 14 m a radius of 5 m takes the mean of the two."""
    points = PointValues(
        "p",
        np.array([[5.0, -1.0], [5.0, -9.0], [5.0, -19.0]]),
        np.array([1.0, 3.0, 9.0]),
        5.0,
    )
    found, how = on_cells(points, _cells(2, 2), crs=METRES)
    # The second row's centre, 15 m south, has the third point at 4 m.
    np.testing.assert_array_equal(found, [2.0, np.nan, 9.0, np.nan])
    assert how == "mean of the points within 5 m"


def test_without_a_radius_it_follows_the_points():
    """Points on a square of 20 m reach one and a half times √(400 / 4) = 10 m."""
    corners = np.array([[0.0, 0.0], [20.0, 0.0], [0.0, -20.0], [20.0, -20.0]])
    points = PointValues("p", corners, np.array([1.0, 2.0, 3.0, 4.0]), None)
    found, how = on_cells(points, _cells(2, 2), crs=METRES)
    assert how == "mean of the points within 15 m"
    assert found.tolist() == [1.0, 2.0, 3.0, 4.0]


def test_a_polygon_gives_its_value_to_the_centres_in_it():
    """A polygon over the western column only leaves the east without a value."""
    areas = AreaValues("a", np.array([shapely.box(0, -20, 9, 0)]), np.array([7.0]))
    found, _ = on_cells(areas, _cells(2, 2), crs=METRES)
    np.testing.assert_array_equal(found, [7.0, np.nan, 7.0, np.nan])


def test_what_is_missing_is_taken_from_the_nearest_cell():
    """Two cells at the end of a row take the value beside them."""
    cells = _cells(1, 5)
    values = np.array([1.0, 2.0, np.nan, np.nan, 9.0])
    assert filled(values, cells).tolist() == [1.0, 2.0, 2.0, 9.0, 9.0]
    assert filled(np.arange(5.0), cells).tolist() == [0, 1, 2, 3, 4]
