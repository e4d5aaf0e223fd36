"""What a run says of its own doubt, and the expected build-up."""

import io
import json
import math
from statistics import NormalDist

import numpy as np
import pytest

from vrp import job
from vrp.agronomy.guidelines import shipped
from vrp.agronomy.need import Season, build_up_curve, need_curve
from vrp.errors import GuidelineError, InputError
from vrp.io import record
from vrp.report.summary import summary

LB_AC = 1.12085  # kg/ha in one lb/ac, to six figures
CORN = [Season("corn-grain", 200.0, "bu/ac")]
EXPECTED = ("[need]\n", '[need]\nbasis = "expected"\n')


def rough(ground):
    """Make the samples rough enough for an error to matter."""
    noise = np.random.default_rng(4).normal(0.0, 5.0, len(ground.samples))
    ground.samples[:, 2] = np.maximum(ground.samples[:, 2] + noise, 1.0)
    return ground


def built(ground, *changes):
    ground.change(*changes)
    return job.run(ground.write())[0]


def test_build_up_alone():
    """Below 20 ppm it is 5 lb a ppm: 28.5 at 14.3, nothing from 20 on."""
    part = build_up_curve(shipped()["tri-state-2020"], CORN)

    assert part.in_unit([14.3, 20.0, 60.0]) == pytest.approx([28.5, 0.0, 0.0])


def test_rest_and_build_up_are_the_need():
    """Need less build-up is the removal of 70 lb up to the limit, and nothing above."""
    guideline = shipped()["tri-state-2020"]
    tests = np.array([0.0, 5.0, 14.3, 19.9, 20.0, 30.0, 40.0])

    whole = need_curve(guideline, CORN, pool=False, build_up=True).in_unit(tests)
    rest = whole - build_up_curve(guideline, CORN).in_unit(tests)

    assert rest == pytest.approx(np.full(7, 70.0))


def test_expected_build_up_by_hand():
    """
    A mean of 22 ppm with a coefficient of variation of 0.5 is expected to lack 15 lb.

    s² = ln 1.25; P(S < 20) = 0.5137; E = 5 × (20 × 0.5137 − 22 × 0.3307) = 15.0 lb,
    where the guideline at the mean asks for none.
    """
    s = math.sqrt(math.log(1.25))
    part = build_up_curve(shipped()["tri-state-2020"], CORN)

    found = part.expected(22.0 / math.sqrt(1.25), s, log=True) / LB_AC

    below = NormalDist().cdf(math.log(20.0 * math.sqrt(1.25) / 22.0) / s)
    assert below == pytest.approx(0.5137, abs=1e-4)
    assert float(found) == pytest.approx(15.0, abs=0.05)


def test_tables_have_no_part():
    """A table prints one figure: its build-up has no expectation."""
    guideline = shipped()["rb209-2023"]
    crop = next(iter(guideline.crops))
    unit = guideline.crops[crop].yield_unit

    with pytest.raises(GuidelineError, match="one figure for removal and build-up"):
        build_up_curve(guideline, [Season(crop, 8.0, unit)])


def test_expected_is_said_with_both_figures(ground):
    """Zones below the limit show both needs; the rate follows the second."""
    plain = built(rough(ground))
    other = built(ground, EXPECTED)

    changed = 0
    for one, two in zip(plain.zones, other.zones, strict=True):
        (said,) = [x for x in two.ledger if x.step == "expected build-up"] or [None]
        if two.soil_test > 40.0:
            assert said is None
            assert (two.need, two.rate) == (0.0, 0.0)
            continue
        assert said.arithmetic == f"{one.need:.1f} at the estimate; with it {two.need}"
        assert two.rate == pytest.approx(two.need / 0.52, abs=2.5)
        changed += one.need != two.need
    assert changed


def test_expected_within_the_plans_limits(ground):
    """The plan's own limit holds for the expected build-up too."""
    found = built(rough(ground), ("[need]\n", EXPECTED[1] + "max_p2o5 = 80\n"))

    assert max(one.need for one in found.zones) == 80.0


def test_default_is_the_estimate(ground):
    """Without the key, and with basis = "estimate", the map is the same."""
    plain = built(rough(ground))
    said = built(ground, ("[need]\n", '[need]\nbasis = "estimate"\n'))

    assert [(one.need, one.rate, one.ledger) for one in plain.zones] == [
        (one.need, one.rate, one.ledger) for one in said.zones
    ]


@pytest.mark.parametrize(
    ("changes", "match"),
    [
        ([EXPECTED, ("[need]\n", "[need]\nbuild_up = false\n")], "build_up = false"),
        (
            [EXPECTED, ('"tri-state-2020"', '"iowa-pm-1688-2013"')],
            "need.basis: .* one figure for removal and build-up",
        ),
    ],
)
def test_expected_without_build_up_is_refused(ground, changes, match):
    """Where there is no build-up of its own the key has no meaning."""
    ground.change(*changes)

    with pytest.raises(InputError, match=match):
        job.run(ground.write())


def test_composites_have_no_expectation(ground):
    """Composites have no surface, so no error to expect anything over."""
    ground.change(EXPECTED, ("[samples]\n", '[samples]\nkind = "cell"\n'))

    with pytest.raises(InputError, match="which composites have not"):
        job.run(ground.write())


def test_total_has_an_interval(ground):
    """The total's limits are in order and near the map's; a seed repeats them."""
    one = built(rough(ground)).totals
    two = job.run(ground.path)[0].totals
    other = built(ground, ("[need]\n", "[zones]\nseed = 2\n[need]\n")).totals

    assert 0.0 < one.need_low < one.need_high
    assert one.need_low < 1.1 * one.zones.p2o5_need
    assert one.need_high > 0.9 * one.zones.p2o5_need
    assert (one.need_low, one.need_high) == (two.need_low, two.need_high)
    assert (one.need_low, one.need_high) != (other.need_low, other.need_high)
    assert other.need_low == pytest.approx(one.need_low, rel=0.03)


def test_unit_systems_agree(ground):
    """The same ground in kg needs 0.45359237 of what it needs in lb."""
    us = built(rough(ground), ("[need]\n", "[zones]\ncell = 20\n[need]\n")).totals
    metric = built(
        ground,
        ("cell = 20", "cell = 6.096"),
        ('units = "us"', 'units = "metric"'),
        ("depth = 8", "depth = 20.32"),
        ("yield_goal = 200", "yield_goal = 12.554"),
        ("yield_goal = 60", "yield_goal = 4.035"),
    ).totals

    assert metric.need_low == pytest.approx(us.need_low * 0.45359237, rel=0.002)
    assert metric.need_high == pytest.approx(us.need_high * 0.45359237, rel=0.002)


def test_composites_have_no_interval(ground):
    """Without a surface nothing is known of the total's error."""
    ground.write_polygons("cells.geojson", [ground.outline], [{"P": 25.0}])
    ground.change(
        ('file = "samples.csv"', 'file = "cells.geojson"\nkind = "cell"'),
        ('x = "x"\ny = "y"\n', ""),
    )
    ground.text = "\n".join(
        line for line in ground.text.splitlines() if not line.startswith("crs =")
    )

    totals = job.run(ground.write())[0].totals

    assert (totals.need_low, totals.need_high) == (None, None)


def test_record_says_how_sure(ground):
    """Skills lie in their intervals, errors are counted, the total has limits."""
    prescription, _ = job.run(rough(ground).write())

    kept = record.read(ground.folder / "out")
    text = json.loads((ground.folder / "out" / "record.json").read_text("utf-8"))

    for skill in (kept.surface.skill.soil_test, kept.surface.skill.need):
        assert skill.leave_one_out_low <= skill.leave_one_out
        assert skill.leave_one_out <= skill.leave_one_out_high <= 1.0
        assert skill.blocked_low <= skill.blocked <= skill.blocked_high <= 1.0
        assert 0.0 <= skill.most <= 1.0
    errors = prescription.surface.calibration
    assert errors.coverage_50 <= errors.coverage_80 <= errors.coverage_95
    assert text["surface"]["calibration"]["coverage_80"] == errors.coverage_80
    assert text["totals"]["need_low"] == prescription.totals.need_low
    assert text["totals"]["need_high"] == prescription.totals.need_high


def test_weak_verdict_gives_its_interval(ground):
    """Of noise the message says what the map removes, and within which limits."""
    ground.samples[:, 2] = np.random.default_rng(1).uniform(10, 40, 64).round(1)
    prescription, _ = job.run(ground.write())

    (said,) = [one for one in prescription.findings if one.code.startswith("verdict-")]
    skill = prescription.surface.skill.soil_test
    low, high = (round(100.0 * end) for end in (skill.blocked_low, skill.blocked_high))
    assert f"({low} to {high} %) in soil test" in said.message
    assert "80 % intervals" in said.message


def test_summary_says_skills_and_total(ground):
    """The terminal's summary has the skills' limits and the total's."""
    prescription, _ = job.run(rough(ground).write())
    file = io.StringIO()

    summary(prescription, file=file)

    text = " ".join(file.getvalue().split())
    skill = prescription.surface.skill.need
    ends = f"{100 * skill.blocked_low:.0f} to {100 * skill.blocked_high:.0f} %"
    totals = prescription.totals
    assert f"({ends}) in need" in text
    assert f"needs {totals.need_low:,.0f} to {totals.need_high:,.0f} lb of P2O5" in text
