"""Rule sets on water: what ships, distances, and what a wrong file is told."""

import tomllib
from datetime import date
from importlib.resources import files

import pytest

from vrp.agronomy.water import distance, lies, read_rule_set, rule_set, rule_sets
from vrp.agronomy.water_rules import FEATURES
from vrp.errors import InputError

OWN = """
id = "mine"
title = "An invented code"
publisher = "Nobody"
read_on = 2026-11-25
standing = "law"
place = "nowhere"

[[distance]]
text = "keep away"
materials = ["fertilizer"]
does = "forbids"
features = ["stream"]
value = 10
unit = "m"
source = { status = "read", where = "page 3" }
"""


def far(rules, **case):
    """Return the distance alone, None where no rule binds."""
    asked = {"material": "manure", "form": None, "method": "broadcast"} | case
    found = distance(rules, **asked)
    return None if found is None else found[0]


def test_every_file_is_named_by_its_id():
    """A set is found by the name of its file, so that a reader finds the file."""
    folder = files("vrp.agronomy") / "data" / "rules"
    named = {
        file.name: tomllib.loads(file.read_text("utf-8"))["id"]
        for file in folder.iterdir()
    }
    assert len(named) == len(rule_sets())
    assert all(name == f"{key}.toml" for name, key in named.items())


@pytest.mark.parametrize(
    ("kind", "surface", "worked_in"),
    [
        ("lake", 300, 25),
        ("stream", 300, 25),
        ("wetland", 300, 25),
        ("ditch", 300, 25),
        ("tile-inlet", 300, 0),
        ("well", 50, 50),
        ("sinkhole", 300, 50),
    ],
)
def test_minnesota_prints_its_table(kind, surface, worked_in):
    """Minimum setbacks near waters, North Fork Crow River Watershed District."""
    rules = rule_set("minnesota-7020-manure")
    assert far(rules, kind=kind) == surface
    in_a_day = {"method": "incorporated", "worked_in": 24.0}
    assert far(rules, kind=kind, **in_a_day) == worked_in


def test_a_day_is_24_hours_and_no_more():
    """Minnesota's column is for incorporation within 24 hours: 24.5 hours are not."""
    rules = rule_set("minnesota-7020-manure")
    late = {"method": "incorporated", "worked_in": 24.5}
    assert far(rules, kind="lake", **late) == 300
    assert far(rules, kind="lake", method="incorporated") == 300


def test_rules_for_manure_do_not_bind_fertilizer():
    """Minnesota's, Iowa's, Missouri's and Ohio's distances are for manure alone."""
    for name in (
        "minnesota-7020-manure",
        "iowa-459-314-manure",
        "missouri-g9219-manure",
        "ohio-590-manure",
        "us-large-cafo-manure",
        "wisconsin-nr-243-manure",
    ):
        rules = rule_set(name)
        assert rules.distance
        for kind in FEATURES:
            assert far(rules, kind=kind, material="fertilizer") is None


@pytest.mark.parametrize(
    ("method", "feet"),
    [
        ("broadcast", 35),
        ("incorporated", 35),
        ("band", 10),
        ("deep-band", 10),
        ("starter-2x2", 10),
        ("seed-row", 10),
        (None, 35),
    ],
)
def test_maryland_binds_fertilizer(method, feet):
    """Maryland since 2014: 35 ft, or 10 ft by directed methods, for all nutrients."""
    rules = rule_set("maryland-2012")
    for material in ("fertilizer", "manure"):
        assert far(rules, kind="stream", material=material, method=method) == feet


def test_iowa_keeps_200_ft_unless_injected():
    """Code of Iowa 459.314: 200 ft from a designated area; none where injected."""
    rules = rule_set("iowa-459-314-manure")
    assert far(rules, kind="sinkhole") == 200
    assert far(rules, kind="sinkhole", method="deep-band") == 0
    # Same-day incorporation cannot be told from hours, so the distance stays.
    soon = {"method": "incorporated", "worked_in": 4.0}
    assert far(rules, kind="sinkhole", **soon) == 200
    # A terrace tile inlet is no designated area.
    assert far(rules, kind="tile-inlet") is None


def test_missouri_prints_its_table():
    """Guide G9219, Table 1: wells and sinkholes 300 ft, streams and ponds 100 ft."""
    rules = rule_set("missouri-g9219-manure")
    kinds = ("well", "sinkhole", "stream", "lake")
    assert [far(rules, kind=kind) for kind in kinds] == [300, 300, 100, 100]


def test_ohio_590_asks_for_more_on_frozen_ground():
    """Retold in 2018: 100 ft, 0 ft within 24 hours or injected, 200 ft if frozen."""
    rules = rule_set("ohio-590-manure")
    assert far(rules, kind="stream") == 100
    assert far(rules, kind="stream", method="incorporated", worked_in=24.0) == 0
    assert far(rules, kind="stream", method="deep-band") == 0
    assert far(rules, kind="stream", ground="frozen") == 200
    assert far(rules, kind="stream", ground="snow") == 200
    assert far(rules, kind="stream", ground="saturated") == 100


def test_of_several_sets_the_greatest_distance_counts():
    """Ohio's 100 ft from a stream is more than Maryland's 35 ft."""
    both = (rule_set("maryland-2012"), rule_set("ohio-590-manure"))
    assert far(both, kind="stream") == 100
    assert far(both, kind="stream", material="fertilizer") == 35


def test_a_distance_comes_with_its_rule_and_source():
    """The caller can print which rule it was, and how far it was read."""
    found = distance(
        rule_set("maryland-2012"),
        kind="stream",
        material="fertilizer",
        form="granular",
        method="broadcast",
    )
    assert found is not None
    _, rule, source = found
    assert "35 ft" in rule.text
    assert source.status == "read"


def test_metres_become_feet():
    """10 m is 10 / 0.3048 ft."""
    rules = read_rule_set(OWN, "mine.toml")
    feet = far(rules, kind="stream", material="fertilizer")
    assert feet == pytest.approx(32.808399)


def test_a_rule_for_a_form_leaves_the_other_free():
    """A distance for granular fertilizer does not bind a liquid."""
    text = OWN.replace('does = "forbids"', 'does = "forbids"\nforms = ["granular"]')
    rules = read_rule_set(text, "mine.toml")
    case = {"kind": "stream", "material": "fertilizer"}
    assert far(rules, **case, form="liquid") is None
    assert far(rules, **case, form="granular") is not None
    assert far(rules, **case, form=None) is not None


def test_an_untold_placement_may_be_any():
    """Where no method was given a rule for any placement is held to the plan."""
    assert set(lies(None, worked_in=None, within=24.0)) == {
        "surface",
        "worked-in",
        "in-soil",
    }


def test_a_season_over_the_year_holds_its_ends():
    """Northern Ireland, regulation 7(1): September 15 to January 31."""
    closed = rule_set("northern-ireland-2019").season[0]
    held = {
        day: closed.holds_on(date(2026, *day))
        for day in ((9, 14), (9, 15), (12, 31), (1, 1), (1, 31), (2, 1), (6, 1))
    }
    assert [day for day, holds in held.items() if not holds] == [
        (9, 14),
        (2, 1),
        (6, 1),
    ]


def test_a_season_within_a_year_holds_its_ends():
    """A season that does not pass the year's end holds from its first to its last."""
    season = '[[season]]\ntext = "no"\nmaterials = ["manure"]\ndoes = "forbids"\n'
    season += 'first = "05-01"\nlast = "05-31"\n'
    season += 'source = { status = "read", where = "page 4" }\n'
    (rule,) = read_rule_set(OWN + season, "mine.toml").season
    days = (date(2026, 4, 30), date(2026, 5, 1), date(2026, 5, 31), date(2026, 6, 1))
    assert [rule.holds_on(day) for day in days] == [False, True, True, False]


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("features", "feature", "distance.0.feature: unknown key, did you mean"),
        ('"stream"', '"river"', "distance.0.features.0: must be one of 'stream'"),
        ("value = 10", "value = -1", "distance.0.value: must be at least 0"),
        ('unit = "m"', 'unit = "yd"', "distance.0.unit: must be one of 'ft', 'm'"),
        ('status = "read", ', "", "distance.0.source.status: missing"),
        ('place = "nowhere"', "", "place: missing"),
        ('id = "mine"', 'id = "My code"', "id: "),
        ('"fertilizer"', '"lime"', "distance.0.materials.0: must be one of"),
        ('does = "forbids"', 'does = "warns"', "distance.0.does: must be one of"),
        ("[[distance]]", "[[distance", "not valid TOML"),
    ],
)
def test_a_wrong_file_is_told_where(old, new, message):
    """A message names the file and the way to the key."""
    assert old in OWN
    with pytest.raises(InputError) as caught:
        read_rule_set(OWN.replace(old, new), "mine.toml")
    assert str(caught.value).startswith("mine.toml: ")
    assert message in str(caught.value)


@pytest.mark.parametrize(
    ("table", "message"),
    [
        ('[[rain]]\nrain = { above = 1, unit = "ppm" }\nhours = 12\n', "rain: must be"),
        (
            '[[rain]]\nrain = { above = 1, at_least = 1, unit = "in" }\nhours = 12\n',
            "give above or at_least",
        ),
        ('[[season]]\nfirst = "02-30"\nlast = "03-01"\n', "write month and day"),
        ('[[season]]\nfirst = "2-3"\nlast = "03-01"\n', "write month and day"),
        (
            '[[soil_test]]\nmethods = ["bray"]\nlimit = { above = 1, unit = "ppm" }\n',
            "unknown method 'bray', did you mean 'bray-p",
        ),
        (
            '[[soil_test]]\nmethods = ["olsen"]\nlimit = { above = 1, unit = "in" }\n',
            "limit: must be in ppm",
        ),
        (
            '[[cap]]\ncrops = ["grass"]\nmethods = ["olsen"]\ntest_unit = "ppm"\n'
            'words = ["a", "b"]\nuppers = [9, 5]\nvalues = [2, 1]\n'
            'unit = "kg P2O5/ha"\n',
            "uppers: must rise",
        ),
        (
            '[[cap]]\ncrops = ["grass"]\nmethods = ["olsen"]\ntest_unit = "ppm"\n'
            'words = ["a", "b"]\nuppers = [9, 15]\nvalues = [2, 1]\n'
            'unit = "kg P2O5/ha"\n',
            "one for each of 3 classes, got 2 and 2",
        ),
    ],
)
def test_a_rule_without_sense_is_refused(table, message):
    """Amounts, days, methods and classes are checked when a file is read."""
    base = 'text = "no"\nmaterials = ["manure"]\ndoes = "forbids"\n'
    base += 'source = { status = "read", where = "page 4" }\n'
    chance = 'chance = { above = 50, unit = "percent" }\n' if "rain" in table else ""
    with pytest.raises(InputError) as caught:
        read_rule_set(OWN + table + base + chance, "mine.toml")
    assert message in str(caught.value)


def test_a_slip_in_the_name_is_answered_with_the_nearest():
    """An id that does not ship is refused with what may have been meant."""
    with pytest.raises(InputError, match="did you mean 'maryland-2012'"):
        rule_set("maryland-2021")


def test_what_is_from_memory_forbids_nothing():
    """A figure that was not read asks to wait, and never forbids."""
    for rules in rule_sets().values():
        decided = (
            *rules.distance,
            *rules.rain,
            *rules.ground,
            *rules.season,
            *rules.placement,
            *rules.soil_test,
            *rules.cap,
        )
        for rule in decided:
            if rule.source.status != "read":
                assert rule.does == "asks"
