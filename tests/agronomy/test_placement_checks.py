"""What is doubtful about where phosphate is put."""

from dataclasses import astuple

import pytest

from vrp.agronomy import placement_checks
from vrp.agronomy.placement import seed_row_limit


def whole(found):
    """Return all of a finding but its remedy, which is its code's."""
    return [astuple(one)[:8] for one in found]


@pytest.mark.parametrize(
    ("gallons", "stopped"),
    [
        # 10-34-0 at 11.65 lb/gal: 5 × 11.65 × 0.10 = 5.825 lb of N; the printed limit
        # for 30 in rows in sand is 6 lb (Kansas State University, Table 1).
        (5.0, False),
        (6.0, True),  # 6.99 lb
    ],
)
def test_five_gallons_in_the_row(gallons, stopped):
    """5 gal/ac of 10-34-0 are allowed beside corn seed in sand, 6 gal are not."""
    limit = seed_row_limit("corn-grain", row_spacing=30.0, texture="sandy")
    mass = gallons * 11.65

    found = placement_checks.seed_row(
        limit,
        {"N + K2O": mass * 0.10, "P2O5": mass * 0.34},
        unit="lb/ac",
        zone=2,
        crop="corn-grain",
    )

    assert bool(found) == stopped
    for one in found:
        assert (one.code, one.severity, one.zone) == ("seed-row-limit", "stop", 2)
        assert (one.value, one.bound, one.unit) == (6.99, 6.0, "lb/ac")
        assert "Kansas State University, read" in one.message


def test_the_limit_itself_is_allowed():
    """What equals the limit holds nothing back."""
    limit = seed_row_limit("canola", row_spacing=7.0, texture="fine")
    carried = {"N + K2O": 4.0, "P2O5": 20.0}

    assert not placement_checks.seed_row(
        limit, carried, unit="lb/ac", zone=1, crop="canola"
    )


def test_kilograms():
    """20 lb/ac are 22.42 kg/ha: 22 are allowed and 23 are not."""
    limit = seed_row_limit("canola", row_spacing=7.0, texture="fine")

    def said(p2o5):
        carried = {"N + K2O": 0.0, "P2O5": p2o5}
        return placement_checks.seed_row(
            limit, carried, unit="kg/ha", zone=1, crop="canola"
        )

    assert not said(22.0)
    (found,) = said(23.0)
    assert found.bound == pytest.approx(20.0 * 1.120851, abs=0.005)


def test_soybean():
    """Any rate beside soybean seed is too much, and no rate is none."""
    limit = seed_row_limit("soybean", row_spacing=30.0, texture="fine")

    def said(p2o5):
        carried = {"N + K2O": 0.0, "P2O5": p2o5}
        return placement_checks.seed_row(
            limit, carried, unit="lb/ac", zone=1, crop="soybean"
        )

    assert not said(0.0)
    assert said(0.1)[0].severity == "stop"


def test_no_limit_known():
    """A crop without a known limit is warned of, where anything is put on."""

    def said(p2o5):
        carried = {"N + K2O": 0.0, "P2O5": p2o5}
        return placement_checks.seed_row(
            None, carried, unit="lb/ac", zone=1, crop="sugar-beet"
        )

    assert not said(0.0)
    (found,) = said(10.0)
    assert (found.code, found.severity) == ("seed-row-unknown", "warn")


@pytest.mark.parametrize(
    ("applied", "removal", "factor", "warned"),
    [
        (35.0, 70.0, 0.5, True),
        (70.0, 70.0, 0.5, False),
        (35.0, 70.0, 1.0, False),  # nothing was reduced
        (35.0, None, 0.5, False),  # no figure for the crop
    ],
)
def test_band_below_removal(applied, removal, factor, warned):
    """A reduced rate below the crop's removal draws the soil down."""
    found = placement_checks.band_below_removal(
        applied, removal, factor=factor, unit="lb/ac", zone=1
    )

    assert [one.code for one in found] == ["band-factor-draws-down"] * warned
    for one in found:
        assert (one.severity, one.value, one.bound) == ("warn", 35.0, 70.0)


@pytest.mark.parametrize(
    ("soil_test", "factor", "noted"),
    [(19.9, 0.5, False), (20.0, 0.5, True), (30.0, 1.0, False)],
)
def test_band_where_the_soil_is_not_low(soil_test, factor, noted):
    """Reductions were published for low tests, and a note says so elsewhere."""
    found = placement_checks.band_not_low(
        soil_test, 20.0, factor=factor, unit="ppm", zone=1
    )

    assert [one.code for one in found] == ["band-factor-not-low"] * noted


@pytest.mark.parametrize(
    ("method", "tillage", "noted"),
    [
        ("broadcast", "no-till", True),
        ("broadcast", "tilled", False),
        ("broadcast", None, False),
        ("band", "no-till", False),
        (None, "no-till", False),
    ],
)
def test_broadcast_without_tillage(method, tillage, noted):
    """What is broadcast without tillage stays in the top 2 in (Oregon, EM 9014)."""
    found = placement_checks.lies_on_top(method, tillage, system="us")

    assert bool(found) == noted
    assert all("stays in the top 2 in," in one.message for one in found)


def test_centimetres():
    """2 in are 5.1 cm in a metric plan."""
    (found,) = placement_checks.lies_on_top("broadcast", "no-till", system="metric")

    assert "stays in the top 5.1 cm," in found.message


def test_worked_in():
    """Tillage of 6 in takes phosphate to 3 in, then to 4.5 in (common practice)."""
    (found,) = placement_checks.worked_in(6.0, tillage="tilled", unit="in")

    assert "about 3 in, and to 4.5 in in the next year" in found.message
    assert not placement_checks.worked_in(None, tillage="tilled", unit="in")


@pytest.mark.parametrize(
    ("ratio", "tillage", "noted"),
    [
        # The Sandusky watershed's mean of 1.55 is our limit.
        (1.56, "no-till", True),
        (1.55, "no-till", False),
        (3.0, "tilled", False),
        (3.0, None, False),
        (None, "no-till", False),
    ],
)
def test_stratified(ratio, tillage, noted):
    """Rich tops without tillage are a reason to weigh bands against erosion."""
    found = placement_checks.stratified_no_till(ratio, tillage=tillage)

    assert [one.severity for one in found] == ["note"] * noted
    assert all("erosion" in one.message for one in found)


@pytest.mark.parametrize(
    ("soil_test", "texture", "unit", "noted"),
    [
        (201.0, "sandy", "ppm", True),
        (200.0, "sandy", "ppm", False),
        (500.0, "fine", "ppm", False),
        (500.0, None, "ppm", False),
        (401.0, "sandy", "lb/ac", True),  # twice the ppm
        (400.0, "sandy", "lb/ac", False),
    ],
)
def test_rich_sand(soil_test, texture, unit, noted):
    """Sand above 200 ppm may leach phosphorus."""
    found = placement_checks.sandy_high(soil_test, texture, unit=unit, zone=1)

    assert [one.code for one in found] == ["sandy-leaches"] * noted


@pytest.mark.parametrize(
    ("crop", "grade", "warned"),
    [
        ("canola", "11-52-0", False),
        ("canola", "18-46-0", True),
        ("corn-grain", "18-46-0", False),  # any N and K2O count alike
        ("sugar-beet", "18-46-0", False),  # no limit, which is told already
    ],
)
def test_limit_of_another_product(crop, grade, warned):
    """Manitoba's limits were published for 11-52-0, and others are warned of."""
    limit = seed_row_limit(crop, row_spacing=7.0, texture="fine")

    found = placement_checks.seed_row_product(limit, grade, zone=1)

    assert [one.code for one in found] == ["seed-row-unknown"] * warned


@pytest.mark.parametrize(
    ("crop", "row_spacing", "carried", "unit", "value", "bound", "said"),
    [
        # Kansas State University, Table 1: 6 lb in rows of 30 in on sand.
        (
            "corn-grain",
            30.0,
            {"N + K2O": 6.9876, "P2O5": 24.0},
            "lb/ac",
            6.99,
            6.0,
            "6.99 lb/ac of N + K2O beside the seed of corn-grain is more than 6 lb/ac "
            "(rows of 30 in, sand; Kansas State University, read)",
        ),
        # Manitoba Agriculture, Table 1: 20 lb in rows of 7 in, so 10 in rows of 14 in;
        # 10 × 1.120851 = 11.2085 kg/ha.
        (
            "canola",
            14.0,
            {"N + K2O": 0.0, "P2O5": 11.5},
            "kg/ha",
            11.5,
            11.21,
            "11.50 kg/ha of P2O5 beside the seed of canola is more than 11.2 kg/ha "
            "(lower of Manitoba's 20 and Saskatchewan's 25 lb/ac in rows to 7 in, the "
            "same in each row at 14 in; Manitoba Agriculture, read)",
        ),
        (
            "soybean",
            30.0,
            {"N + K2O": 0.0, "P2O5": 0.1},
            "lb/ac",
            0.1,
            0.0,
            "0.10 lb/ac of P2O5 beside the seed of soybean is more than 0 lb/ac "
            "(nothing in contact with the seed; Michigan State University, read)",
        ),
    ],
)
def test_seed_row_is_told(crop, row_spacing, *, carried, unit, value, bound, said):
    """What the row gets, what it bears, for which rows and who says so."""
    limit = seed_row_limit(crop, row_spacing=row_spacing, texture="sandy")

    found = placement_checks.seed_row(limit, carried, unit=unit, zone=5, crop=crop)

    assert whole(found) == [
        ("seed-row-limit", "stop", "zone 5", 5, value, unit, bound, f"zone 5: {said}")
    ]


def test_kilograms_at_the_limit():
    """6 lb/ac are 6.72510693717 kg/ha, and as much, rounded up, holds nothing back."""
    limit = seed_row_limit("corn-grain", row_spacing=30.0, texture="sandy")
    # 6 × 0.45359237 / 0.40468564224
    found = [
        placement_checks.seed_row(
            limit,
            {"N + K2O": carried, "P2O5": 90.0},
            unit="kg/ha",
            zone=1,
            crop="corn-grain",
        )
        for carried in (6.7251069372, 6.73)
    ]

    assert [len(one) for one in found] == [0, 1]


def test_unknown_limit_is_told():
    """The crop without a limit is named; N alone counts as well as P2O5."""
    found = placement_checks.seed_row(
        None, {"N + K2O": 3.0, "P2O5": 0.0}, unit="lb/ac", zone=2, crop="sugar-beet"
    )

    assert whole(found) == [
        (
            "seed-row-unknown",
            "warn",
            "zone 2",
            2,
            None,
            "",
            None,
            "zone 2: no limit is known for fertilizer beside the seed of sugar-beet: "
            "ask the local guide",
        )
    ]


def test_limit_of_another_product_is_told():
    """Both grades stand in the message."""
    limit = seed_row_limit("canola", row_spacing=7.0, texture="fine")

    found = placement_checks.seed_row_product(limit, "18-46-0", zone=3)

    assert whole(found) == [
        (
            "seed-row-unknown",
            "warn",
            "zone 3",
            3,
            None,
            "",
            None,
            "zone 3: the limit beside the seed was published for 11-52-0; none is "
            "known "
            "for 18-46-0, which may be saltier or free more ammonia",
        )
    ]


def test_band_below_removal_is_told():
    """What comes on, what the crop removes, and the share of the need."""
    found = placement_checks.band_below_removal(
        35.26, 70.04, factor=0.5, unit="kg/ha", zone=6
    )

    assert whole(found) == [
        (
            "band-factor-draws-down",
            "warn",
            "zone 6",
            6,
            35.3,
            "kg/ha",
            70.0,
            "zone 6: with a band at 0.5 of the need 35.3 kg/ha of P2O5 come on, less "
            "than the 70.0 kg/ha that the crop removes: the soil is drawn down",
        )
    ]


@pytest.mark.parametrize(
    ("applied", "removal", "bounds"),
    [(69.94, 70.04, [70.0]), (69.96, 70.04, []), (70.2, 70.44, [70.4])],
)
def test_band_below_removal_to_a_tenth(applied, removal, bounds):
    """What rounds to the removal is not below it; a tenth less is."""
    found = placement_checks.band_below_removal(
        applied, removal, factor=0.99, unit="lb/ac", zone=1
    )

    assert [one.bound for one in found] == bounds


def test_band_where_the_soil_is_not_low_is_told():
    """Test, critical level, and the half that was published at most."""
    found = placement_checks.band_not_low(20.0, 20.0, factor=0.75, unit="ppm", zone=4)

    assert whole(found) == [
        (
            "band-factor-not-low",
            "note",
            "zone 4",
            4,
            20.0,
            "ppm",
            20.0,
            "zone 4: the need is taken × 0.75 for a band, but the test of 20 ppm is "
            "not "
            "below the critical 20; reductions, to 0.5 at most, were published for low "
            "tests",
        )
    ]


@pytest.mark.parametrize(
    ("system", "stays", "reaches", "lies"),
    # 2, 4 and 1 in × 2.54.
    [("us", "2 in", "4 in", "1 in"), ("metric", "5.1 cm", "10 cm", "2.5 cm")],
)
def test_what_lies_on_top_is_told(system, stays, reaches, lies):
    """Oregon's 2 in, Iowa's 4 in, and the inch of common practice."""
    found = placement_checks.lies_on_top("broadcast", "no-till", system=system)

    assert whole(found) == [
        (
            "broadcast-on-top",
            "note",
            "field",
            None,
            None,
            "",
            None,
            f"field: broadcast without tillage phosphate stays in the top {stays}, by "
            f"another publication {reaches}; after a few years most lies in the top "
            f"{lies}",
        )
    ]


@pytest.mark.parametrize(
    ("working_depth", "tillage"), [(None, "tilled"), (6.0, "no-till"), (6.0, None)]
)
def test_nothing_is_worked_in(working_depth, tillage):
    """Without tillage, or without its depth, nothing is said of it."""
    assert placement_checks.worked_in(working_depth, tillage=tillage, unit="in") == ()


def test_worked_in_is_told():
    """25 cm of tillage take it to 12.5 cm, then to 18.75 (common practice)."""
    found = placement_checks.worked_in(25.0, tillage="tilled", unit="cm")

    assert whole(found) == [
        (
            "tillage-takes-down",
            "note",
            "field",
            None,
            None,
            "",
            None,
            "field: tillage of 25 cm takes broadcast phosphate to about 12.5 cm, and "
            "to 18.8 cm in the next year",
        )
    ]


def test_stratified_is_told():
    """Ratio and limit, and what a person may weigh."""
    found = placement_checks.stratified_no_till(1.876, tillage="no-till")

    assert whole(found) == [
        (
            "no-till-stratified",
            "note",
            "field",
            None,
            1.88,
            "times the core",
            1.55,
            "field: without tillage the top layer tests 1.88 times the whole core, "
            "more than 1.55 times: bands, or now and then deep placement, put "
            "phosphorus where roots find it and runoff does not; weigh them against "
            "erosion",
        )
    ]


@pytest.mark.parametrize(
    ("soil_test", "unit", "bound"),
    # A test in lb/ac is twice the ppm.
    [(250.5, "ppm", 200.0), (250.5, "mg/L", 200.0), (450.0, "lb/ac", 400.0)],
)
def test_rich_sand_is_told(soil_test, unit, bound):
    """Test and limit stand in the unit of the test."""
    found = placement_checks.sandy_high(soil_test, "sandy", unit=unit, zone=8)

    assert whole(found) == [
        (
            "sandy-leaches",
            "note",
            "zone 8",
            8,
            soil_test,
            unit,
            bound,
            f"zone 8: a sandy soil at {soil_test:g} {unit}, above {bound:g} {unit}, "
            "may "
            "lose phosphorus downwards: draw it down",
        )
    ]
