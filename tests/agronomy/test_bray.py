"""Weak and strong Bray side by side, and which method suits which pH."""

from dataclasses import astuple

import numpy as np
import pytest

from vrp.agronomy.bray import tied_up, weak_and_strong
from vrp.agronomy.checks import checks
from vrp.agronomy.method_fit import method_ph
from vrp.agronomy.sample_checks import bray_p1_ph

PLACE = "s.csv"
NAN = float("nan")


def whole(found):
    """Return all of a finding but its remedy, which is its code's."""
    return [astuple(one)[:8] for one in found]


@pytest.mark.parametrize(
    ("weak", "strong", "expected"),
    [
        ([15.0], [40.0], 1),
        ([15.1], [40.0], 0),
        ([15.0], [39.9], 0),
        ([5.0], [16.0], 0),
        ([60.0], [140.0], 0),
        ([15.0], [NAN], 0),
        ([0.0], [55.0], 1),
    ],
)
def test_tied_up(weak, strong, expected):
    """Only a low weak test with a high strong one warns: 15 and 40 ppm, our choice."""
    found = tied_up(weak, strong, [2], zone=3, place=PLACE)

    assert [one.severity for one in found] == ["warn"] * expected
    assert checks()["phosphorus-tied-up"].source.status == "our-choice"


def test_tied_up_is_said():
    """Count, rows and ratio of those samples stand in the message: 60 / 12 = 5."""
    weak, strong = [10.0, 30.0, 14.0], [50.0, 60.0, 70.0]

    (found,) = tied_up(weak, strong, [2, 3, 4], zone=7, place=PLACE)

    assert "zone 7: 2 of 3 samples (rows 2, 4) are low by weak Bray" in found.message
    assert "5.0 times as much" in found.message
    assert (found.zone, found.value, found.bound) == (7, 60.0, 40.0)


def test_strong_bray_is_no_basis():
    """What the finding means names calcium phosphates and rules out a rate."""
    meaning = checks()["phosphorus-tied-up"].meaning

    assert "Calcium phosphates" in meaning
    assert "Neither is a basis for a rate" in meaning


def test_reading_of_a_field():
    """A note gives the medians of both tests and their ratio, 40 / 20 = 2."""
    found = weak_and_strong(
        [20.0, 10.0, 30.0, 5.0],
        [40.0, 30.0, 50.0, NAN],
        [2, 3, 4, 5],
        unit="ppm",
        place=PLACE,
    )

    assert [(one.code, one.severity) for one in found] == [
        ("bray-weak-and-strong", "note")
    ]
    assert "(weak Bray) 20 ppm" in found[0].message
    assert "(strong Bray) 40 ppm, 2.0 times as much" in found[0].message
    assert "3 samples" in found[0].message


def test_strong_below_weak():
    """Strong Bray below weak Bray warns of swapped columns; equal ones do not."""
    found = weak_and_strong(
        [20.0, 12.0, 10.0], [18.0, 12.0, 9.5], [2, 3, 4], unit="ppm", place=PLACE
    )

    assert [one.code for one in found] == ["bray-weak-and-strong", "bray-p2-below-p1"]
    assert found[1].severity == "warn"
    assert "2 of 3 samples (rows 2, 4), as 18 and 20 ppm in row 2" in found[1].message


def test_no_strong_bray():
    """A column that is blank throughout says nothing."""
    assert weak_and_strong([9.0], [NAN], [2], unit="ppm", place=PLACE) == ()


@pytest.mark.parametrize(
    ("method", "ph", "expected"),
    [
        ("bray-p1", [7.0, 6.0], 0),
        ("bray-p1", [7.1, 6.0], 1),
        ("bray-p1", [7.4, 7.4], 2),
        ("bray-p1", [7.5, 8.0], 0),
        ("olsen", [7.0, 8.0], 0),
        ("olsen", [6.9, 8.0], 1),
        ("olsen", [NAN, NAN], 0),
        ("mehlich-3-icp", [5.0, 8.0], 0),
        ("morgan", [8.0, 5.0], 0),
    ],
)
def test_method_suits_ph(method, ph, expected):
    """Olsen is preferred above pH 7, Bray below: common practice, and a note."""
    found = method_ph(method, ph, [2, 3], place=PLACE)

    assert [one.severity for one in found] == ["note"] * bool(expected)
    assert all(f"{expected} of 2 samples" in one.message for one in found)
    assert checks()["method-ph"].source.status == "common-practice"


def test_a_sample_is_alarmed_once():
    """Of 7.2, 7.4 and 7.8 the note counts two and the warning the third."""
    ph = np.array([7.2, 7.4, 7.8, 6.0])

    (note,) = method_ph("bray-p1", ph, [2, 3, 4, 5], place=PLACE)
    (warning,) = bray_p1_ph("bray-p1", ph, zone=1, place=PLACE)

    assert "2 of 4 samples" in note.message
    assert "(rows 2, 3)" in note.message
    assert "1 of 4 samples" in warning.message


@pytest.mark.parametrize(
    ("weak", "strong", "value", "said"),
    [
        # Medians of the two samples that show it: (10 + 14) / 2 and (50 + 70) / 2.
        (
            [10.0, 30.0, 14.0],
            [50.0, 60.0, 70.0],
            60.0,
            "2 of 3 samples (rows 2, 4) are low by weak Bray (12 ppm, at most 15) and "
            "high by strong Bray (60 ppm, at least 40), 5.0 times as much: something "
            "ties their phosphorus up",
        ),
        # Nothing at all is no base for a ratio.
        (
            [0.0],
            [55.126],
            55.13,
            "1 of 1 samples (row 2) are low by weak Bray (0 ppm, at most 15) and high "
            "by strong Bray (55.13 ppm, at least 40): something ties their phosphorus "
            "up",
        ),
        (
            [0.5, 15.0],
            [40.0, 20.0],
            40.0,
            "1 of 2 samples (row 2) are low by weak Bray (0.5 ppm, at most 15) and "
            "high "
            "by strong Bray (40 ppm, at least 40), 80.0 times as much: something ties "
            "their phosphorus up",
        ),
    ],
)
def test_tied_up_in_a_sentence(weak, strong, value, said):
    """Rows, both medians, both limits and the ratio stand in the warning."""
    assert whole(
        tied_up(weak, strong, [2, 3, 4][: len(weak)], zone=7, place=PLACE)
    ) == [
        (
            "phosphorus-tied-up",
            "warn",
            PLACE,
            7,
            value,
            "ppm",
            40.0,
            f"s.csv, zone 7: {said}",
        )
    ]


@pytest.mark.parametrize(
    ("weak", "strong", "said"),
    [
        (
            [20.0, 10.0, 30.0, 5.0],
            [40.0, 30.0, 50.0, NAN],
            [
                "available phosphorus (weak Bray) 20 ppm, with part of the reserve "
                "(strong Bray) 40 ppm, 2.0 times as much (medians of 3 samples)"
            ],
        ),
        # Without any weak Bray there is no ratio.
        (
            [0.0, 0.0, 9.0],
            [12.0, 12.0, 12.0],
            [
                "available phosphorus (weak Bray) 0 ppm, with part of the reserve "
                "(strong Bray) 12 ppm (medians of 3 samples)"
            ],
        ),
        (
            [0.5, 0.5],
            [0.6, 0.4],
            [
                "available phosphorus (weak Bray) 0.5 ppm, with part of the reserve "
                "(strong Bray) 0.5 ppm, 1.0 times as much (medians of 2 samples)",
                "strong Bray reads lower than weak Bray in 1 of 2 samples (row 3), as "
                "0.4 and 0.5 ppm in row 3",
            ],
        ),
        (
            [20.0, 30.0, 12.0],
            [18.0, 29.0, 12.0],
            [
                "available phosphorus (weak Bray) 20 ppm, with part of the reserve "
                "(strong Bray) 18 ppm, 0.9 times as much (medians of 3 samples)",
                "strong Bray reads lower than weak Bray in 2 of 3 samples (rows 2, 3), "
                "as 18 and 20 ppm in row 2",
            ],
        ),
    ],
)
def test_weak_and_strong_in_a_sentence(weak, strong, said):
    """Both medians, their ratio and how many samples; then what reads lower."""
    rows = [2, 3, 4, 5][: len(weak)]
    kinds = [("bray-weak-and-strong", "note"), ("bray-p2-below-p1", "warn")]

    assert whole(weak_and_strong(weak, strong, rows, unit="ppm", place=PLACE)) == [
        (*kind, PLACE, None, None, "", None, f"s.csv: {one}")
        for kind, one in zip(kinds, said, strict=False)
    ]


@pytest.mark.parametrize(
    ("method", "ph", "value", "said"),
    [
        (
            "bray-p1",
            [7.2, NAN, 7.4, 7.8, 7.0],
            7.4,
            "2 of 5 samples have a pH above 7 and up to 7.4 (rows 2, 4), where Olsen "
            "(sodium bicarbonate) is preferred to Bray P1",
        ),
        (
            "olsen",
            [7.2, 6.1, NAN, 5.9, 7.0],
            5.9,
            "2 of 5 samples have a pH below 7 (rows 3, 5), where Bray P1 is preferred "
            "to Olsen (sodium bicarbonate)",
        ),
    ],
)
def test_method_ph_in_a_sentence(method, ph, value, said):
    """Rows, the pH furthest off, and which of the two methods is preferred."""
    assert whole(method_ph(method, ph, [2, 3, 4, 5, 6], place=PLACE)) == [
        ("method-ph", "note", PLACE, None, value, "pH", 7.0, f"s.csv: {said}")
    ]
