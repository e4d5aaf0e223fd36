"""What is said of placement, from the field file to the findings."""

import pytest
import shapely

from vrp import job

GRADE = 'grade = "11-52-0"'


def run(ground, application, *pairs):
    """Return the prescription with an application of the test's own."""
    ground.change((GRADE, f"{GRADE}\n[application]\n{application}"), *pairs)
    return job.run(ground.write())


def codes(prescription):
    return {one.code for one in prescription.findings}


def test_seed_row_holds_machine_files_back(ground):
    """
    100 lb/ac of 11-52-0 bring 11 lb of N beside corn seed, where 8 lb are allowed.

    Rows of 30 in, medium soil: Kansas State University, Table 1. The need is 52 lb.
    """
    prescription, out = run(
        ground,
        'method = "seed-row"\nrow_spacing = 30',
        ("year = 2027", 'year = 2027\ntexture = "medium"'),
        (
            'guideline = "tri-state-2020"',
            'guideline = "tri-state-2020"\nmin_p2o5 = 52\nmax_p2o5 = 52',
        ),
    )

    found = [one for one in prescription.findings if one.code == "seed-row-limit"]
    assert found
    assert {(one.value, one.bound, one.unit) for one in found} == {(11.0, 8.0, "lb/ac")}
    assert {one.zone for one in found} == {
        zone.number for zone in prescription.zones if zone.rate
    }
    assert prescription.held_back
    assert not (out / "machine").exists()


def test_seed_row_may_be_accepted(ground):
    """A person may take the limit on with a reason."""
    prescription, out = run(
        ground,
        'method = "seed-row"\nrow_spacing = 30',
        ("[machine]", '[accept]\nseed-row-limit = "label allows it"\n[machine]'),
    )

    assert "seed-row-limit" in codes(prescription)
    assert (out / "machine").exists()


def test_metric_rows(ground):
    """Rows of 76.2 cm are rows of 30 in: sand bears 6 lb/ac, 6.73 kg/ha."""
    prescription, _ = run(
        ground,
        'method = "seed-row"\nrow_spacing = 76.2',
        ('units = "us"', 'units = "metric"'),
        ("depth = 8", "depth = 20.32"),
        ("yield_goal = 200", "yield_goal = 12"),
        ("yield_goal = 60", "yield_goal = 4"),
    )

    found = [one for one in prescription.findings if one.code == "seed-row-limit"]
    assert found
    assert {(one.bound, one.unit) for one in found} == {(6.73, "kg/ha")}


def test_band_factor(ground):
    """
    A band at a half gets half of the need, in a line of its own after the credits.

    Corn of 200 bu at 0.35 lb removes 70 lb (fact sheet ANR-74), so maintenance falls
    to 35 lb and draws the soil down.
    """
    prescription, _ = run(ground, 'method = "band"\nband_factor = 0.5')

    lines = {
        zone.number: [one for one in zone.ledger if one.step == "band"]
        for zone in prescription.zones
        if zone.need
    }
    assert lines
    for number, (line,) in lines.items():
        zone = prescription.zones[number - 1]
        before, after = line.arithmetic.split(" × 0.5 = ")
        assert float(after) == zone.need == line.value
        assert float(before) / 2 == pytest.approx(zone.need, abs=0.051)
        assert "agronomist's choice" in line.rule
    kept = [zone for zone in prescription.zones if zone.soil_class == "maintenance"]
    assert kept
    for zone in kept:
        assert zone.need == pytest.approx(35.0, abs=0.06)
        assert {"band-factor-draws-down", "band-factor-not-low"} <= set(
            zone.note.split()
        )


def test_without_a_factor_nothing_changes(ground):
    """A band alone changes no rate."""
    plain, _ = job.run(ground.write())
    ground.change((GRADE, f'{GRADE}\n[application]\nmethod = "band"'))
    banded, _ = job.run(ground.write())

    assert [zone.rate for zone in banded.zones] == [zone.rate for zone in plain.zones]
    assert "band-factor-draws-down" not in codes(banded)


def test_a_need_by_hand_takes_no_factor(ground):
    """A need set by hand has the last word, and no finding on the factor."""
    x, y = ground.to_lonlat(shapely.Point(60.0, 60.0)).coords[0]
    prescription, _ = run(
        ground,
        'method = "band"\nband_factor = 0.5',
        (
            "[need]",
            f'[[override]]\npoint = [{x}, {y}]\np2o5 = 30\nreason = "mine"\n\n[need]',
        ),
    )

    (zone,) = [one for one in prescription.zones if one.need == 30.0]
    assert "band-factor" not in zone.note


def test_age_counts_to_the_year_without_a_date(ground):
    """An application without a date leaves the samples' age to the field's year."""
    prescription, _ = run(ground, 'method = "broadcast"')

    assert "samples-undated" not in codes(prescription)


@pytest.mark.parametrize(
    ("application", "code"),
    [
        ('method = "broadcast"\ntillage = "no-till"', "broadcast-on-top"),
        ('tillage = "tilled"\ntillage_depth = 6', "tillage-takes-down"),
    ],
)
def test_notes_on_depth(application, code, ground):
    """Where it will lie is told and holds nothing back."""
    prescription, out = run(ground, application)

    (found,) = [one for one in prescription.findings if one.code == code]
    assert found.severity == "note"
    assert (out / "machine").exists()


def test_rich_sand(ground):
    """Sandy zones above 200 ppm may leach, and no others."""
    ground.samples[:, 2] *= 12.0
    prescription, _ = run(
        ground,
        'method = "broadcast"',
        ("year = 2027", 'year = 2027\ntexture = "sandy"'),
    )

    rich = {zone.number for zone in prescription.zones if zone.soil_test > 200.0}
    found = {one.zone for one in prescription.findings if one.code == "sandy-leaches"}
    assert rich
    assert found == rich


def test_stratified_without_tillage(ground):
    """Cores whose top tests three times the rest bring advice without tillage."""
    ground.change(
        (GRADE, f'{GRADE}\n[application]\ntillage = "no-till"'),
        (
            'soil_test = "P"',
            'soil_test = "P"\ndepth_from = "from"\ndepth_to = "to"\nid = "id"',
        ),
    )
    path = ground.write()
    rows = ["id,x,y,P,from,to"]
    for number, (x, y, p) in enumerate(ground.samples, start=1):
        rows.append(f"{number},{x:.1f},{y:.1f},{3 * p:.1f},0,2")
        rows.append(f"{number},{x:.1f},{y:.1f},{p:.1f},2,8")
    (ground.folder / "samples.csv").write_text("\n".join(rows) + "\n")

    prescription, _ = job.run(path)

    (found,) = [
        one for one in prescription.findings if one.code == "no-till-stratified"
    ]
    # (2 × 3 + 6 × 1) / 8 = 1.5, and 3 / 1.5 = 2.
    assert found.value == pytest.approx(2.0, abs=0.02)
    assert found.severity == "note"
