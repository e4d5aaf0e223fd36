"""Figures as a pencil writes them."""

import pytest

from vrp.evidence import half_up, whole


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


@pytest.mark.parametrize(
    ("value", "said"),
    [
        (46.5, "47"),  # an even figure below the half: bankers would say 46
        (45.5, "46"),
        (3122.5, "3,123"),
        (-2.5, "−3"),
        (-0.4, "0"),
        (46.49, "46"),
    ],
)
def test_whole_figures_of_all_views_go_up(value, said):
    """A half goes away from 0, so that page, sheet and terminal say the same."""
    assert whole(value) == said
