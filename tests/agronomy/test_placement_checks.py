"""What is doubtful about where phosphate is put."""

import pytest

from vrp.agronomy import placement_checks
from vrp.agronomy.placement import seed_row_limit


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
