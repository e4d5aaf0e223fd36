"""Prices per nutrient, and how often phosphate raised a yield."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vrp.agronomy.economics import (
    Case,
    price_of_p2o5,
    price_per_nutrient,
    priced_by,
    response,
)
from vrp.agronomy.products import Grade
from vrp.errors import InputError
from vrp.evidence import LedgerLine


@pytest.mark.parametrize(
    ("price", "percent", "printed"),
    [
        # Guide A-133, New Mexico State University: 0-46-0 at 996 a ton.
        (996.0, 46.0, 1.08),
        # Fertilizer arithmetic, University of Wisconsin Extension: 46-0-0 at 700 and
        # 28-0-0 at 600 a ton, a pound of N.
        (700.0, 46.0, 0.76),
        (600.0, 28.0, 1.07),
    ],
)
def test_printed_prices(price, percent, printed):
    """Printed prices a pound come out from prices a ton."""
    ton, _ = priced_by("granular", system="us")

    found = price_per_nutrient(price, mass=ton, percent=percent)

    assert found == pytest.approx(printed, abs=0.005)


def test_nitrogen_first():
    """
    18-46-0 at 800 a ton: 360 lb of N at 0.60 are 216, and 584 / 920 lb = 0.635.

    The way of Guide A-133, New Mexico State University; figures by hand.
    """
    grade = Grade.parse("18-46-0")

    found = price_of_p2o5(800.0, grade, mass=2000.0, nitrogen_price=0.6)

    assert found == pytest.approx(0.6348, abs=5e-5)
    assert price_of_p2o5(800.0, grade, mass=2000.0) == pytest.approx(800 / 920)


def test_liquid_by_the_gallon():
    """A gallon of 10-34-0 at 11.65 lb for 3.50: 3.50 / 3.961 lb = 0.884."""
    found = price_of_p2o5(3.5, Grade.parse("10-34-0"), mass=11.65)

    assert found == pytest.approx(0.8836, abs=5e-5)


def test_nitrogen_worth_more_than_the_product():
    """Prices by which the P2O5 would cost less than nothing are refused."""
    with pytest.raises(InputError, match=r"18-46-0 at a price of 200: .* 360.00 at"):
        price_of_p2o5(200.0, Grade.parse("18-46-0"), mass=2000.0, nitrogen_price=1.0)


@given(
    price=st.floats(1.0, 2000.0),
    nitrogen=st.floats(0.0, 30.0),
    p2o5=st.floats(1.0, 60.0),
    share=st.floats(0.0, 1.0),
)
def test_parts_sum_to_the_price(price, nitrogen, p2o5, share):
    """N and P2O5 at their prices are worth what the product costs."""
    grade = Grade(nitrogen, p2o5, 0.0)
    n_mass = 2000.0 * nitrogen / 100.0
    n_price = share * price / n_mass if n_mass > 1e-3 else 0.0

    found = price_of_p2o5(price, grade, mass=2000.0, nitrogen_price=n_price)

    parts = n_mass * n_price + 2000.0 * p2o5 / 100.0 * found
    assert parts == pytest.approx(price)


@pytest.mark.parametrize(
    ("form", "system", "expected"),
    [
        ("granular", "us", (2000.0, "ton")),
        ("granular", "metric", (1000.0, "tonne")),
        ("liquid", "us", (1.0, "gal")),
        ("liquid", "metric", (1.0, "L")),
    ],
)
def test_what_a_price_is_for(form, system, expected):
    """A price is for a ton of 2000 lb, a tonne, a gallon or a litre."""
    amount, name = priced_by(form, system=system)

    assert (pytest.approx(amount), name) == expected


IOWA = "Iowa State University Extension and Outreach"
MINNESOTA = "University of Minnesota Extension"


@pytest.mark.parametrize(
    ("word", "printed"),
    [
        # "Making your fertilizer dollars stretch", Iowa State University Extension.
        ("Very low", "80 %"),
        ("Low", "65 %"),
        ("Optimum", "25 %"),
        ("High", "5 %"),
        ("Very high", "under 1 %"),
    ],
)
def test_iowa(word, printed):
    """The printed chances of Iowa's classes, which promise no yield."""
    line = response(Case(IOWA, "soybean", "mehlich-3-icp", word, 12.0))

    assert line.arithmetic.endswith(f": {printed}")
    assert line.source.status == "read"
    assert "promises no yield" in line.rule


@pytest.mark.parametrize(
    ("soil_test", "printed"),
    [
        # On-farm grids in Minnesota, Soil Science Society of America, 2011: corn, by
        # Bray P1 of 6-10, 11-15, 16-20 and above 20 ppm.
        (6.0, 80.0),
        (10.0, 80.0),
        (11.0, 60.0),
        (15.0, 60.0),
        (16.0, 25.0),
        (20.0, 25.0),
        (21.0, 7.0),
        (60.0, 7.0),
    ],
)
def test_minnesota(soil_test, printed):
    """The printed chances for corn by Bray P1 in Minnesota."""
    case = Case(MINNESOTA, "corn-grain", "bray-p1", "low", soil_test)

    assert response(case).value == printed


@pytest.mark.parametrize(
    "case",
    [
        Case("Ohio State University Extension", "corn-grain", "bray-p1", "low", 12.0),
        Case(MINNESOTA, "soybean", "bray-p1", "low", 12.0),
        Case(MINNESOTA, "corn-grain", "olsen", "low", 12.0),
        Case(MINNESOTA, "corn-grain", "bray-p1", "very low", 5.0),
        Case(IOWA, "alfalfa", "bray-p1", "low", 12.0),
        Case(IOWA, "corn-grain", "morgan", "low", 12.0),
        Case(IOWA, "corn-grain", "bray-p1", "a word of mine", 12.0),
    ],
)
def test_elsewhere_nothing_is_said(case):
    """Another state, crop, method or class than the publication's has no line."""
    assert response(case) is None


PROMISES = (
    "promises no yield: on two fields in Kentucky 51 % of the plots responded, where "
    "the soil test foretold the field's mean in 5 of 7 site-years (read: a field study "
    "of 7 site-years with 150 and more pairs of plots each, Agronomy Journal, 2025, "
    "doi "
    "10.1002/agj2.70028)"
)


@pytest.mark.parametrize(
    ("case", "said", "chance", "state"),
    [
        (
            Case(MINNESOTA, "corn", "bray-p1", "low", 20.5),
            "21 and more ppm: 7 %",
            7.0,
            "Minnesota",
        ),
        (
            Case(MINNESOTA, "corn", "bray-p1", "low", 10.49),
            "6 to 10 ppm: 80 %",
            80.0,
            "Minnesota",
        ),
        (
            Case(IOWA, "soybeans", "olsen", "Very High", None),
            "very high: under 1 %",
            1.0,
            "Iowa",
        ),
    ],
)
def test_response_is_told(case, said, chance, state):
    """Class, chance, state, and that it promises no yield, beside the arithmetic."""
    line = response(case)

    assert line == LedgerLine(
        "chance of a yield response",
        said,
        chance,
        "%",
        "beside it, for information: how often phosphate raised the yield in "
        f"{state}; {PROMISES}",
        line.source,
    )
    assert line.source.status == "read"


def test_no_response_without_a_test():
    """Classes by ppm say nothing of a test that is no mass."""
    assert response(Case(MINNESOTA, "corn", "bray-p1", "low", None)) is None
