"""Need of P2O5 to product, and the sums."""

import math
from dataclasses import replace

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from vrp.evidence import LedgerLine, Source
from vrp.plan import Override
from vrp.prescription import Zone
from vrp.rates import Ground, Taken, settled_need, totals, zone
from vrp.spreading import Spreading, product_rate
from vrp.units import ACRE, LB_AC

SQUARE = shapely.box(0.0, 0.0, 1.0, 1.0)


def spreading(grade_percent=52.0, *, step=5.0, low=50.0, high=400.0):
    """Return a spreader of the trade's kind, lb and acres."""
    return Spreading(
        "lb/ac", "lb", "ac", ACRE, "11-52-0", grade_percent / 100, 0.11, step, low, high
    )


def credit(brought, taken=None, *, worked=""):
    """Return a credit that brings so much P2O5, and what it takes off."""
    source = Source("given", "field file: plan")
    return Taken(
        "starter",
        brought,
        brought if taken is None else taken,
        worked,
        "credit for starter",
        source,
    )


def ground(need_lb, *, soil_test=14.3, acres=12.4, override=None, credits=()):
    """Return a zone before its rate."""
    return Ground(
        3,
        SQUARE,
        acres * ACRE,
        "below critical",
        soil_test,
        12.6,
        16.2,
        0.93,
        "20 ppm",
        200.0,
        need_lb * LB_AC,
        99.9 * LB_AC,
        201,
        credits,
        override,
        (),
    )


@pytest.mark.parametrize(
    ("need", "percent", "printed"),
    [
        # Fact sheet ANR-74, Ohio State University Extension, 2019: 100 to 120 lb P2O5
        # as products in round numbers; 110 is our reading.
        (110.0, 52.0, 210.0),
        (110.0, 46.0, 240.0),
        # Course CSS 412, module 3, Cornell University: 15 lb P2O5 from 20-5-10.
        (15.0, 5.0, 300.0),
    ],
)
def test_printed_products(need, percent, printed):
    """Printed product rates come out at a step of 10 lb."""
    machine = spreading(percent, step=10.0)

    assert product_rate(need, machine).rate == printed


@pytest.mark.parametrize(
    ("need", "rate"),
    [
        (0.0, 0.0),  # no need is no rate, whatever the spreader's lowest
        (98.7, 190.0),  # 189.8
        (1.3, 0.0),  # 2.5 is nearer to 0 than to 50
        (12.9, 0.0),  # 24.8 too, though the nearest step is 25
        (13.0, 50.0),  # 25.0, exactly between 0 and 50
        (93.6, 180.0),  # 180 exactly
        (97.5, 190.0),  # 187.5, half a step goes up
        (208.0, 400.0),  # 400 exactly
        (300.0, 400.0),  # 576.9 is held to 400
    ],
)
def test_rate_within_limits(need, rate):
    """Rates lie within the spreader's limits or are 0; ties go up."""
    assert product_rate(need, spreading()).rate == rate


@given(st.floats(0.0, 500.0), st.sampled_from([1.0, 2.5, 5.0, 10.0]))
def test_rate_is_a_step_near_the_need(need, step):
    """Without limits a rate is a whole number of steps, at most half a step away."""
    found = product_rate(need, spreading(step=step, low=0.0, high=math.inf))

    assert found.rate / step == pytest.approx(round(found.rate / step))
    assert abs(found.rate - need / 0.52) <= step / 2 + 1e-6


DENSITIES = st.one_of(st.none(), st.floats(8.5, 14.0))


@given(
    st.floats(0.1, 300.0),
    st.floats(0.05, 0.6),
    DENSITIES,
    st.sampled_from([0.1, 0.5, 1.0, 5.0]),
)
def test_what_a_rate_carries(need, share, density, step):
    """Rate × density × share is the need, but for half a step of product."""
    machine = replace(
        spreading(step=step, low=0.0, high=math.inf), p2o5=share, density=density
    )

    found = product_rate(need, machine)

    weight = density or 1.0
    assert found.exact * weight * share == pytest.approx(need)
    carried = machine.carried(found.rate, share)
    assert carried == pytest.approx(found.rate * weight * share)
    assert abs(carried - need) <= step / 2 * weight * share + 0.01


@given(
    pairs=st.lists(
        st.tuples(st.floats(0.0, 150.0), st.floats(0.2, 50.0)), min_size=1, max_size=20
    ),
    density=st.floats(8.5, 14.0),
)
def test_mass_balance_of_a_liquid(pairs, density, plan):
    """Gallons are the sum of area × rate, P2O5 and N these × density × share."""
    machine = replace(
        spreading(34.0, step=0.5, low=5.0, high=60.0),
        measure="gal",
        nitrogen=0.10,
        density=density,
        price=4.0,
    )
    zones = tuple(
        zone(
            ground(need, acres=acres),
            plan=plan(),
            spreading=machine,
            no_need_above=40.0,
        )[0]
        for need, acres in pairs
    )

    sums = totals(zones, uniform_need=70.0, composite=22.0, spreading=machine)

    gallons = sum(one.rate * one.area for one in zones)
    assert (sums.unit, sums.product_unit) == ("lb", "gal")
    assert sums.zones.product == pytest.approx(gallons, rel=1e-3, abs=0.1)
    for found, share in ((sums.zones.p2o5_applied, 0.34), (sums.zones.nitrogen, 0.10)):
        assert found == pytest.approx(gallons * density * share, rel=1e-3, abs=0.01)
    assert sums.zones.cost == pytest.approx(sums.zones.product * 4.0, abs=0.01)
    assert (sums.uniform.p2o5_need, sums.uniform_rate % 0.5) == (
        pytest.approx(70.0 * sums.area, abs=0.01),
        0.0,
    )


def test_ledger_can_be_followed(plan):
    """The lines from need to product are those that a pencil gives."""
    found, rate = zone(
        ground(98.74), plan=plan(), spreading=spreading(), no_need_above=40.0
    )

    steps = {line.step: line.arithmetic for line in found.ledger}
    assert steps["product"] == "98.7 / 0.52 = 189.8"
    assert steps["rate"] == "189.8, so 190"
    assert steps["applied"] == "N 190 × 0.11 = 20.9; P2O5 190 × 0.52 = 98.8"
    assert steps["product in the zone"] == "190 × 12.4 = 2356.00"
    assert (found.rate, found.applied, found.nitrogen) == (190.0, 98.8, 20.9)
    assert (found.total, rate.nearest) == (2356.0, 190.0)


def test_no_need_above_the_limit(plan):
    """Where the zone's soil test is above the limit nothing lifts the rate from 0."""
    found, _ = zone(
        ground(30.0, soil_test=40.01),
        plan=plan(need={"min_p2o5": 40.0}),
        spreading=spreading(),
        no_need_above=40.0,
    )

    assert (found.need, found.rate, found.total) == (0.0, 0.0, 0.0)


def test_override_has_the_last_word(plan):
    """A need set by hand stands above the limit, credits and the plan's own limits."""
    by_hand = Override(p2o5=52.0, reason="seen in the field", point=(0.5, 0.5))

    found, _ = zone(
        ground(30.0, soil_test=60.0, override=by_hand, credits=(credit(20.0),)),
        plan=plan(need={"max_p2o5": 40.0}),
        spreading=spreading(),
        no_need_above=40.0,
    )

    assert (found.need, found.rate) == (52.0, 100.0)
    (line,) = [line for line in found.ledger if line.step == "override"]
    assert isinstance(line, LedgerLine)
    assert "seen in the field" in line.source.where


@pytest.mark.parametrize(
    ("need", "taken", "left", "line"),
    [
        (70.0, 20.0, 50.0, "70.0 − 20 = 50.0"),
        (20.0, 20.0, 0.0, "20.0 − 20 = 0.0"),
        (15.0, 20.0, 0.0, "15.0 − 20 is below 0, so 0"),
        (0.0, 20.0, 0.0, "0.0 − 20 is below 0, so 0"),
        # Half the ground needs 10 and half 50: 10 and 20 are taken, 15 on average.
        (30.0, 15.0, 15.0, "30.0 − 15 = 15.0"),
    ],
)
def test_credit_never_below_zero(need, taken, left, line, plan):
    """A credit of 20 comes off the need, and never more than a place needs."""
    found, lines = settled_need(
        need, plan(), credits=(credit(20.0, taken),), unit="lb/ac"
    )

    assert found == left
    assert [one.arithmetic for one in lines] == [line]
    assert ("no more" in lines[0].rule) == (0.0 < taken < 20.0)


def test_credit_shows_how_it_came_about(plan):
    """What manure brings stands before what it takes off."""
    manure = credit(38.4, worked="4 1000 gal × 12 × 80 % = 38.4")

    _, (line,) = settled_need(70.0, plan(), credits=(manure,), unit="lb/ac")

    assert line.arithmetic == "4 1000 gal × 12 × 80 % = 38.4; 70.0 − 38.4 = 31.6"


@pytest.mark.parametrize(
    ("need", "settled"), [(10.0, 30.0), (50.0, 50.0), (99.0, 80.0), (0.0, 0.0)]
)
def test_own_limits(need, settled, plan):
    """The plan's own limits hold for any need but none."""
    asked = plan(need={"min_p2o5": 30.0, "max_p2o5": 80.0})

    found, _ = settled_need(need, asked, credits=(), unit="lb/ac")

    assert found == settled


@given(
    pairs=st.lists(
        st.tuples(st.floats(0.0, 150.0), st.floats(0.2, 50.0)), min_size=1, max_size=30
    )
)
def test_mass_balance(pairs, plan):
    """Product is the sum over zones of area × rate, within 0.1 %."""
    machine = spreading()
    zones: tuple[Zone, ...] = tuple(
        zone(
            ground(need, acres=acres),
            plan=plan(),
            spreading=machine,
            no_need_above=40.0,
        )[0]
        for need, acres in pairs
    )

    sums = totals(zones, uniform_need=70.0, composite=22.0, spreading=machine)

    product = sum(one.rate * one.area for one in zones)
    assert sums.zones.product == pytest.approx(product, rel=1e-3)
    assert sums.zones.p2o5_applied == pytest.approx(product * 0.52, rel=1e-3, abs=0.06)
    assert sums.uniform_rate == 135.0  # 70 / 0.52 = 134.6
