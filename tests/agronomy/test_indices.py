"""Parts of phosphorus indices, as printed."""

import pytest

from vrp.agronomy.indices import index_class, manure_screen
from vrp.errors import InputError


@pytest.mark.parametrize(
    ("value", "word", "status"),
    [
        # Department of Natural Resources of Iowa, Odor and Nutrient Management
        # Newsletter, summer 2004: 0–1, >1–2, >2–5, >5–15; above 15 from memory.
        (0.0, "very low", "read"),
        (1.0, "very low", "read"),
        (1.01, "low", "read"),
        (2.0, "low", "read"),
        (2.01, "medium", "read"),
        (5.0, "medium", "read"),
        (5.01, "high", "read"),
        (15.0, "high", "read"),
        (15.01, "very high", "from-memory"),
    ],
)
def test_iowa(value, word, status):
    """A value on a limit is in the lower class; what was not read says so."""
    found = index_class(value, which="iowa")

    assert (found.word, found.source.status) == (word, status)


@pytest.mark.parametrize("value", [-0.1, float("nan")])
def test_no_index(value):
    """An index below 0 is no index."""
    with pytest.raises(InputError, match="must be 0 or more"):
        index_class(value, which="iowa")


# "Phosphorus loss potential and manure application rates", Natural Resources
# Conservation Service, Minnesota: distance [ft], test by Bray P1, erosion, strip.
PRINTED = [
    ((200, 100, 3, False), "removal-index"),
    ((0, 21, 0, False), "nitrogen"),
    ((10, 10, 7, True), "none"),
    ((5000, 10, 7, False), "none"),
    ((200, 21, 3, False), "nitrogen"),
    ((200, 22, 3, False), "removal"),
    ((200, 22, 3, True), "nitrogen-index"),
    ((200, 75, 6, False), "removal"),
    ((200, 76, 6, False), "removal-index"),
    ((200, 150, 1, False), "removal-index"),
    ((200, 151, 1.9, False), "none"),
    ((200, 151, 1.9, True), "removal"),
    ((300, 75, 3, False), "nitrogen"),
    ((299.9, 75, 3, False), "removal"),
    ((300, 76, 3, False), "removal-index"),
    ((300, 76, 3, True), "nitrogen"),
    ((300, 150, 6, True), "nitrogen"),
]


@pytest.mark.parametrize(("case", "answer"), PRINTED)
def test_minnesota(case, answer):
    """The first row that fits answers; erosion of 6 is within the table, 7 is not."""
    feet, test, erosion, strip = case

    found = manure_screen(
        test, method="bray-p1", feet=feet, erosion=erosion, filter_strip=strip
    )

    assert found.answer == answer
    assert found.source.status == "read"


def test_a_row_that_prints_removal():
    """200 ft, Bray P1 100, 3 ton, no strip: by what the crop removes of P2O5."""
    found = manure_screen(
        100, method="bray-p1", feet=200, erosion=3, filter_strip=False
    )

    assert found.said.startswith("manure by what the crop removes of P2O5")


@pytest.mark.parametrize(
    ("olsen", "bray"), [(16, 21), (17, 22), (60, 75), (120, 150), (121, 151)]
)
@pytest.mark.parametrize("feet", [200, 300])
@pytest.mark.parametrize("strip", [True, False])
def test_olsen_has_its_own_steps(olsen, bray, feet, strip):
    """Olsen 16, 60 and 120 stand beside Bray P1 21, 75 and 150."""
    case = {"feet": feet, "erosion": 1.0, "filter_strip": strip}

    assert manure_screen(olsen, method="olsen", **case) == manure_screen(
        bray, method="bray-p1", **case
    )


@pytest.mark.parametrize(
    "case",
    [
        (200, 100, 3, True),
        (200, 151, 2, False),
        (200, 151, 6, True),
        (300, 151, 1, True),
    ],
)
def test_what_was_not_readable(case):
    """Rows that could not be read with certainty give no answer, and say why."""
    feet, test, erosion, strip = case

    found = manure_screen(
        test, method="bray-p1", feet=feet, erosion=erosion, filter_strip=strip
    )

    assert found.answer is None
    assert found.said.endswith("look at the original")


def test_refused():
    """The table is for two methods, and no figure of it is below 0."""
    case = {"feet": 100.0, "erosion": 1.0, "filter_strip": True}

    with pytest.raises(InputError, match=r"is for bray-p1 or olsen.*mehlich-3-icp"):
        manure_screen(30.0, method="mehlich-3-icp", **case)
    with pytest.raises(InputError, match="erosion -1: must be 0 or more"):
        manure_screen(30.0, method="olsen", **{**case, "erosion": -1.0})
