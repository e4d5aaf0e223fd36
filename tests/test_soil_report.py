"""A laboratory's report from its table to zones, ledger and findings."""

import json
from pathlib import Path

import numpy as np
import pytest
import shapely
from click.testing import CliRunner

from vrp import job
from vrp.cli import main
from vrp.errors import InputError

OWN = (Path(__file__).parent / "data" / "own-guideline.toml").read_text("utf-8")
OHIO = "bray-p1-from-mehlich-3-ohio"


def named(prescription, code):
    return [one for one in prescription.findings if one.code == code]


def steps(zone):
    return {line.step: line for line in zone.ledger}


def by(method, depth=8):
    """Return the test's own guideline, made for another method and depth."""
    text = OWN.replace("mehlich-3-icp", method)
    return text.replace("depth = { value = 8", f"depth = {{ value = {depth}")


@pytest.fixture
def report(ground):
    """Return a function that builds a field by a table's rows and samples keys."""

    def build(head, rows, *keys, guideline, drop=(), depth=8):
        ground.change(
            ('\n[[season]]\ncrop = "soybean"\nyield_goal = 60', ""),
            ('"tri-state-2020"', '"own.toml"'),
            ("depth = 8", f"depth = {depth}"),
        )
        text = ground.text.splitlines()
        named = [key.split(" =")[0] for key in (*keys, *drop)]
        kept = [line for line in text if line.split(" =")[0] not in named]
        at = kept.index("[samples]") + 1
        ground.text = "\n".join([*kept[:at], *keys, *kept[at:], ""])
        ground.write()
        (ground.folder / "own.toml").write_text(guideline, "utf-8")
        table = "\n".join([head, *rows, ""])
        (ground.folder / "samples.csv").write_text(table, "utf-8")
        return job.run(ground.path, overwrite=True)[0]

    return build


def grid(values):
    """Return places of a 60 m grid with values, in the order of the ground's rows."""
    side = np.arange(30.0, 480.0, 60.0)
    x, y = (each.ravel() for each in np.meshgrid(side, side))
    return zip(x, y, values(x, y), strict=True)


def test_layers_and_two_brays(report, ground):
    """
    Composites of two layers with weak and strong Bray make zones, findings, a ledger.

    By hand: in the west (2 × 24 + 6 × 8) / 8 = 12 ppm, twice as much in the top layer,
    and strong Bray (2 × 60 + 6 × 52) / 8 = 54; in the east 60 throughout, strong 120.
    The west is below 20 ppm: 5 × (20 − 12) + 200 × 0.37 = 114; the east above 50: 0.
    """
    halves = [shapely.box(0, 0, 240, 480), shapely.box(240, 0, 480, 480)]
    ground.write_polygons("zones.geojson", halves, [{"core": "W"}, {"core": "E"}])

    prescription = report(
        "core,from,to,P1,P2,pH",
        ["W,0,2,24,60,6.5", "W,2,8,8,52,6.5", "E,0,2,60,120,6.5", "E,2,8,60,120,6.5"],
        'points = "zones.geojson"',
        'kind = "zone"',
        'id = "core"',
        'soil_test = "P1"',
        'method = "bray-p1"',
        'bray_p2 = "P2"',
        'depth_from = "from"',
        'depth_to = "to"',
        'ph = "pH"',
        guideline=by("bray-p1"),
        drop=("x", "y", "crs"),
    )

    west, east = prescription.zones
    assert [(one.soil_test, one.need) for one in (west, east)] == [(12, 114), (60, 0)]
    lines = steps(west)
    layers = lines["soil test, layers of the samples"]
    assert layers.arithmetic == "(2 × 24 + 6 × 8) / 8 = 12"
    assert layers.source.where == "samples.csv rows 2, 3"
    assert lines["soil test, samples in the zone"].rule == "means of their layers"
    assert lines["soil test, samples in the zone"].arithmetic == "12"
    (tied,) = named(prescription, "phosphorus-tied-up")
    assert (tied.severity, tied.zone) == ("warn", west.number)
    assert "4.5 times as much" in tied.message
    (reading,) = named(prescription, "bray-weak-and-strong")
    # Medians of 12 and 60, and of 54 and 120: 87 / 36 = 2.4.
    assert "36 ppm" in reading.message
    assert "87 ppm, 2.4 times" in reading.message
    note, warning = named(prescription, "soil-test-stratified")
    assert (note.severity, note.zone) == ("note", None)
    # 24 / 12 = 2 on top in the west, 60 / 60 = 1 in the east.
    assert "test 1.50 times the whole core (median of 2 samples" in note.message
    assert "1.00 to 2.00; 1 above 1.55" in note.message
    assert (warning.severity, warning.zone) == ("warn", west.number)
    assert "test 2.00 times" in warning.message
    assert named(prescription, "soil-test-method") == []
    assert "phosphorus-tied-up" in west.note.split()
    assert "soil-test-stratified" not in east.note.split()


def test_conversion_end_to_end(report, ground):
    """
    A conversion by name makes the method fit, warns, and stands in the ledger.

    By hand: 44 lb/ac are 22 ppm, and 22 × 0.832 − 8.08 = 10.22 ppm of Bray P1; the need
    is 5 × (20 − 10.22) + 200 × 0.37 = 122.9 lb/ac.
    """
    rows = [f"{x:.0f},{y:.0f},{p:g},6.5" for x, y, p in grid(lambda x, y: 0 * x + 44)]

    prescription = report(
        "x,y,P,pH",
        rows,
        'unit = "lb/ac"',
        'ph = "pH"',
        f'convert = "{OHIO}"',
        guideline=by("bray-p1"),
    )

    (zone,) = prescription.zones
    assert (zone.soil_test, zone.need) == (10.22, 122.9)
    line = steps(zone)["soil test, converted"]
    assert line.arithmetic.startswith("44 / 2 = 22, 22 × 0.832 − 8.08 = 10.22; ")
    assert line.unit == "ppm bray-p1, estimated"
    assert "Ohio; from 10 ppm; no R² seen in print" in line.rule
    assert line.source.status == "read"
    assert steps(zone)["soil test, samples in the zone"].unit.startswith("lb/ac mehli")
    (found,) = named(prescription, "soil-test-converted")
    assert found.severity == "warn"
    assert named(prescription, "soil-test-method") == []
    record = json.loads((ground.folder / "out" / "record.json").read_text("utf-8"))
    assert record["soil_test"]["method"] == "mehlich-3-icp"
    assert record["soil_test"]["counted_as"] == "bray-p1"
    assert record["soil_test"]["convert"] == OHIO


def test_nothing_is_converted_unasked(report):
    """Without convert another method than the guideline's is a stop, as it was."""
    rows = [f"{x:.0f},{y:.0f},{p:g}" for x, y, p in grid(lambda x, y: 0 * x + 22)]

    prescription = report("x,y,P", rows, guideline=by("bray-p1"))

    (found,) = named(prescription, "soil-test-method")
    assert found.severity == "stop"
    assert prescription.zones[0].soil_test == 22.0
    assert named(prescription, "soil-test-converted") == []


def test_needless_conversion(report, ground):
    """A conversion from a method that the guideline was made for is refused."""
    rows = [f"{x:.0f},{y:.0f},{p:g}" for x, y, p in grid(lambda x, y: 0 * x + 40)]

    with pytest.raises(
        InputError, match=r"has figures for mehlich-3-icp itself: leave"
    ):
        report("x,y,P", rows, f'convert = "{OHIO}"', guideline=OWN)
    assert not (ground.folder / "out").exists()


def test_conversion_out_of_range(report, ground):
    """28 ppm by the line for Idaho is refused with its row, and nothing is written."""
    rows = [f"{x:.0f},{y:.0f},{p:g}" for x, y, p in grid(lambda x, y: 0 * x + 40)]
    rows[4] = rows[4].replace(",40", ",28")

    with pytest.raises(InputError, match=r"^samples.csv row 6: 28 ppm by .*28.7 ppm"):
        report(
            "x,y,P",
            rows,
            'convert = "olsen-from-mehlich-3-idaho"',
            guideline=by("olsen"),
        )
    assert not (ground.folder / "out").exists()


def test_line_for_other_soil_holds_back(report, ground):
    """A line for calcareous soil on acid ground writes no machine file."""
    rows = [f"{x:.0f},{y:.0f},{p:g},5.9" for x, y, p in grid(lambda x, y: 0 * x + 60)]

    prescription = report(
        "x,y,P,pH",
        rows,
        'ph = "pH"',
        'convert = "olsen-from-mehlich-3-idaho"',
        guideline=by("olsen"),
    )

    (found,) = named(prescription, "soil-test-converted")
    assert found.severity == "stop"
    assert "64 of 64 samples have another" in found.message
    assert not (ground.folder / "out" / "machine").exists()


def test_p2o5(report, ground):
    """
    A column of P2O5 stops; declared, it is divided by 2.2913 and carried as converted.

    45.83 / 2.291325 = 20.00 ppm of P, so the need is the removal, 200 × 0.37 = 74.
    """
    rows = [f"{x:.0f},{y:.0f},{p:g}" for x, y, p in grid(lambda x, y: 0 * x + 45.83)]
    keys, own = ['soil_test = "P2O5"'], OWN

    undeclared = report("x,y,P2O5", rows, *keys, guideline=own)
    (found,) = named(undeclared, "soil-test-column-name")
    assert found.severity == "stop"
    assert not (ground.folder / "out" / "machine").exists()

    ground.change(("[samples]", '[samples]\nexpressed_as = "P2O5"'))
    ground.path.write_text(ground.text, "utf-8")
    declared, _ = job.run(ground.path, overwrite=True)

    assert named(declared, "soil-test-column-name") == []
    assert named(declared, "soil-test-from-p2o5")[0].severity == "warn"
    (zone,) = declared.zones
    assert (zone.soil_test, zone.need) == (20.0, 74.0)
    line = steps(zone)["soil test, as P"]
    assert line.arithmetic.startswith("45.83 / 2.291325 = 20; ")
    assert line.source.status == "agrees"


def test_computed_equivalent(report):
    """
    A Bray P1 equivalent computed from Mehlich-3 counts as Bray P1, and is said to be.

    Its pH is checked against the extract that was run, which Bray P1's acid was not.
    """
    rows = [f"{x:.0f},{y:.0f},{p:g},7.8" for x, y, p in grid(lambda x, y: 0 * x + 22)]

    prescription = report(
        "x,y,Bray eq,pH",
        rows,
        'soil_test = "Bray eq"',
        'method = "bray-p1"',
        'computed_from = "mehlich-3-icp"',
        'ph = "pH"',
        guideline=by("bray-p1"),
    )

    (found,) = named(prescription, "soil-test-equivalent")
    assert found.severity == "warn"
    for code in ("soil-test-column-name", "bray-p1-high-ph", "soil-test-method"):
        assert named(prescription, code) == []
    rule = steps(prescription.zones[0])["soil test, samples in the zone"].rule
    assert "computed it from mehlich-3-icp" in rule


def test_ph_and_method(report):
    """Of pH 7.2 and 7.8 by Bray P1 the note counts the first, the warning the other."""
    values = np.where(np.arange(64) % 2 == 0, 7.2, 7.8)
    places = grid(lambda x, y: values)
    rows = [f"{x:.0f},{y:.0f},22,{ph}" for x, y, ph in places]

    prescription = report(
        "x,y,P,pH",
        rows,
        'method = "bray-p1"',
        'ph = "pH"',
        guideline=by("bray-p1"),
    )

    (note,) = named(prescription, "method-ph")
    assert "32 of 64 samples have a pH above 7 and up to 7.4" in note.message
    warnings = named(prescription, "bray-p1-high-ph")
    assert sum(int(one.message.split(": ")[1].split()[0]) for one in warnings) == 32


@pytest.mark.parametrize(
    ("head", "code"),
    [
        ("P lb/ac", "soil-test-column-contradicts"),
        ("Olsen P", "soil-test-column-contradicts"),
        ("P205", "soil-test-column-name"),
    ],
)
def test_name_against_the_plan(report, ground, head, code):
    """A name of another unit or test holds the machine files back, until accepted."""
    rows = [f"{x:.0f},{y:.0f},{p:g}" for x, y, p in grid(lambda x, y: 0 * x + 22)]

    stopped = report(f"x,y,{head}", rows, f'soil_test = "{head}"', guideline=OWN)
    (found,) = named(stopped, code)
    assert found.severity == "stop"
    assert not (ground.folder / "out" / "machine").exists()

    ground.path.write_text(
        f'{ground.text}\n[accept]\n{code} = "the laboratory says so"\n', "utf-8"
    )
    accepted, _ = job.run(ground.path, overwrite=True)
    assert named(accepted, code)[0].accepted == "the laboratory says so"
    assert (ground.folder / "out" / "machine").exists()


def test_undeclared_layers(report, ground):
    """
    Two layers a core without depths stop; a few repeats are a note.

    Of 32 cores all 64 rows share their position; of 60 and 2 twice, 4 of 64.
    """
    places = [(x, y) for x, y, _ in grid(lambda x, y: x)]
    layers = [f"{x:.0f},{y:.0f},{p}" for x, y in places[:32] for p in (60, 30)]
    repeats = [f"{x:.0f},{y:.0f},{20 + x / 20:g}" for x, y in places]
    twice = [row.rsplit(",", 1)[0] + ",31.25" for row in repeats[:2]]

    stopped = report("x,y,P", layers, guideline=OWN)
    (found,) = named(stopped, "repeated-positions")
    assert found.severity == "stop"
    assert "64 of 64 samples share their position" in found.message
    assert "name id, depth_from and depth_to" in found.message
    assert not (ground.folder / "out" / "machine").exists()

    table = "\n".join(["x,y,P", *repeats, *twice, ""])
    (ground.folder / "samples.csv").write_text(table, "utf-8")
    noted, _ = job.run(ground.path, overwrite=True)
    (found,) = named(noted, "repeated-positions")
    assert found.severity == "note"
    assert "2 samples share the position of another" in found.message


def test_rings_are_no_layers(report, ground):
    """Composites of a ring and of what it holds share their middle, not their place."""
    inner = shapely.box(120, 120, 360, 360)
    ring = shapely.box(0, 0, 480, 480).difference(inner)
    ids = [{"core": "A"}, {"core": "B"}]
    ground.write_polygons("zones.geojson", [inner, ring], ids)

    found = report(
        "core,P",
        ["A,60", "B,50"],
        'points = "zones.geojson"',
        'kind = "zone"',
        'id = "core"',
        guideline=OWN,
        drop=("x", "y", "crs"),
    )

    assert named(found, "repeated-positions") == []


def test_swapped_brays(report):
    """Strong Bray below weak Bray in every row asks whether the columns are swapped."""
    rows = [f"{x:.0f},{y:.0f},50,20" for x, y, _ in grid(lambda x, y: x)]

    prescription = report(
        "x,y,P1,P2",
        rows,
        'soil_test = "P1"',
        'method = "bray-p1"',
        'bray_p2 = "P2"',
        guideline=by("bray-p1"),
    )

    (found,) = named(prescription, "bray-p2-below-p1")
    assert "64 of 64 samples (rows 2, 3, " in found.message
    assert named(prescription, "phosphorus-tied-up") == []


def test_command_line(report, ground):
    """The command prints the findings of layers, and explains a zone's layers."""
    rows = []
    for number, (x, y, _) in enumerate(grid(lambda x, y: x)):
        place = f"K{number},{x:.0f},{y:.0f}"
        rows += [f"{place},0,2,60", f"{place},2,6,30"]
    report(
        "core,x,y,from,to,P",
        rows,
        'id = "core"',
        'depth_from = "from"',
        'depth_to = "to"',
        guideline=by("mehlich-3-icp", depth=6),
        depth=6,
    )

    built = CliRunner().invoke(main, ["build", str(ground.path), "--overwrite"])
    told = CliRunner().invoke(main, ["explain", str(ground.folder / "out")])

    assert built.exit_code == 0, built.output
    assert "soil-test-stratified" in built.output
    assert "note soil-test-stratified" in told.output
    assert "128 rows are layers of 64 samples" in " ".join(told.output.split())
    assert "(2 × 60 + 4 × 30) / 6 = 40" in " ".join(told.output.split())
