"""What matters for water in each zone, as text."""

from dataclasses import replace

from vrp.agronomy.water_case import Handling, ZoneCase
from vrp.agronomy.water_facts import weigh
from vrp.report.water_view import MOST_ZONES, NO_INDEX, water_of_zones

CASE = ZoneCase(
    zone=1,
    soil_test=25.0,
    unit="ppm",
    method="mehlich-3-icp",
    no_need_above=50.0,
    p2o5=60.0,
    distance=30.0,
    water="a stream",
)
PLACED = Handling(method="broadcast", tillage="tilled", residue="left", month=5)


def shown(*changes, handling=PLACED):
    cases = [
        replace(CASE, zone=number, **change)
        for number, change in enumerate(changes, start=1)
    ]
    return water_of_zones(weigh(cases, handling, system="us"))


def test_without_water_and_heights():
    """Where neither water nor heights were given there is no table."""
    assert shown({"distance": None}, {"distance": None}) is None


def test_table():
    """A row a zone, most against first, with reasons of its own; common ones once."""
    found = shown({"distance": 200.0}, {})

    assert found.rows == [
        ["2", "4 of 9", "98 ft from a stream, within 492 ft and 197 ft"],
        ["1", "2 of 9", "nothing of its own"],
    ]
    assert found.notes == [
        "Against every zone: broadcast: it lies on the surface; tillage lays the soil "
        "open.",
        "Not known: slope: no elevation was given for the zone.",
        "To weigh in zone 2: work it in within a day. Against it: tillage buries "
        "phosphorus and lays the soil open: it helps only where it does not add much "
        "erosion.",
        NO_INDEX,
    ]


def test_one_zone_has_all_its_reasons():
    """Of a single zone nothing is taken out as common to all."""
    found = shown({})

    assert "broadcast: it lies on the surface" in found.rows[0][2]
    assert not any(note.startswith("Against every") for note in found.notes)


def test_zones_with_one_advice():
    """Zones that are told the same are named together."""
    found = shown({}, {"distance": 40.0}, {"distance": 300.0})

    assert any(note.startswith("To weigh in zones 1, 2: ") for note in found.notes)


def test_many_zones():
    """A screen of zones is shown, the others counted."""
    found = shown(*({} for _ in range(MOST_ZONES + 3)))

    assert len(found.rows) == MOST_ZONES
    assert found.notes[0] == "3 more zones stand in the record."
