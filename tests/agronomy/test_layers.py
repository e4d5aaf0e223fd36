"""Cores cut in layers, by hand arithmetic."""

from dataclasses import astuple

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
            r"row 3: .* end at 20 in.*; 20 looks like centimetres: write depths",
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


def whole(found):
    """Return all of a finding but its remedy, which is its code's."""
    return [astuple(one)[:8] for one in found]


@pytest.mark.parametrize(
    ("asked", "severity", "zone", "value", "message"),
    [
        # One sample: its ratio is the median, and both ends of the range.
        (
            {"ratio": [1.5], "top": [2.0], "unit": "in"},
            "note",
            None,
            1.5,
            "s.csv: the top 2 in test 1.50 times the whole core (median of 1 sample in "
            "layers, 1.50 to 1.50; 0 above 1.55)",
        ),
        # (1.554 + 1.562) / 2 = 1.558, which is 1.56; the limit itself is not above.
        (
            {"ratio": [1.554, 1.562, 1.55, 1.7], "top": [5.0] * 4, "unit": "cm"},
            "note",
            None,
            1.56,
            "s.csv: the top 5 cm test 1.56 times the whole core (median of 4 samples "
            "in layers, 1.55 to 1.70; 3 above 1.55)",
        ),
        (
            {"ratio": [1.9, 2.1], "top": [1.0, 2.5], "unit": "in", "zone": 4},
            "warn",
            4,
            2.0,
            "s.csv, zone 4: the top 1 to 2.5 in test 2.00 times the whole core (median "
            "of 2 samples in layers; above 1.55)",
        ),
        # Of three depths the least and the greatest.
        (
            {"ratio": [1.8, 1.9, 2.0], "top": [2.0, 2.5, 1.0], "unit": "in", "zone": 2},
            "warn",
            2,
            1.9,
            "s.csv, zone 2: the top 1 to 2.5 in test 1.90 times the whole core (median "
            "of 3 samples in layers; above 1.55)",
        ),
        (
            {"ratio": [1.6], "top": [2.0], "unit": "in", "zone": 1},
            "warn",
            1,
            1.6,
            "s.csv, zone 1: the top 2 in test 1.60 times the whole core (median of 1 "
            "sample in layers; above 1.55)",
        ),
    ],
)
def test_stratification_of_field_and_zone(asked, severity, zone, value, message):
    """A field is told range and count above the limit, a zone the limit alone."""
    assert whole(stratification(place=PLACE, **asked)) == [
        (
            "soil-test-stratified",
            severity,
            PLACE,
            zone,
            value,
            "times the core",
            1.55,
            message,
        )
    ]


CORE = ": the layers of a sample must follow one another from 0 to the depth"


@pytest.mark.parametrize(
    ("bounds", "unit", "depth", "message"),
    [
        (
            [(1, 2), (2, 6)],
            "in",
            6,
            "s.csv row 2: the layer of 1 to 2 in is the uppermost of its sample and "
            f"does not start at 0{CORE}",
        ),
        (
            [(0, 2), (1, 6)],
            "in",
            6,
            "s.csv row 3: the layer of 1 to 6 in overlaps that of row 2, which ends at "
            f"2{CORE}",
        ),
        (
            [(0, 5), (5, 10), (11, 15)],
            "cm",
            15,
            "s.csv row 4: the layer of 11 to 15 cm leaves a gap below row 3, which "
            "ends "
            f"at 10{CORE}",
        ),
        (
            [(6, 2)],
            "in",
            6,
            "s.csv row 2: the layer of 6 to 2 in has no thickness: give depth_from "
            "above depth_to",
        ),
        (
            [(0, 2), (2, 6)],
            "in",
            8,
            "s.csv row 3: the layers of its sample end at 6 in, but depth is 8 in: "
            "they "
            "must make up the whole core",
        ),
        # 6 in are 15.24 cm, which rules call 15; 8 in are 20.32.
        (
            [(0, 5), (5, 15)],
            "in",
            6,
            "s.csv row 3: the layers of its sample end at 15 in, but depth is 6 in: "
            "they must make up the whole core; 15 looks like centimetres: write "
            "depths in inches",
        ),
        (
            [(0, 8)],
            "cm",
            20,
            "s.csv row 2: the layers of its sample end at 8 cm, but depth is 20 cm: "
            "they must make up the whole core; 8 looks like inches: write depths in "
            "centimetres",
        ),
        # 20 cm are 7.87 in; 7.4 in are more than 5 % off.
        (
            [(0, 7.4)],
            "cm",
            20,
            "s.csv row 2: the layers of its sample end at 7.4 cm, but depth is 20 cm: "
            "they must make up the whole core",
        ),
    ],
)
def test_what_is_said_of_layers_that_are_no_core(bounds, unit, depth, message):
    """Row, layer, unit and what it should be stand in one sentence."""
    with pytest.raises(InputError) as refused:
        check_layers(layers(*bounds), depth=depth, unit=unit, place=PLACE)

    assert str(refused.value) == message


@pytest.mark.parametrize("off", [-0.009, 0.009])
def test_layers_meet_within_a_hundredth(off):
    """A hundredth of an inch is no gap, no overlap and no other end."""
    check_layers(layers((0, 2), (2 + off, 6 + off)), depth=6, unit="in", place=PLACE)


@pytest.mark.parametrize(
    "bounds", [[(0, 2), (2.02, 6)], [(0, 2), (1.98, 6)], [(0, 2), (2, 6.02)]]
)
def test_two_hundredths_are_too_much(bounds):
    """Two hundredths of an inch are a gap, an overlap or another end."""
    with pytest.raises(InputError):
        check_layers(layers(*bounds), depth=6, unit="in", place=PLACE)


def test_mean_of_whole_numbers():
    """Whole numbers serve as well: (2 × 7 + 4 × 4) / 6 = 5."""
    assert weighted_mean((7, 4), (2, 4)) == 5.0
