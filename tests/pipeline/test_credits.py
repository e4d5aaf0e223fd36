"""Credits through the whole job."""

import pytest
import shapely

from vrp import job
from vrp.errors import InputError

WEST, EAST = shapely.box(0, 0, 240, 480), shapely.box(240, 0, 480, 480)


def lines(zone, step="credit"):
    """Return the arithmetic of a zone's lines of one step."""
    return [line.arithmetic for line in zone.ledger if line.step == step]


def with_credit(ground, text):
    """Build a field of 25 ppm, whose need is 200 × 0.35 = 70 lb, with a credit."""
    ground.samples[:, 2] = 25.0
    ground.change(("[need]", f"{text}\n[need]"))
    prescription, _ = job.run(ground.write())
    return prescription


def test_manure(ground):
    """4 (1000 gal)/ac × 12 lb × 80 % = 38.4 lb come off 70 lb, at one rate too."""
    found = with_credit(
        ground,
        '[[credit]]\nname = "slurry"\nsource = "analysis"\n'
        'manure = { amount = 4, unit = "1000 gal", p2o5 = 12, available = 80 }',
    )

    (zone,) = found.zones
    assert zone.need == 31.6
    assert lines(zone) == ["4 × 12 lb in 1000 gal × 80 % = 38.4; 70.0 − 38.4 = 31.6"]
    area = found.totals.area
    assert found.totals.uniform.p2o5_need == pytest.approx(31.6 * area, abs=0.01)


def test_by_polygon(ground):
    """A credit of 30 lb on the west half makes zones of 40 and 70 lb."""
    ground.write_polygons("spread.geojson", [WEST], [{"p2o5": 30}])

    found = with_credit(
        ground,
        '[[credit]]\nname = "slurry"\nsource = "log"\n'
        'p2o5 = { file = "spread.geojson", column = "p2o5" }',
    )

    west, east = sorted(found.zones, key=lambda zone: zone.need)
    assert (west.need, east.need) == (40.0, 70.0)
    assert lines(west) == ["mean of spread.geojson in the zone; 70.0 − 30 = 40.0"]
    assert lines(east) == ["mean of spread.geojson in the zone; 70.0 − 0 = 70.0"]
    half = ground.to_lonlat(WEST)
    assert west.geometry.symmetric_difference(half).area < 0.01 * half.area


def test_taken_place_by_place(ground):
    """Where half a zone needs nothing, a credit takes nothing there."""
    # 42 ppm is above the limit of 40, 25 ppm is not: drawn as one zone.
    ground.samples[:, 2] = [42.0 if x < 240 else 25.0 for x in ground.samples[:, 0]]
    ground.write_polygons("zones.geojson", [ground.outline])
    ground.write_polygons("cells.geojson", [WEST, EAST], [{"P": 42}, {"P": 25}])
    ground.change(
        ('x = "x"\ny = "y"\ncrs', 'kind = "cell"\ncrs'),
        ('"samples.csv"', '"cells.geojson"'),
        (
            "[need]",
            '[zones]\nby = "file"\nfile = "zones.geojson"\n'
            '[[credit]]\nname = "starter"\nsource = "plan"\np2o5 = 20\n[need]',
        ),
    )
    text = [line for line in ground.text.splitlines() if not line.startswith("crs")]
    ground.text = "\n".join(text)

    prescription, _ = job.run(ground.write())

    (zone,) = prescription.zones
    # (0 + 70) / 2 − (0 + 20) / 2, but for the cells on the border.
    assert zone.need == pytest.approx(25.0, abs=0.2)
    (line,) = [line for line in zone.ledger if line.step == "credit"]
    assert line.rule.endswith("; of 20, as places that need less take no more")


SURPLUS = '[[credit]]\nname = "potatoes"\nsource = "last year"\np2o5 = 20\n'
SURPLUS += "surplus = true"


@pytest.mark.parametrize(
    ("olsen", "need"),
    [(20.0, 30.0), (12.0, 80.0)],  # Index 2: 50 − 20; Index 1: 80, not credited
)
def test_surplus_by_the_guidelines_rule(ground, olsen, need):
    """RB209: a surplus is credited at Index 2 or 3, and not at Index 0 or 1."""
    ground.samples[:, 2] = olsen
    ground.change(
        ('units = "us"', 'units = "metric"'),
        ('"mehlich-3-icp"', '"olsen"'),
        ('"ppm"', '"mg/L"'),
        ("depth = 8", "depth = 15"),
        (
            'crop = "corn-grain"\nyield_goal = 200',
            'crop = "winter-wheat"\nyield_goal = 8\nresidue = "left"',
        ),
        ('[[season]]\ncrop = "soybean"\nyield_goal = 60\n', ""),
        ('"tri-state-2020"', '"rb209-2023"'),
        ("[need]", f"{SURPLUS}\n[need]"),
    )

    prescription, _ = job.run(ground.write())

    (zone,) = prescription.zones
    assert zone.need == need


def test_surplus_without_a_rule(ground):
    """A guideline that says nothing of a surplus does not credit one."""
    with pytest.raises(InputError, match="no rule on the surplus"):
        with_credit(ground, SURPLUS)


@pytest.mark.parametrize(
    ("credit", "message"),
    [
        ('p2o5 = 5\nmanure = { amount = 1, unit = "ton", p2o5 = 9, available = 80 }',
         "either p2o5 or manure"),
        ("", "either p2o5 or manure"),
        ('manure = { amount = 1, unit = "m3", p2o5 = 9, available = 80 }',
         "credit.manure.unit: write ton or 1000 gal"),
        ("p2o5 = -1", r"credit\[1\].p2o5 = -1: must be at least 0"),
        ('p2o5 = { file = "none.geojson" }', r"credit\[1\].p2o5.column is missing"),
        ('manure = { amount = 1, unit = "ton", p2o5 = 9, available = 120 }',
         r"manure.available = 120: must be at most 100"),
    ],
)  # fmt: skip
def test_refused(ground, credit, message):
    """A credit that cannot be understood is refused by its key."""
    with pytest.raises(InputError, match=message):
        with_credit(ground, f'[[credit]]\nname = "x"\nsource = "y"\n{credit}')


def test_pooled_need_is_met_once(ground):
    """An application planned for a season that the pooled one serves is refused."""
    ground.change(
        ("[need]", "[need]\npool = true"),
        ("yield_goal = 60", "yield_goal = 60\np2o5 = 48"),
    )

    with pytest.raises(
        InputError, match=r"season\[2\].p2o5 is for another application"
    ):
        job.run(ground.write())
