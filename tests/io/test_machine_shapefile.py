"""The spreader's shapefile: its name, its columns, its bytes."""

import re

import geopandas
import pytest
import shapefile
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from vrp import job
from vrp.io.machine_shapefile import file_name
from vrp.plan import Plan


def named(name, *, year=2027, grade="11-52-0"):
    plan = Plan(
        units="us",
        boundary="b.geojson",
        field={"name": name, "year": year},
        samples={
            "file": "s.csv",
            "soil_test": "P",
            "method": "olsen",
            "unit": "ppm",
            "depth": 8,
        },
        season=({"crop": "corn-grain", "yield_goal": 200},),
        product={"grade": grade},
    )
    return file_name(plan)


def test_plain_names():
    """A short plain name stands in the file's name as it is, a grade without points."""
    assert named("Long Meadow") == "Long_Meadow_2027_11-52-0"
    assert named("North 40", year=None) == "North_40_11-52-0"
    assert named("Hill", grade="10.5-52-0") == "Hill_2027_10p5-52-0"


@pytest.mark.parametrize(
    ("name", "start"),
    [
        ("Größe", "Groe_"),
        ("麦田", "_"),
        ("../../etc/passwd", "etc_"),
        ("C:\\temp", "C_te"),
        ("CON", "CON_"),
        ("nul.txt", "nul_"),
        ("x" * 200, "xxxx"),
        ("<script>", "scri"),
        ("long meadow", "long_"),
        ("A_B", "A_B_"),
        ("Field 2027", "Fiel"),
    ],
)
def test_names_that_lose_something(name, start):
    """What cannot stand in a file's name is dropped, and a hash of the whole added."""
    stem = named(name)

    assert stem.startswith(start)
    assert re.fullmatch(r"[A-Za-z0-9_]*_[0-9a-f]{6}_2027_11-52-0", stem)


NAMES = st.text(min_size=1, max_size=30).filter(str.strip) | st.from_regex(
    r"[ABab](_| )?(20(26|27)|[0-9a-f]{6})?", fullmatch=True
)
GRADES = st.sampled_from(["11-52-0", "0-46-0", "10.1234-52.1234-0.12"])
YEARS = st.none() | st.integers(2026, 2027)


@settings(max_examples=300)
@given(one=st.tuples(NAMES, YEARS, GRADES), two=st.tuples(NAMES, YEARS, GRADES))
def test_two_fields_never_share_a_name(one, two):
    """Names have 24 safe characters at most; two that differ stay so without case."""
    stems = [
        named(name, year=year, grade=grade).lower() for name, year, grade in (one, two)
    ]
    alike = (one[0].strip(), *one[1:]) == (two[0].strip(), *two[1:])

    assert all(re.fullmatch("[a-z0-9_-]{1,24}", stem) for stem in stems)
    assert (stems[0] == stems[1]) == alike


def test_read_by_others(ground):
    """GDAL and pyshp find one number, the rate, with the product, and WGS 84."""
    prescription, out = job.run(ground.write())
    (path,) = (out / "machine").glob("*.shp")

    frame = geopandas.read_file(path)
    with shapefile.Reader(str(path)) as reader:
        fields = [(one[0], one[1], one[2], one[3]) for one in reader.fields[-2:]]
        parts = [shapely.geometry.shape(one) for one in reader.shapes()]
        clockwise = [
            not shapely.is_ccw(shapely.LinearRing(shape.points[: shape.parts[1]]))
            if len(shape.parts) > 1
            else not shapely.is_ccw(shapely.LinearRing(shape.points))
            for shape in reader.shapes()
        ]

    assert sorted(one.suffix for one in path.parent.iterdir() if one.is_file()) == [
        ".cpg",
        ".dbf",
        ".prj",
        ".shp",
        ".shx",
    ]
    assert list(frame.columns) == ["RATE_LB_AC", "PRODUCT", "geometry"]
    assert frame.crs.to_epsg(min_confidence=70) == 4326
    assert frame["RATE_LB_AC"].tolist() == [zone.rate for zone in prescription.zones]
    assert set(frame["PRODUCT"]) == {"11-52-0"}
    assert fields == [("RATE_LB_AC", "N", 10, 2), ("PRODUCT", "C", 20, 0)]
    assert all(clockwise)
    for zone, shape in zip(prescription.zones, parts, strict=True):
        assert shapely.equals(zone.geometry, shape)


def test_no_clock(ground):
    """The table's head holds a fixed date, in the three bytes that dBASE keeps it."""
    _, out = job.run(ground.write())
    (path,) = (out / "machine").glob("*.dbf")

    # Years since 1900, month, day: bytes 1 to 3 of a dBASE file.
    assert tuple(path.read_bytes()[1:4]) == (100, 1, 1)
    assert path.with_suffix(".cpg").read_bytes() == b"UTF-8"
