"""What products carry."""

import pytest

from vrp.agronomy.products import Grade
from vrp.errors import InputError


@pytest.mark.parametrize(
    ("grade", "product", "carried"),
    [
        # Cornell University, CSS 412, module 3: 100 lb of 20-5-10.
        ("20-5-10", 100.0, (20.0, 5.0, 10.0)),
        # University of Illinois: 200 lb of 18-46-0 carry 36 lb of N.
        ("18-46-0", 200.0, (36.0, 92.0, 0.0)),
        # Common practice: 11-52-0 carries 52 % P2O5.
        ("11-52-0", 100.0, (11.0, 52.0, 0.0)),
        (" 0-46-0 ", 100.0, (0.0, 46.0, 0.0)),
        ("10.5-34-0", 10.0, (1.05, 3.4, 0.0)),
    ],
)
def test_carried(grade, product, carried):
    """A product carries its grade's share of N, P2O5 and K2O."""
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
