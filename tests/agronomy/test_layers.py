"""Cores cut in layers, by hand arithmetic."""

import numpy as np
import pytest

from vrp.agronomy.layers import Layers, check_layers, stratification, weighted_mean
from vrp.errors import InputError

PLACE = "s.csv"


def layers(*bounds, values=None):
    top, bottom = zip(*bounds, strict=True)
    rows = tuple(range(2, 2 + len(bounds)))
    return Layers(rows, top, bottom, values or (1.0,) * len(bounds))


@pytest.mark.parametrize(
    ("values", "thickness", "mean"),
    [
        # (2 × 60 + 4 × 30) / 6
        ([60.0, 30.0], [2.0, 4.0], 40.0),
        # The same core in centimetres.
        ([60.0, 30.0], [5.08, 10.16], 40.0),
        # (1 × 50 + 1 × 30 + 3 × 20 + 3 × 10) / 8
        ([50.0, 30.0, 20.0, 10.0], [1.0, 1.0, 3.0, 3.0], 21.25),
        ([17.0], [8.0], 17.0),
    ],
)
def test_weighted_mean(values, thickness, mean):
    """The mean of a core is the sum of thickness times test, over the depth."""
    assert weighted_mean(values, thickness) == pytest.approx(mean)


def test_missing_layer():
    """A mean is missing where one of its layers is."""
    assert np.isnan(weighted_mean([60.0, np.nan], [2.0, 4.0]))


@pytest.mark.parametrize(
    ("bounds", "depth", "message"),
    [
        ([(0, 2), (3, 6)], 6, r"row 3: .* 3 to 6 in leaves a gap below row 2, .* at 2"),
        ([(0, 3), (2, 6)], 6, r"row 3: .* 2 to 6 in overlaps that of row 2, .* at 3"),
        ([(0, 2), (0, 2)], 6, r"row 3: .* 0 to 2 in overlaps that of row 2"),
        ([(1, 2), (2, 6)], 6, r"row 2: .* is the uppermost .* does not start at 0"),
        ([(0, 0), (0, 6)], 6, r"row 2: .* has no thickness"),
        ([(0, 6), (8, 6)], 6, r"row 3: .* has no thickness"),
        ([(0, 2), (2, 6)], 8, r"row 3: the layers .* end at 6 in, but depth is 8 in"),
        (
            [(0, 5), (5, 20)],
            8,
            r"row 3: .* end at 20 in.*; 20 looks like cm: write depths in in",
        ),
    ],
)
def test_layers_that_are_no_core(bounds, depth, message):
    """A gap, an overlap, another start or end is refused with its row."""
    with pytest.raises(InputError, match=f"^s.csv {message}"):
        check_layers(layers(*bounds), depth=depth, unit="in", place=PLACE)


@pytest.mark.parametrize(
    ("bounds", "depth"),
    [([(0, 2), (2, 6)], 6), ([(0, 8)], 8), ([(0, 5.08), (5.08, 15.24)], 15.24)],
)
def test_layers_that_are_a_core(bounds, depth):
    """Layers that follow one another to the depth pass, and so does a whole core."""
    check_layers(layers(*bounds), depth=depth, unit="in", place=PLACE)


def test_arithmetic():
    """A person can follow the mean with a pencil; a whole core is just its test."""
    cut = layers((0, 2), (2, 6), values=(60.0, 30.5))
    whole = layers((0, 6), values=(30.5,))

    assert cut.arithmetic == "(2 × 60 + 4 × 30.5) / 6"
    assert whole.arithmetic == "30.5"


@pytest.mark.parametrize(
    ("ratio", "zone", "expected"),
    [
        # The top inch of 1,758 fields was on average 1.55 times the sample.
        ([1.2, 1.9], None, ["note"]),
        ([1.9, 2.1], None, ["note"]),
        ([1.9, 2.1], 4, ["warn"]),
        ([1.55, np.nan], 4, []),
        ([1.56, np.nan], 4, ["warn"]),
        ([np.nan, np.nan], 4, []),
        ([np.nan, np.nan], None, []),
    ],
)
def test_stratification(ratio, zone, expected):
    """The field gets a note, a zone whose median is above 1.55 a warning."""
    found = stratification(ratio, top=[2.0, 2.0], place=PLACE, unit="in", zone=zone)

    assert [one.severity for one in found] == expected
    assert all(one.zone == zone for one in found)


def test_stratification_is_said():
    """The message has thickness, median, range and how many are above the limit."""
    ratio, top = [1.5, 1.7, 1.2, np.nan], [2.0, 2.0, 1.0, np.nan]
    (found,) = stratification(ratio, top=top, place=PLACE, unit="in")

    assert found.message == (
        "s.csv: the top 1 to 2 in test 1.50 times the whole core (median of 3 samples "
        "in layers, 1.20 to 1.70; 1 above 1.55)"
    )
