"""zones.csv: by RFC 4180, with places inside the zones, and nothing that computes."""

import csv
from dataclasses import replace

import pytest
import shapely

from vrp import job
from vrp.io import zone_table
from vrp.legend import columns


@pytest.fixture
def written(ground):
    prescription, out = job.run(ground.write())
    return prescription, out / "map" / "zones.csv"


def table(path):
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file, strict=True))


def test_rows_are_the_zones(written):
    """Each zone is a row with every column of the map, numbers as they are."""
    prescription, path = written
    found = table(path)

    assert len(found) == len(prescription.zones)
    for row, zone in zip(found, prescription.zones, strict=True):
        for one in columns(prescription):
            value = one.of(zone)
            text = row[one.name]
            assert (text if isinstance(value, str) else float(text)) == value
        place = shapely.Point(float(row["longitude"]), float(row["latitude"]))
        assert zone.geometry.contains(place)


def test_bytes(written):
    """Lines end in CR LF, as RFC 4180 has it; the text is UTF-8 without a mark."""
    prescription, path = written
    data = path.read_bytes()

    assert data.count(b"\r\n") == data.count(b"\n") == 1 + len(prescription.zones)
    assert not data.startswith(b"\xef\xbb\xbf")
    assert data.startswith(b"zone,longitude,latitude,area_ac,")


HOSTILE = ['=1+1"', "+1", "-1", "@A1", "\t=1", "\r=1", 'a, "b"\r\nc', "麦田 é"]


@pytest.mark.parametrize("text", HOSTILE)
def test_text_that_a_spreadsheet_would_compute(text, written, tmp_path):
    """Text that begins like a formula gets a quote before it; other text is kept."""
    prescription, _ = written
    zones = tuple(replace(zone, soil_class=text) for zone in prescription.zones)

    zone_table.write(tmp_path / "a.csv", replace(prescription, zones=zones))

    kept = {row["stp_class"] for row in table(tmp_path / "a.csv")}
    assert kept == {f"'{text}" if text[0] in "=+-@\t\r" else text}


def test_numbers_below_zero_stay_numbers(written):
    """A longitude west of Greenwich is a number, though it begins with a sign."""
    _, path = written

    assert all(-85 < float(row["longitude"]) < -84 for row in table(path))


def test_place_is_far_from_the_edge(written):
    """In a square of 4 the place is its middle, 2 from every edge."""
    prescription, _ = written
    zone = replace(prescription.zones[0], geometry=shapely.box(-2, -2, 2, 2))

    assert zone_table.place(zone) == (0.0, 0.0)
