"""Figures as a pencil writes them."""

import pytest

from vrp.evidence import half_up


@pytest.mark.parametrize(
    ("value", "rounded"),
    [
        # 0.35 lb × 165, 225, 85 and 145 bu less 0: ties that binary fractions miss.
        (165 * 0.35, 57.8),
        (225 * 0.35, 78.8),
        (85 * 0.35, 29.8),
        (145 * 0.35, 50.8),
        (135 * 0.11, 14.9),
        (57.74, 57.7),
        (0.0, 0.0),
    ],
)
def test_half_goes_up(value, rounded):
    """A half goes up, whatever its binary fraction is."""
    assert half_up(value) == rounded


def test_more_decimals():
    """2.345 to two decimals is 2.35."""
    assert half_up(2.345, 2) == 2.35
