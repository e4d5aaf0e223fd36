"""What to mind with a product."""

import pytest

from vrp.agronomy import product_checks
from vrp.agronomy.products import Grade


@pytest.mark.parametrize(
    ("grade", "method", "told"),
    [
        ("18-46-0", "seed-row", 1),
        ("18-46-0", "starter-2x2", 1),
        ("18-46-0", None, 1),  # it may be near the seed
        ("18-46-0", "broadcast", 0),
        ("11-52-0", "seed-row", 0),
        ("7-21-7", "broadcast", 1),  # salts out in the cold wherever it goes
        ("7-21-7", "seed-row", 2),
        ("8-20-30", "seed-row", 0),  # nothing is known of it
    ],
)
def test_cautions(grade, method, told):
    """What holds near the seed alone is told where the product may be near it."""
    found = product_checks.cautions(Grade.parse(grade), method, place="product")

    assert [one.code for one in found] == ["product-caution"] * told
    assert {one.severity for one in found} <= {"note"}


@pytest.mark.parametrize(
    ("density", "system", "warned"),
    [
        # 11.65 lb/gal, 1.396 kg/L, were read for 10-34-0; 5 % are 0.58 lb, 0.07 kg.
        (11.65, "us", False),
        (11.4, "us", False),
        (11.0, "us", True),
        (12.3, "us", True),
        (1.4, "metric", False),
        (1.2, "metric", True),
    ],
)
def test_density(density, system, warned):
    """A density that is far from its grade's is warned of."""
    found = product_checks.density(
        Grade.parse("10-34-0"), density, system=system, place="product"
    )

    assert [one.code for one in found] == ["density-unusual"] * warned


def test_density_of_an_unknown_grade():
    """Nothing is said of a grade without a known density."""
    assert not product_checks.density(
        Grade.parse("6-24-6"), 9.0, system="us", place="product"
    )


@pytest.mark.parametrize(
    ("grade", "form", "warned"),
    [
        ("10-34-0", "granular", True),
        ("10-34-0", "liquid", False),
        ("11-52-0", "liquid", True),
        ("11-52-0", "granular", False),
        ("8-20-30", "liquid", False),
    ],
)
def test_form(grade, form, warned):
    """10-34-0 by weight, or 11-52-0 by volume, is warned of."""
    found = product_checks.form(Grade.parse(grade), form, place="product")

    assert [one.code for one in found] == ["product-form"] * warned
