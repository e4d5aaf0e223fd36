"""P2O5 in the ground, for information."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vrp.agronomy.inventory import bulk_density, lines, soil_p
from vrp.evidence import LedgerLine, Source
from vrp.units import LB_AC


def shown(soil_test, *, unit="lb/ac", test_unit="ppm", depth=20.32, **given_):
    """Return the lines for a core of 8 in."""
    asked = {"density": None, "organic_matter": None} | given_
    return lines(soil_test, test_unit=test_unit, depth=depth, unit=unit, **asked)


def test_furrow_slice():
    """2,000,000 lb in 6 2/3 in of an acre are 1.3235 g/cm³, and 2 lb/ac a ppm."""
    assert bulk_density() == pytest.approx(1.3238, abs=5e-4)
    two = soil_p(1.0, depth=6.6667 * 2.54, density=bulk_density(), unit="lb/ac")
    assert two == pytest.approx(2.0, abs=1e-3)


@pytest.mark.parametrize(("inches", "pounds"), [(6, 1.8), (8, 2.4)])
def test_other_depths(inches, pounds):
    """At the same density 6 in hold 1.8 lb/ac a ppm and 8 in 2.4, by proportion."""
    found = soil_p(1.0, depth=inches * 2.54, density=bulk_density(), unit="lb/ac")
    assert found == pytest.approx(pounds, abs=1e-3)


def test_metric():
    """15 cm at 1.3 g/cm³ hold 15 × 1.3 × 0.1 = 1.95 kg/ha a ppm."""
    assert soil_p(10.0, depth=15.0, density=1.3, unit="kg/ha") == pytest.approx(19.5)


def test_acre_inch():
    """An acre-inch at density 1 weighs 226,613 lb, so a ppm is 0.2266 lb."""
    found = soil_p(1.0, depth=2.54, density=1.0, unit="lb/ac")
    assert found == pytest.approx(0.226613, abs=2e-5)


def test_by_volume():
    """20 mg/L in 15 cm are 20 × 1.5 = 30 kg/ha of P, 68.7 of P2O5, at any density."""
    (one,) = shown(20.0, unit="kg/ha", test_unit="mg/L", depth=15.0)
    (two,) = shown(20.0, unit="kg/ha", test_unit="mg/L", depth=15.0, density=1.6)
    assert one.value == two.value == pytest.approx(68.7, abs=0.05)


def test_lb_ac_is_halved():
    """60 lb/ac of soil test is 30 ppm, whatever the depth."""
    assert shown(60.0, test_unit="lb/ac")[0].value == shown(30.0)[0].value


def test_by_hand():
    """30 ppm in 8 in: 30 × 2.4 = 72 lb/ac of P, × 2.2914 = 165.0 of P2O5."""
    (line,) = shown(30.0)
    assert line.value == pytest.approx(165.0, abs=0.1)
    assert line.step.startswith("beside it: ")
    assert "not taken off the need" in line.rule


def test_organic_matter():
    """3 % set free 12 to 21 lb P2O5/ac a year, 4 to 7 for each; 13.5 to 23.5 kg/ha."""
    _, line = shown(30.0, organic_matter=3.0)
    assert line.arithmetic == "3 × 4 = 12.0; 3 × 7 = 21.0"
    assert line.source.status == "common-practice"
    _, metric = shown(30.0, organic_matter=3.0, unit="kg/ha")
    low, high = (
        float(each.rpartition("= ")[2]) for each in metric.arithmetic.split(";")
    )
    assert (low, high) == (
        pytest.approx(12 * 1.12085, abs=0.06),
        pytest.approx(21 * 1.12085, abs=0.06),
    )


@given(st.floats(0.1, 300.0), st.floats(5.0, 40.0), st.floats(0.8, 1.8))
def test_units_agree(soil_test, depth, density):
    """Pounds an acre and kilograms a hectare are the same ground."""
    us, metric = (
        soil_p(soil_test, depth=depth, density=density, unit=unit)
        for unit in ("lb/ac", "kg/ha")
    )
    assert us * LB_AC == pytest.approx(metric)


HELD = "a calibrated soil test holds it already, so it is not taken off the need"
STOCK, FREED = "beside it: soil inventory", "beside it: organic matter"


@pytest.mark.parametrize(
    ("soil_test", "asked", "expected"),
    [
        # 2 lb in 6 2/3 in are 2.4 in 8 in; 30 × 2.4 × 2.2913 = 164.97.
        (
            30.0,
            {},
            LedgerLine(
                STOCK,
                "30 × 2.4 × 2.2913 = 165.0",
                165.0,
                "lb P2O5/ac",
                f"ppm × lb/ac of P in 0–8 in for each at 1.324 g/cm³, as P2O5; {HELD}",
                Source("computed", "density of 2,000,000 lb in 6 2/3 in of an acre"),
            ),
        ),
        # 15.24 cm × 0.1 × 1.4 / 1.120851 = 1.90355; 12.5 × 1.9036 × 2.2913 = 54.52.
        (
            12.5,
            {"depth": 15.24, "density": 1.4},
            LedgerLine(
                STOCK,
                "12.5 × 1.9036 × 2.2913 = 54.5",
                54.5,
                "lb P2O5/ac",
                f"ppm × lb/ac of P in 0–6 in for each at 1.4 g/cm³, as P2O5; {HELD}",
                Source("given", "field file: depth and bulk_density"),
            ),
        ),
        # 15 × 0.1 × 1.35 = 2.025; 27.3 × 2.025 × 2.2913 = 126.67.
        (
            27.3,
            {"depth": 15.0, "density": 1.35, "unit": "kg/ha"},
            LedgerLine(
                STOCK,
                "27.3 × 2.025 × 2.2913 = 126.7",
                126.7,
                "kg P2O5/ha",
                f"ppm × kg/ha of P in 0–15 cm for each at 1.35 g/cm³, as P2O5; {HELD}",
                Source("given", "field file: depth and bulk_density"),
            ),
        ),
        # By volume no density is asked for, nor named: 20 × 1.5 × 2.2913 = 68.74.
        (
            20.0,
            {"depth": 15.0, "density": 1.35, "unit": "kg/ha", "test_unit": "mg/L"},
            LedgerLine(
                STOCK,
                "20 × 1.5 × 2.2913 = 68.7",
                68.7,
                "kg P2O5/ha",
                f"mg/L × kg/ha of P in 0–15 cm for each, as P2O5; {HELD}",
                Source("given", "field file: depth"),
            ),
        ),
        (
            20.0,
            {"depth": 15.0, "unit": "kg/ha", "test_unit": "mg/L"},
            LedgerLine(
                STOCK,
                "20 × 1.5 × 2.2913 = 68.7",
                68.7,
                "kg P2O5/ha",
                f"mg/L × kg/ha of P in 0–15 cm for each, as P2O5; {HELD}",
                Source("given", "field file: depth"),
            ),
        ),
    ],
)
def test_the_stock_is_told(soil_test, asked, expected):
    """The line has arithmetic, unit, depth and density, and whose density it is."""
    assert shown(soil_test, **asked) == (expected,)


@pytest.mark.parametrize(
    ("unit", "arithmetic", "value", "shown_unit"),
    [
        # The middle of 8 and 14.
        ("lb/ac", "2 × 4 = 8.0; 2 × 7 = 14.0", 11.0, "lb P2O5/ac"),
        # 4 and 7 × 1.12085 are 4.48 and 7.85; the middle of 8.96 and 15.7 is 12.33.
        ("kg/ha", "2 × 4.48 = 9.0; 2 × 7.85 = 15.7", 12.3, "kg P2O5/ha"),
    ],
)
def test_what_organic_matter_sets_free_is_told(unit, arithmetic, value, shown_unit):
    """The second line has both ends and the middle, common practice."""
    _, line = shown(30.0, organic_matter=2.0, unit=unit)

    assert line == LedgerLine(
        FREED,
        arithmetic,
        value,
        shown_unit,
        f"percent of organic matter × what each sets free in a year; {HELD}",
        Source(
            "common-practice",
            "4 to 7 lb a year for each percent; Value of soil organic matter, Kansas "
            "State University, prints 4.5",
        ),
    )


def test_organic_matter_of_a_tenth():
    """2.35 % are 9.4 to 16.45 lb, in the middle 12.925: rounded once, at the end."""
    _, line = shown(30.0, organic_matter=2.35)

    assert line.value == 12.9
