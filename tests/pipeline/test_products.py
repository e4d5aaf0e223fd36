"""Liquids, sulfur, prices and other products, from field file to files read back."""

import json

import geopandas
import pytest

from vrp import job
from vrp.io import verify
from vrp.plan import Product
from vrp.spreading import Spreading, product_rate

# Each need above 0 is then 40 lb/ac.
FORTY = (
    'guideline = "tri-state-2020"',
    'guideline = "tri-state-2020"\nmin_p2o5 = 40\nmax_p2o5 = 40',
)
LIQUID = 'grade = "10-34-0"\nform = "liquid"\ndensity = 11.65'
MACHINE = (
    "min_rate = 50\nmax_rate = 400\nstep = 5",
    "min_rate = 5\nmax_rate = 40\nstep = 0.5",
)


def test_liquid_field(ground):
    """
    40 lb P2O5 are 40 / (0.34 × 11.65) = 10.1 gal of 10-34-0, 10 by steps of a half.

    10 gal carry 10 × 11.65 × 0.34 = 39.6 lb of P2O5 and 11.65 lb of N.
    """
    ground.change(FORTY, ('grade = "11-52-0"', LIQUID), MACHINE)

    prescription, out = job.run(ground.write())

    verify.check(out, prescription)
    frame = geopandas.read_file(out / "map" / "rates.geojson")
    some = frame[frame["p2o5_lb_ac"] > 0]
    assert len(some) > 0
    assert (some["rate_gpa"] == 10.0).all()
    assert (some["app_lb_ac"] == 39.6).all()
    assert some["n_lb_ac"].tolist() == pytest.approx([11.65] * len(some), abs=0.051)
    assert some["total_gal"].tolist() == pytest.approx(
        (10.0 * some["area_ac"]).tolist(), abs=0.006
    )
    assert {"k2o_lb_ac", "s_lb_ac", "rate_lb_ac", "total_lb"}.isdisjoint(frame.columns)
    (path,) = (out / "machine").glob("*.shp")
    machine = geopandas.read_file(path)
    assert list(machine.columns) == ["RATE_GPA", "PRODUCT", "geometry"]
    assert machine["RATE_GPA"].tolist() == frame["rate_gpa"].tolist()
    assert set(machine["PRODUCT"]) == {"10-34-0"}
    lines = {
        line.step: line
        for zone in prescription.zones
        if zone.need
        for line in zone.ledger
    }
    assert lines["product"].arithmetic == "40 / (0.34 × 11.65) = 10.1"
    assert lines["product"].unit == "gal/ac of 10-34-0"
    assert lines["product"].source.where == "grade 10-34-0, 11.65 lb/gal"
    assert lines["applied"].arithmetic.endswith("P2O5 10 × 11.65 × 0.34 = 39.6")
    assert lines["product in the zone"].unit == "gal"


def test_mass_balance_of_a_liquid(ground):
    """In the record, P2O5 applied is gallons × lb/gal × share, in each sum."""
    ground.change(('grade = "11-52-0"', LIQUID), MACHINE)

    _, out = job.run(ground.write())

    totals = json.loads((out / "record.json").read_text("utf-8"))["totals"]
    assert (totals["unit"], totals["product_unit"]) == ("lb", "gal")
    for sums in (totals, totals["uniform"]):
        assert sums["p2o5_applied"] == pytest.approx(
            sums["product"] * 11.65 * 0.34, rel=1e-3
        )
        assert sums["nitrogen"] == pytest.approx(
            sums["product"] * 11.65 * 0.10, rel=1e-3
        )
        assert sums["cost"] is None


def test_machine_that_a_liquid_meets(ground):
    """What the spreader changes is told in gallons."""
    ground.change(
        FORTY, ('grade = "11-52-0"', LIQUID), MACHINE, ("max_rate = 40", "max_rate = 8")
    )

    prescription, _ = job.run(ground.write())

    found = [one for one in prescription.findings if "limited-by-machine" in one.code]
    assert found
    for one in found:
        assert (one.value, one.unit, one.bound) == (10.1, "gal/ac", 8.0)
        assert "makes 8 gal/ac of 10.1 gal/ac" in one.message
        assert " gal less product in the zone" in one.message


def test_litres(plan):
    """45 kg P2O5 are 45 / (0.34 × 1.396) = 94.8 L of 10-34-0, 95 by steps of 5."""
    asked = plan(
        units="metric",
        product={"grade": "10-34-0", "form": "liquid", "density": 1.396},
        machine={"step": 5.0},
    )
    spreading = Spreading.of(asked, product=asked.product)

    rate = product_rate(45.0, spreading)

    assert (spreading.rate_unit, spreading.mass) == ("L/ha", "kg")
    assert rate.exact == pytest.approx(94.81, abs=0.005)
    assert rate.rate == 95.0


def test_metric_columns(ground):
    """A metric plan has litres, and K2O and S where the product carries them."""
    ground.change(
        ('units = "us"', 'units = "metric"'),
        ("depth = 8", "depth = 20.32"),
        ("yield_goal = 200", "yield_goal = 12"),
        ("yield_goal = 60", "yield_goal = 4"),
        (
            'grade = "11-52-0"',
            'grade = "7-21-7"\ns = 2\nform = "liquid"\ndensity = 1.342',
        ),
        ("min_rate = 50\n", ""),
    )

    _, out = job.run(ground.write())

    frame = geopandas.read_file(out / "map" / "rates.geojson")
    assert {"rate_l_ha", "total_l", "k2o_kg_ha", "s_kg_ha"} <= set(frame.columns)
    mass = frame["rate_l_ha"] * 1.342
    assert frame["k2o_kg_ha"].tolist() == pytest.approx(
        (mass * 0.07).tolist(), abs=0.051
    )
    assert frame["s_kg_ha"].tolist() == pytest.approx((mass * 0.02).tolist(), abs=0.051)


def test_sulfur_of_a_granular(ground):
    """80 lb/ac of 12-40-0 with 10 % S: 40 / 0.4 = 100 lb carry 10 lb of S."""
    ground.change(FORTY, ('grade = "11-52-0"', 'grade = "12-40-0"\ns = 10'))

    prescription, out = job.run(ground.write())

    frame = geopandas.read_file(out / "map" / "rates.geojson")
    some = frame[frame["rate_lb_ac"] > 0]
    assert set(some["rate_lb_ac"]) == {100.0}
    assert set(some["s_lb_ac"]) == {10.0}
    assert "k2o_lb_ac" not in frame.columns
    (line,) = {
        line.arithmetic
        for zone in prescription.zones
        if zone.need
        for line in zone.ledger
        if line.step == "applied"
    }
    assert line == "N 100 × 0.12 = 12.0; S 100 × 0.1 = 10.0; P2O5 100 × 0.4 = 40.0"


PRICED = """grade = "0-46-0"
price = 996

[[alternative]]
grade = "18-46-0"
price = 800
nitrogen_price = 0.6

[[alternative]]
grade = "10-34-0"
form = "liquid"
density = 11.65
price = 4

[[alternative]]
grade = "11-52-0"
"""


def test_prices(ground):
    """
    0-46-0 at 996 a ton is 1.08 a lb of P2O5 (Guide A-133, New Mexico State).

    18-46-0 at 800: (800 − 360 × 0.6) / 920 = 0.635; a gallon at 4: 4 / 3.961 = 1.010.
    """
    ground.change(FORTY, ('grade = "11-52-0"', PRICED))

    _, out = job.run(ground.write())

    record = json.loads((out / "record.json").read_text("utf-8"))
    own, diammonium, liquid, unpriced = record["products"]
    totals = record["totals"]
    assert round(own["price_p2o5"], 2) == 1.08
    assert diammonium["price_p2o5"] == pytest.approx(0.6348, abs=5e-5)
    assert liquid["price_p2o5"] == pytest.approx(1.0098, abs=5e-5)
    assert unpriced["cost"] is None
    # A ton has 2000 lb.
    assert totals["cost"] == pytest.approx(totals["product"] * 996 / 2000, abs=0.01)
    assert own["cost"] == totals["cost"]
    assert own["total"] == totals["product"]
    even = totals["uniform"]
    assert even["cost"] == pytest.approx(even["product"] * 996 / 2000, abs=0.01)
    # 40 / 0.46 = 87.0 lb, by steps of 5: 85; of a liquid 10.1 gal, in tenths.
    assert (own["lowest_rate"], own["highest_rate"]) == (85.0, 85.0)
    assert (diammonium["lowest_rate"], diammonium["unit"]) == (85.0, "lb/ac")
    assert (liquid["lowest_rate"], liquid["unit"]) == (10.1, "gal/ac")
    assert own["nitrogen"] == 0.0
    assert diammonium["nitrogen"] == pytest.approx(diammonium["total"] * 0.18, rel=1e-4)
    assert own["cost_area"] == pytest.approx(own["cost"] / totals["area"], abs=0.006)
    # The map is made with the plan's own product alone.
    assert {zone["rate_lb_ac"] for zone in record["zones"]} <= {0.0, 85.0}


def test_chance_of_a_response(ground):
    """
    Iowa's classes have their printed chances in a line of the ledger, once.

    Very low to very high: 80, 65, 25, 5 and under 1 % ("Making your fertilizer dollars
    stretch", Iowa State University Extension, 2021).
    """
    printed = {
        "very low": "80 %",
        "low": "65 %",
        "optimum": "25 %",
        "high": "5 %",
        "very high": "under 1 %",
    }
    ground.change(
        ('guideline = "tri-state-2020"', 'guideline = "iowa-pm-1688-2013"'),
        ("depth = 8", "depth = 6"),
    )

    prescription, _ = job.run(ground.write())

    assert len({zone.soil_class for zone in prescription.zones}) > 1
    for zone in prescription.zones:
        (line,) = [one for one in zone.ledger if "response" in one.step]
        word = zone.soil_class.casefold()
        assert line.arithmetic == f"{word}: {printed[word]}"
        assert "promises no yield" in line.rule


def test_no_chance_elsewhere(ground):
    """A guideline of another state has no line on the chance of a response."""
    prescription, _ = job.run(ground.write())

    steps = {line.step for zone in prescription.zones for line in zone.ledger}
    assert not any("response" in step for step in steps)


def test_price_by_the_measure(plan):
    """A price a tonne is a thousandth of it a kilogram."""
    asked = plan(units="metric", product={"grade": "0-46-0", "price": 600.0})

    assert Spreading.of(asked, product=asked.product).price == pytest.approx(0.6)


def test_another_spreader(plan):
    """A product of another form knows no limits of the plan's spreader."""
    asked = plan(machine={"min_rate": 50.0, "max_rate": 400.0, "step": 5.0})
    other = Product(grade="10-34-0", form="liquid", density=11.65)

    found = product_rate(40.0, Spreading.of(asked, product=other))

    assert found.rate == pytest.approx(10.1)
