"""How long a rich soil takes to come down when nothing is spread."""

import pytest

from vrp.agronomy.drawdown import LONGEST, Drawdown, seasons_until
from vrp.agronomy.forecast import Fall, Model


def model(*halvings):
    """Return figures by which a test halves in so many unfertilised seasons."""
    falls = tuple(Fall(True, one) for one in halvings)
    return Model((1.0,), (10.0,), falls, None, 1.0)


@pytest.mark.parametrize(
    ("limit", "seasons"),
    # 100 × 2^(−n/4): 84.1, 70.7, 59.5, 50 after the fourth, 42.0 after the fifth.
    [(100.0, 0), (84.1, 1), (84.0, 2), (59.5, 3), (50.0, 4), (49.9, 5)],
)
def test_halving_in_four_seasons(limit, seasons):
    """A test of 100 that halves in four seasons is at the limit after so many."""
    found = seasons_until(model(4.0), 100.0, limit, removed=50.0)

    assert found == Drawdown(seasons, seasons, seasons)


def test_a_band():
    """By the fastest figures 100 is at 50 after 3 seasons, by the slowest after 9."""
    found = seasons_until(model(9.0, 3.0, 5.0), 100.0, 50.0, removed=50.0)

    assert found == Drawdown(3, 5, 9)


def test_too_long():
    """What takes longer than a forecast tells has no number."""
    found = seasons_until(model(LONGEST + 1.0, 4.0), 100.0, 50.0, removed=50.0)

    assert found == Drawdown(4, 4, None)
