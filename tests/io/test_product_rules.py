"""Keys of products and placement that need or exclude each other."""

import pytest

from vrp.errors import InputError
from vrp.io.field_file import read_field_file

GRADE = 'grade = "11-52-0"'


@pytest.mark.parametrize(
    ("product", "message"),
    [
        (
            'grade = "10-34-0"\nform = "liquid"',
            r"^field.toml: product\.density is missing: .* write density = 11\.65 if",
        ),
        (
            'grade = "10-34-0"\nform = "liquid"\ndensity = 1.4',
            r"product\.density of 1\.4 lb/gal: .*; check the unit",
        ),
        (
            'grade = "11-52-0"\ndensity = 60',
            r"product\.density is for liquids, in lb/gal",
        ),
        ('grade = "46-0-0"', r"product: grade 46-0-0: carries no P2O5"),
        (
            'grade = "18-46-0"\ns = 40',
            r"product: grade 18-46-0 with 40 % S: sums to 104",
        ),
        (
            'grade = "11-52-0"\nnitrogen_price = 0.6',
            r"product\.nitrogen_price needs product\.price",
        ),
        (
            'grade = "0-46-0"\nprice = 800\nnitrogen_price = 0.6',
            r"product\.nitrogen_price is given, but 0-46-0 carries no N",
        ),
        (
            'grade = "18-46-0"\nprice = 200\nnitrogen_price = 1.0',
            r"product: 18-46-0 at a price of 200: its N alone is worth 360\.00",
        ),
        (
            f'{GRADE}\n[[alternative]]\ngrade = "0-46-0"\n'
            '[[alternative]]\ngrade = "6-24-6"\nform = "liquid"',
            r"alternative\[2\]\.density is missing: .* from the product's own sheet$",
        ),
        (
            f'{GRADE}\n[application]\nband_factor = 0.5\nmethod = "broadcast"',
            r"application\.band_factor = 0\.5 is for bands",
        ),
        (
            f"{GRADE}\n[application]\nband_factor = 0.5",
            r"application\.band_factor = 0\.5 is for bands",
        ),
        (
            f'{GRADE}\n[application]\nmethod = "band"\nband_factor = 1.2',
            r"application\.band_factor = 1\.2: must be at most 1",
        ),
        (
            f'{GRADE}\n[application]\nmethod = "seed-row"',
            r'application\.method = "seed-row" needs application\.row_spacing',
        ),
        (
            f'{GRADE}\n[application]\nmethod = "broadcast"\ndepth = 2',
            r"application\.depth is given, but",
        ),
        (
            f'{GRADE}\n[application]\nmethod = "incorporated"\ntillage = "no-till"',
            r'contradicts application\.tillage = "no-till"',
        ),
        (
            f'{GRADE}\n[application]\nmethod = "band"\nincorporated_within = 24',
            r'application\.incorporated_within is for method = "incorporated"',
        ),
        (
            f"{GRADE}\n[application]\ntillage_depth = 6",
            r'application\.tillage_depth needs application\.tillage = "tilled"',
        ),
    ],
)
def test_refusals(product, message, ground):
    """What contradicts itself is refused by key, with the remedy."""
    ground.change((GRADE, product))

    with pytest.raises(InputError, match=message):
        read_field_file(ground.write())


def test_what_goes_together(ground):
    """A liquid with its density and price, in a band, is taken."""
    ground.change(
        (
            GRADE,
            'grade = "10-34-0"\nform = "liquid"\ndensity = 11.65\nprice = 4.2\n'
            'nitrogen_price = 0.6\n[application]\nmethod = "deep-band"\n'
            'band_factor = 0.667\ndepth = 5\ntillage = "no-till"',
        )
    )

    plan = read_field_file(ground.write()).plan

    assert (plan.measure, plan.application.band_factor) == ("gal", 0.667)
