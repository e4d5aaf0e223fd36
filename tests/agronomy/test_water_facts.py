"""What counts for and against a zone where water is near."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vrp.agronomy.water_case import Handling, ZoneCase
from vrp.agronomy.water_facts import ppm, water_facts, weigh
from vrp.agronomy.water_figures import figures, very_high
from vrp.units import KG_HA

CASE = ZoneCase(
    zone=1,
    soil_test=30.0,
    unit="ppm",
    method="mehlich-3-icp",
    no_need_above=50.0,
    p2o5=60.0,
    distance=500.0,
    water="a stream",
    slope=1.0,
)
PLACED = Handling(method="band", depth=0.1, tillage="no-till", residue="left", month=5)
LB = KG_HA["lb/ac"]


def fact(name, case=CASE, handling=PLACED, system="us"):
    (found,) = [
        one for one in water_facts(case, handling, system=system) if one.name == name
    ]
    return found


def test_nothing_against():
    """A poor zone far from water, flat, its phosphate in a deep band, has nothing."""
    (found,) = weigh([CASE], PLACED, system="us")

    assert (found.against, found.judged) == (0, 10)
    assert {one.stands for one in found.facts} == {"for"}


@pytest.mark.parametrize(
    ("name", "change", "stands"),
    [
        # The guideline's own limit is not above itself.
        ("over-need", {"soil_test": 50.0}, "for"),
        ("over-need", {"soil_test": 50.01}, "against"),
        # Ohio State University: no more P above 120 ppm by Mehlich-3.
        ("very-high", {"soil_test": 120.0}, "for"),
        ("very-high", {"soil_test": 120.1}, "against"),
        ("very-high", {"soil_test": 240.0, "unit": "lb/ac"}, "for"),
        ("very-high", {"soil_test": 240.2, "unit": "lb/ac"}, "against"),
        # The same: 150 ppm by Bray P1; the Minnesota table: 120 by Olsen.
        ("very-high", {"soil_test": 150.0, "method": "bray-p1"}, "for"),
        ("very-high", {"soil_test": 150.1, "method": "bray-p1"}, "against"),
        ("very-high", {"soil_test": 120.0, "method": "olsen"}, "for"),
        ("very-high", {"soil_test": 120.1, "method": "olsen"}, "against"),
        # Journal of Environmental Quality 37, 1488–1496: 150 m in storms of 10 years.
        ("storm-reach", {"distance": 150.1}, "for"),
        ("storm-reach", {"distance": 150.0}, "against"),
        # Agricultural Water Management 41, 77–89: within 60 m.
        ("stream-side", {"distance": 60.1}, "for"),
        ("stream-side", {"distance": 60.0}, "against"),
        ("slope", {"slope": 5.0}, "for"),
        ("slope", {"slope": 5.01}, "against"),
        ("rate", {"p2o5": 90.0 * LB}, "for"),
        ("rate", {"p2o5": 90.1 * LB}, "against"),
    ],
)
def test_both_sides_of_a_limit(name, change, stands):
    """A fact stands against a zone beyond its limit, or within its distance."""
    assert fact(name, replace(CASE, **change)).stands == stands


@pytest.mark.parametrize(
    ("name", "change", "stands"),
    [
        ("on-top", {"method": "broadcast", "depth": None}, "against"),
        ("on-top", {"method": "incorporated"}, "for"),
        ("on-top", {"method": "deep-band", "depth": None}, "for"),
        ("shallow", {"depth": 0.0507}, "against"),
        ("shallow", {"depth": 0.0508}, "for"),
        ("late", {"method": "broadcast", "month": 10}, "for"),
        ("late", {"method": "broadcast", "month": 11}, "against"),
        ("late", {"method": "broadcast", "month": 3}, "against"),
        ("late", {"method": "broadcast", "month": 4}, "for"),
        ("late", {"month": 12}, "for"),
        ("late", {"method": "broadcast", "month": 5, "southern": True}, "against"),
        ("late", {"method": "broadcast", "month": 9, "southern": True}, "against"),
        ("late", {"method": "broadcast", "month": 10, "southern": True}, "for"),
        ("late", {"method": "broadcast", "month": 4, "southern": True}, "for"),
        ("tillage", {"tillage": "tilled"}, "against"),
        ("tillage", {"tillage": "no-till"}, "for"),
        ("tillage", {"tillage": None, "method": "incorporated"}, "against"),
        ("residue", {"residue": "removed"}, "against"),
        ("residue", {"residue": "left"}, "for"),
    ],
)
def test_handling(name, change, stands):
    """What the plan says of the application stands for or against every zone."""
    assert fact(name, handling=replace(PLACED, **change)).stands == stands


@pytest.mark.parametrize(
    ("name", "case", "handling"),
    [
        ("over-need", {"no_need_above": None}, {}),
        ("very-high", {"method": "morgan"}, {}),
        ("very-high", {"unit": "mg/L", "method": "olsen"}, {}),
        ("storm-reach", {"distance": None}, {}),
        ("stream-side", {"distance": None}, {}),
        ("slope", {"slope": None}, {}),
        ("on-top", {}, {"method": None}),
        ("late", {}, {"month": None}),
        ("late", {}, {"month": 1, "method": None}),
        ("tillage", {}, {"tillage": None}),
        ("residue", {}, {"residue": None}),
    ],
)
def test_what_is_not_known(name, case, handling):
    """What was not given stands neither for nor against."""
    found = fact(name, replace(CASE, **case), replace(PLACED, **handling))

    assert found.stands == "not known"


def test_nothing_spread():
    """Where nothing is spread neither placement nor season stands against a zone."""
    broadcast = Handling(method="broadcast", month=1)
    case = replace(CASE, p2o5=0.0, distance=10.0)
    (found,) = weigh([case], broadcast, system="us")

    stands = {one.name: one.stands for one in found.facts}
    assert (stands["on-top"], stands["late"], stands["rate"]) == ("for",) * 3
    assert [one.action for one in found.advice] == ["as-planned"]


def test_in_the_units_of_the_plan():
    """60 m are 197 ft, 90 lb/ac are 101 kg/ha, 2 in are 5.08 cm."""
    near, handling = replace(CASE, distance=30.48), replace(PLACED, depth=0.04)

    assert fact("stream-side", near).said == "100 ft from a stream, within 197 ft"
    metric = fact("stream-side", near, system="metric")
    assert metric.said == "30 m from a stream, within 60 m"
    assert (metric.value, metric.limit, metric.unit) == (30.5, 60.0, "m")
    assert fact("rate", system="metric").said == "60 kg/ha of P2O5, not above 101 kg/ha"
    shallow = fact("shallow", handling=handling, system="metric")
    assert (shallow.value, shallow.limit, shallow.unit) == (4.0, 5.08, "cm")


def test_ratio_to_the_limit():
    """85 ppm are 1.70 times a limit of 50 ppm."""
    found = fact("over-need", replace(CASE, soil_test=85.0))

    assert found.said == "soil test 85 ppm, 1.70 times the no-need limit of 50 ppm"


def test_what_is_not_known_is_not_judged():
    """Of ten facts two distances, a slope and the residue are unknown: six judged."""
    case = replace(CASE, distance=None, slope=None)
    (found,) = weigh([case], replace(PLACED, residue=None), system="us")

    assert (found.against, found.judged) == (0, 6)


def test_a_limit_in_the_test_unit():
    """120 ppm is 240 lb/ac, and is shown so."""
    found = fact("very-high", replace(CASE, soil_test=250.0, unit="lb/ac"))

    assert (found.limit, found.unit) == (240.0, "lb/ac")
    assert found.said == "soil test 250 lb/ac, above 240 lb/ac"


def test_by_mass_and_by_volume():
    """60 lb/ac is 30 ppm (Ohio State University); by volume there is no ppm."""
    assert ppm(60.0, "lb/ac") == ppm(30.0, "ppm") == 30.0
    assert ppm(30.0, "mg/L") is None
    assert very_high("modified-morgan") is None


SOIL = st.floats(1.0, 400.0)
CASES = st.builds(
    ZoneCase,
    zone=st.just(1),
    soil_test=SOIL,
    unit=st.sampled_from(["ppm", "mg/L", "lb/ac"]),
    method=st.sampled_from(["mehlich-3-icp", "bray-p1", "olsen", "morgan"]),
    no_need_above=st.none() | st.floats(10.0, 120.0),
    p2o5=st.floats(0.0, 200.0),
    distance=st.floats(0.0, 400.0),
    water=st.just("a ditch"),
    slope=st.floats(0.0, 20.0),
)
HANDLINGS = st.builds(
    Handling,
    method=st.none() | st.sampled_from(["broadcast", "incorporated", "band"]),
    depth=st.none() | st.floats(0.01, 0.3),
    tillage=st.none() | st.sampled_from(["no-till", "tilled"]),
    residue=st.none() | st.sampled_from(["left", "removed"]),
    month=st.none() | st.integers(1, 12),
    southern=st.booleans(),
)


def against(case, handling, system="us"):
    (found,) = weigh([case], handling, system=system)
    return found.against


@given(CASES, HANDLINGS, st.floats(0.0, 1.0), st.floats(1.0, 5.0))
def test_worse_is_never_less(case, handling, nearer, more):
    """Nearer to water, steeper, higher in test or rate: never fewer facts against."""
    before = against(case, handling)

    for worse in (
        replace(case, distance=case.distance * nearer),
        replace(case, slope=case.slope * more),
        replace(case, soil_test=case.soil_test * more),
        replace(case, p2o5=case.p2o5 * more),
    ):
        assert against(worse, handling) >= before


@given(CASES, HANDLINGS)
def test_broadcast_is_never_less_than_incorporated(case, handling):
    """What lies on the surface has never fewer facts against it than worked in."""
    incorporated = replace(handling, method="incorporated")
    broadcast = replace(handling, method="broadcast", depth=None)

    if handling.tillage == "no-till":  # the plan refuses it with incorporated
        incorporated = replace(incorporated, tillage=None)
    if case.p2o5 > 0.0:
        assert against(case, broadcast) >= against(case, incorporated)


def test_order():
    """Most facts first; ties by nearness, test, slope and rate, then by number."""
    plain = replace(CASE, distance=300.0)
    cases = [
        replace(plain, zone=1),
        replace(plain, zone=2, p2o5=61.0),
        replace(plain, zone=3, slope=2.0),
        replace(plain, zone=4, soil_test=31.0),
        replace(plain, zone=5, distance=200.0),
        replace(plain, zone=6, distance=55.0),
        replace(plain, zone=7, distance=100.0),
        replace(plain, zone=8, distance=None),
        replace(plain, zone=9),
    ]

    found = weigh(cases, PLACED, system="us")

    assert [one.zone for one in found] == [6, 7, 5, 4, 3, 2, 1, 9, 8]
    assert [one.place for one in found] == list(range(1, 10))


@pytest.mark.parametrize(
    ("change", "handling", "actions"),
    [
        ({"distance": 100.0}, {}, ["as-planned"]),
        ({"distance": 100.0}, {"method": "broadcast"}, ["band"]),
        (
            {"distance": 100.0},
            {"method": "broadcast", "tillage": "tilled"},
            ["incorporate"],
        ),
        (
            {"distance": 100.0},
            {"method": "broadcast", "tillage": None},
            ["incorporate"],
        ),
        (
            {"distance": 100.0, "slope": 6.0},
            {"method": "broadcast", "tillage": "tilled"},
            ["band"],
        ),
        (
            {"distance": 100.0},
            {"method": "broadcast", "stratified": True},
            ["deeper"],
        ),
        ({"distance": 100.0}, {"depth": 0.03}, ["deeper"]),
        ({"distance": 100.0, "p2o5": 110.0}, {}, ["split"]),
        (
            {"distance": 100.0, "p2o5": 110.0},
            {"method": "broadcast", "tillage": "tilled"},
            ["incorporate", "split"],
        ),
        ({"p2o5": 110.0}, {"method": "broadcast"}, ["as-planned"]),
        ({"soil_test": 51.0, "distance": 100.0}, {}, ["do-not-apply"]),
        ({"soil_test": 121.0, "no_need_above": None}, {}, ["do-not-apply"]),
    ],
)
def test_advice(change, handling, actions):
    """Placement is weighed with water, slope, tillage and the test."""
    case, placed = replace(CASE, **change), replace(PLACED, **handling)
    (found,) = weigh([case], placed, system="us")

    assert [one.action for one in found.advice] == actions


def test_the_other_side_is_named():
    """Advice that opens the soil names erosion, and one that costs says what."""
    advice = figures().advice

    assert "lays the soil open" in advice["incorporate"].trade
    assert "erosion" in advice["incorporate"].trade
    assert "erosion" in advice["deeper"].trade
    assert all(one.trade for name, one in advice.items() if name != "as-planned")


def test_every_limit_has_its_status():
    """Limits that were read say so, and those from memory too."""
    found = figures()

    assert {one.source.status for one in found.very_high} == {"read"}
    assert found.storm_reach.source.status == "read"
    assert found.stream_side.source.status == "read"
    assert found.slope.source.status == "our-choice"
    assert found.rate.source.status == "from-memory"
    assert found.placed_below.source.status == "from-memory"
    assert found.late.source.status == "from-memory"
