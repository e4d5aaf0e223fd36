"""Findings on what a map says of its own errors."""

import pytest

from vrp.agronomy.map_checks import beaten, clustered, drawn_zones, stated_errors

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


@pytest.mark.parametrize(
    ("ratio", "severities"),
    [(0.4, []), (1.4, []), (float("nan"), []), (1.41, ["warn"])],
)
def test_clustered_samples(ratio, severities):
    """Above 1.4 times samples are clustered; where none can tell nothing is said."""
    told = list(clustered(ratio, samples=60, system="us", place="samples.csv"))

    assert [one.severity for one in told] == severities
    if told:
        assert "lies 1.4 times as far from its nearest sample as the 60" in (
            told[0].message
        )
        assert (told[0].value, told[0].bound) == (1.41, 1.4)


def test_nearest_of_what_beats_the_map():
    """Beyond two standard errors the nearest candidate is named, with both errors."""
    asked = {"unit": "ppm", "samples": 31, "system": "us", "place": "samples.csv"}
    asked["taken"] = ("ordinary kriging", 8.1)
    one = ("inverse distance, power 1", 8.0, -2.0, 0.9)
    two = ("inverse distance, power 2", 7.0, -17.0, 8.0)

    (told,) = beaten([one, two], **asked)

    assert (told.code, told.severity) == ("map-beaten", "note")
    assert "inverse distance, power 2 is off by 7.0 ppm" in told.message
    assert "ordinary kriging, which is taken, by 8.1 ppm" in told.message
    assert list(beaten([], **asked)) == []
    assert list(beaten([(*two[:3], 8.5)], **asked)) == []


@pytest.mark.parametrize(
    ("skill", "by_map", "severity", "end"),
    [
        (0.21, 0.35, "note", "their means remove 21 %, the map from the samples 35 %"),
        (0.21, None, "note", "left-out samples their means remove 21 %"),
        (0.0, 0.35, "warn", "their means remove 0 %, the map from the samples 35 %"),
        (None, None, "note", "(4 % would by chance)"),
    ],
)
def test_drawn_zones(skill, by_map, severity, end):
    """The share between is told; means that remove nothing warn."""
    (told,) = drawn_zones(
        0.34,
        by_chance=0.04,
        zones=4,
        samples=75,
        skill=skill,
        by_map=by_map,
        place="zones.geojson",
    )

    assert (told.severity, told.value, told.bound) == (severity, 34.0, 4.0)
    assert told.message.startswith(
        "zones.geojson: 34 % of the variance of 75 samples lies between the 4 zones"
    )
    assert told.message.endswith(end)
