"""What a terminal shows: widths, order, and text as text."""

import io
from dataclasses import replace

import pytest

from vrp import job
from vrp.evidence import Finding, LedgerLine, Source
from vrp.report import terminal
from vrp.report.details import details
from vrp.report.summary import MOST_ZONES, summary


def finding(code, severity, *, message="field: something", accepted=None):
    return Finding(
        code, severity, "field", None, None, "", None, message, "do it", accepted
    )


def shown(function, *arguments):
    file = io.StringIO()
    function(*arguments, file=file)
    return file.getvalue()


def test_findings_come_by_gravity():
    """Stops come first, then warnings, then notes; remedies are sentences."""
    found = [finding("c", "note"), finding("b", "warn"), finding("a", "stop")]

    lines = shown(terminal.findings, found).splitlines()

    assert lines[:3] == [
        "stop a: field: something. Do it.",
        "warn b: field: something. Do it.",
        "note c: field: something. Do it.",
    ]


def test_accepted_findings_say_why():
    """The reason of a person who took a stop on stands with it."""
    text = shown(terminal.findings, [finding("a", "stop", accepted="own trial")])

    assert "(accepted: own trial)" in text


def test_no_findings_no_line():
    """Where nothing was found nothing is printed."""
    assert shown(terminal.findings, []) == ""


def test_long_text_is_wrapped():
    """Text runs over at words within 80 columns, and no word is lost."""
    message = "zone 1: " + " ".join(f"word{number}" for number in range(60))

    text = shown(terminal.findings, [finding("long", "warn", message=message)])

    assert max(map(len, text.splitlines())) <= 80
    assert " ".join(text.split()) == f"warn long: {message}. Do it."


@pytest.mark.parametrize("hostile", ["[bold]x[/bold]", ":smile:", "<b>x</b>", "%s {0}"])
def test_markup_is_text(hostile):
    """Markup of whatever kind is shown as it was written."""
    assert hostile in shown(terminal.findings, [finding("a", "note", message=hostile)])


def test_steering_characters_are_spelled_out():
    """Characters that would steer a terminal are written by their numbers."""
    text = shown(
        terminal.findings, [finding("a", "note", message="x\x1b[31m\u202ey\x07")]
    )

    assert r"x\u001b[31m\u202ey\u0007" in text


def test_ledger_is_numbered():
    """Each step has its number, arithmetic, unit, and what stands behind it."""
    source = Source("read", "a table, page 9")
    lines = [
        LedgerLine("removal", "200 × 0.35 = 70.0", 70.0, "lb P2O5/ac", "a rule", source)
    ]

    assert shown(terminal.ledger, "Zone 1", lines).splitlines()[:3] == [
        "Zone 1",
        "  1  removal: 200 × 0.35 = 70.0 lb P2O5/ac",
        "     a rule; read (a table, page 9)",
    ]


def test_totals_beside_one_rate(ground):
    """
    The summary compares the zones with one rate on the same ground.

    All samples at 25 ppm ask for 200 × 0.35 = 70 lb, 70 / 0.52 = 134.6, so 135 lb an
    acre; 480 m squared are 56.93 acres and 7,686 lb, by hand.
    """
    ground.samples[:, 2] = 25.0
    prescription, _ = job.run(ground.write())

    lines = shown(summary, prescription).splitlines()

    (by_zone,) = [line.split() for line in lines if line.lstrip().startswith("the fie")]
    (as_one,) = [line.split() for line in lines if line.lstrip().startswith("at one")]
    # 135 × 0.11 = 14.85 lb of N.
    assert by_zone[2:] == ["56.9", "70", "135", "7,686", "15"]
    assert as_one[3:] == ["56.9", "25.0", "70", "135", "7,686", "15"]


def test_a_map_that_is_the_field_mean_says_why(ground):
    """Where samples are alike the summary says that the map is their mean."""
    ground.samples[:, 2] = 25.0
    prescription, _ = job.run(ground.write())

    text = " ".join(shown(summary, prescription).split())

    assert "The map is the field mean: all samples are alike." in text


def test_composites_have_no_verdict(ground):
    """Without a surface the summary claims no skill."""
    half = [ground.outline]
    ground.write_polygons("cells.geojson", half, [{"P": 25.0}])
    ground.change(
        ('file = "samples.csv"', 'file = "cells.geojson"\nkind = "cell"'),
        ('x = "x"\ny = "y"\n', ""),
    )
    ground.text = "\n".join(
        line for line in ground.text.splitlines() if not line.startswith("crs =")
    )
    prescription, _ = job.run(ground.write())

    text = shown(summary, prescription)

    assert "each has its own composite, and no surface" in text
    assert "supported" not in text


def test_many_findings_of_one_kind_are_counted():
    """Of five findings alike three are shown, and two are said to be in the record."""
    alike = [
        Finding(
            "odd", "note", f"zone {n}", n, None, "", None, f"zone {n} is odd", "look"
        )
        for n in range(1, 6)
    ]
    file = io.StringIO()

    terminal.findings(alike, file=file)

    said = " ".join(file.getvalue().split())
    assert said == (
        "note odd: zone 1 is odd; zone 2 is odd; zone 3 is odd; and 2 more, in the "
        "record. Look."
    )


FORTY = 'guideline = "tri-state-2020"\nmin_p2o5 = 40\nmax_p2o5 = 40'


def test_costs(ground):
    """
    What the map costs stands beside one rate, and other products in a table.

    40 / 0.46 = 87.0 lb, by steps of 5 85 lb/ac of 0-46-0; at 996 a ton 1.08 a lb of
    P2O5 (Guide A-133, New Mexico State University). 10.1 gal of 10-34-0 are 40 lb.
    """
    ground.change(
        ('guideline = "tri-state-2020"', FORTY),
        (
            'grade = "11-52-0"',
            'grade = "0-46-0"\nprice = 996\n[[alternative]]\ngrade = "10-34-0"\n'
            'form = "liquid"\ndensity = 11.65\nprice = 4\n[[alternative]]\n'
            'grade = "12-40-0"\ns = 10',
        ),
    )
    prescription, _ = job.run(ground.write())
    zones = prescription.totals.zones.product * 996 / 2000
    even = prescription.totals.uniform.product * 996 / 2000

    text = shown(summary, prescription) + shown(details, prescription)

    assert even > zones  # ground above the limit needs nothing
    said = f"Product costs {zones:,.0f} by zone, {even - zones:,.0f} less than the "
    assert f"{said}{even:,.0f} at one rate." in " ".join(text.split())
    rows = {line.split()[0]: line.split() for line in text.splitlines() if line.strip()}
    assert rows["0-46-0"][1:3] == ["85", "lb/ac"]
    assert rows["0-46-0"][-1] == "1.08"
    assert rows["10-34-0"][1:3] == ["10.1", "gal/ac"]
    assert rows["10-34-0"][-1] == "1.01"
    assert "12-40-0, 10 % S" in text
    assert max(map(len, text.splitlines())) <= 80
    assert not set("$€£¥") & set(text)


def test_no_price_no_cost(ground):
    """Without a price nothing is said of costs."""
    prescription, _ = job.run(ground.write())

    assert "cost" not in shown(summary, prescription) + shown(details, prescription)


def test_gallons_in_the_table(ground):
    """The table of a liquid is in gallons, and its mean rate has a decimal."""
    ground.change(
        ('guideline = "tri-state-2020"', FORTY),
        (
            'grade = "11-52-0"',
            'grade = "10-34-0"\nform = "liquid"\ndensity = 11.65',
        ),
        ("min_rate = 50\nmax_rate = 400\nstep = 5", "step = 0.5"),
    )
    prescription, _ = job.run(ground.write())

    lines = shown(summary, prescription).splitlines()

    (units,) = [line for line in lines if line.startswith("zone class")]
    assert units.split()[-3:] == ["gal/ac", "gal", "lb/ac"]
    (mean,) = [line for line in lines if line.split()[:2] == ["the", "field"]]
    sums = prescription.totals
    assert mean.split()[-3] == f"{sums.zones.product / sums.area:.1f}"


def test_what_the_crops_leave(ground):
    """
    With two seasons a table says what each applies, removes and leaves.

    At 25 ppm 70.2 lb are applied to corn that takes 70, and soybean takes 48.
    """
    ground.samples[:, 2] = 25.0
    prescription, _ = job.run(ground.write())

    lines = shown(details, prescription).splitlines()

    at = next(i for i, line in enumerate(lines) if line.startswith("After the crops"))
    corn, soybean = (lines[at + row].split() for row in (3, 4))
    assert corn[:5] == ["1", "corn-grain", "70", "70", "0"]
    assert soybean[:4] == ["soybean", "0", "48", "-48"]
    # 25 − 47.8 / 20 = 22.61 by the straight budget.
    assert soybean[-1] == "22.6"
    assert max(map(len, lines)) <= 80


def test_one_season_has_no_rotation(ground):
    """A plan of one crop leaves its balance to the ledger and the record."""
    ground.change(('[[season]]\ncrop = "soybean"\nyield_goal = 60\n', ""))
    prescription, _ = job.run(ground.write())

    assert "After the crops" not in shown(details, prescription)


def test_long_ledgers_hang():
    """From the tenth line on, too, what runs over stands under the first words."""
    source = Source("read", "a table")
    long = LedgerLine(
        "step", " + ".join("123456" for _ in range(12)), 1.0, "", "", source
    )

    lines = shown(terminal.ledger, "Zone 1", [long] * 10).splitlines()

    at = next(i for i, line in enumerate(lines) if line.startswith(" 10  "))
    assert lines[at + 1].startswith("     12")


def test_many_zones_do_not_flood(ground):
    """Of many squares with two seasons 24 lines are shown, and the rest is counted."""
    ground.change(("[product]", '[zones]\nby = "grid"\nside = 200\n\n[product]'))
    prescription, _ = job.run(ground.write())

    lines = shown(details, prescription).splitlines()

    at = next(i for i, line in enumerate(lines) if line.startswith("After the crops"))
    crops = [line for line in lines[at:] if "corn-grain" in line or "soybean" in line]
    left = 2 * len(prescription.zones) - 24
    assert len(prescription.zones) > 12
    assert len([line for line in crops if " – " in line]) == 24
    assert f"{left} more seasons of zones stand in the record." in lines


def test_agreement():
    """Of a file's differences the first six are shown, and how many more there are."""
    file = io.StringIO()
    faults = [f"rates.gpkg, zone {number}: rate reads 1, not 2" for number in range(8)]

    terminal.agreement([("map/rates.gpkg", "zones", faults)], (), "", file=file)

    shown = file.getvalue()
    assert "map/rates.gpkg zones    8 differences" in shown
    assert [number for number in range(8) if f"zone {number}: " in shown] == [*range(6)]
    assert "And 2 more of that file, in what --json prints." in shown
    assert "All files agree" not in shown


def test_many_zones_keep_to_a_screen(ground):
    """Of many squares 24 stand in the summary's table, the others are counted."""
    ground.change(("[product]", '[zones]\nby = "grid"\nside = 200\n\n[product]'))
    prescription, _ = job.run(ground.write())

    text = shown(summary, prescription)

    more = len(prescription.zones) - MOST_ZONES
    assert more > 0
    assert f"and {more} more, in report.html" in text
    assert f"{prescription.totals.zones.product:,.0f} lb of 11-52-0" in text


def test_nitrogen_by_zone(ground):
    """N stands in the table where the grade has any, a half up; else no column."""
    prescription, _ = job.run(ground.write())
    ground.change(("11-52-0", "0-46-0"))
    without, _ = job.run(ground.write())

    lines = shown(summary, prescription).splitlines()

    at = next(at for at, line in enumerate(lines) if line.startswith("zone class"))
    assert lines[at - 1].split()[-1] == "N"
    for line, zone in zip(lines[at + 1 :], prescription.zones, strict=False):
        assert line.split()[-1] == str(int(zone.rate * 0.11 + 0.5))
    other = shown(summary, without).splitlines()
    at = next(at for at, line in enumerate(other) if line.startswith("zone class"))
    assert other[at - 1].split()[-1] == "product"


@pytest.mark.parametrize(
    ("low", "high", "verdict", "said"),
    [
        (90.0, 110.0, "supported", "the map asks for 100. "),
        (101.0, 110.0, "supported", "asks for 100, outside it: by limits of the plan"),
        (80.0, 99.0, "not supported", "asks for 100, outside it: one rate by the comp"),
    ],
)
def test_a_map_outside_its_interval(low, high, verdict, said, ground):
    """A map that asks for more or less than the interval holds says why it may."""
    prescription, _ = job.run(ground.write())
    zones = replace(prescription.totals.zones, p2o5_need=100.0)
    ends = {"need_low": low, "need_high": high, "zones": zones}
    changed = replace(
        prescription,
        totals=replace(prescription.totals, **ends),
        surface=replace(prescription.surface, verdict=verdict),
    )

    assert said in " ".join(shown(summary, changed).split()) + " "


def test_load_is_that_of_the_sheet(ground):
    """The margin of the field file is in what the summary says to load."""
    ground.samples[:, 2] = 25.0
    ground.change(("step = 5", "step = 5\nmargin = 4"))
    prescription, _ = job.run(ground.write())

    text = " ".join(shown(summary, prescription).split())

    # 7,686 lb by hand above, and 4 % of it, as the record rounds it.
    loaded = prescription.totals.zones.product * 1.04
    assert f"Load {loaded:,.0f} lb of 11-52-0" in text
    assert f"({loaded / 2000:.2f} tons of 2,000 lb) at 135 lb/ac, margin 4 %." in text


@pytest.mark.parametrize("columns", ["60", "80", "200"])
def test_eighty_columns_without_colour(columns, ground, monkeypatch):
    """In a pipe nothing is wider than 80 columns, and no letter steers a terminal."""
    monkeypatch.setenv("COLUMNS", columns)
    prescription, _ = job.run(ground.write())

    text = shown(summary, prescription) + shown(details, prescription)

    assert max(map(len, text.splitlines())) <= 80
    assert "\x1b" not in text


def test_ledger_says_where_its_zone_is():
    """A place in the zone stands below its title."""
    file = io.StringIO()

    terminal.ledger("Zone 2: low", [], at=(-84.3, 40.6), file=file)

    assert file.getvalue().splitlines()[:2] == [
        "Zone 2: low",
        "A place in it: longitude -84.3, latitude 40.6",
    ]
