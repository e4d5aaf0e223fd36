"""The pages about products and placement say what their files hold."""

import re
from pathlib import Path

from vrp.agronomy.placement import figures, seed_row_limit
from vrp.agronomy.products import plain_grades

DOCS = Path(__file__).parents[1] / "docs"
PRODUCTS = (DOCS / "products.md").read_text("utf-8")
PLACEMENT = (DOCS / "placement.md").read_text("utf-8")


def rows(page, heading):
    """Return the cells of the table under a heading of that text."""
    start = page.index(heading)
    table = re.search(r"(?:^\|.*\n)+", page[start:], re.M)[0].splitlines()
    return [[one.strip() for one in row.strip("|").split("|")] for row in table]


def test_every_grade_is_listed():
    """Each grade has a row with its density and how far that was checked."""
    listed = {row[0].strip("`"): row for row in rows(PRODUCTS, "| grade |")[2:]}

    assert set(listed) == set(plain_grades())
    for grade, plain in plain_grades().items():
        assert listed[grade][1] == plain.chemistry
        if plain.density is not None:
            value, status = plain.density.value, plain.density.source.status
            assert listed[grade][2] == f"{value:g} lb/gal, {status}"
        if plain.salt_index is not None:
            value, status = plain.salt_index.value, plain.salt_index.source.status
            assert listed[grade][3] == f"{value:g}, {status}"


def test_every_implement_is_listed():
    """Each implement has a row with its efficiency and depth."""
    listed = {row[0]: row[1:] for row in rows(PLACEMENT, "| implement |")[2:]}

    for name, tool in figures().mixing.implements.items():
        assert [float(one) for one in listed.pop(name)] == [tool.efficiency, tool.depth]
    assert not listed


def test_corn_rows_are_listed():
    """The limits for corn stand on the page by row spacing and texture."""
    for spacing, sandy, other in rows(PLACEMENT, "| rows |")[2:]:
        inches = float(spacing.removesuffix(" in"))
        for texture, printed in (("sandy", sandy), ("medium", other), ("fine", other)):
            limit = seed_row_limit("corn", row_spacing=inches, texture=texture)
            assert f"{limit.value:g} lb/ac" == printed
