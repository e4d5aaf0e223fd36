"""Boundaries and polygons, from files that other libraries wrote."""

import json

import geopandas
import numpy as np
import pyogrio
import pytest
import shapefile
import shapely
from pyproj import CRS

from vrp.errors import InputError
from vrp.io.vector import read_boundary, read_polygons, to_field, transformed
from vrp.spatial.field import geodesic_area

OUTER = [[-84.0, 40.0], [-83.995, 40.0], [-83.995, 40.004], [-84.0, 40.004]]
HOLE = [[-83.998, 40.001], [-83.998, 40.002], [-83.997, 40.002], [-83.997, 40.001]]
GROUND = shapely.Polygon(OUTER, [HOLE])


def geojson(path, *geometries, crs=None, properties=None):
    features = [
        {"type": "Feature", "properties": each or {}, "geometry": geometry}
        for geometry, each in zip(
            geometries, properties or [None] * len(geometries), strict=True
        )
    ]
    text = {"type": "FeatureCollection", "features": features}
    if crs:
        text["crs"] = {"type": "name", "properties": {"name": crs}}
    path.write_text(json.dumps(text))
    return path


def alike(one, other):
    """Say whether two grounds differ by less than a square metre (1e-10 degree²)."""
    return one.symmetric_difference(other).area < 1e-10


def polygon(*rings):
    return {"type": "Polygon", "coordinates": [[*ring, ring[0]] for ring in rings]}


def square(x, y, side):
    return polygon([[x, y], [x + side, y], [x + side, y + side], [x, y + side]])


@pytest.fixture
def field(tmp_path):
    return read_boundary(geojson(tmp_path / "boundary.geojson", polygon(OUTER, HOLE)))


def test_area_and_hole(field):
    """The hole is no ground; the area is that of the ellipsoid's own degrees."""
    # A degree at 40° N is 85,394 m of longitude and 111,035 m of latitude (WGS 84
    # tables, common knowledge to five digits).
    expected = (0.005 * 0.004 - 0.001 * 0.001) * 85_394 * 111_035

    assert field.file == "boundary.geojson"
    assert len(field.lonlat.geoms[0].interiors) == 1
    assert geodesic_area(field.lonlat) == pytest.approx(expected, rel=1e-3)
    assert field.outline.area == pytest.approx(expected, rel=1e-3)


@pytest.mark.parametrize(
    ("name", "code"),
    [
        ("b.kml", 4326),
        ("b.fgb", 4269),
        ("b.shp", 4326),
        ("b.shp", 32616),
        ("b.shp", 2834),
        ("b.gpkg", 3857),
        ("b.gpkg", 2834),
    ],
)
def test_formats_and_crs(tmp_path, name, code):
    """Whatever the format and the declared CRS, the same ground is read."""
    frame = geopandas.GeoDataFrame(geometry=[GROUND], crs=4326).to_crs(code)
    frame.to_file(tmp_path / name, driver="KML" if name == "b.kml" else None)

    lonlat = read_boundary(tmp_path / name).lonlat

    assert alike(lonlat, GROUND)


def test_old_geojson_with_crs(tmp_path):
    """A crs member is obeyed; without it coordinates are longitude and latitude."""
    frame = geopandas.GeoDataFrame(geometry=[GROUND], crs=4326).to_crs(32616)
    given = shapely.geometry.mapping(frame.geometry[0])
    path = geojson(tmp_path / "b.geojson", given, crs="urn:ogc:def:crs:EPSG::32616")

    lonlat = read_boundary(path).lonlat

    assert alike(lonlat, GROUND)


def test_features_are_one_field(tmp_path):
    """Neighbours melt into one part, a part apart stays one, heights are dropped."""
    high = polygon([[*xy, 250.0] for xy in OUTER])
    beside = square(-83.995, 40.0, 0.004)
    apart = square(-83.98, 40.0, 0.002)

    lonlat = read_boundary(geojson(tmp_path / "b.geojson", high, beside, apart)).lonlat

    assert len(lonlat.geoms) == 2
    assert not lonlat.has_z
    assert lonlat.area == pytest.approx(0.005 * 0.004 + 0.004**2 + 0.002**2)


def test_one_of_two_layers(tmp_path):
    """An empty layer and a table do not stand in the way; two full layers do."""
    path = tmp_path / "b.gpkg"
    frame = geopandas.GeoDataFrame({"n": [1]}, geometry=[GROUND], crs=4326)
    frame.to_file(path, layer="field")
    frame.iloc[:0].to_file(path, layer="empty")
    pyogrio.write_dataframe(frame[["n"]], path, layer="table")

    assert read_boundary(path).lonlat.equals(GROUND)
    frame.to_file(path, layer="other")
    with pytest.raises(
        InputError, match=r"^b.gpkg: holds the layers field, other: exp"
    ):
        read_boundary(path)


BOW_TIE = polygon([OUTER[0], OUTER[2], OUTER[1], OUTER[3]])
LINE = {"type": "LineString", "coordinates": OUTER}
UTM = "urn:ogc:def:crs:EPSG::32616"


@pytest.mark.parametrize(
    ("geometries", "crs", "message"),
    [
        ([], None, "holds no features: export it again$"),
        (
            [polygon(OUTER), LINE],
            None,
            "feature 2: is a LineString, not a polygon: dra",
        ),
        ([None], None, "feature 1: has no geometry: draw or remove it$"),
        (
            [polygon(OUTER), {"type": "Polygon", "coordinates": []}],
            None,
            "feature 2: h",
        ),
        (
            [BOW_TIE],
            None,
            r"feature 1: its outline crosses .*\(Self-intersection\[-83.9\d+ 40.0\d+\]"
            r"\): mend the vertex there$",
        ),
        (
            [square(40.0, -84.0, 0.004)],
            None,
            "longitude 40, latitude -84 look swapped: put the longitude first$",
        ),
        (
            [square(500_000, 4_400_000, 400)],
            None,
            "longitude 500000, latitude 4400000 are out of range in degrees: declare",
        ),
        (
            [square(-84.0, 40.0, 0.004)],
            UTM,
            "declares EPSG:32616, but -84, 40 looks like degrees: declare EPSG:4326$",
        ),
        (
            [square(5e7, 4e6, 400)],
            UTM,
            "50000000, 4000000 is out of the range of EPSG:3",
        ),
        (
            [square(-84.0, 40.0, 1.0)],
            None,
            r"cover 9.\d+e\+05 ha, beyond 0.01 to 5,000 ",
        ),
        (
            [square(-84.0, 40.0, 1e-5)],
            None,
            r"cover 9.\d+e-05 ha, beyond 0.01 to 5,000 ",
        ),
        (
            [square(500_000, 4_400_000, 400)],
            "urn:ogc:def:crs:EPSG::27700",
            "500000, 4400000 is out of the range of EPSG:27700, which it declares: ",
        ),
        (
            [square(2_500_000, 4_400_000, 400)],
            UTM,
            r"lies at longitude -6\d.*, far outside the area of EPSG:32616, Between ",
        ),
    ],
)
def test_refused_boundary(tmp_path, geometries, crs, message):
    """The message names file, feature, value and remedy."""
    path = geojson(tmp_path / "b.geojson", *geometries, crs=crs)

    with pytest.raises(InputError, match=f"^b.geojson[:,] .*({message})"):
        read_boundary(path)


def test_missing_and_unreadable_file(tmp_path):
    """What is not there and what is no map are told apart."""
    (tmp_path / "b.geojson").write_text('{"type": "Fea')
    (tmp_path / "b.csv").write_text("lon,lat\n1,2\n")

    with pytest.raises(InputError, match=r"^none.shp: there is no such file in /"):
        read_boundary(tmp_path / "none.shp")
    with pytest.raises(InputError, match=r"^b.geojson: cannot be read as a map"):
        read_boundary(tmp_path / "b.geojson")
    with pytest.raises(
        InputError, match=r"^b.csv: holds a table and no polygons: give"
    ):
        read_boundary(tmp_path / "b.csv")


def test_shapefile_without_prj(tmp_path):
    """The remedy names the file that is missing."""
    with shapefile.Writer(str(tmp_path / "b"), shapefile.POLYGON) as writer:
        writer.field("n", "N")
        writer.poly([[*OUTER, OUTER[0]][::-1]])
        writer.record(1)

    with pytest.raises(
        InputError, match=r"^b.shp: declares no CRS, .*: add the b.prj "
    ):
        read_boundary(tmp_path / "b.shp")
    (tmp_path / "b.prj").write_text(CRS(4326).to_wkt("WKT1_ESRI"))
    assert read_boundary(tmp_path / "b.shp").lonlat.area == pytest.approx(2e-5)


def test_shapefile_without_its_index(tmp_path):
    """The remedy names the parts of a shapefile."""
    geopandas.GeoDataFrame(geometry=[GROUND], crs=4326).to_file(tmp_path / "b.shp")
    (tmp_path / "b.shx").unlink()

    with pytest.raises(InputError, match=r"^b.shp: cannot be read .*: give all its pa"):
        read_boundary(tmp_path / "b.shp")


def test_crs_that_is_nowhere(tmp_path):
    """A site plan's own axes place nothing."""
    wkt = 'ENGCRS["site",EDATUM["peg"],CS[Cartesian,2],AXIS["x",east],AXIS["y",north],LENGTHUNIT["metre",1]]'  # noqa: E501
    wkb = np.array([shapely.to_wkb(GROUND)], dtype=object)
    pyogrio.raw.write(
        tmp_path / "b.gpkg", wkb, [], [], crs=wkt, geometry_type="Polygon"
    )

    with pytest.raises(
        InputError, match=r"^b.gpkg: 'site' places nothing on the earth"
    ):
        read_boundary(tmp_path / "b.gpkg")


def test_polygons_with_columns(tmp_path, field):
    """Polygons come in the field's metres, numbered from 1, with their numbers."""
    frame = geopandas.GeoDataFrame(
        {"goal": [180, 210], "name": ["a", "b"]},
        geometry=[
            shapely.box(-84, 40, -83.997, 40.004),
            shapely.box(-83, 40, -82.9, 41),
        ],
        crs=4326,
    )
    frame.to_crs(32616).to_file(tmp_path / "goals.gpkg")

    polygons = read_polygons(tmp_path / "goals.gpkg", field=field, columns=["goal"])

    assert (polygons.file, polygons.rows) == ("goals.gpkg", (1, 2))
    assert polygons.columns["goal"].tolist() == [180.0, 210.0]
    assert polygons.shapes[0].area == pytest.approx(
        3e-3 * 4e-3 * 85_394 * 111_035, rel=1e-3
    )


@pytest.mark.parametrize(
    ("column", "message"),
    [
        (
            "gaol",
            "has no column 'gaol' .*: its columns are goal, name, the nearest 'goal'",
        ),
        ("name", "feature 1: name is 'a', not a number: give its value$"),
        ("goal", "feature 2: goal is blank, not a number: give its value$"),
    ],
)
def test_refused_column(tmp_path, field, column, message):
    """A column must be there and hold a number in every feature."""
    path = geojson(
        tmp_path / "goals.geojson",
        square(-84, 40, 0.002),
        square(-83.998, 40, 0.002),
        properties=[{"goal": 180, "name": "a"}, {"goal": None, "name": "b"}],
    )

    with pytest.raises(InputError, match=f"^goals.geojson[:,] {message}"):
        read_polygons(path, field=field, columns=[column])


def test_polygons_elsewhere(tmp_path, field):
    """Polygons of another field are refused, with the distance."""
    path = geojson(tmp_path / "z.geojson", square(-83.985, 40.0, 0.002))

    with pytest.raises(
        InputError, match=r"none of its 1 polygons .* is 854 m away: che"
    ):
        read_polygons(path, field=field)


# A hole that a neighbour fills. Where its corners lie on one line the ring is sound in
# degrees, and crosses itself by a tenth of a millimetre in metres.
AROUND = [
    (-84.3532618, 40.6210446),
    (-84.3526946, 40.6226205),
    (-84.3497754, 40.6227736),
    (-84.3486291, 40.6224404),
    (-84.3470808, 40.6222873),
    (-84.3463127, 40.6213057),
    (-84.3463601, 40.6191444),
    (-84.3471164, 40.6190814),
    (-84.3471401, 40.6174695),
    (-84.3533207, 40.6175145),
]
FILLED = [
    (-84.3499527, 40.6208375),
    (-84.3501418, 40.6204503),
    (-84.3497518, 40.6201531),
    (-84.34945332363948, 40.62016277334262),
    (-84.34931865403935, 40.61999297860299),
    (-84.34830734990008, 40.61979020814542),
    (-84.34739186905172, 40.620045155215195),
    (-84.34687140245379, 40.620421206579394),
    (-84.34653118959305, 40.62106993534538),
    (-84.3465443229394, 40.62143755375743),
    (-84.34694574865169, 40.62178703106861),
    (-84.34785867107189, 40.62180804605279),
    (-84.34933557461521, 40.62126439467355),
    (-84.34957927391949, 40.62099901617526),
    (-84.3495155, 40.6210266),
]


def test_what_projecting_bends_is_mended(sample_fields):
    """A polygon that is valid in degrees is valid in metres, its area kept."""
    field = read_boundary(sample_fields / "us" / "boundary.geojson")
    drawn = np.array([shapely.Polygon(AROUND, [FILLED])], dtype=object)
    assert shapely.is_valid(drawn).all()
    bent = transformed(drawn, "EPSG:4326", field.crs)
    assert not shapely.is_valid(bent).any()

    (moved,) = to_field(drawn, field)

    assert shapely.is_valid(moved)
    assert moved.area == pytest.approx(bent[0].area, rel=1e-9)
