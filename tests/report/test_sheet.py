"""The job sheet: read by another library, it says what the record says."""

import json
import re
import shutil
from dataclasses import replace

import pytest
import shapely
from pypdf import PdfReader

from vrp import job
from vrp.evidence import Finding
from vrp.io import sheet_file
from vrp.io.verify import verify
from vrp.report.sheet import sheet

DIGEST = "0123456789abcdef" * 4
MACHINE = ("Test_2027_11-52-0.shp", "TASKDATA/TASKDATA.XML")
# A letter that the sheet's type lacks, an emoji, letters from right to left, a sign
# that turns the text beside it, a control character, markup of three kinds.
HOSTILE = "<script>alert(1)</script> #panic() $x$ 中 🌾 שדה \u202e\x07 & *b*"


def text_of(path):
    """Return the text of all pages, blanks as one."""
    said = "\n".join(page.extract_text() for page in PdfReader(path).pages)
    return re.sub(r"[\s\xa0]+", " ", said.replace("\u200b", ""))


def made(prescription, folder):
    """Return a sheet that was written into a folder."""
    found = sheet(prescription, digest=DIGEST, machine=MACHINE)
    sheet_file.write(folder, found)
    return folder / sheet_file.NAME


@pytest.fixture(scope="module")
def fields(sample_fields, tmp_path_factory):
    """Return the prescription and the folder of each sample field."""
    folder = tmp_path_factory.mktemp("sheets")
    return {
        name: job.run(sample_fields / name, out=folder / name)
        for name in ("us", "metric", "creek")
    }


@pytest.fixture(scope="module")
def us(fields):
    return fields["us"][0]


@pytest.mark.parametrize("name", ["us", "metric", "creek"])
def test_says_what_the_record_says(name, fields):
    """Each zone's figures, the totals and the digest stand on it as in the record."""
    _, out = fields[name]
    record = json.loads((out / "record.json").read_text("utf-8"))
    said = text_of(out / "job_sheet.pdf")
    area, mass = ("ha", "kg") if name == "metric" else ("ac", "lb")

    assert f"record {record['digest'][:8]}" in said
    for zone in record["zones"]:
        row = (
            zone["zone"],
            f"{zone[f'area_{area}']:,.1f}",
            f"{zone[f'rate_{mass}_{area}']:g}",
            f"{zone[f'total_{mass}']:,.0f}",
            f"{zone[f'app_{mass}_{area}']:,.0f}",
        )
        assert " ".join(map(str, row)) in said
    product = f"{record['totals']['product']:,.0f}"
    assert f"{product} {mass}" in said
    rates = [zone[f"rate_{mass}_{area}"] for zone in record["zones"]]
    lowest, highest = min(rate for rate in rates if rate), max(rates)
    assert f"{lowest:g} to {highest:g} {mass}/{area}" in said


@pytest.mark.parametrize(
    ("name", "paper"),
    [
        ("us", (612.0, 792.0)),
        ("creek", (612.0, 792.0)),
        ("metric", (595.276, 841.89)),
    ],
)
def test_two_pages_at_most_on_the_paper_of_the_place(name, paper, fields):
    """Letter for US units, A4 for metric, and two pages at most."""
    pages = PdfReader(fields[name][1] / "job_sheet.pdf").pages

    assert len(pages) <= 2
    size = pages[0].mediabox
    assert (size.width, size.height) == pytest.approx(paper, abs=0.01)


def test_can_be_read_aloud(fields):
    """It is tagged and says so, has a title and a language, its map is described."""
    reader = PdfReader(fields["us"][1] / "job_sheet.pdf")
    root = reader.trailer["/Root"]

    assert root["/MarkInfo"]["/Marked"]
    assert root["/Lang"] == "en"
    assert b"pdfuaid:part" in root["/Metadata"].get_data()
    assert reader.metadata.title == "Job sheet: Rook Bottom 2027"
    kinds, told = [], []

    def walk(node):
        node = node.get_object()
        if isinstance(node, list):
            for one in node:
                walk(one)
        elif isinstance(node, dict):
            kinds.append(node.get("/S"))
            told.append(node.get("/Alt"))
            if "/K" in node:
                walk(node["/K"])

    walk(root["/StructTreeRoot"])
    assert {"/H1", "/H2", "/Table", "/TH", "/TD", "/Figure"} <= set(kinds)
    assert any(one and "zone 1 175 lb/ac" in one for one in told)


def test_same_bytes_twice(us):
    """The same prescription gives the same bytes."""
    assert sheet(us, digest=DIGEST, machine=MACHINE) == sheet(
        us, digest=DIGEST, machine=MACHINE
    )


def test_hostile_text_stays_text(us, tmp_path):
    """Markup is shown; letters without a shape are spelled out, and that is said."""
    field = replace(us.plan.field, name=HOSTILE, farm="x" * 200, client="中" * 200)
    path = made(replace(us, plan=replace(us.plan, field=field)), tmp_path)
    said = text_of(path)

    assert "<script>alert(1)</script> #panic() $x$ \\u4e2d \\u1f33e" in said
    assert "\\u202e\\u0007 & *b* 2027" in said
    assert "type lacks are spelled out (\\u1f33e, \\u4e2d)" in said
    assert "x" * 50 in said.replace(" ", "")
    for page in PdfReader(path).pages:
        # Nothing runs off the paper.
        places = []
        page.extract_text(
            visitor_text=lambda text, _, at, *__, into=places: into.append(at[4])
        )
        assert max(places) < 612.0


@pytest.mark.parametrize("name", ["\ufe00\U0001f45b\u0a92", "\u034a\ufe0f\u0eaf"])
def test_signs_that_lean_on_their_neighbours(name, us, tmp_path):
    """Signs with a shape of their own, which lose it side by side, are spelled out."""
    field = replace(us.plan.field, name=f"x{name}")
    said = text_of(made(replace(us, plan=replace(us.plan, field=field)), tmp_path))

    assert "x" + "".join(f"\\u{ord(sign):04x}" for sign in name) in said


def test_distances_from_water(fields):
    """Each file's distances, both lines, and the ground that gets nothing are told."""
    prescription, out = fields["creek"]
    said = text_of(out / "job_sheet.pdf")
    water = json.loads((out / "record.json").read_text("utf-8"))["water"]

    assert water["setbacks"]
    for one in water["setbacks"]:
        row = f"{one['distance']:g} ft {one['no_drive']:g} ft {one['nearest']:,.0f} ft"
        assert f"{one['kind']} (water.geojson) {row}" in said
    assert f"{water['kept_area']:.2f} ac" in said
    assert "No setback is in this map" not in said
    kept = sum(one.excluded is not None for one in prescription.zones)
    assert said.count(" 0 0 0 0 water") == kept > 0


def test_letters_that_it_has_are_not_spelled_out(us, tmp_path):
    """Accents and Greek stand as they are, and no line tells of spelling."""
    field = replace(us.plan.field, name="Über Łąka Ωμέγα")
    said = text_of(made(replace(us, plan=replace(us.plan, field=field)), tmp_path))

    assert "Über Łąka Ωμέγα 2027" in said
    assert "spelled out" not in said


def test_forty_zones_stand_on_two_pages(us, tmp_path):
    """Forty zones are all in the table, side by side, on two pages."""
    zone = us.zones[0]
    zones = tuple(
        replace(
            zone,
            number=number,
            rate=100.0 + number,
            geometry=shapely.box(
                -84.35 + 0.001 * (number % 8),
                40.61 + 0.001 * (number // 8),
                -84.349 + 0.001 * (number % 8),
                40.611 + 0.001 * (number // 8),
            ),
        )
        for number in range(1, 41)
    )
    path = made(replace(us, zones=zones), tmp_path)
    said = text_of(path)

    assert len(PdfReader(path).pages) == 2
    for number in range(1, 41):
        assert re.search(rf"\b{number} 17\.2 {100 + number} 3,009\b", said)


def test_a_stop_leaves_no_rate(us, tmp_path):
    """Held back, it says so first, why, and has neither rate nor load nor files."""
    stop = Finding(
        "soil-test-method",
        "stop",
        "samples.csv",
        None,
        None,
        "",
        None,
        "the method does not fit",
        "ask the laboratory",
    )
    said = text_of(made(replace(us, findings=(*us.findings, stop)), tmp_path))

    assert "STOP: do not spread by this plan" in said
    assert "soil-test-method: the method does not fit. Ask the laboratory." in said
    assert "11,247" not in said
    assert "lb/ac" not in said
    assert "11-52-0" not in said


def test_margin_is_the_plans(us, tmp_path):
    """A margin of 3 % on 10,000 lb is 10,300 lb; without one a line is left blank."""
    totals = replace(us.totals, zones=replace(us.totals.zones, product=10_000.0))
    machine = replace(us.plan.machine, margin=3.0)
    asked = replace(us, totals=totals, plan=replace(us.plan, machine=machine))

    said = text_of(made(asked, tmp_path))
    assert "10,000 lb (5.00 tons of 2,000 lb)" in said
    assert "With a margin of 3 %" in said
    assert "10,300 lb (5.15 tons of 2,000 lb)" in said
    assert "none is planned" in text_of(made(replace(us, totals=totals), tmp_path))


def test_what_is_thrown_beside_water_is_loaded(fields, tmp_path):
    """10,000 lb by the map and 400 thrown onto the strip are 10,400 lb to load."""
    creek, _ = fields["creek"]
    totals = replace(creek.totals, zones=replace(creek.totals.zones, product=10_000.0))
    water = replace(creek.water, strip_product=400.0)

    said = text_of(made(replace(creek, totals=totals, water=water), tmp_path))
    assert "10,400 lb (5.20 tons of 2,000 lb)" in said
    assert "That is 10,000 lb by the map and about 400 lb that the passes" in said


def test_nothing_to_spread(us, tmp_path):
    """A field whose every zone has rate 0 is not told to load."""
    zones = tuple(replace(one, rate=0.0, total=0.0) for one in us.zones)
    said = text_of(made(replace(us, zones=zones), tmp_path))

    assert "Nothing to spread" in said


def test_verify_reads_it_back(fields, tmp_path):
    """A sheet of another run is found by its figures and its digest."""
    _, out = fields["us"]
    copied = tmp_path / "out"
    shutil.copytree(out, copied)
    assert not verify(copied).faults

    prescription, _ = fields["us"]
    zones = (replace(prescription.zones[0], rate=180.0), *prescription.zones[1:])
    made(replace(prescription, zones=zones), copied)
    faults = "\n".join(verify(copied).faults)

    assert "job_sheet.pdf is of the record 01234567, not " in faults
    assert "job_sheet.pdf, zone 1: rate_lb_ac reads '180.0', not '175.0'" in faults
    assert "job_sheet.pdf was changed after vrp wrote it" in faults


def test_verify_tells_of_a_sheet_without_figures(fields, tmp_path):
    """A PDF of another kind is said to hold no figures."""
    copied = tmp_path / "out"
    shutil.copytree(fields["us"][1], copied)
    (copied / "job_sheet.pdf").write_bytes(b"%PDF-1.7\n%%EOF\n")

    assert any("holds no figures" in one for one in verify(copied).faults)


def test_can_be_left_out(ground):
    """With job_sheet = false no sheet is written, and the folder agrees."""
    ground.text += "\n[files]\njob_sheet = false\n"
    _, out = job.run(ground.write())

    assert not (out / "job_sheet.pdf").exists()
    assert not verify(out).faults


def test_rules_of_the_plan_stand_on_it(us, tmp_path):
    """Rules that bind what is spread are told, those for manure are not."""
    from vrp.agronomy.water import rule_set

    rules = (rule_set("ohio-western-lake-erie"),)
    said = text_of(made(replace(us, rules=rules), tmp_path))

    assert "more than 1 in of rain within 12 hours" in said
    assert "anure is not spread" not in said
