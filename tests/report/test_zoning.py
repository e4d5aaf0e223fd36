"""What zones are worth, as a table and as a drawing."""

from dataclasses import replace
from xml.etree import ElementTree as ET

import pytest

from vrp import job
from vrp.prescription import Zoned, ZoningFacts
from vrp.report.zoning_plots import zoning_plot
from vrp.report.zoning_view import worth_of_zones

SVG = "{http://www.w3.org/2000/svg}"


def zoned(zones, under, over, cost=None):
    """Return what is misplaced on 10 ac."""
    return Zoned(zones, under, over, (under + over) / 10.0, 1000.0 + zones, cost)


FACTS = ZoningFacts(
    "need",
    4,
    3,
    4,
    0.5,
    60.0,
    zoned(1, 90.0, 30.0),
    tuple(zoned(n, 60.0 / n, 60.0 / n) for n in range(1, 9)),
    zoned(5, 16.0, 17.0),
)


@pytest.fixture(scope="module")
def us(sample_fields, tmp_path_factory):
    folder = tmp_path_factory.mktemp("zoned")
    found, _ = job.run(sample_fields / "us", out=folder / "out")
    return replace(found, zoning=FACTS)


def test_table(us):
    """One rate, bands up to one beyond the knee, and the map; the knee has its star."""
    found = worth_of_zones(us)
    assert [row[0] for row in found.rows] == [
        "one rate",
        "2 bands of need",
        "3 bands of need",
        "4 bands of need *",
        "5 bands of need",
        "this map, 5 zones",
    ]
    assert found.rows[0] == ["one rate", "90", "30", "12.0", "1,001"]
    assert found.headings[1:] == [
        "too little\nlb",
        "too much\nlb",
        "both\nlb/ac",
        "product\nlb",
    ]
    assert found.note == (
        "* More bands save less than 0.5 lb/ac each. "
        "From 3 bands on they part at the guideline's limits."
    )


def test_costs_where_a_price_is_given(us):
    """With costs there is a column for them."""
    costly = replace(FACTS, one_rate=zoned(1, 90.0, 30.0, 412.4))
    found = worth_of_zones(replace(us, zoning=costly))
    assert found.headings[-1] == "cost"
    assert (found.rows[0][-1], found.rows[1][-1]) == ("412", "")


def test_nothing_to_show(us):
    """Without figures, and where all ground was set by hand, there is no table."""
    assert worth_of_zones(replace(us, zoning=None)) is None
    bare = replace(FACTS, one_rate=None, built=None, bands=())
    assert worth_of_zones(replace(us, zoning=bare)) is None


def test_clusters_without_bands(us):
    """Clusters on composites have one rate and the map to compare, and no knee."""
    bare = replace(FACTS, bands=(), knee=None, fewest=None, by="layers")
    found = worth_of_zones(replace(us, zoning=bare))
    assert [row[0] for row in found.rows] == ["one rate", "this map, 5 zones"]
    assert found.note == ""


def test_drawing_to_scale(us):
    """A dot a number of bands, its height in proportion; the ring is the map's own."""
    svg = ET.fromstring(zoning_plot(us, FACTS))
    dots = [c for c in svg.iter(f"{SVG}circle") if c.get("data-part") == "band"]
    assert len(dots) == 8
    height = [float(dot.get("cy")) for dot in dots]
    # 12, 6 and 4 lb/ac for 1, 2 and 3 bands: the fall from 2 to 3 is a third of the
    # first.
    assert (height[2] - height[1]) / (height[1] - height[0]) == pytest.approx(
        1 / 3, abs=0.02
    )
    across = [float(dot.get("cx")) for dot in dots]
    assert across[7] - across[0] == pytest.approx(7 * (across[1] - across[0]), abs=0.2)
    (ring,) = [c for c in svg.iter(f"{SVG}circle") if c.get("data-part") == "built"]
    assert float(ring.get("cx")) == pytest.approx(across[4], abs=0.11)
    # 3.3 lb/ac lie between three bands (4) and four (3).
    assert height[2] < float(ring.get("cy")) < height[3]
    note = svg[1].text
    assert "this map, 3.3 lb P2O5/ac" in note
    assert "from 4 bands on each further one saves less than 0.5" in note
