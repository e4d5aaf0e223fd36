"""What is doubtful about phosphate where the soil is rich or water is near."""

from dataclasses import replace

import pytest

from vrp.agronomy import water_fact_checks
from vrp.agronomy.drawdown import Drawdown
from vrp.agronomy.indices import ManureScreen, index_class
from vrp.agronomy.water_case import Handling, ZoneCase
from vrp.agronomy.water_facts import weigh
from vrp.evidence import Source

CASE = ZoneCase(
    zone=3,
    soil_test=130.0,
    unit="ppm",
    method="mehlich-3-icp",
    no_need_above=50.0,
    p2o5=0.0,
    distance=100.0,
    water="a stream",
)


def weighed(**change):
    (found,) = weigh(
        [replace(CASE, **change)], Handling(method="broadcast"), system="us"
    )
    return found


@pytest.mark.parametrize(
    ("soil_test", "limit", "applied", "found"),
    [
        (50.0, 50.0, 20.0, False),
        (50.01, 50.0, 20.0, True),
        (85.0, 50.0, 0.0, False),
        (85.0, None, 20.0, False),
    ],
)
def test_over_no_need(soil_test, limit, applied, found):
    """P2O5 above the guideline's last limit is said; at the limit it is not."""
    said = water_fact_checks.over_no_need(
        soil_test, limit, unit="ppm", applied=applied, zone=3
    )

    assert bool(said) == found
    if said:
        assert (said[0].severity, said[0].value, said[0].bound) == (
            "warn",
            soil_test,
            limit,
        )


@pytest.mark.parametrize(
    ("soil_test", "applied", "severity"),
    [(120.0, 0.0, None), (120.1, 0.0, "note"), (120.1, 9.0, "warn")],
)
def test_very_high(soil_test, applied, severity):
    """Above 120 ppm by Mehlich-3 a note, and a warning where P2O5 is put on it."""
    found = water_fact_checks.very_high(
        weighed(soil_test=soil_test), unit="ppm", limit=50.0, applied=applied
    )

    assert [one.severity for one in found] == ([] if severity is None else [severity])


@pytest.mark.parametrize(
    ("seasons", "said"),
    [
        (None, "zone 3: soil test 130 ppm, above 120 ppm (read)"),
        (
            Drawdown(9, 20, None),
            "zone 3: soil test 130 ppm, above 120 ppm (read); without P2O5 it would be "
            "down at 50 ppm after 20 seasons (9 to more than 60)",
        ),
    ],
)
def test_how_long_it_takes(seasons, said):
    """The seasons that the soil takes are told where a forecast tells them."""
    zone = replace(weighed(), seasons=seasons)
    (found,) = water_fact_checks.very_high(zone, unit="ppm", limit=50.0, applied=0.0)

    assert found.message == said


@pytest.mark.parametrize(
    ("change", "found"),
    [
        ({"p2o5": 40.0, "soil_test": 20.0}, True),
        ({"p2o5": 40.0, "soil_test": 20.0, "distance": 151.0}, False),
        ({"p2o5": 0.0, "soil_test": 20.0}, False),
        ({"p2o5": 40.0, "soil_test": 20.0, "distance": None}, False),
    ],
)
def test_on_top_near_water(change, found):
    """What is broadcast within the reach of storms is said, with what may be done."""
    said = water_fact_checks.on_top_near_water(weighed(**change))

    assert bool(said) == found
    if said:
        assert said[0].message == (
            "zone 3: broadcast: it lies on the surface, 328 ft from a stream, within "
            "492 ft: work it in within a day"
        )


def test_shallow_near_water():
    """A band of 1 in is above 2 in of depth, and goes deeper."""
    case = replace(CASE, soil_test=20.0, p2o5=40.0)
    (zone,) = weigh([case], Handling(method="band", depth=0.0254), system="us")
    (found,) = water_fact_checks.on_top_near_water(zone)

    assert found.message.startswith("zone 3: band 1 in deep, not 2 in, 328 ft from")
    assert found.message.endswith(": place it deeper")


@pytest.mark.parametrize(
    ("value", "word", "severity"),
    [(5.0, "medium", "note"), (5.1, "high", "warn"), (16.0, "very high", "warn")],
)
def test_index(value, word, severity):
    """An index of 5.0 is medium by Iowa's classes; high is a warning."""
    (found,) = water_fact_checks.index_as_given(value, index_class(value, which="iowa"))

    assert f"{value:g} is {word} (" in found.message
    assert (found.severity, found.value) == (severity, value)


@pytest.mark.parametrize(
    ("answer", "severity"), [("removal", "note"), ("none", "warn"), (None, "warn")]
)
def test_manure(answer, severity):
    """A table that allows no manure, or could not be read, warns."""
    screen = ManureScreen(answer, "in words", Source("read", "a table"))
    (found,) = water_fact_checks.manure_as_screened(screen, zone=2)

    assert (found.severity, found.message) == (severity, "zone 2: in words (read)")


def test_slope():
    """How slope was read is told, and of which zone it is not known."""
    (read,) = water_fact_checks.slope_as_read(
        "dem.tif", cell="33 ft", heights="m, as the file says"
    )
    (missing,) = water_fact_checks.slope_missing("dem.tif", zone=4)

    assert read.message == (
        "dem.tif: slope over cells of 33 ft, heights in m, as the file says"
    )
    assert (missing.zone, missing.severity) == (4, "note")
