"""Findings on how a field was parted."""

import pytest

from vrp.agronomy.zone_checks import bands_as_counted, layer_gaps


@pytest.mark.parametrize(("asked", "made"), [(None, 5), (4, 4), (3, None)])
def test_bands_as_asked_for_need_no_word(asked, made):
    """Without a number, with the number asked for, and without bands none is said."""
    assert bands_as_counted(asked, made=made, fewest=3) == ()


@pytest.mark.parametrize(
    ("asked", "made", "why"),
    [
        (2, 3, "the critical level and the limit above which nothing is needed"),
        (9, 4, "the need has no more values"),
    ],
)
def test_other_bands_than_asked_for_say_why(asked, made, why):
    """Fewer than the limits leave, or more than there are values, is a note."""
    (found,) = bands_as_counted(asked, made=made, fewest=3)
    assert (found.code, found.severity) == ("zones-not-as-counted", "note")
    assert why in found.message
    assert (found.value, found.bound) == (made, asked)


def test_gaps_of_a_layer_are_said_above_one_percent():
    """1 % is a rim, 1.2 % is said."""
    assert layer_gaps("ec.gpkg EC", missing=0.01) == ()
    (found,) = layer_gaps("ec.gpkg EC", missing=0.012)
    assert (found.severity, found.value, found.bound) == ("warn", 1.2, 1)
    assert "ec.gpkg EC: no value on 1 % of the field" in found.message
