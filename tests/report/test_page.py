"""The page that is signed: it says what the record says, and asks nothing of others."""

import base64
import hashlib
import json
import re
from dataclasses import replace
from html.parser import HTMLParser
from typing import get_args
from xml.etree import ElementTree as ET

import pytest
import shapely

from vrp import job
from vrp.agronomy.cautions import Caution, Where
from vrp.agronomy.checks import checks
from vrp.evidence import Finding, LedgerLine, Source
from vrp.io.verify import verify
from vrp.report.page import page
from vrp.report.page.waters import CODES

VOID = {"meta", "link", "br", "hr", "img", "input", "wbr"}
# Elements that end an open paragraph, so that its own end tag stands alone.
BLOCKS = {
    *("article", "details", "div", "dl", "figure", "footer", "h1", "h2", "h3"),
    *("header", "main", "nav", "ol", "p", "section", "table", "ul"),
}
INSIDE = {
    "li": {"ul", "ol"},
    "dt": {"div"},
    "dd": {"div"},
    "summary": {"details"},
    "caption": {"table"},
    "thead": {"table"},
    "tbody": {"table"},
    "tr": {"thead", "tbody"},
    "td": {"tr"},
    "th": {"tr"},
}


class Strict(HTMLParser):
    """Builds the tree, and notes each tag that does not fit."""

    def __init__(self):
        super().__init__(convert_charrefs=True)
        self.root = ET.Element("page")
        self.open = [self.root]
        self.wrong = []

    def handle_starttag(self, tag, attrs):
        """Open an element."""
        names = [name for name, _ in attrs]
        if len(set(names)) < len(names):
            self.wrong.append(f"<{tag}> has an attribute twice")
        parents = [one.tag for one in self.open]
        if tag in BLOCKS and "p" in parents:
            self.wrong.append(f"<{tag}> in <p>")
        if tag in INSIDE and parents[-1] not in INSIDE[tag]:
            self.wrong.append(f"<{tag}> in <{parents[-1]}>")
        if tag == "a" and "a" in parents:
            self.wrong.append("<a> in <a>")
        child = ET.SubElement(
            self.open[-1], tag, {name: value or "" for name, value in attrs}
        )
        if tag not in VOID:
            self.open.append(child)

    def handle_startendtag(self, tag, attrs):
        """Note an element without content."""
        if tag not in VOID and "svg" not in [one.tag for one in self.open]:
            self.wrong.append(f"<{tag}/>")
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.open.pop()

    def handle_endtag(self, tag):
        """Close an element."""
        if self.open[-1].tag != tag:
            self.wrong.append(f"</{tag}> in <{self.open[-1].tag}>")
        else:
            self.open.pop()

    def handle_data(self, data):
        """Keep text."""
        if "<" in data and self.open[-1].tag not in {"script", "style"}:
            # It was escaped, or the parser would have seen a tag.
            assert "&lt;" in self.rawdata
        inside = self.open[-1]
        if len(inside):
            inside[-1].tail = (inside[-1].tail or "") + data
        else:
            inside.text = (inside.text or "") + data

    def unknown_decl(self, data):
        """Note what no page holds."""
        self.wrong.append(f"<![{data}")

    def handle_pi(self, data):
        """Note what no page holds."""
        self.wrong.append(f"<?{data}>")


def parsed(text):
    """Return the tree of a page, and what is wrong with it."""
    reader = Strict()
    reader.feed(text)
    reader.close()
    wrong = list(reader.wrong)
    wrong += [f"<{one.tag}> is open" for one in reader.open[1:]]
    marks = [one.get("id") for one in reader.root.iter() if one.get("id")]
    wrong += [f"id {one} twice" for one in set(marks) if marks.count(one) > 1]
    for one in reader.root.iter():
        to = one.get("href", "")
        if to.startswith("#") and to[1:] not in marks:
            wrong.append(f"{to} leads nowhere")
        for name in ("aria-labelledby", "aria-describedby"):
            if one.get(name) and one.get(name) not in marks:
                wrong.append(f"{name} {one.get(name)} is nowhere")
    return reader.root, wrong


def said(element):
    """Return the text of an element, blanks as one."""
    return " ".join("".join(element.itertext()).split())


def by_class(root, kind):
    """Return the elements of a class."""
    return [one for one in root.iter() if kind in (one.get("class") or "").split()]


HOSTILE = "<script>alert('x')</script><img src=x onerror=alert(1)> & \"q\" ' </title>"
TURNING = "حقل \u202e\u200f\x1b[31m🌾\ufeff\x00"
DIGEST = "0123456789abcdef" * 4
INPUTS = {"field.toml": "1" * 64, "samples.csv": "2" * 64}


def made(prescription):
    return page(prescription, digest=DIGEST, inputs=INPUTS)


@pytest.fixture(scope="module")
def built(sample_fields, tmp_path_factory):
    """Return the prescription and the folder of a sample field."""
    return job.run(sample_fields / "us", out=tmp_path_factory.mktemp("page") / "out")


@pytest.fixture(scope="module")
def us(built):
    return built[0]


@pytest.fixture(scope="module")
def record(built):
    return json.loads((built[1] / "record.json").read_text("utf-8"))


@pytest.fixture(scope="module")
def text(built):
    return (built[1] / "report.html").read_text("utf-8")


@pytest.fixture(scope="module")
def tree(text):
    return parsed(text)[0]


def table_of_zones(tree):
    """Return each zone's figures as they are shown, by column."""
    return {
        int(row.get("data-zone")): {
            one.get("data-name"): said(one) for one in row.iter("data")
        }
        for row in tree.iter("tr")
        if row.get("data-zone")
    }


def number(text):
    return float(text.replace(",", "").replace("−", "-"))


@pytest.mark.parametrize("name", ["us", "metric", "layers"])
def test_strictly_written(name, sample_fields, tmp_path):
    """Every tag is closed where it may be, no id is there twice, no link leads away."""
    _, out = job.run(sample_fields / name, out=tmp_path / "out")
    text = (out / "report.html").read_text("utf-8")

    assert text.startswith("<!doctype html>\n")
    assert parsed(text)[1] == []


def test_checker_sees_faults():
    """The reader of these tests sees what is not strictly written."""
    for wrong in (
        "<p><div></div></p>",
        "<ul><p></ul>",
        '<a id="x"></a><a id="x"></a>',
        '<a href="#nowhere"></a>',
        "<td></td>",
        "<b>",
    ):
        assert parsed(wrong)[1], wrong


def test_zones_are_the_records(tree, record):
    """Each figure of each zone is the record's, rounded to the decimals it shows."""
    shown = table_of_zones(tree)

    assert list(shown) == [zone["zone"] for zone in record["zones"]]
    for zone in record["zones"]:
        figures = dict(shown[zone["zone"]])
        assert figures.pop("stp_class") == zone["stp_class"]
        assert set(figures) >= {"area_ac", "stp_ppm", "p2o5_lb_ac", "rate_lb_ac"}
        for name, told in figures.items():
            share = 100.0 if told.endswith(" %") else 1.0
            bare = told.removesuffix(" %")
            decimals = len(bare.partition(".")[2])
            assert number(bare) == round(zone[name] * share, decimals), name
        # The rate is what is driven: no digit of it is lost.
        assert number(figures["rate_lb_ac"]) == zone["rate_lb_ac"]


def test_rates_stand_on_the_map(tree, record):
    """Each zone of the map leads to its card, and names its rate."""
    rates = {zone["zone"]: zone["rate_lb_ac"] for zone in record["zones"]}
    links = [one for one in by_class(tree, "map")[0].iter("a")]

    assert len(links) == len(rates)
    for link, (zone, rate) in zip(links, rates.items(), strict=True):
        assert link.get("href") == f"#zone-{zone}"
        assert link.get("aria-label").startswith(
            f"zone {zone}: {rate:g} lb/ac of 11-52-0 on "
        )
    values = {said(one) for one in by_class(by_class(tree, "map")[0], "value")}
    assert {f"{rate:g}" for rate in rates.values()} <= values


def test_totals_agree(tree, record):
    """Product, P2O5 and N of both ways are the record's totals, to a whole unit."""
    totals = record["totals"]
    for word, sums in (("zones", totals), ("uniform", totals["uniform"])):
        shown = {
            one.get("data-name"): said(one)
            for cell in tree.iter("td")
            if cell.get("data-sum") == word
            for one in cell.iter("data")
        }
        assert set(shown) == {"product", "p2o5_need", "p2o5_applied", "nitrogen"}
        for name, told in shown.items():
            assert number(told) == round(sums[name]), (word, name)
    by_zone = sum(number(one["total_lb"]) for one in table_of_zones(tree).values())
    assert abs(by_zone - totals["product"]) <= 0.5 * len(record["zones"])


def test_digests(tree, record):
    """The record's digest and that of each input are printed whole."""
    codes = [said(one) for one in tree.iter("code")]

    assert record["digest"] in codes
    assert tree.find("html").get("data-digest") == record["digest"]
    for one in record["inputs"]:
        assert one["sha256"] in codes
        assert one["name"] in said(tree)


def test_first_what_matters(tree, us):
    """Draft, field, verdict, map, totals and warnings come before all else."""
    whole = said(tree.find("html/body"))
    order = [
        "Draft for a qualified person to check.",
        "Rook Bottom 2027",
        "By zone: supported",
        "Rate of 11-52-0 [lb/ac]",
        "In all, by zone and at one rate",
        "warn guideline-unconfirmed",
        "The soil test",
        "Zones",
        "Against one rate for the field",
        "Over the rotation",
        "Product, placement and water",
        "How sure the map is",
        "The guideline and its figures",
        "Inputs",
        "To sign",
    ]
    at = 0
    for words in order:
        at = whole.find(words, at)
        assert at >= 0, words


def test_never_a_permit(tree):
    """The page says that it is a draft and no permit, at its head and its end."""
    head = said(by_class(tree, "draft")[0])
    sign = said(next(one for one in tree.iter("section") if one.get("id") == "sign"))

    assert "It is no permit." in head
    for words in (head, sign):
        assert (
            "Local code, the nutrient plan and the product label come first." in words
        )
    for word in ("Name", "Licence or certificate", "Date", "Signature"):
        assert word in sign


def test_each_ledger_whole(tree, us):
    """Every line of every ledger stands on its zone's card, with its source."""
    for zone in us.zones:
        card = next(
            one for one in tree.iter() if one.get("id") == f"zone-{zone.number}"
        )
        ledger = next(one for one in card.iter("ol"))
        assert len(ledger) == len(zone.ledger)
        for line, told in zip(zone.ledger, ledger, strict=True):
            for part in (line.step, line.arithmetic, line.rule, line.source.where):
                assert " ".join(part.split()) in said(told)


def test_nothing_from_outside(text, tree):
    """Nothing is loaded from anywhere: what leads out of the page is text alone."""
    for one in tree.iter():
        for name, value in one.attrib.items():
            if name in {"src", "srcset", "action", "data", "poster"}:
                pytest.fail(f"{one.tag} {name}")
            if name in {"href", "xlink:href"}:
                assert value.startswith("#") or value == "data:,", value
            assert not name.startswith("on"), name
    for kind in ("style", "script"):
        for one in tree.iter(kind):
            assert not re.search(r"url\(|@import|https?:|fetch|XMLHttp", said(one))
    assert len(text.encode()) < 1_000_000


def test_only_its_own_script_may_run(tree):
    """The page's policy allows its one script by the hash of its bytes, and no load."""
    (script,) = tree.iter("script")
    policy = next(
        one.get("content") for one in tree.iter("meta") if one.get("http-equiv")
    )
    digest = base64.b64encode(hashlib.sha256(script.text.encode()).digest()).decode()

    assert policy.startswith("default-src 'none'; ")
    assert f"script-src 'sha256-{digest}';" in policy


def test_same_bytes(us):
    """The same prescription gives the same page twice."""
    assert made(us) == made(us)


@pytest.mark.parametrize("name", [HOSTILE, TURNING, "W" * 200, "🌾" * 200])
def test_hostile_names_stay_text(name, us):
    """Names with tags, scripts or turning signs change no tag of the page."""
    plain = parsed(made(with_names(us, "x")))[0]

    tree, wrong = parsed(made(with_names(us, name)))

    assert wrong == []
    assert [one.tag for one in tree.iter()] == [one.tag for one in plain.iter()]
    assert not set("".join(tree.itertext())) & set("\u202e\u200f\x1b\x00\ufeff")
    shown = name.replace("\u202e", "\\u202e").replace("\u200f", "\\u200f")
    shown = shown.replace("\x1b", "\\u001b").replace("\ufeff", "\\ufeff")
    shown = " ".join(shown.replace("\x00", "\\u0000").split())
    for part in ("h1", "title"):
        assert said(next(tree.iter(part))).startswith(shown)
    assert said(next(one for one in tree.iter() if one.get("id") == "sign")).count(
        shown
    )


def with_names(prescription, name):
    """Return a prescription with a name wherever a user may write one."""
    plan = prescription.plan
    line = LedgerLine(name, name, 1.0, name, name, Source("given", name))
    zones = [
        replace(zone, soil_class=name, note=name, ledger=(line, *zone.ledger))
        for zone in prescription.zones
    ]
    found = Finding("draws-down", "stop", name, 1, 1.0, name, None, name, name, name)
    return replace(
        prescription,
        plan=replace(
            plan,
            field=replace(plan.field, name=name, farm=name, client=name),
            confirm={name: name},
        ),
        zones=tuple(zones),
        samples=tuple(replace(one, id=name) for one in prescription.samples),
        guideline=replace(prescription.guideline, title=name, source=name, id=name),
        findings=(*prescription.findings, found),
    )


def test_endless_text_is_cut(us):
    """Of a text of 1 MB the page shows the first 2,000 letters, and that it was cut."""
    long = replace(us, guideline=replace(us.guideline, title="<b>" * 350_000))

    text = made(long)

    assert len(text) < len(made(us)) + 20_000
    assert "&lt;b&gt;" * 666 + "&lt;b…" in text


def test_held_back_is_said_first(us):
    """Where a stop holds the machine files back, that stands above the map."""
    stop = replace(us.findings[0], severity="stop", accepted=None)
    tree, _ = parsed(made(replace(us, findings=(stop,))))
    head = said(next(tree.iter("header")))

    assert "No machine files were written." in head
    assert by_class(tree, "stop")


def test_many_alike_are_folded_away(us):
    """Of eight warnings of one kind five stand open, and all eight on the page."""
    warns = [replace(us.findings[0], message=f"said {at}") for at in range(8)]
    tree, _ = parsed(made(replace(us, findings=tuple(warns))))
    (found,) = by_class(tree, "warn")

    folded = next(found.iter("details"))
    assert said(folded).startswith("3 more of the kind")
    assert [f"said {at}." in said(folded) for at in range(8)] == [False] * 5 + [
        True
    ] * 3
    assert all(f"said {at}." in said(found) for at in range(8))


def test_accepted_reasons_stand_by_the_signature(us):
    """A finding that the plan accepts is listed with its reason where it is signed."""
    stop = replace(us.findings[0], severity="stop", accepted="side by side tests agree")
    tree, _ = parsed(made(replace(us, findings=(stop,))))
    sign = said(next(one for one in tree.iter() if one.get("id") == "sign"))

    assert f"{stop.code}: side by side tests agree" in sign
    assert "No machine files were written." not in said(next(tree.iter("header")))


def test_weak_maps_say_so_first(us):
    """A map that is not supported says so in the sentence above it."""
    facts = replace(us.surface, verdict="not supported")
    tree, _ = parsed(made(replace(us, surface=facts)))

    assert said(by_class(tree, "verdict")[0]).startswith("By zone: not supported.")


def test_p_and_p2o5_are_told_apart(tree):
    """Every heading of a need or an application says P2O5, and each has its unit."""
    heads = [said(one) for one in by_class(tree, "zones")[0].iter("th")]

    assert "need P2O5 [lb/ac]" in heads
    assert "P2O5 applied [lb/ac]" in heads
    assert "rate [lb/ac]" in heads
    assert "soil test P [ppm]" in heads
    assert "product [lb]" in heads


def test_excluded_ground_says_why(us):
    """A zone of rate 0 near water says why in the table and first on its card."""
    why = "within 35 ft of ditch (<water>.geojson, feature 2)"
    zones = (replace(us.zones[0], rate=0.0, excluded=why), *us.zones[1:])
    tree, wrong = parsed(made(replace(us, zones=zones)))

    card = next(one for one in tree.iter() if one.get("id") == "zone-1")
    row = next(one for one in tree.iter("tr") if one.get("data-zone") == "1")
    assert wrong == []
    assert said(card.find("p")) == f"Rate 0: {why}."
    assert f"rate 0: {why}" in said(row)


def test_cautions_stand_where_they_belong(us):
    """Each caution stands in the section that its place names, with its source."""
    sections = {
        "rates": "",
        "samples": "soil-test",
        "machine": "zones",
        "forecast": "rotation",
        "product": "water",
        "placement": "water",
        "water": "water",
        "general": "sign",
    }
    every = [
        Caution(
            where, f"to mind of {where}", Source("read", f"seen {where}"), where, ""
        )
        for where in sections
    ]
    tree, _ = parsed(made(replace(us, cautions=tuple(every))))
    for where, name in sections.items():
        place = (
            by_class(tree, "sense")[0]
            if where == "rates"
            else next(one for one in tree.iter("section") if one.get("id") == name)
        )
        minds = [said(one) for one in by_class(place, "mind")]
        assert any(f"to mind of {where} read seen {where}" in one for one in minds)
    assert set(sections) == set(get_args(Where))


def test_composites_have_a_page(ground, tmp_path):
    """A field of composites has a page without a surface, and says so."""
    shapes = [shapely.box(160.0 * at, 0, 160.0 * (at + 1), 480) for at in range(3)]
    ground.write_polygons("zones.geojson", shapes, [{"P": at} for at in (50, 25, 10)])
    points = re.search(r'file = "samples.csv"\n.*?(?=soil_test)', ground.text, re.S)[0]
    ground.change((points, 'file = "zones.geojson"\nkind = "zone"\n'))
    _, out = job.run(ground.write(), out=tmp_path / "out")

    tree, wrong = parsed((out / "report.html").read_text("utf-8"))

    assert wrong == []
    assert "Each zone has its own composite sample" in said(tree)
    assert not [one for one in tree.iter() if one.get("id") == "certainty"]
    assert "its interval [ppm]" not in said(tree)


def test_many_zones_stay_light(us):
    """Of 1,000 zones the page stays below 3 MB; the largest 120 have their ledgers."""
    cells = [shapely.box(x, y, x + 1, y + 1) for x in range(40) for y in range(25)]
    # About 30 m a side at an arbitrary place.
    shapes = [
        shapely.transform(one, lambda xy: xy * 0.0003 + [-84.0, 40.0]) for one in cells
    ]
    zones = [
        replace(us.zones[at % 5], number=at + 1, geometry=shape, area=1.0 + at / 1000.0)
        for at, shape in enumerate(shapes)
    ]
    water = [replace(us.water_zones[0], zone=zone.number) for zone in zones]
    many = replace(us, zones=tuple(zones), water_zones=tuple(water))

    text = made(replace(many, soil_test_map=None, surface=None))

    tree, wrong = parsed(text)
    assert wrong == []
    assert len(text.encode()) < 3_000_000
    ledgers = [one for one in tree.iter("ol") if "ledger" in one.get("class")]
    assert len(ledgers) == 120
    assert "The 880 smallest zones have no card here" in said(tree)
    last = next(one for one in tree.iter() if one.get("id") == "zone-1000")
    assert next(last.iter("ol"), None) is not None


def test_findings_near_water_exist():
    """Each code that the section on water repeats is a finding's."""
    assert set(CODES) <= set(checks())


def test_left_out_of_the_folder(sample_fields, tmp_path):
    """``report = false`` writes no page, and the record lists none."""
    field = tmp_path / "field"
    field.mkdir()
    for one in (sample_fields / "us").iterdir():
        if one.is_file():
            (field / one.name).write_bytes(one.read_bytes())
    path = field / "field.toml"
    path.write_text(path.read_text("utf-8") + "\n[files]\nreport = false\n", "utf-8")

    _, out = job.run(path)

    assert not (out / "report.html").exists()
    listed = json.loads((out / "record.json").read_text("utf-8"))["files"]
    assert "report.html" not in [one["name"] for one in listed]
    assert verify(out).faults == ()
