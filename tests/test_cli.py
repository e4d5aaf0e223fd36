"""The command: exit codes, streams, JSON, and every kind of bad input."""

import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
import shapely
from click.testing import CliRunner

from vrp import job
from vrp.agronomy.guidelines import shipped
from vrp.cli import main

DATA = Path(__file__).parent / "data"


def invoke(*arguments):
    return CliRunner().invoke(main, [str(one) for one in arguments])


def run(*arguments, **environment):
    """Run the command in a process of its own, its output piped."""
    line = [sys.executable, "-c", "from vrp.cli import main; main()"]
    return subprocess.run(
        [*line, *map(str, arguments)],
        check=False,
        capture_output=True,
        encoding="utf-8",
        env=os.environ | environment,
    )


@pytest.fixture(scope="module")
def output(tmp_path_factory):
    """Return the output of a sample field, and what the command printed of it."""
    out = tmp_path_factory.mktemp("built") / "out"
    field = Path(__file__).parents[1] / "sample_fields" / "us"
    return out, run("build", field, "--out", out)


def test_help_lists_the_commands():
    """Help names every command and takes no library to do so."""
    shown = invoke("--help")

    assert shown.exit_code == 0
    assert re.findall(r"^  ([a-z]+) ", shown.stdout, re.MULTILINE) == [
        "build",
        "explain",
        "guidelines",
        "new",
        "ready",
        "removal",
        "rules",
        "stick",
        "verify",
    ]


def test_summary(output):
    """A summary of 80 columns has verdict, zones, totals, findings and the caution."""
    out, done = output

    assert (done.returncode, done.stderr) == (0, "")
    assert max(map(len, done.stdout.splitlines()[:-1])) <= 80
    assert "\x1b" not in done.stdout
    record = json.loads((out / "record.json").read_text("utf-8"))
    assert done.stdout.startswith("Rook Bottom 2027\n")
    assert f"By zone: {record['surface']['verdict']}" in done.stdout
    for zone in record["zones"]:
        assert re.search(
            rf"^ +{zone['zone']} {zone['stp_class']} +{zone['area_ac']:.1f} .* "
            rf"{zone['rate_lb_ac']:g} +{zone['total_lb']:,.0f} +"
            rf"{zone['n_lb_ac']:.0f} *$",
            done.stdout,
            re.MULTILINE,
        )
    assert f"{record['totals']['product']:,.0f}" in done.stdout
    assert f"{record['totals']['uniform']['product']:,.0f}" in done.stdout
    for finding in record["findings"]:
        named = re.escape(finding["code"])
        if finding["severity"] == "note":
            assert re.search(rf"^Notes: .*{named}", done.stdout, re.MULTILINE)
        else:
            assert f"{finding['severity']} {finding['code']}: " in done.stdout
    assert "A draft for a qualified person to check." in done.stdout
    assert done.stdout.endswith(f"Written: {out}\n")


def test_colours_are_off_where_asked(output):
    """NO_COLOR holds even where colours are forced; bold is no colour."""
    out, _ = output
    shown = run("explain", out, NO_COLOR="1", FORCE_COLOR="1", TERM="xterm-256color")

    # SGR codes 30 to 49 and 90 to 107 are colours (ECMA-48 and its common extension).
    codes = re.findall(r"\x1b\[([0-9;]*)m", shown.stdout)
    numbers = {int(one) for code in codes for one in code.split(";") if one}
    assert not any(30 <= one <= 49 or 90 <= one <= 107 for one in numbers)


def test_terminal_that_lacks_characters(output):
    """Where the terminal's encoding has no dash or sign the command still works."""
    out, _ = output
    shown = run("explain", out, "--zone", "1", PYTHONIOENCODING="ascii")

    assert shown.returncode == 0
    assert "\\xd7" in shown.stdout  # the sign of multiplication


def test_json_is_the_record(ground):
    """With --json standard output is record.json; with --quiet it is empty."""
    path = ground.write()

    as_json, quiet = invoke("build", path, "--json"), invoke("build", path, "--quiet")

    record = (path.parent / "out" / "record.json").read_text("utf-8")
    assert (as_json.exit_code, quiet.exit_code) == (0, 0)
    assert as_json.stdout == record
    assert json.loads(as_json.stdout)["format"] == 1
    assert (quiet.stdout, quiet.stderr) == ("", "")


def test_held_back(ground):
    """A stop finding gives exit code 3, says so on standard error, keeps the map."""
    ground.change(('"mehlich-3-icp"', '"olsen"'))
    path = ground.write()

    for flag in ([], ["--json"], ["--quiet"]):
        held = invoke("build", path, *flag)
        assert held.exit_code == 3
        assert held.stderr == "A stop finding holds the machine files back.\n"
    assert sorted(one.name for one in (path.parent / "out").iterdir()) == [
        "job_sheet.pdf",
        "map",
        "record.json",
        "report.html",
    ]


def test_explain(output):
    """A ledger is shown by zone, all zones in order; JSON has the same lines."""
    out, _ = output
    whole, second = invoke("explain", out), invoke("explain", out, "--zone", "2")
    as_json = invoke("explain", out, "--zone", "2", "--json")

    assert whole.exit_code == second.exit_code == as_json.exit_code == 0
    zones = json.loads((out / "record.json").read_text("utf-8"))["zones"]
    titles = [f"Zone {one['zone']}: {one['stp_class']}" for one in zones]
    shown = [line for line in whole.stdout.splitlines() if line.startswith("Zone ")]
    assert "After the crops" in whole.stdout
    assert shown == titles
    assert second.stdout.rstrip() in whole.stdout
    (zone,) = json.loads(as_json.stdout)
    assert zone == zones[1]
    text = " ".join(second.stdout.split())
    for line in zone["ledger"]:
        assert " ".join(line["arithmetic"].split()) in text
        assert f"{line['source']['status']} ({line['source']['where']})" in text
    assert max(map(len, whole.stdout.splitlines())) <= 80


def test_explain_a_place(output):
    """A place leads to the zone that holds it; outside the field there is none."""
    out, _ = output
    row = (out / "map" / "zones.csv").read_text("utf-8").splitlines()[2].split(",")
    at = invoke("explain", out, "--at", row[1], row[2])
    away = invoke("explain", out, "--at", "0", "0")

    assert at.stdout == invoke("explain", out, "--zone", "2").stdout
    assert f"A place in it: longitude {row[1]}, latitude {row[2]}" in at.stdout
    assert away.exit_code == 2
    assert "no zone is there" in away.stderr


def test_verify(output, tmp_path):
    """All that agrees gives 0; a rate that was edited 4, with lines to adopt it."""
    out, _ = output
    agrees, quiet = run("verify", out), run("verify", out, "--quiet")
    shutil.copytree(out, tmp_path / "out")
    path = tmp_path / "out" / "map" / "rates.geojson"
    text = path.read_text("utf-8")
    second = json.loads(text)["features"][1]["properties"]["rate_lb_ac"]
    text = text.replace(f'"rate_lb_ac": {second}', '"rate_lb_ac": 160.0')
    path.write_text(text)
    differs, as_json = (
        run("verify", tmp_path / "out", *flags) for flags in ([], ["--json"])
    )

    assert (agrees.returncode, agrees.stderr) == (0, "")
    assert agrees.stdout.endswith("All files agree with the record.\n")
    assert re.search(
        r"^map/rates\.geojson +zones, shapes, CRS, total +agrees *$",
        agrees.stdout,
        re.MULTILINE,
    )
    assert (quiet.returncode, quiet.stdout, quiet.stderr) == (0, "", "")
    assert (differs.returncode, differs.stderr) == (4, "")
    for shown in (agrees, differs):
        assert max(map(len, shown.stdout.splitlines())) <= 80
    said = f"rates.geojson, zone 2: rate_lb_ac reads 160.0, not {second}.\n"
    assert said in differs.stdout
    # 160 lb/ac × 0.52 = 83.2 lb/ac.
    assert re.search(
        r"^\[\[override\]\].*\npoint = \[-84\.\d+, 40\.\d+\]\np2o5 = 83\.2 ",
        differs.stdout,
        re.MULTILINE,
    )
    found = json.loads(as_json.stdout)
    assert as_json.returncode == 4
    assert found["agrees"] is False
    faults = {one["file"]: one["faults"] for one in found["files"] if one["faults"]}
    assert list(faults) == ["map/rates.geojson"]
    assert [(one["zone"], one["now"]) for one in found["edits"]] == [(2, 160.0)]
    assert found["field_file"] in differs.stdout


@pytest.mark.parametrize("number", ["0", "99", "-1"])
def test_unknown_zone(output, number):
    """A zone that there is not is refused with those that there are."""
    out, _ = output
    count = len(json.loads((out / "record.json").read_text("utf-8"))["zones"])

    refused = invoke("explain", out, f"--zone={number}")

    assert refused.exit_code == 2
    assert refused.stderr == (
        f"Error: {out}: has no zone {number}; it has 1 to {count}\n"
    )


def test_guidelines():
    """All that ship are listed with crops; one shows every figure with its source."""
    listed, as_json = invoke("guidelines"), invoke("guidelines", "--json")
    one = invoke("guidelines", "tri-state-2020")
    facts = json.loads(invoke("guidelines", "tri-state-2020", "--json").stdout)
    own = invoke("guidelines", DATA / "own-guideline.toml")

    assert listed.exit_code == one.exit_code == own.exit_code == 0
    assert list(json.loads(as_json.stdout)) == list(shipped())
    for name, guideline in shipped().items():
        assert f"{name}\n" in listed.stdout
        for crop in guideline.crops:
            assert crop in listed.stdout
    assert len(facts["figures"]) == sum(facts["statuses"].values())
    text = "".join(one.stdout.split())  # long addresses are broken
    for figure in facts["figures"]:
        behind = f"{figure['status']}: {figure['where']}"
        assert "".join(behind.split()) in text
    assert "crops.corn-grain.removal: 0.37 lb P2O5/bu" in own.stdout
    for shown in (listed, one, own):
        assert max(map(len, shown.stdout.splitlines())) <= 80


def test_unknown_guideline():
    """A guideline that does not ship is refused with those that do."""
    refused = invoke("guidelines", "tri-state-2021")

    assert refused.exit_code == 2
    assert f"{', '.join(shipped())}, or the path of your own" in refused.stderr


def test_new_then_build(tmp_path, sample_fields):
    """What new drafts builds once what it leaves open is typed, and not before."""
    files = ["--boundary", sample_fields / "us" / "boundary.geojson"]
    files += ["--samples", sample_fields / "us" / "samples.csv"]

    drafted = invoke("new", tmp_path / "field", *files)
    too_early = invoke("build", tmp_path / "field")
    path = tmp_path / "field" / "field.toml"
    text = path.read_text("utf-8")
    for left, typed in {
        '# method = "…"': 'method = "mehlich-3-icp"',
        '# unit = "…"': 'unit = "ppm"',
        "# depth": "depth",
        "# sampled": "sampled",
        "# crop": "crop",
        "# yield_goal": "yield_goal",
        '# guideline = "…"': 'guideline = "tri-state-2020"',
        "# grade": "grade",
    }.items():
        assert left in text
        text = text.replace(left, typed)
    path.write_text(text, "utf-8")
    built = invoke("build", path)

    assert drafted.exit_code == 0
    assert drafted.stdout.startswith(f"{path}: check the guesses")
    assert too_early.exit_code == 2
    assert "samples.method" in too_early.stderr
    assert (built.exit_code, built.stderr) == (0, "")


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["build"], "Missing argument 'FIELD'"),
        (["build", "x", "--frob"], "No such option"),
        (["build", "none"], "none: no such file; vrp new writes one to start"),
        (["explain", "none"], "none: holds no record.json; vrp build writes it"),
        (["verify", "none"], "none: holds no record.json; vrp build writes it"),
        (["mend"], "No such command 'mend'"),
        (["new", "x", "--boundary", "b"], "Missing option '--samples'"),
    ],
)
def test_wrong_arguments(arguments, message, tmp_path, monkeypatch):
    """A slip in the arguments is refused with exit code 2 and nothing is written."""
    monkeypatch.chdir(tmp_path)

    refused = invoke(*arguments)

    assert refused.exit_code == 2
    assert message in refused.stderr
    assert list(tmp_path.iterdir()) == []


def in_samples(*lines):
    def change(ground):
        (ground.folder / "samples.csv").write_text("\n".join(lines) + "\n")

    return change


def in_boundary(*shapes):
    def change(ground):
        ground.write_polygons("boundary.geojson", shapes)

    return change


def in_field(*pairs):
    def change(ground):
        ground.change(*pairs)
        ground.path.write_text(ground.text)

    return change


def with_crs(line):
    def change(ground):
        ground.text = re.sub("crs = .*\n", line, ground.text)
        ground.path.write_text(ground.text)

    return change


def all_of(*changes):
    def change(ground):
        for each in changes:
            each(ground)

    return change


def swapped(ground):
    path = ground.folder / "boundary.geojson"
    shape = shapely.from_geojson(path.read_text("utf-8"))
    flipped = shapely.transform(shape.geoms[0], lambda xy: xy[:, ::-1])
    path.write_text(shapely.to_geojson(flipped))


def joined(ground):
    """Positions in a map file of their own, and ids of which one is not there."""
    features = [
        {
            "type": "Feature",
            "properties": {"id": f"S{at}"},
            "geometry": {"type": "Point", "coordinates": [-84.3 + at / 1e4, 40.601]},
        }
        for at in range(3)
    ]
    collection = {"type": "FeatureCollection", "features": features}
    (ground.folder / "points.geojson").write_text(json.dumps(collection))
    in_samples("id,P", "S0,12", "S1,13", "X9,14")(ground)
    ground.change(('x = "x"\ny = "y"\n', 'points = "points.geojson"\nid = "id"\n'))
    with_crs("")(ground)


def remove(name):
    return lambda ground: (ground.folder / name).unlink()


CROSSING = shapely.Polygon([(0, 0), (400, 400), (400, 0), (0, 400)])
FAR = "9000.0,9000.0,20.0"

BAD = {
    "missing boundary": (remove("boundary.geojson"), r"boundary.geojson: there is no"),
    "missing samples": (remove("samples.csv"), r"samples.csv: there is no such file"),
    "missing column": (
        in_field(('soil_test = "P"', 'soil_test = "Phos"')),
        r"samples.csv: has no column 'Phos' \(soil_test\): its columns are x, y, P",
    ),
    "text in a number column": (
        in_samples("x,y,P", "30,30,12", "90,30,high"),
        r"samples.csv, row 3: P is 'high', not a number: write a plain number",
    ),
    "blank test": (
        in_samples("x,y,P", "30,30,12", "90,30,"),
        r"samples.csv, row 3: P is blank: .+",
    ),
    "negative test": (
        in_samples("x,y,P", "30,30,12", "90,30,-4"),
        r"samples.csv, row 3: P is -4.*: .+",
    ),
    "coordinates swapped": (swapped, r"boundary.geojson: .* look swapped: put the lo"),
    "x and y swapped": (
        all_of(
            in_samples("x,y,P", "40.601,-84.299,12", "40.602,-84.298,14"),
            with_crs('crs = "EPSG:4326"\n'),
        ),
        r"samples.csv: no sample lies in boundary.geojson .* x and y swapped: swap x =",
    ),
    "boundary crossing itself": (
        in_boundary(CROSSING),
        r"boundary.geojson, feature 1: its outline crosses or touches itself .*: mend",
    ),
    "empty boundary": (
        in_boundary(),
        r"boundary.geojson: holds no features: export it again",
    ),
    "samples all outside": (
        in_samples("x,y,P", FAR, FAR),
        r"samples.csv: none of its 2 samples lies in boundary.geojson; .*: check the",
    ),
    "no CRS": (
        with_crs(""),
        r'samples.csv: x and y have no CRS: write crs = "EPSG:4326" for longitude',
    ),
    "unknown CRS": (
        with_crs('crs = "UTM"\n'),
        r"samples.csv: crs 'UTM' is not known: write a code such as EPSG:4326",
    ),
    "ids that do not join": (
        joined,
        r"samples.csv: 1 of 3 results have no position in points.geojson, id 'X9' .*:",
    ),
    "unknown crop": (
        in_field(('"corn-grain"', '"corn"')),
        r"crop 'corn' is not in .*corn-grain",
    ),
    "unknown method": (
        in_field(('"mehlich-3-icp"', '"mehlich"')),
        r"field.toml: samples.method = 'mehlich': use one of ",
    ),
    "unknown guideline": (
        in_field(('"tri-state-2020"', '"tri-state"')),
        r"guideline 'tri-state' does not ship; use one of ",
    ),
    "unknown key": (
        in_field(("max_rate", "maxrate")),
        r"field.toml: machine.maxrate is not a key here; did you mean max_rate\?",
    ),
    "zero yield": (
        in_field(("yield_goal = 200", "yield_goal = 0")),
        r"field.toml: season\[1\].yield_goal = 0: must be more than 0",
    ),
    "goals of zero": (
        all_of(
            lambda ground: ground.write_polygons(
                "goals.geojson", [ground.outline], [{"goal": 0}]
            ),
            in_field(("= 200", '= { file = "goals.geojson", column = "goal" }')),
        ),
        r"goals.geojson.* 1: goal is 0; a yield goal must be above 0",
    ),
    "zones elsewhere": (
        all_of(
            lambda ground: ground.write_polygons(
                "zones.geojson", [shapely.box(9000, 0, 9400, 400)]
            ),
            in_field(
                ("[need]", '[zones]\nby = "file"\nfile = "zones.geojson"\n[need]')
            ),
        ),
        r"zones.geojson: none of its 1 polygons touches the field in boundary.geojson",
    ),
    "no phosphate": (in_field(('"11-52-0"', '"46-0-0"')), r".*46-0-0.*P2O5"),
    "no field file": (remove("field.toml"), r".*field.toml: no such file; vrp new"),
}


@pytest.mark.parametrize("case", BAD)
def test_bad_input(ground, case):
    """Exit code 2, one line that names the place, nothing printed, old output kept."""
    change, message = BAD[case]
    _, out = job.run(ground.write())
    before = {one: one.read_bytes() for one in out.rglob("*") if one.is_file()}
    change(ground)

    refused = invoke("build", ground.folder)

    assert refused.exit_code == 2, refused.stderr
    assert refused.stdout == ""
    assert re.match(f"Error: {message}", refused.stderr), refused.stderr
    assert refused.stderr.count("\n") == 1
    assert isinstance(refused.exception, SystemExit)
    after = {one: one.read_bytes() for one in out.rglob("*") if one.is_file()}
    assert after == before
    assert not any(one.name.startswith(".") for one in ground.folder.iterdir())


def heading(name):
    """Put another heading over the soil test, and ask for one that is not there."""
    return all_of(
        in_samples(f'x,y,"{name}"', "30,30,12"),
        in_field(('soil_test = "P"', 'soil_test = "Q"')),
    )


@pytest.mark.parametrize(
    "change",
    [
        heading("\x1b[31mP\x1b[0m"),
        heading("<script>alert(1)</script>"),
        heading("=cmd|' /C calc'!A0"),
        heading("\u202egnp"),
        heading("../../etc/passwd"),
        in_samples("x,y,P", "30,30,\x1b]0;owned\x07"),
        in_samples("x,y,P", "30,30,\u202e21"),
        in_field(('"tri-state-2020"', '"\\u202Etri"')),
        in_field(('"corn-grain"', '"<b>corn</b>"')),
        in_field(('"Test Ground"', '"Test\\u001b[2J"')),
    ],
)
def test_hostile_text_is_not_obeyed(ground, change):
    """No message carries a character that steers the terminal."""
    ground.write()
    change(ground)

    refused = invoke("build", ground.folder)

    assert refused.exit_code == 2
    assert not re.search("[\x00-\x09\x0b-\x1f\x7f-\x9f\u202a-\u202e]", refused.stderr)


@pytest.mark.parametrize("name", ["<b>&", "../../x", "=1+1", "حقل", "麦" * 60])
def test_hostile_names_are_text(ground, name):
    """A field's name is text in the record and on screen, and no path on the disk."""
    ground.change(("Test Ground", name))
    path = ground.write()

    done = invoke("build", path)

    out = path.parent / "out"
    assert done.exit_code == 0
    assert name[:20] in done.stdout
    record = json.loads((out / "record.json").read_text("utf-8"))
    assert record["field"]["name"] == name
    (shp,) = out.rglob("*.shp")
    assert re.fullmatch(r"[A-Za-z0-9_-]{1,24}\.shp", shp.name)
    assert sorted(one.name for one in path.parent.iterdir()) == [
        "boundary.geojson",
        "field.toml",
        "out",
        "samples.csv",
    ]


def test_hostile_guideline(ground):
    """A class word of a person's own guideline that would steer is spelled out."""
    shutil.copy(DATA / "own-guideline.toml", ground.folder / "own.toml")
    text = (ground.folder / "own.toml").read_text("utf-8")
    text = text.replace("A test's own guideline", "Mine \\u001b[31mred")
    (ground.folder / "own.toml").write_text(text, "utf-8")

    shown = invoke("guidelines", ground.folder / "own.toml")

    assert shown.exit_code == 0
    assert "\x1b" not in shown.stdout
    assert "Mine \\u001b[31mred" in " ".join(shown.stdout.split())


def test_long_heading(ground):
    """A heading of 10,000 characters is refused in a message that can be read."""
    ground.write()
    heading("P" * 10_000)(ground)

    refused = invoke("build", ground.folder)

    assert refused.exit_code == 2
    assert len(refused.stderr) < 2_500
