"""What the crops leave, from the field file to findings and ledger."""

import re

import pytest

from vrp import job
from vrp.agronomy.forecast import forecast, published
from vrp.errors import InputError
from vrp.units import LB_AC

SOYBEAN = '[[season]]\ncrop = "soybean"\nyield_goal = 60\n'


def even(ground, soil_test):
    """Give the field one soil test everywhere, and build it."""
    ground.samples[:, 2] = soil_test
    return job.run(ground.write())[0]


def codes(prescription):
    return [one.code for one in prescription.findings]


def added(ground, text):
    """Add tables to the end of the field file."""
    ground.text += "\n" + text


def test_two_seasons_by_hand(ground):
    """
    At 25 ppm 70 lb are needed: 135 lb of 11-52-0 carry 70.2.

    Corn takes 200 × 0.35 = 70, soybean 60 × 0.8 = 48: 0.2 is left, then −47.8. A
    straight 20 lb a ppm ends at 25 − 47.8 / 20 = 22.6.
    """
    corn, soybean = even(ground, 25.0).seasons

    assert (corn.applied, corn.removal, corn.balance) == (70.2, 70.0, 0.2)
    assert (soybean.applied, soybean.removal, soybean.balance) == (0.0, 48.0, -47.8)
    assert corn.stp_mid == pytest.approx(25.0, abs=0.05)
    assert soybean.stp_straight == 22.6
    # One unfertilised season at 25 ppm: 0.4 + 15 × 2.9 / 30 = 1.85 ppm, a little less
    # as the test falls.
    assert soybean.stp_mid == pytest.approx(23.2, abs=0.1)
    assert soybean.stp_low < soybean.stp_mid < soybean.stp_high


def test_later_application(ground):
    """48 lb in the soybean season bring the balance back to 0.2."""
    ground.change((SOYBEAN, SOYBEAN + "p2o5 = 48\n"))

    _, soybean = even(ground, 25.0).seasons

    assert (soybean.applied, soybean.balance) == (48.0, 0.2)


def test_ledger_says_it(ground):
    """Removal, balance and forecast stand in the ledger, after the product."""
    (zone,) = even(ground, 25.0).zones

    steps = [line.step for line in zone.ledger if line.step.startswith("beside it: ")]
    assert steps == [
        "beside it: removal, corn-grain",
        "beside it: balance after corn-grain",
        "beside it: soil test after corn-grain",
        "beside it: removal, soybean",
        "beside it: balance after soybean",
        "beside it: soil test after soybean",
        "beside it: soil inventory",
    ]
    assert zone.need == 70.0
    sums = [line.arithmetic for line in zone.ledger if "balance after" in line.step]
    assert sums == ["70.2 − 70 = 0.2", "0.2 + 0 − 48 = −47.8"]


def test_need_keeps_the_guidelines_figure(ground):
    """Another set changes what is removed, and nothing of the need."""
    added(ground, '[balance]\nremoval = "illinois-2019"')

    prescription = even(ground, 25.0)

    corn, soybean = prescription.seasons
    assert (corn.removal, soybean.removal) == (74.0, 45.0)
    assert prescription.zones[0].need == 70.0


def test_manure_is_applied_too(ground):
    """A credit of 20 lb is taken off the need and counts in the balance: 20 + 50 − 70.

    The need of 50 lb becomes 96.2, so 95 lb of 11-52-0, which carry 49.4.
    """
    added(ground, '[[credit]]\nname = "manure"\np2o5 = 20\nsource = "analysis"')

    prescription = even(ground, 25.0)

    corn, _ = prescription.seasons
    assert (prescription.zones[0].applied, corn.applied) == (49.4, 69.4)
    (line,) = [
        one
        for one in prescription.zones[0].ledger
        if one.step.endswith("corn-grain") and "balance" in one.step
    ]
    assert line.arithmetic == "49.4 + 20 − 70 = −0.6"


def test_surplus_is_not_applied_again(ground):
    """What an earlier season left in the ground is taken off, but nobody brings it."""
    ground.change(
        ('"tri-state-2020"', '"rb209-2023"'),
        ('"mehlich-3-icp"', '"olsen"'),
        ('unit = "ppm"', 'unit = "mg/L"'),
        ('crop = "corn-grain"', 'crop = "winter-wheat"\nresidue = "left"'),
        (SOYBEAN, ""),
    )
    credit = '[[credit]]\nname = "potatoes"\np2o5 = 10\nsource = "2026"\n'
    without = even(ground, 20.0)
    added(ground, credit + "surplus = true")

    prescription = even(ground, 20.0)

    (zone,), (season,) = prescription.zones, prescription.seasons
    assert zone.need == pytest.approx(without.zones[0].need - 10.0)
    assert season.applied == zone.applied


def test_runs_below_critical(ground):
    """At 21 ppm the soybean season leads below the critical 20: a warning."""
    prescription = even(ground, 21.0)

    (found,) = [
        one for one in prescription.findings if one.code == "runs-below-critical"
    ]
    assert found.zone == 1
    assert "after season 2, soybean" in found.message
    assert "runs-below-critical" not in codes(even(ground, 30.0))


def test_draws_down(ground):
    """At 15 ppm 95 lb are needed, and the two crops take 118: the plan draws down."""
    prescription = even(ground, 15.0)

    assert "draws-down" in codes(prescription)
    ground.change((SOYBEAN, SOYBEAN + "p2o5 = 30\n"))
    assert "draws-down" not in codes(even(ground, 15.0))


def test_no_removal_no_balance(ground):
    """A class table has no removal: no balance, no forecast, and a note names sets."""
    ground.change(
        ('"tri-state-2020"', '"ontario-811"'),
        ('"mehlich-3-icp"', '"olsen"'),
        (SOYBEAN, ""),
    )

    prescription = even(ground, 15.0)

    (season,) = prescription.seasons
    assert (season.removal, season.balance, season.stp_mid) == (None, None, None)
    assert "balance-absent" in codes(prescription)
    added(ground, '[balance]\nremoval = "ontario-2025"')
    (season,) = even(ground, 15.0).seasons
    # 200 bu × 0.405 = 81; Olsen has figures of its own, and no straight budget.
    assert season.removal == 81.0
    assert season.stp_mid is not None
    assert season.stp_straight is None


def test_figures_of_another_test(ground):
    """Morgan has no figures: the balance stands, the forecast does not."""
    ground.change(('"mehlich-3-icp"', '"morgan"'))

    prescription = even(ground, 25.0)

    assert "forecast-absent" in codes(prescription)
    assert prescription.seasons[0].balance is not None
    assert {one.stp_mid for one in prescription.seasons} == {None}


def test_own_history(ground):
    """
    120 lb for +3 ppm, 80 for +2: 1 / 40 ppm a lb, used in place of 30.6 lb a ppm.

    Soil tests are in the samples' unit.
    """
    added(
        ground,
        """
        [[balance.history]]
        year = 2018
        soil_test = 20
        [[balance.history]]
        year = 2022
        soil_test = 23
        applied = 200
        removed = 80
        [[balance.history]]
        year = 2026
        soil_test = 25
        applied = 180
        removed = 100
        """,
    )
    ground.change((SOYBEAN, SOYBEAN + "p2o5 = 88\n"))

    prescription = even(ground, 25.0)

    (found,) = [one for one in prescription.findings if one.code == "history-used"]
    assert "by 2 changes of the field's own test 40 lb/ac of P2O5 raise it" in (
        found.message
    )
    # 25.005 + 40 / 40 = 26.0.
    assert prescription.seasons[1].stp_mid == 26.0


def test_history_against_the_balance(ground):
    """A test that fell under a surplus is set aside, and said."""
    added(
        ground,
        """
        [[balance.history]]
        year = 2018
        soil_test = 30
        [[balance.history]]
        year = 2026
        soil_test = 25
        applied = 200
        removed = 80
        """,
    )

    prescription = even(ground, 25.0)

    (found,) = [one for one in prescription.findings if one.code == "history-set-aside"]
    assert "shows no build-up" in found.message


def test_history_of_small_balances(ground):
    """Where next to nothing was spread or taken beyond the other, nothing is fitted."""
    added(
        ground,
        """
        [[balance.history]]
        year = 2018
        soil_test = 20
        [[balance.history]]
        year = 2026
        soil_test = 25
        applied = 100
        removed = 95
        """,
    )

    (found,) = [
        one for one in even(ground, 25.0).findings if one.code == "history-set-aside"
    ]
    # 25 kg/ha are 22.3 lb/ac.
    assert "no balance between two tests reaches 22 lb/ac" in found.message


def test_band_starts_from_the_interval(ground):
    """The band reaches further than from the zone's mean alone, to both sides."""
    prescription, _ = job.run(ground.write())

    kept = 0
    for zone in prescription.zones:
        first = next(one for one in prescription.seasons if one.zone == zone.number)
        season = (first.applied * LB_AC, first.removal * LB_AC)
        (alone,) = forecast(published("mehlich-3-icp", "ppm"), zone.soil_test, [season])
        assert first.stp_low < round(alone.low, 1)
        assert round(alone.high, 1) < first.stp_high
        kept += 1
    assert kept


def test_straw_and_measured_grain(ground):
    """Wheat straw without a yield is noted; measured grain replaces the table."""
    ground.change(
        (
            'crop = "corn-grain"\nyield_goal = 200',
            'crop = "wheat"\nyield_goal = 80\n'
            'residue = "removed"\ngrain_p = { percent = 0.35, dry_matter = 86.5 }',
        ),
    )

    prescription = even(ground, 40.0)

    assert "straw-not-counted" in codes(prescription)
    # 80 × 60 lb × 0.865 × 0.0035 × 2.2914 = 33.3.
    assert prescription.seasons[0].removal == 33.3


def test_units_agree(ground):
    """
    The same field in metric loses the same and has the same soil test after it.

    200 bu/ac of corn are 12.55 t/ha, 60 bu/ac of soybean 4.04 (56 and 60 lb).
    """
    us = even(ground, 25.0)
    ground.change(
        ('units = "us"', 'units = "metric"'),
        ("depth = 8", "depth = 20.32"),
        ("yield_goal = 200", "yield_goal = 12.55"),
        ("yield_goal = 60", "yield_goal = 4.04"),
        ("min_rate = 50\nmax_rate = 400\nstep = 5", "step = 0.01"),
    )
    metric = even(ground, 25.0)

    for one, two in zip(us.seasons, metric.seasons, strict=True):
        assert two.removal == pytest.approx(1.12085 * one.removal, rel=2e-3)
        # The spreader's steps differ by 0.2 lb.
        assert two.stp_mid == pytest.approx(one.stp_mid, abs=0.11)
        assert two.stp_straight == pytest.approx(one.stp_straight, abs=0.11)


def test_organic_matter_of_the_zone(sample_fields, tmp_path):
    """Where samples carry organic matter, the zone's ledger says what it may free."""
    prescription, _ = job.run(sample_fields / "us", out=tmp_path / "out")

    for zone in prescription.zones:
        line = zone.ledger[-1]
        assert line.step == "beside it: organic matter"
        assert re.match(r"[\d.]+ × 4 = ", line.arithmetic)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (
            ("yield_goal = 200", "yield_goal = 200\np2o5 = 10"),
            r"season\[1\].p2o5: the map",
        ),
        (
            ("yield_goal = 60", "yield_goal = 60\nstraw_yield = 2"),
            r'season\[2\].straw_yield needs residue = "removed"',
        ),
        (
            (
                "yield_goal = 60",
                "yield_goal = 60\nmoisture = 13\n"
                "grain_p = { percent = 0.5, dry_matter = 87 }",
            ),
            r"season\[2\]: moisture is for a table's removal",
        ),
        (
            ("[need]", "[[balance.history]]\nyear = 2020\nsoil_test = 20\n[need]"),
            "needs two soil tests or more",
        ),
        (
            (
                "[need]",
                "[[balance.history]]\nyear = 2020\nsoil_test = 20\n"
                "[[balance.history]]\nyear = 2020\nsoil_test = 20\napplied = 1\n"
                "removed = 1\n[need]",
            ),
            r"history\[2\].year = 2020: must come after 2020",
        ),
        (
            (
                "[need]",
                "[[balance.history]]\nyear = 2020\nsoil_test = 20\n"
                "[[balance.history]]\nyear = 2024\nsoil_test = 20\napplied = 1\n[need]",
            ),
            r"history\[2\] needs applied and removed",
        ),
        (
            ("[need]", '[balance]\nremoval = "illinois-2091"\n[need]'),
            "did you mean 'illinois-2019'",
        ),
    ],
)
def test_what_contradicts_itself(ground, change, message):
    """Keys that cannot hold together are refused with what mends them."""
    ground.change(change)

    with pytest.raises(InputError, match=message):
        job.run(ground.write())
