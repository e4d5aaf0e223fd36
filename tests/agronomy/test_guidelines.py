"""What a guideline's file must bring, and what is said when it does not."""

import json
import tomllib
from dataclasses import replace
from importlib.resources import files
from pathlib import Path
from typing import get_args

import jsonschema
import pytest

from vrp.agronomy.figures import walk
from vrp.agronomy.guidelines import parse, schema, settled, shipped, yield_unit
from vrp.agronomy.need import Season, figures, ledger, need_curve
from vrp.agronomy.soil_test import METHODS
from vrp.errors import GuidelineError
from vrp.plan import Method

SHIPPED = shipped()
FOLDER = files("vrp.agronomy") / "data" / "guidelines"
TRI_STATE, RB209, ONTARIO = (
    (FOLDER / f"{name}.toml").read_text("utf-8")
    for name in ("tri-state-2020", "rb209-2023", "ontario-811")
)


def test_shipped():
    """Each goes by its file's name; four of them were superseded."""
    assert {name: one.state for name, one in SHIPPED.items()} == {
        "illinois-2009": "current",
        "iowa-pm-1688-2013": "superseded",
        "ireland-2016": "current",
        "kansas-mf-2586-2003-build": "superseded",
        "kansas-mf-2586-2003-sufficiency": "superseded",
        "oklahoma-pss-2225": "current",
        "ontario-811": "current",
        "rb209-2023": "current",
        "south-dakota-ec750": "current",
        "tri-state-1995": "superseded",
        "tri-state-2020": "current",
    }


def test_every_publication_is_tested():
    """Each guideline that ships has a file of tests that holds it against print."""
    folder = Path(__file__).parent / "guidelines"
    tested = "\n".join(file.read_text("utf-8") for file in folder.glob("test_*.py"))

    for name in SHIPPED:
        assert f'"{name}"' in tested


@pytest.mark.parametrize("name", SHIPPED)
def test_schema(name):
    """Every file that ships fits the JSON Schema that ships."""
    text = (FOLDER / f"{name}.toml").read_text("utf-8")
    table = json.loads(json.dumps(tomllib.loads(text), default=str))

    validator = jsonschema.Draft202012Validator(schema())
    validator.validate(table)
    table["crops"][next(iter(table["crops"]))]["colour"] = "green"
    assert not validator.is_valid(table)


def test_settled_leaves_what_does_not_differ():
    """Where nothing is to be chosen, any method leaves a guideline as it is."""
    for name in ("tri-state-2020", "rb209-2023", "ontario-811", "oklahoma-pss-2225"):
        assert settled(SHIPPED[name], method="bray-p2") == SHIPPED[name]
        with pytest.raises(GuidelineError, match=r"^need\.region = high: .* has none"):
            settled(SHIPPED[name], method="olsen", region="high")


@pytest.mark.parametrize("name", SHIPPED)
def test_every_figure_has_a_source(name):
    """No figure ships without a status and a place, and no crop without figures."""
    found = list(walk(SHIPPED[name]))

    assert all(one.source.status and one.source.where for one in found)
    for crop in SHIPPED[name].crops:
        assert any(one.name.startswith(f"crops.{crop}.") for one in found)


def test_status_is_kept():
    """What was not read in print is not passed off as read."""
    found = {one.name: one for one in walk(SHIPPED["tri-state-2020"])}

    assert found["crops.wheat.removal"].printed == "0.5 lb P2O5/bu"
    assert found["crops.wheat.removal"].source.status == "from-memory"
    assert found["crops.corn-grain.critical"].source.status == "read"
    assert found["build_up"].source.status == "agrees"
    assert found["soil_test.rounding"].printed == "as-is"
    assert {
        one.source.status for one in found.values() if one.name.endswith("plausible")
    } == {"our-choice"}


def test_methods():
    """The methods that a plan may name are those that the agronomy knows."""
    assert set(METHODS) == set(get_args(Method))


@pytest.mark.parametrize(
    ("name", "crop", "us"),
    [
        ("tri-state-2020", "corn-grain", "bu/ac"),
        ("tri-state-2020", "alfalfa", "ton/ac"),
        ("rb209-2023", "winter-wheat", "bu/ac"),
        ("rb209-2023", "potatoes", "ton/ac"),
    ],
)
def test_yield_unit(name, crop, us):
    """A goal is in t/ha in metric; else in bushels, or short tons without a weight."""
    assert yield_unit(SHIPPED[name], crop, system="us") == us
    assert yield_unit(SHIPPED[name], crop, system="metric") == "t/ha"


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        (
            "critical =",
            "critcal =",
            "rotation.critcal: unknown key, did you mean 'crit",
        ),
        (
            "[crops.soybean]",
            "[crop.soybean]",
            "crop: unknown key, did you mean 'crops'",
        ),
        ("year = 2020", "", "year: missing"),
        ("year = 2020", "year = 20.5", "year: must be a whole number, got 20.5"),
        (
            "source = {",
            "sorce = {",
            "build_up.sorce: unknown key, did you mean 'source'",
        ),
        ('form = "build-up-maintenance"', "", "form: missing; one of build-up-"),
        ("form = ", 'form = "class"#', "form: unknown 'class'.*; one of build-up-"),
        ("value = 5,", "value = '5',", "build_up.value: must be a number, got '5'"),
        ("value = 5,", "value = true,", "build_up.value: must be a number, got True"),
        ("value = 5,", "value = nan,", "build_up.value: must be "),
        (
            "value = 5,",
            "value = inf,",
            "build_up.value: must be a finite number, got inf",
        ),
        ("value = 20,", "value = -20,", "critical.value: must be at least 0, got -20"),
        ('"lb P2O5/bu"', '"lb P/bu"', "removal.unit: must be one of .*, got 'lb P/bu'"),
        (
            '"lb P2O5/bu"',
            '"kg P2O5/t"',
            "removal: must be in lb P2O5/bu, got 'kg P2O5/t",
        ),
        ('"lb P2O5/ac per ppm"', '"years"', "build_up: must be in lb P2O5/ac per ppm"),
        ('unit = "years"', 'unit = "in"', "pooled_years: must be in years, got 'in'"),
        (
            'value = 8, unit = "in"',
            'value = 8, unit = "ppm"',
            "depth: must be in in or cm",
        ),
        (
            '"lb/bu"',
            '"lb P2O5/bu"',
            "corn-grain: bushel: must be in lb/bu, got 'lb P2O5",
        ),
        ("bushel = ", "# ", "crops.corn-grain: bushel: missing, the weight"),
        ("low = 60", "low = 600", "plausible: low must be below high, got 600 and 320"),
        (
            "limit = { value = 40",
            "limit = { value = 10",
            "at least the critical .* 20 ppm",
        ),
        ('["wheat", "alfalfa"]', '["rye"]', "rotation.crops: no 'rye' among the crops"),
        (
            '"read"',
            '"guess"',
            "source.status: must be one of 'read', 'agrees', .*'guess'",
        ),
        (
            '"read"',
            '"given"',
            "source.status: must be one of 'read', 'agrees', .*'given'",
        ),
        ('where = "Bulletin 974"', 'where = ""', "where: must not be empty, got ''"),
        (
            "mehlich-3-icp",
            "mehlich-icp",
            "unknown method 'mehlich-icp', did you mean 'me",
        ),
        (
            "read_on = 2026-11-25",
            "read_on = 'today'",
            "read_on: must be a date such as",
        ),
        (
            'url = "https://',
            'url = "',
            "url: must be an address that begins with https",
        ),
        (
            'state = "current"',
            'state = "old"',
            "state: must be one of 'current', 'supers",
        ),
        (
            "[rotation]",
            "rotation = 3\n[rotatio]",
            "rotatio: unknown key, did you mean 'rot",
        ),
        ("[pooling]", "[pooling", "not valid TOML: .*line"),
    ],
)
def test_refusals(old, new, message):
    """A slip is named by file, key, value and what was expected, in plain words."""
    assert old in TRI_STATE

    with pytest.raises(GuidelineError, match=rf"^mine.toml: .*{message}"):
        parse(TRI_STATE.replace(old, new, 1), "mine.toml")


@pytest.mark.parametrize(
    ("text", "old", "new", "message"),
    [
        (RB209, "[9, 15, 25, 45]", "[9, 15, 25]", "classes: 5 words need 4 uppers"),
        (
            RB209,
            "[9, 15, 25, 45]",
            "[9, 25, 15, 45]",
            "uppers must rise, got 25 before 15",
        ),
        (
            RB209,
            "[110, 80, 50, 0, 0]",
            "[110, 80, 50, 0]",
            "left.rates: one rate for each",
        ),
        (
            RB209,
            "[110, 80, 50, 0, 0]",
            "[80, 110, 50, 0, 0]",
            "must not rise .* 110 after",
        ),
        (RB209, ".left]", ".either]", "winter-wheat: give either, or left and removed"),
        (
            RB209,
            '"kg P2O5/t"',
            '"lb P2O5/bu"',
            "offtake: must be in kg P2O5/t, got 'lb",
        ),
        (
            RB209,
            'value = 8, unit = "t/ha"',
            'value = 8, unit = "bu/ac"',
            "printed_yield: ",
        ),
        (
            RB209,
            'unit = "mg/L"\nso',
            'unit = "ppm"\nso',
            "classes: must be in mg/L, got",
        ),
        (
            RB209,
            "value = 16,",
            "values = 16,",
            "target.values: unknown key, did you mean",
        ),
        (ONTARIO, "20, 30, 60]", "20, 30]", "classes: 10 words need 9 uppers"),
        (ONTARIO, "20, 0, 0]", "20, 0]", "rates: one rate for each of the 10 classes"),
        (ONTARIO, 'unit = "kg P2O5/ha"', 'unit = "lb P2O5/ac"', "rates: must be in kg"),
        (
            ONTARIO,
            'words = [\n    "0–3 ppm",',
            'words = [\n    "",',
            "words.0: must not be",
        ),
    ],
)
def test_refused_tables(text, old, new, message):
    """A table that does not hold together is refused."""
    assert old in text

    with pytest.raises(GuidelineError, match=rf"^mine.toml: .*{message}"):
        parse(text.replace(old, new, 1), "mine.toml")


def test_superseded_is_read():
    """A superseded guideline can be read; that it is superseded is kept."""
    text = TRI_STATE.replace('"current"', '"superseded"')

    assert parse(text, "mine.toml").state == "superseded"


@pytest.mark.parametrize(
    ("goal", "unit", "named"),
    [(12.0, "t/ha", True), (200.0, "bu/ac", False)],
)
def test_weight_of_a_bushel_is_a_figure_used(goal, unit, named):
    """A goal in t/ha goes through the bushel's weight, one in bushels does not."""
    corn = Season("corn-grain", goal, unit)

    found = figures(shipped()["tri-state-2020"], [corn])

    assert ("corn-grain, bushel" in [one.name for one in found]) is named


def test_schema_says_what_it_is():
    """The schema names its dialect and its subject."""
    found = schema()

    assert found["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert found["title"] == "vrp guideline file"


KANSAS = SHIPPED["kansas-mf-2586-2003-build"]
ILLINOIS, IOWA = SHIPPED["illinois-2009"], SHIPPED["iowa-pm-1688-2013"]
TRI = SHIPPED["tri-state-2020"]


@pytest.mark.parametrize(
    ("guideline", "chosen", "message"),
    [
        (ILLINOIS, {}, "need.region is missing: {title!r} has high, medium, low"),
        (
            ILLINOIS,
            {"region": "hi"},
            "need.region = hi is not in {title!r}, did you mean 'high': it has high, "
            "medium, low",
        ),
        (KANSAS, {}, "need.build_years is missing: {title!r} has 4, 6, 8"),
        (
            KANSAS,
            {"build_years": 5},
            "need.build_years = 5 is not in {title!r}: it has 4, 6, 8",
        ),
        (
            TRI,
            {"build_years": 4},
            "need.build_years = 4: {title!r} has none; leave it out",
        ),
        (
            IOWA,
            {"region": "high"},
            "need.region = high: {title!r} has none; leave it out",
        ),
        (
            IOWA,
            {"build_years": 4},
            "need.build_years = 4: {title!r} has none; leave it out",
        ),
        (
            IOWA,
            {"method": "morgan"},
            "{title!r} has no figures for soil tests by Morgan: it has them for Bray "
            "P1 "
            "or Mehlich-3, read by colour or Mehlich-3, read by ICP or Olsen (sodium "
            "bicarbonate)",
        ),
        (
            IOWA,
            {"method": "mine"},
            "{title!r} has no figures for soil tests by mine: it has them for Bray P1 "
            "or Mehlich-3, read by colour or Mehlich-3, read by ICP or Olsen (sodium "
            "bicarbonate)",
        ),
    ],
)
def test_choices_in_a_sentence(guideline, chosen, message):
    """A choice that is missing, unknown or not the guideline's is told with what is."""
    with pytest.raises(GuidelineError) as refused:
        settled(guideline, **{"method": "bray-p1", **chosen})

    assert str(refused.value) == message.format(title=guideline.title)


def test_two_regions_are_a_choice():
    """Two are enough to choose from."""
    two = replace(ILLINOIS, regions=dict(list(ILLINOIS.regions.items())[:2]))

    with pytest.raises(GuidelineError, match=r"has high, medium$"):
        settled(two, method="bray-p1")


def test_methods_to_choose_in_a_sentence():
    """Classes that differ by method must be chosen from, and are named."""
    season = Season("corn-grain", 200.0, "bu/ac")

    with pytest.raises(GuidelineError) as refused:
        need_curve(IOWA, [season], pool=False, build_up=True)

    assert str(refused.value) == (
        f"{IOWA.title!r} tells methods of soil test apart: choose one of bray-p1, "
        "mehlich-3-colorimetric, mehlich-3-icp, olsen"
    )


def test_missing_test_and_season_in_a_sentence():
    """No need is shown without a soil test, and none made without a crop."""
    season = Season("corn-grain", 200.0, "bu/ac")

    with pytest.raises(GuidelineError) as missing:
        ledger(TRI, [season], float("nan"), pool=False, build_up=True)
    with pytest.raises(GuidelineError) as none:
        need_curve(TRI, [], pool=False, build_up=True)

    assert str(missing.value) == (
        "the soil test is missing, so there is no need to show"
    )
    assert str(none.value) == "no season: a need takes at least one crop"


@pytest.mark.parametrize(
    ("season", "bushels"),
    [
        (Season("corn-grain", 200.0, "bu/ac"), []),
        (Season("corn-grain", 12.5, "t/ha"), ["corn-grain, bushel: 56 lb/bu"]),
        (Season("corn-silage", 45.0, "t/ha"), []),
    ],
)
def test_bushels_are_among_the_figures(season, bushels):
    """The weight of a bushel counts where a yield goal goes through it."""
    found = [f"{one.name}: {one.printed}" for one in figures(TRI, [season])]

    assert [one for one in found if "bushel" in one] == bushels


def test_bushels_of_the_mapped_season_alone():
    """A later season's bushel is not among the figures of the first one's need."""
    seasons = [Season("corn-grain", 200.0, "bu/ac"), Season("soybean", 3.0, "t/ha")]

    names = [one.name for one in figures(TRI, seasons)]

    assert not [one for one in names if "bushel" in one]
