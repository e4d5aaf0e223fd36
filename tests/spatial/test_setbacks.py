"""Ground that is kept from water features."""

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from pyproj import Geod

from vrp.spatial.field import LONLAT, fitting_crs, reproject
from vrp.spatial.setbacks import edge, reach, setbacks, take_out

GEOD = Geod(ellps="WGS84")
FIELD = shapely.box(0.0, 0.0, 400.0, 300.0)


def features(*shapes):
    return np.array(shapes, dtype=object)


def geodesic_to(feature, lon, lat):
    """Return the shortest geodesic from a place to a feature's points [m]."""
    # A vertex in every metre or so, whose distance is at most a millimetre too long.
    lines = feature.boundary if feature.geom_type == "Polygon" else feature
    points = shapely.get_coordinates(shapely.segmentize(lines, 1e-5))
    _, _, apart = GEOD.inv(
        np.full(len(points), lon), np.full(len(points), lat), *points.T
    )
    return apart.min()


@pytest.mark.parametrize("latitude", [30.0, -38.0, 45.0, 60.0])
@pytest.mark.parametrize("distance", [10.668, 30.48, 91.44])
@pytest.mark.parametrize(
    "shape",
    [
        "POINT (0.001 0.0005)",
        "LINESTRING (-0.001 0, 0.0005 0.0008, 0.0009 0.0006, 0.003 0.002)",
        "POLYGON ((0 0, 0.001 0, 0.0014 0.0008, 0.0002 0.0006, 0 0))",
    ],
    ids=["point", "line", "polygon"],
)
def test_distance_on_the_ellipsoid(shape, distance, latitude):
    """The edge lies at the distance by geodesics, within 0.1 % and never nearer."""
    feature = shapely.transform(
        shapely.from_wkt(shape), lambda xy: xy + np.array([-89.3, latitude])
    )
    crs = fitting_crs(feature.buffer(0.005))

    around = reach(features(reproject(feature, LONLAT, crs)), distance=distance)

    places = shapely.get_coordinates(reproject(around.exterior, crs, LONLAT))
    apart = [geodesic_to(feature, lon, lat) for lon, lat in places[::5]]
    assert min(apart) > distance * (1.0 - 1e-5)
    assert max(apart) < distance * 1.001


def test_a_creek_along_the_boundary():
    """A creek on the field's side 400 m long, kept by 10 m, takes 4,000 m²."""
    creek = shapely.LineString([(-50.0, 0.0), (450.0, 0.0)])

    found = setbacks(FIELD, [(features(creek), 10.0)], throw=0.0)

    assert found.kept[0].area == pytest.approx(4000.0, rel=0.001)
    assert found.strip is None


@pytest.mark.parametrize(("away", "area"), [(10.0, 0.0), (15.0, 0.0), (4.0, 2400.0)])
def test_distance_counts_from_the_water(away, area):
    """Where the boundary follows the bank 10 m off, nothing is cut; at 4 m 6 m are."""
    creek = shapely.LineString([(-50.0, -away), (450.0, -away)])

    (kept,) = setbacks(FIELD, [(features(creek), 10.0)], throw=0.0).kept

    # Chords reach 75 millionths too far, less than a millimetre.
    assert (0.0 if kept is None else kept.area) == pytest.approx(area, abs=0.5)


def test_strip_of_half_a_swath():
    """A spreader that throws 9 m to its side is kept from 9 m more, all along."""
    creek = shapely.LineString([(-50.0, 0.0), (450.0, 0.0)])

    found = setbacks(FIELD, [(features(creek), 10.0)], throw=9.0)

    assert found.strip.area == pytest.approx(400.0 * 9.0, rel=0.001)
    assert found.strip.distance(creek) == pytest.approx(10.0, rel=0.001)


def test_distance_of_nothing():
    """At 0 a pond keeps its own ground; it, a ditch and a well keep off the throw."""
    pond = shapely.box(100.0, 100.0, 140.0, 120.0)
    ditch = shapely.LineString([(0.0, 200.0), (400.0, 200.0)])
    well = shapely.Point(300.0, 50.0)

    found = setbacks(
        FIELD, [(features(ditch, well), 0.0), (features(pond), 0.0)], throw=5.0
    )

    assert found.kept[0] is None
    assert found.kept[1].area == pytest.approx(800.0)
    # Two sides of 40 and 20 m, and four quarters of a circle; 400 m of ditch by 10;
    # the circle about the well.
    wide = 600.0 + np.pi * 25.0 + 4000.0 + np.pi * 25.0
    assert found.strip.area == pytest.approx(wide, rel=0.001)
    still = setbacks(FIELD, [(features(ditch, well), 0.0)], throw=0.0)
    assert (still.kept, still.strip) == ((None,), None)


def test_ground_of_two_features_counts_once():
    """What two reach belongs to the first, and no ground to both."""
    one, other = shapely.Point(100.0, 100.0), shapely.Point(110.0, 100.0)

    first, second = setbacks(
        FIELD, [(features(one), 20.0), (features(other), 20.0)], throw=0.0
    ).kept

    assert first.area == pytest.approx(np.pi * 400.0, rel=0.001)
    assert first.intersection(second).area == pytest.approx(0.0, abs=0.01)


def test_slivers():
    """Excluded ground of a hand's breadth stays; so little of a zone beside it goes."""
    halves = [
        shapely.box(0.0, 0.0, 200.0, 300.0),
        shapely.box(200.0, 0.0, 400.0, 300.0),
    ]
    thin = shapely.box(0.0, 0.0, 0.5, 1.0)
    middle = shapely.box(200.001, 0.0, 210.0, 300.0)

    left, out = take_out(halves, [thin, middle])

    assert left[0].area == pytest.approx(200.0 * 300.0 - 0.5)
    assert out[0].equals(thin)
    assert out[1].area == pytest.approx(10.0 * 300.0)
    assert left[1].area == pytest.approx(190.0 * 300.0)


def test_edge_inside_the_field():
    """The line ends where the field does: of a strip along it only the inner side."""
    strip, rest = (
        shapely.box(0.0, 0.0, 400.0, 10.0),
        shapely.box(0.0, 10.0, 400.0, 300.0),
    )

    line = edge([strip], [strip, rest])

    assert line.length == pytest.approx(400.0)
    assert line.bounds == (0.0, 10.0, 400.0, 10.0)


coordinate = st.floats(-60.0, 460.0).map(lambda value: round(value, 2))
place = st.tuples(coordinate, coordinate)
water = st.one_of(
    place.map(shapely.Point),
    st.lists(place, min_size=2, max_size=5, unique=True).map(shapely.LineString),
    st.tuples(place, st.floats(1.0, 80.0)).map(
        lambda pond: shapely.Point(pond[0]).buffer(pond[1], quad_segs=3)
    ),
)
group = st.tuples(
    st.lists(water, min_size=1, max_size=3),
    st.floats(0.0, 60.0).map(lambda far: round(far, 2)),
)
RINGS = shapely.union_all(
    [
        shapely.Polygon(
            [(0, 0), (400, 10), (380, 300), (180, 210), (10, 290)],
            [[(50, 50), (90, 60), (80, 110), (50, 100)]],
        ),
        shapely.box(410.0, 0.0, 450.0, 290.0),
    ]
)


@given(
    st.lists(group, min_size=1, max_size=3),
    st.floats(0.0, 20.0).map(lambda far: round(far, 2)),
)
def test_any_water_leaves_a_tiling(groups, throw):
    """Field = zones + excluded ground, none twice, and no zone nearer than asked."""
    zones = [
        shapely.intersection(RINGS, shapely.box(0.0, y, 460.0, y + 100.0))
        for y in (0.0, 100.0, 200.0)
    ]
    asked = [(features(*shapes), distance) for shapes, distance in groups]

    found = setbacks(RINGS, asked, throw=throw)
    left, out = take_out(zones, [*found.kept, found.strip])

    # A tenth of a millimetre along all edges is a tenth of a square metre.
    shapes = [one for one in (*left, *out) if one is not None]
    assert sum(one.area for one in shapes) == pytest.approx(RINGS.area, abs=0.1)
    assert shapely.union_all(shapes).area == pytest.approx(RINGS.area, abs=0.1)
    rest = shapely.union_all([one for one in left if one is not None])
    for shapes, distance in asked:
        for one in shapes:
            if not rest.is_empty and (distance > 0.0 or one.area > 0.0):
                assert rest.distance(one) >= distance + throw - 1e-3
