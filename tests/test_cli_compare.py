"""The command that sets guidelines side by side, and draws one."""

import json
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from click.testing import CliRunner

from vrp.cli import main

OWN = Path(__file__).parent / "data" / "own-guideline.toml"
CORN = ("--compare", "corn-grain", "--yield-goal", "200")


def invoke(*arguments):
    return CliRunner().invoke(main, ["guidelines", *map(str, arguments)])


def test_compare():
    """By Mehlich-3 at 10 ppm Tri-State 2020 asks for 5 × 10 + 200 × 0.35 = 120 lb."""
    done = invoke(*CORN, "--method", "mehlich-3-icp", "--json")

    assert done.exit_code == 0
    (block,) = json.loads(done.stdout)["blocks"]
    needs = {
        column["guideline"]: {one["soil_test"]: one["at"] for one in column["need"]}
        for column in block["columns"]
    }
    assert needs["tri-state-2020"][10] == 120
    assert needs["tri-state-2020"][20] == 70
    assert needs["tri-state-2020"][45] == 0


def test_compare_in_metric():
    """Winter wheat at 8 t/ha, straw left: 80 kg/ha at 12 mg/L, which is Index 1."""
    options = ("--units", "metric", "--residue", "left", "--method", "olsen")
    done = invoke("--compare", "winter-wheat", "--yield-goal", 8, *options)

    assert done.exit_code == 0
    assert "winter-wheat, yield goal 8 t/ha: need in kg P2O5/ha" in done.stdout
    assert ["10", "80"] in [line.split() for line in done.stdout.splitlines()]


def test_own_beside_the_shipped(tmp_path):
    """A person's own copy of a guideline that ships stands beside it as their own."""
    copy = tmp_path / "tri-state-2020.toml"
    copy.write_text(OWN.read_text("utf-8"), "utf-8")

    done = invoke(*CORN, "--method", "mehlich-3-icp", "--own", copy, "--json")

    (block,) = json.loads(done.stdout)["blocks"]
    names = [column["guideline"] for column in block["columns"]]
    assert {"tri-state-2020", "tri-state-2020 (own)"} <= set(names)


def test_drawing(tmp_path):
    """The drawing is written as asked, and standard output holds the tables alone."""
    path = tmp_path / "corn.svg"

    done = invoke(*CORN, "--method", "mehlich-3-icp", "--svg", path, "--json")

    assert done.exit_code == 0
    assert json.loads(done.stdout)
    assert done.stderr == f"Written: {path}\n"
    assert ET.parse(path).getroot().tag == "{http://www.w3.org/2000/svg}svg"


def test_hostile_title(tmp_path):
    """Markup in the title of a person's own guideline stays text in the drawing."""
    own = tmp_path / "own.toml"
    text = OWN.read_text("utf-8").replace(
        "A test's own guideline", "<script>alert(1)</script>]]>"
    )
    own.write_text(text, "utf-8")
    path = tmp_path / "corn.svg"

    done = invoke(*CORN, "--own", own, "--svg", path)

    assert done.exit_code == 0
    svg = ET.parse(path).getroot()
    assert not [one for one in svg.iter() if one.tag.endswith("script")]
    assert "<script>alert(1)</script>]]>" in " ".join(
        one.text or "" for one in svg.iter()
    )


def test_same_bytes(tmp_path):
    """The same question gives the same drawing, byte by byte."""
    for name in ("one.svg", "two.svg"):
        assert invoke(*CORN, "--svg", tmp_path / name).exit_code == 0

    assert (tmp_path / "one.svg").read_bytes() == (tmp_path / "two.svg").read_bytes()


REFUSED = {
    "unknown crop": (
        ("--compare", "corn-gran", "--yield-goal", "200"),
        "crop 'corn-gran' is in none of the guidelines, did you mean 'corn-grain'",
    ),
    "unknown method": (
        (*CORN, "--method", "mehlich-3-ipc"),
        "soil-test method 'mehlich-3-ipc' is not known, did you mean 'mehlich-3-icp'",
    ),
    "method that none takes": (
        (*CORN, "--method", "bray-p2"),
        "no guideline that has corn-grain takes bray-p2; those that have it take ",
    ),
    "no goal": (("--compare", "corn-grain"), "--compare asks for --yield-goal"),
    "goal of nothing": (
        ("--compare", "corn-grain", "--yield-goal", "0"),
        "yield goal of 0 must be above 0",
    ),
    "id beside compare": (("rb209-2023", *CORN), "ID has no effect on --compare"),
    "crop beside compare": (
        (*CORN, "--crop", "x"),
        "--crop has no effect on --compare",
    ),
    "drawing of the list": (("--svg", "x.svg"), "--svg has no effect on the list"),
    "goal of the list": (
        ("--yield-goal", "2"),
        "--yield-goal has no effect on the list",
    ),
    "own of one": (
        ("rb209-2023", "--own", "x.toml"),
        "--own has no effect on one guideline",
    ),
    "no drawing": ((*CORN, "--svg", "corn.png"), "corn.png: the drawing is SVG"),
    "no folder": ((*CORN, "--svg", "no/such/corn.svg"), "corn.svg: cannot be written"),
    "own that is no file": ((*CORN, "--own", "rb209-2023"), "your own is a .toml file"),
    "own that is missing": ((*CORN, "--own", "none.toml"), "none.toml: cannot be read"),
    "own twice": (
        (*CORN, "--own", OWN, "--own", OWN),
        "own-guideline.toml: another of that name was given",
    ),
    "unknown crop of one": (
        ("rb209-2023", "--crop", "sugar-bet"),
        "did you mean 'sugar-beet'",
    ),
    "unknown method of one": (
        ("rb209-2023", "--method", "olson"),
        "method 'olson' is not in ",
    ),
}


@pytest.mark.parametrize("case", REFUSED)
def test_refused(case, tmp_path, monkeypatch):
    """What cannot be compared is refused in one sentence, and nothing is written."""
    monkeypatch.chdir(tmp_path)
    arguments, message = REFUSED[case]

    done = invoke(*arguments)

    assert done.exit_code == 2
    assert done.stdout == ""
    assert message in done.stderr
    assert done.stderr.count("\n") == 1
    assert list(tmp_path.iterdir()) == []


def test_one_crop_of_one_guideline():
    """A crop and goal of one guideline show its need: 200 × 0.35 = 70 from 20 to 40."""
    done = invoke("tri-state-2020", "--crop", "corn-grain", "--yield-goal", 200)

    assert done.exit_code == 0
    assert "corn-grain (Corn, grain) at 200 bu/ac: need in lb P2O5/ac" in done.stdout
    assert ["20", "to", "40", "70", "maintenance"] in [
        line.split() for line in done.stdout.splitlines()
    ]
    assert "soybean (" not in done.stdout
