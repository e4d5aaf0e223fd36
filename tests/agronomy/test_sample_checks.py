"""Checks of samples, on both sides of each limit."""

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
        (date(2027, 5, 1), date(2027, 1, 1), None),
        (None, date(2027, 1, 1), "samples-undated"),
        (date(2026, 10, 2), None, "samples-undated"),
    ],
)
def test_age(sampled, counted_to, code):
    """More than 4 years to the day warns, and so does an age that is not known."""
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
