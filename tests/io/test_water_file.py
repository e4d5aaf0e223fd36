"""Water features from files of any kind."""

import json

import numpy as np
import pytest
import shapely
from pyproj import Transformer

from vrp.errors import InputError
from vrp.io.field_file import read_field_file
from vrp.io.vector import read_boundary
from vrp.io.water_file import read_water
from vrp.spatial.setbacks import nearest
from vrp.water_plan import FeatureFile


@pytest.fixture
def field(ground):
    return read_boundary(ground.write().parent / "boundary.geojson")


def write(path, shapes, kinds=None, *, crs=None):
    """Write shapes as they are, in degrees or in a CRS that the file declares."""
    features = [
        {
            "type": "Feature",
            "properties": {} if kinds is None else {"what": kinds[n]},
            "geometry": json.loads(shapely.to_geojson(shape)),
        }
        for n, shape in enumerate(shapes)
    ]
    named = {"crs": {"type": "name", "properties": {"name": crs}}} if crs else {}
    text = {"type": "FeatureCollection", **named, "features": features}
    path.write_text(json.dumps(text))
    return path


def test_mixed_features(tmp_path, field):
    """Points, lines, polygons and collections of one file, each of its own kind."""
    shapes = [
        shapely.Point(-84.3, 40.6),
        shapely.LineString([(-84.3, 40.6), (-84.29, 40.61)]),
        shapely.box(-84.3, 40.6, -84.299, 40.601),
        shapely.MultiPoint([(-84.3, 40.6), (-84.29, 40.6)]),
    ]
    kinds = ["well", "Stream", "lake", "Tile Inlet"]
    path = write(tmp_path / "water.geojson", shapes, kinds)

    found = read_water(FeatureFile(file=path, column="what"), field=field)

    assert found.kinds == ("well", "stream", "lake", "tile-inlet")
    assert found.rows == (1, 2, 3, 4)
    named = [one.geom_type for one in found.shapes]
    assert named == ["Point", "LineString", "Polygon", "MultiPoint"]


def test_any_crs(tmp_path, field):
    """A well in UTM zone 16 stands where its longitude and latitude say."""
    to_utm = Transformer.from_crs("EPSG:4326", "EPSG:32616", always_xy=True)
    place = shapely.Point(*to_utm.transform(-84.2985, 40.6012))
    crs = "urn:ogc:def:crs:EPSG::32616"
    path = write(tmp_path / "well.geojson", [place], crs=crs)

    found = read_water(FeatureFile(file=path, kind="well"), field=field)

    to_field = Transformer.from_crs("EPSG:4326", field.crs, always_xy=True)
    wanted = to_field.transform(-84.2985, 40.6012)
    np.testing.assert_allclose(found.shapes[0].coords[0], wanted, atol=1e-3)


def test_a_long_line_is_straight_in_its_own_crs(tmp_path, field):
    """A parallel of 20 km bends in metres: the creek lies on it, not on the chord."""
    parallel = shapely.LineString([(-84.42, 40.599), (-84.18, 40.599)])
    path = write(tmp_path / "creek.geojson", [parallel])

    found = read_water(FeatureFile(file=path, kind="stream"), field=field)

    to_field = Transformer.from_crs("EPSG:4326", field.crs, always_xy=True)
    middle = shapely.Point(*to_field.transform(-84.2975, 40.599))
    ends = to_field.transform([-84.42, -84.18], [40.599, 40.599])
    chord = shapely.LineString(np.column_stack(ends))
    # By the ellipsoid's radius: 20.3 km squared × tan 40.6° / (8 × 6,378 km) is 7 m.
    assert chord.distance(middle) > 5.0
    assert found.shapes[0].distance(middle) < 0.01


def test_the_other_side_of_the_earth(tmp_path, field):
    """A well at the antipode, as a wrong sign makes it, is far and no failure."""
    path = write(tmp_path / "well.geojson", [shapely.Point(95.7, -40.6)])

    found = read_water(FeatureFile(file=path, kind="well"), field=field)

    assert nearest(found.shapes, field.outline)[0] > 1e6


def test_what_crosses_itself_is_mended(tmp_path, field):
    """A lake drawn as a bow tie is both of its halves."""
    tie = shapely.Polygon(
        [(-84.3, 40.6), (-84.298, 40.602), (-84.298, 40.6), (-84.3, 40.602)]
    )
    path = write(tmp_path / "lake.geojson", [tie])

    found = read_water(FeatureFile(file=path, kind="lake"), field=field)

    assert found.shapes[0].is_valid
    assert found.shapes[0].area > 0.0


@pytest.mark.parametrize(
    ("kinds", "asked", "said"),
    [
        (None, {}, "of which kind its features are is not told"),
        (
            ["river"],
            {"column": "what"},
            "feature 1: what is 'river': use one of stream",
        ),
        (["well"], {"column": "wha"}, "no column 'wha'.*nearest 'what'"),
    ],
)
def test_refused_kinds(tmp_path, field, kinds, asked, said):
    """A kind that is missing or unknown is refused with those that there are."""
    point = shapely.Point(-84.3, 40.6)
    path = write(tmp_path / "water.geojson", [point], kinds)

    with pytest.raises(InputError, match=said):
        read_water(FeatureFile(file=path, **asked), field=field)


def test_refused_without_geometry(tmp_path, field):
    """A feature without a place is refused by its number."""
    path = tmp_path / "water.geojson"
    both = [{"type": "Point", "coordinates": [-84.3, 40.6]}, None]
    features = [{"type": "Feature", "properties": {}, "geometry": one} for one in both]
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features}))

    with pytest.raises(InputError, match="feature 2: has no geometry"):
        read_water(FeatureFile(file=path, kind="well"), field=field)


def test_paths_belong_to_the_field_file(ground):
    """Features and rules that are named by path are looked for beside the file."""
    ground.text += """
[water]
features = ["creek.geojson", { file = "wells.gpkg", kind = "well" }]
rules = ["ohio-590-manure", "own.toml"]
elevation = "heights.tif"
distance = { stream = 35 }
"""
    water = read_field_file(ground.write()).plan.water

    folder = ground.folder
    assert [one.file for one in water.features] == [
        folder / "creek.geojson",
        folder / "wells.gpkg",
    ]
    assert water.rules == ("ohio-590-manure", str(folder / "own.toml"))
    assert water.elevation == folder / "heights.tif"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (
            'features = [{ file = "a.shp", kind = "well", column = "k" }]',
            r"water.features\[1\] has both kind and column",
        ),
        ('features = ["a.shp", "a.shp"]', "water.features names a.shp twice"),
        ('elevation_unit = "m"', "elevation_unit is given, but water.elevation is not"),
        (
            "distance = { stream = 35 }",
            "water.distance.stream is given, but no water.f",
        ),
        ('features = "a.shp"', r"water.features must be a list"),
        (
            'features = ["a.shp"]\ndistance = { river = 3 }',
            "water.distance.river = 'river': use one of 'stream', 'ditch'",
        ),
        (
            'features = ["a.shp"]\ndistance = { stream = -3 }',
            "water.distance.stream = -3: must be at least 0",
        ),
    ],
)
def test_contradictions(ground, text, said):
    """Keys that contradict each other are refused by name."""
    ground.text += f"\n[water]\n{text}\n"

    with pytest.raises(InputError, match=said):
        read_field_file(ground.write())
