"""What else could have made a surface, judged by hand arithmetic."""

import math

import numpy as np
import pytest

from vrp.spatial.candidates import compare, leave_out_drawn, simple_candidates
from vrp.spatial.surface import build_surface
from vrp.spatial.validation import Candidate, CrossValidation, Predictions

GRID = np.stack(np.meshgrid(np.arange(9.0), np.arange(9.0)), -1).reshape(-1, 2) * 64.0
ZEROS = np.zeros(4)


def judged(**errors):
    """Compare four samples in as many blocks, each off by the errors given."""
    surface = Predictions(np.array(errors.pop("surface")), np.array(errors["kriged"]))
    others = tuple(
        Candidate(name, Predictions(np.array(each), np.array(each)))
        for name, each in errors.items()
        if name != "kriged"
    )
    cross = CrossValidation(
        ZEROS,
        np.arange(4),
        surface,
        surface,
        others[0].predictions,
        others,
        math.nan,
        math.nan,
    )
    return compare(cross, taken="kriging")


def test_difference_and_its_error():
    """Squares of 1, 1, 1, 1 less those of 2, 1, 3, 2 leave 0, 3, 3, 8: 3.5 ± 1.66."""
    found = judged(
        surface=[0.0, 0.0, 0.0, 3.0],
        kriged=[1.0, -1.0, 1.0, 1.0],
        mean=[1.0, 2.0, -2.0, 3.0],
    )

    kriged, mean = found.scores
    assert (kriged.name, kriged.difference, kriged.standard_error) == ("kriging", 0, 0)
    assert (kriged.leave_one_out, kriged.blocked) == (1.5, 1.0)  # root of 9 / 4
    assert mean.blocked == pytest.approx(math.sqrt(18 / 4))
    # 14 / 4; the deviations from 3.5 square to 12.25, 0.25, 0.25, 20.25: 33 in all.
    assert mean.difference == pytest.approx(3.5)
    assert mean.standard_error == pytest.approx(math.sqrt(4 / 3 * 33.0) / 4)


def test_simpler_within_one_standard_error():
    """A worse candidate is the rule's where it is simpler and within the error."""
    near = judged(
        surface=ZEROS, kriged=[1.0] * 4, mean=[3.0] * 4, weighted=[0.0, 2.0, 0.5, 0.5]
    )
    far = judged(
        surface=ZEROS, kriged=[1.0] * 4, mean=[3.0] * 4, weighted=[2.0, 2.0, 2.0, 2.1]
    )

    # Squares of 0, 4, 0.25 and 0.25 are 4.5 against 4: less than their scatter.
    assert (near.best, near.simplest) == ("kriging", "weighted")
    assert (far.best, far.simplest) == ("kriging", "kriging")


def test_nearer_in_every_block():
    """What is nearer in every block alike is so without an error, and the best."""
    found = judged(surface=ZEROS, kriged=[1.0] * 4, mean=[0.5] * 4)

    assert found.scores[1].difference == pytest.approx(-0.75)  # 0.25 less 1
    assert found.scores[1].standard_error == 0.0
    assert (found.best, found.simplest) == ("mean", "mean")


def test_means_of_drawn_zones():
    """A sample is its zone's mean without it, or the field's where it is alone."""
    value, zone = np.array([10.0, 14.0, 30.0, 50.0, 7.0]), np.array([0, 0, 0, 1, -1])

    alone = leave_out_drawn(value, np.arange(5), drawn=zone)
    blocked = leave_out_drawn(value, np.array([0, 0, 1, 2, 3]), drawn=zone)

    np.testing.assert_allclose(alone, [22.0, 20.0, 12.0, 61 / 4, 26.0])
    np.testing.assert_allclose(blocked, [30.0, 30.0, 12.0, 61 / 4, 26.0])


def test_candidates_from_the_simplest():
    """The field mean comes first, then drawn zones, then distance weighting."""
    value, block = np.arange(81.0), np.arange(81) // 9

    plain = simple_candidates(GRID, value, block)
    drawn = simple_candidates(GRID, value, block, drawn=np.arange(81) // 40)

    weighted = [f"inverse distance, power {power}" for power in (1, 2, 3)]
    assert [one.name for one in plain] == ["field mean", *weighted]
    assert [one.name for one in drawn][:2] == ["field mean", "means of the drawn zones"]


def test_surface_beside_its_candidates():
    """The surface stands first; kriging on the other scale stands beside it."""
    height = np.sin(GRID[:, 0] / 120.0) + np.cos(GRID[:, 1] / 150.0)
    value = np.exp(3.0 + 0.6 * height)
    surface = build_surface(GRID, value, GRID)

    found = compare(surface.cross, taken=surface.method)

    assert surface.log
    assert [one.name for one in found.scores[:2]] == [
        "ordinary kriging",
        "ordinary kriging, linear scale",
    ]
    assert found.scores[-1].name == "field mean"
    # A plain pattern is far from its mean.
    assert found.scores[-1].difference > 3.0 * found.scores[-1].standard_error


def test_field_mean_is_taken():
    """Where the surface is the field mean it is named once, and differs by nothing."""
    value = 20.0 + 5.0 * (-1.0) ** np.arange(81)
    surface = build_surface(GRID, value, GRID)

    found = compare(surface.cross, taken=surface.method)

    names = [one.name for one in found.scores]
    assert names[0] == "field mean"
    assert names.count("field mean") == 1
    assert found.scores[0].difference == 0.0
