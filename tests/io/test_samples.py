"""Samples from tables and map files, on a field of 427 × 444 m at 84° W, 40° N."""

import json
from pathlib import Path

import geopandas
import numpy as np
import pandas
import pyogrio
import pytest
import shapefile
import shapely

from vrp.errors import InputError
from vrp.io.samples import read_samples
from vrp.io.vector import read_boundary
from vrp.plan import SampleTable

WEST, SOUTH, EAST, NORTH = -84.0, 40.0, -83.995, 40.004
PLACES = [(-83.9995 + 0.001 * (i % 5), 40.0005 + 0.001 * (i // 5)) for i in range(20)]
VALUES = [10.0 + i for i in range(20)]
CSV = {"x": "lon", "y": "lat", "crs": "EPSG:4326"}


@pytest.fixture
def field(tmp_path):
    ring = [[WEST, SOUTH], [EAST, SOUTH], [EAST, NORTH], [WEST, NORTH], [WEST, SOUTH]]
    path = tmp_path / "boundary.geojson"
    path.write_text(json.dumps({"type": "Polygon", "coordinates": [ring]}))
    return read_boundary(path)


def lines(places=PLACES, values=VALUES):
    rows = zip(places, values, strict=True)
    return ["id,lon,lat,P", *(f"{n},{x},{y},{v}" for n, ((x, y), v) in enumerate(rows))]


def save(tmp_path, rows, name="s.csv", encoding="utf-8", newline="\n"):
    path = tmp_path / name
    path.write_bytes(newline.join([*rows, ""]).encode(encoding))
    return path


def table(file, **keys):
    return SampleTable(
        file=file,
        **{
            "soil_test": "P",
            "method": "olsen",
            "unit": "ppm",
            "depth": 8.0,
            **keys,
        },
    )


def read(file, field, **keys):
    return read_samples(table(file, **keys), field, metres_per_length=0.3048)


def frame(places=PLACES, values=VALUES):
    ids = [f"A{n}" for n in range(len(places))]
    points = shapely.points(places)
    return geopandas.GeoDataFrame({"id": ids, "P": values}, geometry=points, crs=4326)


def test_csv(tmp_path, field):
    """Values, places and rows come as the file shows them; the heading is row 1."""
    found = read(save(tmp_path, lines()), field, **CSV)

    samples = found.samples
    assert (samples.file, samples.rows) == ("s.csv", tuple(range(2, 22)))
    assert samples.value.tolist() == VALUES
    # A degree at 40° N is 85,394 m of longitude and 111,035 m of latitude.
    assert np.ptp(samples.xy, axis=0) == pytest.approx([341.6, 333.1], abs=0.1)
    assert (found.used_outside, found.dropped) == ((), ())
    assert found.spacing == pytest.approx(85.4, abs=0.05)
    assert found.notes == ()


@pytest.mark.parametrize(
    "change",
    [
        {"encoding": "utf-8-sig"},
        {"encoding": "utf-16"},
        {"newline": "\r\n"},
        {"newline": "\r"},
        {"separator": ";"},
        {"separator": "\t"},
        {"separator": ";", "point": ","},
        {"quote": '"'},
        {"after": ["", ",,,", "  "]},
        {"name": "s.TXT", "separator": "\t", "point": ","},
    ],
)
def test_variants_of_csv(tmp_path, field, change):
    """Every dialect that spreadsheets write holds the same samples."""
    separator, quote = change.get("separator", ","), change.get("quote", "")
    rows = [
        separator.join(
            f"{quote}{cell.replace('.', change.get('point', '.'))}{quote}"
            for cell in line.split(",")
        )
        for line in lines()
    ]
    keys = {
        key: change[key] for key in ("encoding", "newline", "name") if key in change
    }
    path = save(tmp_path, rows + change.get("after", []), **keys)

    samples = read(path, field, **CSV).samples

    assert samples.value.tolist() == VALUES
    assert samples.rows == tuple(range(2, 22))
    assert np.ptp(samples.xy, axis=0) == pytest.approx([341.6, 333.1], abs=0.1)


def test_rows_count_blank_lines_and_lines_in_quotes(tmp_path, field):
    """Row numbers are those of a spreadsheet."""
    rows = [
        "note,lon,lat,P",
        '"two\nlines",-83.999,40.001,12',
        "",
        "b,-83.998,40.001,9",
    ]

    assert read(save(tmp_path, rows), field, **CSV).samples.rows == (2, 4)


def test_latin_1(tmp_path, field):
    """A file that is not UTF-8 is read as Latin-1, and that is said."""
    rows = [*lines(), "Hügel,-83.998,40.001,7"]

    found = read(save(tmp_path, rows, encoding="latin-1"), field, id="id", **CSV)

    assert found.samples.ids[-1] == "Hügel"
    assert (
        found.notes[0] == "s.csv: row 22 is not UTF-8, so the file was read as Latin-1"
    )


@pytest.mark.parametrize("code", [32616, 3857, 2834])
def test_projected_xy(tmp_path, field, code):
    """Columns in any CRS give the same places."""
    there = frame().to_crs(code)
    places = zip(there.geometry.x, there.geometry.y, strict=True)
    keys = {**CSV, "crs": f"EPSG:{code}"}

    found = read(save(tmp_path, lines(list(places))), field, **keys).samples

    expected = read(save(tmp_path, lines(), "t.csv"), field, **CSV).samples
    assert found.xy == pytest.approx(expected.xy, abs=0.01)


@pytest.mark.parametrize("name", ["s.shp", "s.gpkg", "s.geojson"])
@pytest.mark.parametrize("code", [4326, 32616])
def test_map_files(tmp_path, field, name, code):
    """A map file brings its own places; rows are its features from 1."""
    frame().to_crs(code).to_file(tmp_path / name)

    found = read(tmp_path / name, field, id="id").samples

    expected = read(save(tmp_path, lines()), field, **CSV).samples
    assert found.xy == pytest.approx(expected.xy, abs=0.01)
    assert found.value.tolist() == VALUES
    assert found.rows == tuple(range(1, 21))
    assert found.ids[:2] == ("A0", "A1")


@pytest.mark.parametrize("name", ["s.xlsx", "s.ods"])
@pytest.mark.parametrize("kind", [float, str])
def test_sheet(tmp_path, field, name, kind):
    """A sheet is a table whose heading is row 1, even where its numbers are text."""
    (lon, lat), test = zip(*PLACES, strict=True), VALUES
    cells = pandas.DataFrame({"lon": lon, "lat": lat, "P": test}).astype(kind)
    pyogrio.write_dataframe(cells, tmp_path / name)

    found = read(tmp_path / name, field, **CSV)

    assert found.samples.value.tolist() == VALUES
    assert found.samples.rows == tuple(range(2, 22))


def test_results_joined_by_id(tmp_path, field):
    """Results keep their order, find their place by id, and unused places are named."""
    with shapefile.Writer(str(tmp_path / "p"), shapefile.POINT) as writer:
        writer.field("ID", "C", size=8)
        for x, y, text in [
            (-83.999, 40.001, "b"),
            (-83.998, 40.002, "a"),
            (0, 0, "c"),
        ]:
            writer.point(x, y)
            writer.record(text)
    (tmp_path / "p.prj").write_text(
        geopandas.GeoSeries([], crs=4326).crs.to_wkt("WKT1_ESRI")
    )
    results = save(tmp_path, ["ID;P", " a;10,5", "b;20"])

    found = read(results, field, points=tmp_path / "p.shp", id="ID")

    assert found.samples.ids == ("a", "b")
    assert found.samples.value.tolist() == [10.5, 20.0]
    # b is 0.001° to the west and to the south of a.
    assert np.diff(found.samples.xy, axis=0)[0] == pytest.approx(
        [-85.4, -111.0], abs=0.1
    )
    assert found.notes[-1] == "p.shp: positions without a result (1): 'c'"


@pytest.mark.parametrize("kind", ["cell", "zone"])
def test_polygons_of_composites(tmp_path, field, kind):
    """A composite keeps its own polygon; one outside the field is dropped."""
    boxes = [
        shapely.box(WEST, SOUTH, -83.998, NORTH),
        shapely.box(-83.998, SOUTH, EAST + 0.001, NORTH),
        shapely.box(EAST, SOUTH, EAST + 0.001, NORTH),
    ]
    ground = geopandas.GeoDataFrame({"id": [1, 2, 3]}, geometry=boxes, crs=4326)
    ground.to_crs(32616).to_file(tmp_path / "z.gpkg")
    results = save(tmp_path, ["id,P", "3,9", "2,20", "1,10"])

    found = read(results, field, kind=kind, points=tmp_path / "z.gpkg", id="id")

    assert found.samples.value.tolist() == [20.0, 10.0]
    assert found.dropped == (2,)
    assert shapely.get_dimensions(found.samples.shape).tolist() == [2, 2]
    expected = 0.002 * 0.004 * 85_394 * 111_035
    assert found.samples.shape[1].area == pytest.approx(expected, rel=1e-3)


def test_samples_outside(tmp_path, field):
    """Within one spacing (85 m) they are used, further out dropped; both are told."""
    places = [*PLACES, (EAST + 0.0009, 40.002), (EAST + 0.0011, 40.003), (EAST, 40.001)]

    found = read(save(tmp_path, lines(places, [*VALUES, 5, 6, 7])), field, **CSV)

    assert (found.used_outside, found.dropped) == ((22,), (23,))
    assert found.samples.rows[-2:] == (22, 24)


def test_optional_columns(tmp_path, field):
    """Blanks of pH and organic matter are NaN, whatever word stands for a blank."""
    rows = ["lon,lat,P,pH,OM", "-83.999,40.001,12,6.5,", "-83.998,40.001,9,NA,3.1"]

    found = read(save(tmp_path, rows), field, ph="pH", organic_matter="OM", **CSV)

    np.testing.assert_array_equal(found.samples.columns["ph"], [6.5, np.nan])
    np.testing.assert_array_equal(
        found.samples.columns["organic_matter"], [np.nan, 3.1]
    )


def row(text, heading="lon,lat,P,pH,OM"):
    return [heading, "-83.999,40.001,12,6.5,3", text]


@pytest.mark.parametrize(
    ("rows", "message"),
    [
        (
            row("-83.998,40.001,high,6,3"),
            "row 3: P is 'high', not a number: write a plai",
        ),
        (
            row("-83.998,40.001,12 ppm,6,3"),
            "row 3: P is '12 ppm', not a number: leave the unit out, or remove",
        ),
        (
            ["lon;lat;P;pH;OM", "-83,999;40,001;32,4 ppm;6;3"],
            "row 2: P is '32,4 ppm', not a number: leave the unit out, or remove",
        ),
        (
            row('-83.998,40.001,"32,4 ppm",6,3'),
            "row 3: P is '32,4 ppm', not a number: leave the unit out and write "
            "it with a decimal",
        ),
        (
            ["Report of 2026,,,,", "lon,lat,P,pH,OM", "-83.998,40.001,12,6,3"],
            "has no column 'P' .*: its columns are Report of 2026.*; the first row "
            "must hold the names of",
        ),
        (
            ["Report, 2026", "lon,lat,P,pH,OM", "-83.998,40.001,12,6,3"],
            "row 2: has 5 fields where the heading has 2: .*; the first row must hold",
        ),
        (
            row('-83.998,40.001,"12,5",6,3'),
            "row 3: P is '12,5', .* with a decimal point",
        ),
        (
            row("-83.998,40.001,,6,3"),
            "row 3: P is blank: give its value or remove the r",
        ),
        (row("-83.998,40.001,NaN,6,3"), "row 3: P is blank: give its value or remove "),
        (
            row("-83.998,40.001,inf,6,3"),
            "row 3: P is 'inf', not a number: write a plain",
        ),
        (row("-83.998,40.001,1e999,6,3"), "row 3: P is '1e999', not a number: write a"),
        (
            row("-83.998,40.001,-4,6,3"),
            "row 3: P is -4, below 0: give its value or rem",
        ),
        (
            row("-83.998,40.001,<2,6,3"),
            "row 3: P is '<2', a limit and no value: write ",
        ),
        (
            row("-83.998,40.001,> 200,6,3"),
            "row 3: P is '> 200', a limit and no value: ",
        ),
        (
            row("-83.998,40.001,12,68,3"),
            "row 3: pH is 68, outside 2 to 11: correct it, o",
        ),
        (
            row("-83.998,40.001,12,6,310"),
            "row 3: OM is 310 %, outside 0 to 100 %: corr",
        ),
        (
            row(",40.001,12,6,3"),
            "row 3: lon is blank: give the position or remove the ro",
        ),
        (
            row("84°W,40.001,12,6,3"),
            "row 3: lon is '84°W', not a number: write a plain ",
        ),
        (
            row("-183.998,40.001,12,6,3"),
            "row 3: -183.998, 40.001 is out of the range of",
        ),
        (
            row("-83.998,140.001,12,6,3"),
            "row 3: -83.998, 140.001 is out of the range o",
        ),
        (row("-83.998,40.001,12,6,3,9"), "row 3: has 6 fields where the heading has 5"),
        (
            row('-83.998,40.001,"12,6,3'),
            "line 3: cannot be read as a table .*: mend the ",
        ),
        (
            row("1,2,3,4,5", heading="lon,lat,P,P,OM"),
            "row 1: column 'P' stands twice: r",
        ),
        (["lon,lat,P"], "holds no row below a heading: export it again$"),
        (
            ["lon;lat;P_ppm;pH;OM", "1;2;3;4;5"],
            "has no column 'P' .soil_test.: its colu",
        ),
        (["lon,lat,P\0", "1,2,3"], "is no table of text: export it as CSV$"),
    ],
)
def test_refused_rows(tmp_path, field, rows, message):
    """The message names file, row, value and remedy."""
    path = save(tmp_path, rows)

    with pytest.raises(InputError, match=f"^s.csv[,:] {message}"):
        read(path, field, ph="pH", organic_matter="OM", **CSV)


@pytest.mark.parametrize(
    ("keys", "message"),
    [
        (
            {"soil_test": "p"},
            "has no column 'p' .* its columns are id, lon, lat, P, the ",
        ),
        (
            {"x": "long"},
            "has no column 'long' .x.: its columns are .*, the nearest 'lon'",
        ),
        (
            {"crs": None},
            'lon and lat have no CRS: write crs = "EPSG:4326" for longitude',
        ),
        (
            {"crs": "WGS"},
            "crs 'WGS' is not known: write a code such as EPSG:4326 for lon",
        ),
        (
            {"crs": "EPSG:4978"},
            "'WGS 84' places nothing on the earth: use a CRS that is",
        ),
        (
            {"crs": "EPSG:32616"},
            "-83.9995, 40.0005 looks like degrees and not like EPSG",
        ),
        (
            {"x": None},
            "has no positions without x and y, or points and id: name its col",
        ),
        (
            {"x": "lat", "y": "lon"},
            "no sample lies in boundary.geojson as the file stan",
        ),
        (
            {"kind": "cell"},
            'kind = "cell" needs polygons: give points = a map file of p',
        ),
    ],
)
def test_refused_keys(tmp_path, field, keys, message):
    """The message names file, key or column, and remedy."""
    path = save(tmp_path, lines())

    with pytest.raises(InputError, match=f"^s.csv: {message}"):
        read(path, field, **{**CSV, **keys})


def test_slips_of_all_positions(tmp_path, field):
    """Swapped columns and a lost minus are recognised; another place is told by far."""
    swapped = save(tmp_path, lines([(y, x) for x, y in PLACES]), "swapped.csv")
    positive = save(tmp_path, lines([(-x, y) for x, y in PLACES]), "positive.csv")
    away = save(tmp_path, lines([(x, y + 0.1) for x, y in PLACES]), "away.csv")

    with pytest.raises(InputError, match="100% do with x and y swapped: swap x = "):
        read(swapped, field, **CSV)
    with pytest.raises(InputError, match="100% do with a minus before x: write west"):
        read(positive, field, **CSV)
    # 40.1005° is 0.0965° north of the boundary at 40.004°: 10,715 m or 35,154 ft.
    message = (
        r"^away.csv: none of its 20 samples lies in boundary.geojson; the nearest "
        r"\(away.csv, row \d\) is 35,1\d\d ft away, at -83.99\d\d, 40.1005 when read "
        r"as EPSG:4326, while the field is at -83.9975, 40.0020 \(EPSG:4326\): check "
    )
    with pytest.raises(InputError, match=message):
        read(away, field, **CSV)


@pytest.mark.parametrize(
    ("results", "ids", "message"),
    [
        (
            ["7", "8"],
            ["007", "8"],
            "s.csv: 1 of 2 results have no position in p.geojson, id '7' .first in row "
            "2.; p.geojson has '007' without a result: write each id alike in both fil",
        ),
        (
            list("abcdefg"),
            ["h"],
            "id 'a', 'b', 'c', 'd', 'e', … .first in row 2.; p.ge",
        ),
        (
            ["1", "1"],
            ["1", "2"],
            "s.csv, row 3: id '1' stands in row 2 already: give ea",
        ),
        (
            ["1", "2"],
            ["2", "2"],
            "p.geojson, feature 2: id '2' stands in feature 1 alre",
        ),
        (["1", " "], ["1", "2"], "s.csv, row 3: id is blank: give the sample's id$"),
    ],
)
def test_ids_that_do_not_join(tmp_path, field, results, ids, message):
    """Ids are text: none is equal by its number, none stands for two samples."""
    path = save(tmp_path, ["id,P", *(f"{text},12" for text in results)])
    positions = frame(PLACES[: len(ids)], VALUES[: len(ids)]).assign(id=ids)
    positions.to_file(tmp_path / "p.geojson")

    with pytest.raises(InputError, match=message):
        read(path, field, points=tmp_path / "p.geojson", id="id")


def test_ids_that_are_numbers_in_a_map_file(tmp_path, field):
    """7.0 in a map file is the 7 of a table; a feature without an id is refused."""
    places = frame(PLACES[:2], VALUES[:2])
    places.assign(id=[7.0, 8.5]).to_file(tmp_path / "p.gpkg")
    places.assign(id=[7.0, None]).to_file(tmp_path / "q.gpkg")
    results = save(tmp_path, ["id,P", "8.5,12", "7,13"])

    found = read(results, field, points=tmp_path / "p.gpkg", id="id")

    assert found.samples.ids == ("8.5", "7")
    with pytest.raises(InputError, match=r"^q.gpkg, feature 2: id is blank: give the"):
        read(results, field, points=tmp_path / "q.gpkg", id="id")


def test_refused_map_files(tmp_path, field):
    """Polygons are no points, points no cells, and a shapefile needs its .prj."""
    frame().to_file(tmp_path / "s.shp")
    boxes = frame().to_crs(32616).buffer(9.0).to_frame("geometry").assign(P=1.0)
    boxes.to_file(tmp_path / "boxes.gpkg")

    with pytest.raises(
        InputError, match=r"^boxes.gpkg, feature 1: is Polygon, not a po"
    ):
        read(tmp_path / "boxes.gpkg", field)
    with pytest.raises(
        InputError, match=r"^s.shp, feature 1: is a Point, not a polygon"
    ):
        read(tmp_path / "s.shp", field, kind="cell")
    with pytest.raises(InputError, match=r"^s.shp: has positions of its own, so x and"):
        read(tmp_path / "s.shp", field, **CSV)
    with pytest.raises(InputError, match=r"^s.shp: declares EPSG:4326, while crs in "):
        read(tmp_path / "s.shp", field, crs="EPSG:32616")
    with pytest.raises(
        InputError, match=r"^s.csv: positions are joined to s.csv by id|^s"
    ):
        read(save(tmp_path, lines()), field, points=tmp_path / "s.shp")
    (tmp_path / "s.prj").unlink()
    with pytest.raises(
        InputError, match=r"^s.shp: declares no CRS, .*: add the s.prj "
    ):
        read(tmp_path / "s.shp", field)
    assert len(read(tmp_path / "s.shp", field, crs="EPSG:4326").samples.rows) == 20


def test_missing_files(tmp_path, field):
    """What is not there is named."""
    with pytest.raises(InputError, match=r"^none.csv: there is no such file in /"):
        read(tmp_path / "none.csv", field, **CSV)
    with pytest.raises(InputError, match=r"^none.gpkg: there is no such file in /"):
        read(Path(tmp_path / "none.gpkg"), field)


def test_one_sample(tmp_path, field):
    """One sample is read; the field's own size stands for a spacing."""
    found = read(save(tmp_path, lines(PLACES[:1], [9])), field, **CSV)

    assert found.samples.value.tolist() == [9.0]
    # The root of 427 m × 444 m.
    assert found.spacing == pytest.approx(435.5, abs=0.5)
