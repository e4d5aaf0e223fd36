"""What products carry."""

import pytest

from vrp.agronomy.products import (
    Grade,
    liquid_density,
    plain_grades,
    shipped_density,
)
from vrp.errors import InputError


@pytest.mark.parametrize(
    ("grade", "product", "carried"),
    [
        # Cornell University, CSS 412, module 3: 100 lb of 20-5-10.
        ("20-5-10", 100.0, (20.0, 5.0, 10.0, 0.0)),
        # University of Illinois: 200 lb of 18-46-0 carry 36 lb of N.
        ("18-46-0", 200.0, (36.0, 92.0, 0.0, 0.0)),
        # Common practice: 11-52-0 carries 52 % P2O5.
        ("11-52-0", 100.0, (11.0, 52.0, 0.0, 0.0)),
        (" 0-46-0 ", 100.0, (0.0, 46.0, 0.0, 0.0)),
        ("10.5-34-0", 10.0, (1.05, 3.4, 0.0, 0.0)),
    ],
)
def test_carried(grade, product, carried):
    """A product carries its grade's share of N, P2O5, K2O and S."""
    assert Grade.parse(grade).carried(product) == pytest.approx(carried)


def test_product():
    """15 lb of P2O5 are in 300 lb of 20-5-10 (Cornell University, CSS 412)."""
    assert Grade.parse("20-5-10").product(15.0) == pytest.approx(300.0)


def test_text():
    """A grade is written as it was read."""
    assert str(Grade.parse("11-52-0")) == "11-52-0"


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("46-0-0", "grade 46-0-0: carries no P2O5"),
        ("30-50-30", "grade 30-50-30: sums to 110 %, more than 100 %"),
        ("11-52", "grade '11-52': write N-P2O5-K2O in percent, such as 11-52-0"),
        ("11--52-0", "grade '11--52-0': write"),
        ("", "grade '': write"),
        ("\u0661\u0661-52-0", "grade '\u0661\u0661-52-0': write"),
    ],
)
def test_refusals(text, message):
    """What is no grade, or no phosphate, is refused."""
    with pytest.raises(InputError, match=message):
        Grade.parse(text)


def test_sulfur():
    """Sulfur is carried by its own percentage, and counts to the sum of a grade."""
    grade = Grade.parse("12-40-0", sulfur=10.0)

    assert grade.carried(200.0) == pytest.approx((24.0, 80.0, 0.0, 20.0))
    with pytest.raises(InputError, match=r"grade 18-46-0 with 40 % S: sums to 104 %"):
        Grade.parse("18-46-0", sulfur=40.0)


@pytest.mark.parametrize(
    ("grade", "density"),
    [
        # Estimated physical characteristics of fertilizer material.
        ("10-34-0", 11.65),
        ("10-30-0", 11.7),
        ("7-21-7", 11.2),
        ("4-10-10", 10.3),
        # Nutrient Source Specifics No. 2, International Plant Nutrition Institute.
        ("11-37-0", 11.9),
    ],
)
def test_printed_densities(grade, density):
    """Densities ship as printed, and were read."""
    value, source = shipped_density(Grade.parse(grade), system="us")

    assert (value, source.status) == (density, "read")


def test_density_from_memory():
    """A density that nobody read says so."""
    _, source = shipped_density(Grade.parse("9-24-3"), system="us")

    assert source.status == "from-memory"


def test_litres():
    """11.65 lb/gal are 11.65 × 0.45359237 / 3.785411784 = 1.396 kg/L."""
    value, _ = shipped_density(Grade.parse("10-34-0"), system="metric")

    assert value == 1.396


def test_a_gallon_as_printed():
    """
    A gallon of 10-34-0 carries about 1.1 lb of N and 3.9 lb of P2O5.

    Plant and soil lessons, University of Nebraska, which takes 11.4 lb/gal.
    """
    nitrogen, p2o5, _, _ = Grade.parse("10-34-0").carried(11.4)

    assert (round(nitrogen, 1), round(p2o5, 1)) == (1.1, 3.9)


@pytest.mark.parametrize(
    ("grade", "density", "message"),
    [
        ("10-34-0", None, r"density is missing: .* 10-34-0 .* write density = 11.65"),
        ("6-24-6", None, r"density is missing: .* product's own sheet$"),
        ("10-34-0", 1.4, r"density of 1.4 lb/gal: .* 8.3 to 15 lb/gal; check the unit"),
        ("10-34-0", 87.0, r"density of 87 lb/gal"),
    ],
)
def test_density_refusals(grade, density, message):
    """A liquid without a density, or with one in another unit, is refused."""
    with pytest.raises(InputError, match=message):
        liquid_density(Grade.parse(grade), density, system="us")


def test_shipped_grades_are_plain():
    """Each grade that ships is written as grades are, and a liquid has no bulk."""
    for text, plain in plain_grades().items():
        assert str(Grade.parse(text)) == text
        assert plain.bulk_density is None or plain.form == "granular"
        assert plain.density is None or plain.form == "liquid"


def test_ammonia_is_told_of():
    """18-46-0 has a caution for placement near the seed, and it was read."""
    (caution,) = plain_grades()["18-46-0"].cautions

    assert "ammonia" in caution.text
    assert (caution.near_seed, caution.source.status) == (True, "read")


def test_ends_of_what_is_taken():
    """A grade may sum to 100 %, not to 101; a liquid may weigh 8.3 or 15 lb/gal."""
    assert Grade.parse("40-50-10").p2o5 == 50.0
    with pytest.raises(InputError, match="sums to 101 %, more than 100 %"):
        Grade.parse("40-51-10")
    grade = Grade.parse("10-34-0")
    for density in (8.3, 15.0):
        assert liquid_density(grade, density, system="us") == density
