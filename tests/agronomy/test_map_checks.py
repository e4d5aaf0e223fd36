"""Findings on what a map says of its own errors."""

import pytest

from vrp.agronomy.map_checks import stated_errors

RIGHT = ((0.50, 0.50), (0.80, 0.80), (0.95, 0.95))


def found(squared_error=1.0, coverage=RIGHT):
    told = stated_errors(
        squared_error, coverage=coverage, samples=75, place="samples.csv"
    )
    return [(one.code, one.severity, one.value, one.bound) for one in told]


def test_errors_as_stated_say_nothing():
    """At the limits of 15 points and 1.5 times nothing comes up."""
    assert found() == []
    assert found(1.5, ((0.50, 0.65), (0.80, 0.65), (0.95, 0.95))) == []
    assert found(1.0 / 1.5) == []


@pytest.mark.parametrize(
    ("share", "severity"), [(0.64, "note"), (0.56, "note"), (0.54, "warn")]
)
def test_intervals_that_are_off(share, severity):
    """Beyond 15 points the worst interval is told, beyond 25 it warns."""
    coverage = ((0.50, 0.45), (0.80, share), (0.95, 0.95))

    assert found(1.0, coverage) == [
        ("map-intervals", severity, round(100.0 * share, 1), 80.0)
    ]


@pytest.mark.parametrize(
    ("times", "severity"),
    [(1.51, "note"), (2.5, "note"), (2.51, "warn"), (0.66, "note"), (0.39, "warn")],
)
def test_size_that_is_off(times, severity):
    """Beyond 1.5 times on either side it is told, beyond 2.5 times it warns."""
    assert found(times) == [("map-error-size", severity, times, 1.5)]


def test_messages_name_figures_and_bounds():
    """Both say what was found on how many samples, and the bound."""
    coverage = ((0.50, 0.45), (0.80, 0.60), (0.95, 0.95))

    one, two = stated_errors(0.5, coverage=coverage, samples=75, place="samples.csv")

    assert one.message == (
        "samples.csv: the map's 80 % intervals hold 60 % of 75 left-out samples, more "
        "than 15 points off"
    )
    assert two.message == (
        "samples.csv: squared errors of 75 left-out samples are 0.50 times what the "
        "map states, more than 1.5 times below it"
    )
