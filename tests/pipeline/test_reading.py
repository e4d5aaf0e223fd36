"""From the laboratory's figures to the guideline's, without a file."""

from types import SimpleNamespace

import numpy as np
import pytest

from vrp.agronomy.layers import Layers
from vrp.pipeline.reading import read_tests
from vrp.pipeline.sample_review import as_reported
from vrp.spatial.field import Samples

OHIO = "bray-p1-from-mehlich-3-ohio"


def samples(*values):
    rows = tuple(range(2, 2 + len(values)))
    shape = np.empty(len(values), dtype=object)
    ids = ("",) * len(values)
    return Samples("s.csv", rows, ids, shape, np.array(values, dtype=float), {})


def inputs(*values, layers=()):
    return SimpleNamespace(samples=samples(*values), layers=layers)


@pytest.fixture
def asked(plan):
    def _asked(**keys):
        table = {
            "file": "s.csv",
            "soil_test": "P",
            "method": "mehlich-3-icp",
            "unit": "ppm",
            "depth": 8,
        }
        return plan(samples=table | keys)

    return _asked


def test_as_reported_without_more(asked):
    """Without a key that says otherwise the numbers are the laboratory's."""
    read = read_tests(asked(lab_cv=8.0), inputs(22.0, 30.5), unit="ppm")

    assert read.observed.tolist() == [22.0, 30.5]
    assert (read.line, read.lab_cv) == (None, 8.0)


@pytest.mark.parametrize(
    ("keys", "value", "unit", "expected"),
    [
        # 44 / 2 = 22; 22 × 0.832 − 8.08 = 10.224
        ({"unit": "lb/ac", "convert": OHIO}, 44.0, "ppm", 10.22),
        # The guideline speaks of lb/ac: 2 × 10.22
        ({"convert": OHIO}, 22.0, "lb/ac", 20.44),
        # 100 / 2.291325 = 43.643
        ({"expressed_as": "P2O5"}, 100.0, "ppm", 43.64),
        # 100 / 2.291325 = 43.643; 43.64 / 2 = 21.82; × 0.832 − 8.08 = 10.074
        (
            {"expressed_as": "P2O5", "unit": "lb/ac", "convert": OHIO},
            100.0,
            "ppm",
            10.07,
        ),
        ({"expressed_as": "P"}, 22.0, "ppm", 22.0),
        ({"unit": "lb/ac"}, 44.0, "ppm", 22.0),
        ({"unit": "mg/L", "expressed_as": "P2O5"}, 22.91325, "mg/L", 10.0),
    ],
)
def test_steps(asked, keys, value, unit, expected):
    """P2O5 becomes P, then ppm, then goes through the line, then the guideline's."""
    read = read_tests(asked(**keys), inputs(value), unit=unit)

    assert read.observed.tolist() == [pytest.approx(expected)]


def test_repeatability_after_a_conversion(asked):
    """
    An intercept below 0 leaves the laboratory's noise and takes from the value.

    8 % of 22 ppm are 1.76 ppm; × 0.832 they are 1.464 of 10.22 ppm, 14.33 %.
    """
    read = read_tests(asked(convert=OHIO, lab_cv=8.0), inputs(22.0), unit="ppm")

    assert read.lab_cv == pytest.approx(14.33, abs=0.01)


def test_slips_in_a_layer_are_seen():
    """What looks doubtful is looked for in layers of one kind and not in means."""
    layers = (
        Layers((2, 4), (0.0, 2.0), (2.0, 8.0), (60.0, 30.0)),
        Layers((3,), (0.0,), (8.0,), (17.0,)),
    )

    uppermost, below = as_reported(inputs(37.5, 17.0, layers=layers))

    assert uppermost[0].tolist() == [60.0, 17.0]
    assert uppermost[1] == (2, 3)
    assert (below[0].tolist(), below[1]) == ([30.0], (4,))
    ((tests, rows),) = as_reported(inputs(37.5))
    assert (tests.tolist(), rows) == ([37.5], (2,))
