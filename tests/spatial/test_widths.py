"""Strips and tongues that are too narrow, on cases small enough to draw."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy.ndimage import gaussian_filter

from vrp.spatial.grid import Cells
from vrp.spatial.widths import opened, widen
from vrp.spatial.zones import merge_small


def _widen(labels, values, across):
    """Widen labels of cells of 10 m to a number of cells."""
    labels = np.array(labels)
    cells = Cells(0.0, 0.0, 10.0, labels >= 0)
    flat = np.array(values, float)[cells.inside]
    return widen(labels, flat, cells, min_width=across * 10.0)


def _halves(strip, start=20):
    """Return 0 on the left, 2 on the right, and a strip of 1 between, 40 rows."""
    labels = np.zeros((40, 60), int)
    labels[:, start:] = 2
    labels[:, start : start + strip] = 1
    return labels


@pytest.mark.parametrize(("strip", "stays"), [(3, False), (4, False), (5, True)])
def test_a_strip_stays_where_it_is_wide_enough(strip, stays):
    """Of strips of 3, 4 and 5 cells only that of 5 holds a circle of 5 cells."""
    labels = _halves(strip)
    assert (_widen(labels, labels, 5) == 1).any() == stays


@pytest.mark.parametrize(("value", "expected"), [(0.4, 0), (1.6, 2)])
def test_between_equal_borders_the_nearest_need_takes_it(value, expected):
    """A strip between 0 and 2 goes to the side whose value is nearer its own."""
    labels = _halves(3)
    values = np.where(labels == 1, value, labels)
    assert set(_widen(labels, values, 5)[:, 20:23].ravel()) == {expected}


def test_the_longest_border_takes_a_tongue():
    """A tongue of 3 by 15 cells borders with 33 on its field and with 3 on its own."""
    labels = np.zeros((40, 40), int)
    labels[:20] = 1
    labels[20:35, 18:21] = 1
    wide = _widen(labels, labels, 6)
    assert (wide[22:35, 18:21] == 0).all()
    assert (wide[:20] == 1).all()
    # The circle's rim may keep a row of it, as it keeps the stairs of a border.
    assert (wide[21:] == 0).all()


def test_a_neck_is_cut():
    """Two squares of 12 cells keep their ground; the neck of 3 between them goes."""
    labels = np.zeros((40, 70), int)
    labels[14:26, 14:26] = 1
    labels[14:26, 44:56] = 1
    labels[18:21, 26:44] = 1
    wide = _widen(labels, labels, 8)
    assert (wide[18:21, 28:42] == 0).all()
    assert (wide[16:24, 16:24] == 1).all()
    assert (wide[16:24, 46:54] == 1).all()


def test_a_hole_of_the_field_is_an_edge():
    """A rim of 3 cells about a pond joins the ground around it; the pond stays."""
    labels = np.zeros((40, 40), int)
    labels[12:28, 12:28] = 1
    labels[15:25, 15:25] = -1
    wide = _widen(labels, labels, 8)
    assert (wide[labels >= 0] == 0).all()
    assert ((wide < 0) == (labels < 0)).all()


def test_a_field_that_is_narrow_itself_stays_a_zone():
    """A field of 4 cells across has ground, though no circle of 8 cells fits it."""
    labels = np.full((4, 50), 3)
    assert (_widen(labels, labels, 8) == 3).all()


def test_a_diagonal_border_is_left_as_it_is():
    """The stairs of a slanting border are no tongues."""
    row, column = np.indices((50, 50))
    labels = (column > row).astype(int)
    wide = _widen(labels, labels, 8)
    # But where it meets the field's corner at a sharp angle.
    assert (wide == labels)[8:-8].all()


def test_a_width_of_two_cells_changes_nothing():
    """What a cell cannot tell is left alone."""
    labels = _halves(1)
    assert _widen(labels, labels, 2) is not None
    assert (_widen(labels, labels, 2) == labels).all()


@settings(max_examples=60, deadline=None)
@given(arrays(np.int8, (14, 15), elements=st.integers(-1, 3)), st.integers(3, 9))
def test_the_field_keeps_its_cells(labels, across):
    """Every cell keeps a label that there was, and none gets one outside the field."""
    wide = _widen(labels.astype(int), labels, across)
    assert ((wide < 0) == (labels < 0)).all()
    assert set(wide.ravel()) <= set(labels.ravel())


def test_hardly_any_narrow_ground_is_left_on_random_fields():
    """Of ground narrower than 8 cells, 30 % or so before, less than 4 % stays."""
    for seed in range(12):
        rng = np.random.default_rng(seed)
        surface = gaussian_filter(rng.normal(size=(120, 140)), 9.0)
        labels = np.digitize(surface / surface.std(), [-0.8, -0.2, 0.4, 1.0])
        labels[:8] = labels[50:60, 60:75] = -1
        inside = labels >= 0
        cells = Cells(0.0, 0.0, 10.0, inside)
        wide = widen(labels, surface[inside], cells, min_width=80.0)
        wide = merge_small(wide, surface[inside], cells, min_area=150 * 100.0)
        before, after = (
            1.0 - opened(each, across=8.0)[inside].mean() for each in (labels, wide)
        )
        assert before > 0.1
        assert after < 0.04
