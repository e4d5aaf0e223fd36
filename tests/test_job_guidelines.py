"""Guidelines of every form, from field file to ledger."""

import numpy as np
import pytest

from vrp import job
from vrp.errors import InputError

SOYBEAN = '[[season]]\ncrop = "soybean"\nyield_goal = 60\n'


def codes(prescription):
    return {one.code: one.severity for one in prescription.findings}


def asked(ground, guideline, *, method, depth, value, more=""):
    """Write a field of one soil test for a guideline."""
    ground.samples[:, 2] = value
    ground.change(
        (SOYBEAN, ""),
        ('"tri-state-2020"', f'"{guideline}"\n{more}'),
        ('"mehlich-3-icp"', f'"{method}"'),
        ("depth = 8", f"depth = {depth}"),
    )
    return ground


def steps(zone):
    return {line.step: line.arithmetic for line in zone.ledger}


def test_by_region(ground):
    """15 ppm are 30 lb/ac: (40 − 30) × 9 / 4 + 200 × 0.37 = 96.5 lb, by its region."""
    asked(
        ground, "illinois-2009", method="bray-p1", depth=7, value=15.0,
        more='region = "high"',
    )  # fmt: skip

    prescription, out = job.run(ground.write())

    (zone,) = prescription.zones
    assert (zone.need, zone.soil_test) == (96.5, 30.0)
    assert steps(zone)["build-up"] == "(40 − 30) × 9 / 4 = 22.5"
    assert prescription.guideline.soil_test_unit == "lb/ac"
    assert '"stp_lb_ac"' in (out / "map" / "rates.geojson").read_text("utf-8")


@pytest.mark.parametrize(
    ("more", "message"),
    [
        ("", r"^need\.region is missing: .* has high, medium, low"),
        ('region = "hi"', r"^need\.region = hi is not in .*did you mean 'high'"),
        (
            'region = "high"\nbuild_years = 8',
            r"^need\.build_years = 8 is not in .* has 4",
        ),
    ],
)
def test_a_choice_is_asked_for(ground, more, message):
    """What the guideline leaves to choose is named; nothing is written."""
    asked(ground, "illinois-2009", method="bray-p1", depth=7, value=15.0, more=more)

    with pytest.raises(InputError, match=message):
        job.run(ground.write())
    assert not (ground.folder / "out").exists()


def test_choices_that_a_guideline_has_not(ground):
    """A region is refused where there are none."""
    ground.change(("[need]", '[need]\nregion = "high"'))

    with pytest.raises(
        InputError, match=r"^need\.region = high: .* has none; leave it"
    ):
        job.run(ground.write())


def test_superseded_holds_back(ground):
    """18 lb a ppm over 8 years: (20 − 12) × 18 / 8 + 200 × 0.33 = 84 lb, held back."""
    asked(
        ground, "kansas-mf-2586-2003-build", method="bray-p1", depth=6, value=12.0,
        more="build_years = 8",
    )  # fmt: skip

    prescription, out = job.run(ground.write())

    assert [zone.need for zone in prescription.zones] == [84.0]
    assert codes(prescription)["guideline-superseded"] == "stop"
    assert prescription.held_back
    assert not (out / "machine").exists()


@pytest.mark.parametrize(
    ("method", "need"),
    # (0.700 − 0.044 × 9) × 200 and (0.700 − 0.035 × 9) × 200
    [("olsen", 60.8), ("bray-p1", 77.0)],
)
def test_by_method(ground, method, need):
    """The samples' method chooses the equation."""
    asked(ground, "south-dakota-ec750", method=method, depth=6, value=9.0)

    prescription, _ = job.run(ground.write())

    assert [zone.need for zone in prescription.zones] == [need]


def test_a_method_without_figures(ground):
    """Where figures differ by method, one that has none is refused by name."""
    asked(ground, "south-dakota-ec750", method="mehlich-3-icp", depth=6, value=9.0)

    with pytest.raises(InputError, match="has no figures for soil tests by Mehlich-3"):
        job.run(ground.write())


def test_points_and_rules(ground):
    """15 ppm are 30 lb/ac and ask for 30 lb; own laboratory and pH are said."""
    asked(ground, "oklahoma-pss-2225", method="mehlich-3-icp", depth=6, value=15.0)
    ground.change(
        ('crop = "corn-grain"\nyield_goal = 200', 'crop = "wheat"\nyield_goal = 60'),
        ('soil_test = "P"', 'soil_test = "P"\nph = "pH"'),
    )
    path = ground.write()
    rows = (ground.folder / "samples.csv").read_text().splitlines()
    values = ["5.4" if number < 16 else "6.5" for number in range(len(rows) - 1)]
    lines = [f"{row},{ph}" for row, ph in zip(rows, ["pH", *values], strict=True)]
    (ground.folder / "samples.csv").write_text("\n".join(lines) + "\n")

    prescription, _ = job.run(path)

    (zone,) = prescription.zones
    assert zone.need == 30.0
    assert codes(prescription)["guideline-own-laboratory"] == "warn"
    (rule,) = [one for one in prescription.findings if one.code == "guideline-ph-rule"]
    assert (rule.severity, rule.zone, rule.value, rule.bound) == ("note", 1, 5.4, 5.5)
    assert rule.message.startswith("zone 1: 16 of 64 samples have a pH below 5.5")
    assert "guideline-ph-rule" in zone.note


def test_element(ground):
    """Index 2: 35 + (9 − 6.5) × 3.8 = 44.5 kg of P, 102.0 of P2O5, which goes on."""
    asked(ground, "ireland-2016", method="morgan", depth=10, value=5.0)
    ground.change(
        ('units = "us"', 'units = "metric"'),
        (
            'crop = "corn-grain"\nyield_goal = 200',
            'crop = "winter-wheat"\nyield_goal = 9',
        ),
        ('unit = "ppm"', 'unit = "mg/L"'),
        ('grade = "11-52-0"', 'grade = "0-46-0"'),
    )

    prescription, _ = job.run(ground.write())

    (zone,) = prescription.zones
    # 44.5 × 141.943 / 61.948 by atomic weights; 102.0 / 0.46 = 221.7, in steps of 5.
    assert (zone.need, zone.rate) == (102.0, 220.0)
    assert steps(zone)["need as P, the element"] == "35 + 9.5 = 44.5"
    assert prescription.seasons[0].need == 102.0


def test_listed_without_a_guideline(ground):
    """The fitting ones are listed, without those that were superseded."""
    ground.change(
        ('guideline = "tri-state-2020"', ""), ('"mehlich-3-icp"', '"bray-p1"')
    )

    with pytest.raises(
        InputError, match=r"by bray-p1: illinois-2009, south-dakota-ec750$"
    ):
        job.run(ground.write())


@pytest.mark.parametrize(
    ("guideline", "method", "depth", "more"),
    [
        ("illinois-2009", "bray-p1", 7, 'region = "low"'),
        ("south-dakota-ec750", "olsen", 6, ""),
        ("tri-state-1995", "bray-p1", 8, ""),
        ("iowa-pm-1688-2013", "mehlich-3-icp", 6, ""),
    ],
)
def test_zones_follow_the_curve(ground, guideline, method, depth, more):
    """On ground that grows richer to one side no richer zone gets more."""
    ground.change(
        (SOYBEAN, ""),
        ('"tri-state-2020"', f'"{guideline}"\n{more}'),
        ('"mehlich-3-icp"', f'"{method}"'),
        ("depth = 8", f"depth = {depth}"),
    )

    prescription, _ = job.run(ground.write())

    zones = sorted(prescription.zones, key=lambda zone: zone.soil_test)
    needs = np.array([zone.need for zone in zones])
    assert len(zones) > 1
    assert np.all(np.diff(needs) <= 0.0)
