"""Checks of samples, on both sides of each limit."""

from dataclasses import astuple
from datetime import date

import numpy as np
import pytest

from vrp.agronomy.guidelines import shipped
from vrp.agronomy.sample_checks import (
    bray_p1_ph,
    looks_like_index,
    low_throughout,
    outliers,
    sample_age,
    sample_density,
    sampling_depth,
    soil_test_method,
)
from vrp.units import ACRE

TRI_STATE, RB209 = shipped()["tri-state-2020"], shipped()["rb209-2023"]
PLACE = "samples.csv"


def whole(found):
    """Return all of a finding but its remedy, which is its code's."""
    return [astuple(one)[:8] for one in found]


def severities(found):
    return [one.severity for one in found]


@pytest.mark.parametrize(
    ("guideline", "method", "expected"),
    [
        (TRI_STATE, "mehlich-3-icp", []),
        (TRI_STATE, "mehlich-3-colorimetric", ["stop"]),
        (TRI_STATE, "bray-p1", ["stop"]),
        (RB209, "olsen", []),
        (RB209, "mehlich-3-icp", ["stop"]),
    ],
)
def test_method(guideline, method, expected):
    """A test by another method than the guideline's stops."""
    found = soil_test_method(guideline, method, place=PLACE)

    assert severities(found) == expected


def test_method_is_named():
    """The message names both methods in plain words."""
    (found,) = soil_test_method(RB209, "bray-p1", place=PLACE)

    assert found.message.startswith("samples.csv: tested by Bray P1, but 'Nutrient")
    assert found.message.endswith("was made for Olsen (sodium bicarbonate)")


@pytest.mark.parametrize(
    ("values", "column", "expected"),
    [
        ([1, 2, 6], "P", ["stop"]),
        ([1, 2, 7], "P", []),
        ([1, 2, 5.5], "P", []),
        ([1, np.nan, 0], "P", ["stop"]),
        ([np.nan], "P", []),
        ([12, 20.5], "P_Index", ["stop"]),
        ([12, 20.5], "PIDX", ["stop"]),
        ([12, 20.5], "P indices", ["stop"]),
        ([12, 20.5], "Olsen P", []),
    ],
)
def test_index(values, column, expected):
    """A column named like an index, or whole values up to 6, may hold a P Index."""
    found = looks_like_index(values, column=column, place=PLACE)

    assert severities(found) == expected
    assert all(one.message.startswith("samples.csv: ") for one in found)


@pytest.mark.parametrize(
    ("ph", "expected"),
    [
        ([7.4, 7.0], []),
        ([7.5, 7.4], ["warn"]),
        ([7.5, 8.0], ["stop"]),
        ([7.5, np.nan], ["warn"]),
        ([np.nan, np.nan], []),
        ([], []),
    ],
)
def test_bray_ph(ph, expected):
    """Bray P1 above pH 7.4 warns; it stops where every sample of the zone is."""
    found = bray_p1_ph("bray-p1", ph, zone=3, place=PLACE)

    assert severities(found) == expected
    assert bray_p1_ph("olsen", ph, zone=3, place=PLACE) == ()
    assert all((one.zone, one.bound, one.unit) == (3, 7.4, "pH") for one in found)


@pytest.mark.parametrize(
    ("guideline", "system", "centimetres", "expected"),
    [
        (TRI_STATE, "us", 8 * 2.54, []),
        (TRI_STATE, "us", 7.8 * 2.54, []),
        (TRI_STATE, "us", 7.7 * 2.54, ["warn"]),
        (TRI_STATE, "us", 6 * 2.54, ["warn"]),
        (TRI_STATE, "us", 5.9 * 2.54, ["stop"]),
        (TRI_STATE, "us", 10 * 2.54, ["warn"]),
        (TRI_STATE, "us", 12 * 2.54, ["stop"]),
        (TRI_STATE, "metric", 20.0, []),
        (TRI_STATE, "metric", 15.0, ["stop"]),
        (RB209, "metric", 15.0, []),
        (RB209, "metric", 15.5, []),
        (RB209, "metric", 15.6, ["warn"]),
        (RB209, "metric", 20.0, ["warn"]),
        (RB209, "metric", 20.1, ["stop"]),
        (RB209, "metric", 7.5, ["stop"]),
        (RB209, "us", 6 * 2.54, []),
    ],
)
def test_depth(guideline, system, centimetres, expected):
    """Up to 2 in (5 cm) off warns, more stops; rounding between units is let pass."""
    found = sampling_depth(guideline, centimetres, system=system, place=PLACE)

    assert severities(found) == expected


def test_depth_message():
    """The message has both depths in the plan's unit, and the limit."""
    (found,) = sampling_depth(TRI_STATE, 6 * 2.54, system="us", place=PLACE)

    assert found.message == (
        "samples.csv: sampled to 6 in, 2 in off the guideline's 8 in (up to 2 in)"
    )
    assert (found.value, found.bound, found.unit) == (6.0, 8.0, "in")


@pytest.mark.parametrize(
    ("sampled", "counted_to", "code"),
    [
        (date(2023, 4, 1), date(2027, 4, 1), None),
        (date(2023, 3, 31), date(2027, 4, 1), "samples-old"),
        (date(2024, 2, 29), date(2028, 2, 29), None),
        (date(2024, 2, 29), date(2028, 3, 1), "samples-old"),
        (date(2027, 1, 1), date(2027, 1, 1), None),
        (date(2027, 1, 2), date(2027, 1, 1), "samples-dated-later"),
        (date(2062, 10, 2), date(2026, 11, 1), "samples-dated-later"),
        (None, date(2027, 1, 1), "samples-undated"),
        (date(2026, 10, 2), None, "samples-undated"),
    ],
)
def test_age(sampled, counted_to, code):
    """More than 4 years to the day warns, a later day too, and an age not known."""
    found = sample_age(sampled, counted_to=counted_to, place=PLACE)

    assert [one.code for one in found] == ([] if code is None else [code])
    assert severities(found) == ["warn"] * len(found)


def test_age_message():
    """The message has both days and the limit."""
    (found,) = sample_age(date(2020, 1, 1), counted_to=date(2026, 1, 1), place=PLACE)

    assert found.message == (
        "samples.csv: sampled 2020-01-01, 6.00 years before 2026-01-01, more than "
        "4 years"
    )
    assert (found.value, found.bound, found.unit) == (6.0, 4.0, "years")


@pytest.mark.parametrize(
    ("count", "area", "system", "expected"),
    [
        (10, 30 * ACRE, "us", []),
        (10, 30.1 * ACRE, "us", ["warn"]),
        (10, 120_000.0, "metric", []),
        (10, 120_100.0, "metric", ["warn"]),
    ],
)
def test_density(count, area, system, expected):
    """Fewer than one sample in 3 acres (1.2 ha) warns."""
    found = sample_density(count, area, system=system, place=PLACE)

    assert severities(found) == expected


def test_density_message():
    """The message has the density beside its limit."""
    (found,) = sample_density(10, 40 * ACRE, system="us", place=PLACE)

    assert found.message == (
        "samples.csv: 10 samples, one in 4 ac, fewer than one in 3 ac"
    )


@pytest.mark.parametrize(
    ("value", "expected"), [(200.0, []), (201.0, ["warn"]), (601.0, ["stop"])]
)
def test_outliers(value, expected):
    """Beyond 10 times the median of 20 a test warns by row, beyond 30 it stops."""
    found = outliers([20.0, 19.0, value, 20.0], [2, 3, 4, 5], unit="ppm", place=PLACE)

    assert severities(found) == expected
    assert all(one.place == f"{PLACE} row 4" for one in found)


@pytest.mark.parametrize(("largest", "count"), [(7.9, 1), (8.0, 0)])
def test_low_throughout(largest, count):
    """A column whose largest value is below 8 may be pH or organic matter."""
    found = low_throughout([2.0, 6.5, largest], column="OM", place=PLACE)

    assert len(found) == count
    assert all(one.severity == "warn" for one in found)


@pytest.mark.parametrize(
    ("guideline", "method", "said"),
    [
        (
            RB209,
            "bray-p1",
            "tested by Bray P1, but 'Nutrient Management Guide (RB209), Sections 1, 3, "
            "4 (2023) and 5 (2021)' was made for Olsen (sodium bicarbonate)",
        ),
        (
            shipped()["illinois-2009"],
            "olsen",
            "tested by Olsen (sodium bicarbonate), but 'Illinois Agronomy Handbook, "
            "chapter 8: Managing Soil pH and Crop Nutrients' was made for Bray P1 or "
            "Mehlich-3, read by colour",
        ),
        # A method that is not known goes by its id.
        (
            TRI_STATE,
            "mine",
            "tested by mine, but 'Tri-State Fertilizer Recommendations for Corn, "
            "Soybean, Wheat, and Alfalfa' was made for Mehlich-3, read by ICP",
        ),
    ],
)
def test_method_is_told(guideline, method, said):
    """Both methods and the guideline's title stand in one sentence."""
    assert whole(soil_test_method(guideline, method, place=PLACE)) == [
        ("soil-test-method", "stop", PLACE, None, None, "", None, f"{PLACE}: {said}")
    ]


@pytest.mark.parametrize(
    ("values", "column", "value", "bound", "said"),
    [
        ([20.5], "P_Index", None, None, "column 'P_Index' is named like an index"),
        (
            [1, np.nan, 6],
            "P",
            6.0,
            6.0,
            "all 2 values of 'P' are whole and the largest is 6, at most 6, as in a P "
            "Index",
        ),
    ],
)
def test_index_is_told(values, column, value, bound, said):
    """What the column's name or its values show is said, blanks not counted."""
    code = "looks-like-p-index"
    assert whole(looks_like_index(values, column=column, place=PLACE)) == [
        (code, "stop", PLACE, None, value, "", bound, f"{PLACE}: {said}")
    ]


@pytest.mark.parametrize(
    ("values", "row", "severity", "value", "bound", "said"),
    [
        # 201 / 20 = 10.05
        (
            [20.0, 19.0, 201.0, 20.0],
            4,
            "warn",
            201.0,
            200.0,
            "201 ppm is 10 times the median of 20 ppm",
        ),
        # 30 times the median itself is not beyond it.
        (
            [600.0, 20.0, 20.0],
            2,
            "warn",
            600.0,
            200.0,
            "600 ppm is 30 times the median of 20 ppm",
        ),
        (
            [20.0, 20.0, 20.0, 20.0, 850.5],
            6,
            "stop",
            850.5,
            200.0,
            "850.5 ppm is 43 times the median of 20 ppm",
        ),
        # 10 × 0.9126 = 9.126; 15 / 0.9126 = 16.4.
        (
            [0.9126, 15.0, 0.9126],
            3,
            "warn",
            15.0,
            9.13,
            "15 ppm is 16 times the median of 0.9126 ppm",
        ),
    ],
)
def test_outlier_is_told(values, row, *, severity, value, bound, said):
    """Row, value, how many times the median, and the median stand in the message."""
    rows, place = [2, 3, 4, 5, 6][: len(values)], f"{PLACE} row {row}"

    assert whole(outliers(values, rows, unit="ppm", place=PLACE)) == [
        (
            "soil-test-outlier",
            severity,
            place,
            None,
            value,
            "ppm",
            bound,
            f"{place}: {said}",
        )
    ]


def test_each_outlier_is_told():
    """Two rows far above the others are two findings."""
    values = [20.0, 300.0, 20.0, 20.0, 700.0]

    found = outliers(values, [2, 3, 4, 5, 6], unit="ppm", place=PLACE)

    assert [(one.place, one.severity) for one in found] == [
        (f"{PLACE} row 3", "warn"),
        (f"{PLACE} row 6", "stop"),
    ]


def test_no_outlier_beside_nothing():
    """Where the median is 0, nothing is so many times as much."""
    assert outliers([0.0, 0.0, 90.0], [2, 3, 4], unit="ppm", place=PLACE) == ()


def test_low_throughout_is_told():
    """The column, its largest value and the limit stand in the message."""
    found = low_throughout([2.0, 7.9, 6.5], column="OM", place=PLACE)

    assert whole(found) == [
        (
            "soil-test-low-throughout",
            "warn",
            PLACE,
            None,
            7.9,
            "",
            8.0,
            "samples.csv: the largest of 'OM' is 7.9, below 8, as of pH or organic "
            "matter",
        )
    ]


@pytest.mark.parametrize(
    ("ph", "severity", "value", "said"),
    [
        (
            [7.5, 7.4, np.nan, 7.8],
            "warn",
            7.8,
            "2 of 4 samples have a pH above 7.4, up to 7.8, where Bray P1 reads low",
        ),
        (
            [7.5, 8.0],
            "stop",
            8.0,
            "2 of 2 samples have a pH above 7.4, up to 8, where Bray P1 reads low, and "
            "no other sample speaks for the zone",
        ),
    ],
)
def test_bray_ph_is_told(ph, severity, value, said):
    """How many samples, the highest pH, and whether others speak for the zone."""
    assert whole(bray_p1_ph("bray-p1", ph, zone=3, place=PLACE)) == [
        (
            "bray-p1-high-ph",
            severity,
            PLACE,
            3,
            value,
            "pH",
            7.4,
            f"samples.csv, zone 3: {said}",
        )
    ]


@pytest.mark.parametrize(
    ("guideline", "system", "depth", "severity", "value", "unit", "bound", "said"),
    [
        (
            TRI_STATE,
            "us",
            5.9 * 2.54,
            "stop",
            5.9,
            "in",
            8.0,
            "sampled to 5.9 in, 2.1 in off the guideline's 8 in (more than 2 in)",
        ),
        # 8 in are 20.32 cm: 15 cm are 5.32 off, and 2 in are 5.08.
        (
            TRI_STATE,
            "metric",
            15.0,
            "stop",
            15.0,
            "cm",
            20.32,
            "sampled to 15 cm, 5.3 cm off the guideline's 20.3 cm (more than 5.08 cm)",
        ),
        # 15 cm are 5.906 in: 8 in are 2.094 off, and 5 cm are 1.969.
        (
            RB209,
            "us",
            8 * 2.54,
            "stop",
            8.0,
            "in",
            5.906,
            "sampled to 8 in, 2.1 in off the guideline's 5.91 in (more than 1.97 in)",
        ),
        (
            RB209,
            "metric",
            17.7777,
            "warn",
            17.778,
            "cm",
            15.0,
            "sampled to 17.8 cm, 2.8 cm off the guideline's 15 cm (up to 5 cm)",
        ),
    ],
)
def test_depth_is_told(guideline, system, *, depth, severity, value, unit, bound, said):
    """Both depths, how far they are apart and the limit are in the plan's unit."""
    found = sampling_depth(guideline, depth, system=system, place=PLACE)

    assert whole(found) == [
        (
            "sampling-depth",
            severity,
            PLACE,
            None,
            value,
            unit,
            bound,
            f"{PLACE}: {said}",
        )
    ]


@pytest.mark.parametrize(
    ("sampled", "counted_to", "missing"),
    [
        (None, date(2027, 1, 1), "no date of sampling"),
        (None, None, "no date of sampling"),
        (date(2026, 10, 2), None, "no date to count to"),
    ],
)
def test_unknown_age_is_told(sampled, counted_to, missing):
    """Which date is missing is said."""
    assert whole(sample_age(sampled, counted_to=counted_to, place=PLACE)) == [
        (
            "samples-undated",
            "warn",
            PLACE,
            None,
            None,
            "",
            None,
            f"samples.csv: the age of the samples cannot be told, {missing} is given",
        )
    ]


def test_age_is_told():
    """2,374 days from January 2020 to July 2026 are 6.50 years of 365.25 days."""
    # 6 × 365 + 2 leap days + 31 + 28 + 31 + 30 + 31 + 30 + 1 = 2374; / 365.25 = 6.4997.
    found = sample_age(date(2020, 1, 1), counted_to=date(2026, 7, 2), place=PLACE)

    assert whole(found) == [
        (
            "samples-old",
            "warn",
            PLACE,
            None,
            6.5,
            "years",
            4.0,
            "samples.csv: sampled 2020-01-01, 6.50 years before 2026-07-02, more than "
            "4 years",
        )
    ]


@pytest.mark.parametrize(
    ("area", "system", "value", "unit", "bound", "said"),
    [
        (40 * ACRE, "us", 4.0, "ac", 3.0, "4 ac, fewer than one in 3 ac"),
        # 123,456 m² are 12.3456 ha.
        (123_456.0, "metric", 1.23, "ha", 1.2, "1.23 ha, fewer than one in 1.2 ha"),
    ],
)
def test_density_is_told(area, system, *, value, unit, bound, said):
    """The ground of each sample and its limit are in the plan's unit."""
    said = f"samples.csv: 10 samples, one in {said}"
    assert whole(sample_density(10, area, system=system, place=PLACE)) == [
        ("samples-sparse", "warn", PLACE, None, value, unit, bound, said)
    ]
