"""What to mind with a product."""

from dataclasses import astuple

import pytest

from vrp.agronomy import product_checks
from vrp.agronomy.products import Grade


def whole(found):
    """Return all of a finding but its remedy, which is its code's."""
    return [astuple(one)[:8] for one in found]


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


BALLPARK = "Estimated physical characteristics of fertilizer material (ballpark values)"


def test_cautions_are_told():
    """Grade, chemistry, what to mind, and where it was read; each by itself."""
    found = product_checks.cautions(
        Grade.parse("7-21-7"), "starter-2x2", place="product.grade"
    )

    named = "product.grade: 7-21-7 (phosphate solution with potassium chloride)"
    assert whole(found) == [
        ("product-caution", "note", "product.grade", None, None, "", None, message)
        for message in (
            f"{named} salts out at about 20 °F (-7 °C) (read: {BALLPARK})",
            f"{named} its potassium chloride makes it saltier than a grade made with "
            "potassium hydroxide: mind the limits near seed (read: a dealer's salt "
            "index table of liquid grades, 2012: 27.8 beside 11.5 for 6-24-6)",
        )
    ]


@pytest.mark.parametrize(
    ("given", "system", "unit", "known"),
    # 11.65 lb/gal × 0.45359237 / 3.785411784 = 1.396 kg/L.
    [(13.0, "us", "lb/gal", 11.65), (1.2, "metric", "kg/L", 1.396)],
)
def test_density_is_told(given, system, unit, known):
    """Both densities with their unit, the limit, and where the known one stands."""
    (found,) = whole(
        product_checks.density(
            Grade.parse("10-34-0"), given, system=system, place="product.density"
        )
    )

    place = "product.density"
    assert found[:7] == ("density-unusual", "warn", place, None, given, unit, known)
    assert found[7].startswith(
        f"{place}: density of {given:g} {unit} is more than 5 % from the {known:g} "
        f"{unit} known for 10-34-0 (read: {BALLPARK}; 11.6 in Nutrient Source"
    )


@pytest.mark.parametrize(
    # 11.9 lb/gal were read for 11-37-0: 5 % are 0.595.
    ("given", "warned"),
    [(12.49, False), (12.5, True), (11.31, False), (11.3, True), (None, False)],
)
def test_five_per_cent_of_density(given, warned):
    """A density may be 5 % off on either side."""
    found = product_checks.density(
        Grade.parse("11-37-0"), given, system="us", place="product"
    )

    assert [one.value for one in found] == [given] * warned


@pytest.mark.parametrize(
    ("grade", "form", "known", "by"),
    [
        (
            "10-34-0",
            "granular",
            "liquid (ammonium polyphosphate solution)",
            "weight",
        ),
        ("11-52-0", "liquid", "granular (monoammonium phosphate)", "volume"),
    ],
)
def test_form_is_told(grade, form, known, by):
    """The form that is known, the plan's, and what rates would be by."""
    found = product_checks.form(Grade.parse(grade), form, place="product.form")

    assert whole(found) == [
        (
            "product-form",
            "warn",
            "product.form",
            None,
            None,
            "",
            None,
            f"product.form: {grade} is known as {known}, but its form here is {form}, "
            f"so that rates are by {by}",
        )
    ]
