"""Slips of a plan through the whole job."""

import pytest

from vrp import job
from vrp.errors import InputError


def codes(prescription):
    return {(one.code, one.severity) for one in prescription.findings}


@pytest.mark.parametrize(
    ("old", "new", "found"),
    [
        ("yield_goal = 200", "yield_goal = 2000", ("yield-goal-unusual", "stop")),
        ("yield_goal = 200", "yield_goal = 2000", ("need-beyond-sense", "stop")),
        ("yield_goal = 200", "yield_goal = 330", ("yield-goal-unusual", "warn")),
        ("11-52-0", "52-11-0", ("grade-turned-round", "warn")),
        ("11-52-0", "52-11-0", ("much-nitrogen", "warn")),
        (
            "[need]",
            '[accept]\nsampling-depth = "x"\n[need]',
            ("accepted-in-vain", "note"),
        ),
        (
            "[need]",
            '[[credit]]\nname = "slurry"\nsource = "s"\nmanure = { amount = 4000, '
            'unit = "1000 gal", p2o5 = 12, available = 80 }\n[need]',
            ("credit-beyond-sense", "warn"),
        ),
    ],
)
def test_slips(ground, old, new, found):
    """A slip by a place or a unit is said, and what would be wrong to spread stops."""
    ground.change((old, new))

    prescription, _ = job.run(ground.write())

    assert found in codes(prescription)
    assert prescription.held_back == (found[1] == "stop")


def test_nothing_said_of_a_usual_plan(ground):
    """A usual plan has none of these findings."""
    prescription, _ = job.run(ground.write())

    said = {code for code, _ in codes(prescription)}
    assert not said & {
        "need-beyond-sense",
        "yield-goal-unusual",
        "grade-turned-round",
        "much-nitrogen",
        "credit-beyond-sense",
        "accepted-in-vain",
    }


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ('[confirm]\ntri-state-2020 = "ok"', r"\[confirm\] wants page, who and when"),
        (
            '[[credit]]\nname = "x"\nsource = "y"\n'
            'manure = { amount = 4, unit = "ton", p2o5 = 9, available = 0.8 }',
            "available = 0.8: write a percent, such as 80 for 80 %",
        ),
    ],
)
def test_refused(ground, text, message):
    """A confirmation without page or day, and a share for a percent, are refused."""
    ground.change(("[need]", f"{text}\n[need]"))

    with pytest.raises(InputError, match=message):
        job.run(ground.write())
