"""A built field held to the day: zones, what was told, and the command's exit codes."""

import json

import pytest
import shapely
from click.testing import CliRunner

from vrp import job
from vrp.agronomy.water import rule_set
from vrp.cli import main
from vrp.errors import InputError
from vrp.io.ready import readiness

ERIE = '[water]\nrules = "ohio-western-lake-erie"\n'
BROADCAST = '[application]\nmethod = "broadcast"\n'
DRY = ("--not-frozen", "--no-snow", "--not-saturated", "--no-growing-crop")
NO_RAIN = ("--forecast", "0", "24", "0")


def ready(out, *options):
    """Return what `vrp ready` gives."""
    return CliRunner().invoke(main, ["ready", str(out), *options])


@pytest.fixture
def out(ground):
    """Return a built field whose plan names the rules of Lake Erie."""
    ground.change(("[machine]", f"{ERIE}{BROADCAST}[machine]"))
    return job.run(ground.write())[1]


@pytest.mark.parametrize(
    ("options", "code"),
    [
        ((*DRY, *NO_RAIN), 0),
        ((*DRY, "--forecast", "1.2", "12", "60"), 3),
        ((*DRY, "--forecast", "1.2", "12", "50"), 0),
        ((*DRY, "--forecast", "1.0", "12", "60"), 0),
        (("--frozen", "--no-growing-crop"), 3),
        (("--frozen", "--growing-crop"), 0),
        (("--frozen", "--worked-in", "24"), 0),
        (("--frozen", "--worked-in", "24.5", "--no-growing-crop"), 3),
        (("--frozen", "--injected"), 0),
        ((), 0),
    ],
)
def test_exit_codes(out, options, code):
    """ANR-0156's limits from both sides: 3 where a rule forbids, else 0."""
    done = ready(out, *options)
    assert done.exit_code == code
    assert ("FORBIDS" in done.stdout) == (code == 3)
    # No page may be taken for a permit.
    text = " ".join(done.stdout.split())
    assert text.endswith("decide, and the applicator answers for it.")
    assert ("forbids it, which is no permission" in text) == (code == 0)


def test_nothing_told_is_nothing_known(out):
    """Without an answer the rules that bind are listed with what they ask."""
    text = " ".join(ready(out).stdout.split())
    assert "Not enough was told" in text
    assert "tell the forecast for 12 hours" in text
    assert "The map keeps no distance from water: no features were given." in text
    assert "could not be judged" in text


def test_only_zones_with_a_rate_are_named(out):
    """Zones that get nothing are not driven with product."""
    record = json.loads((out / "record.json").read_text("utf-8"))
    driven = [one["zone"] for one in record["zones"] if one["rate_lb_ac"] > 0]
    assert 0 < len(driven) < len(record["zones"])
    found = json.loads(ready(out, "--json").stdout)
    assert found["zones"] == driven
    assert found["rules"] == ["ohio-western-lake-erie"]
    area = sum(one["area_ac"] for one in record["zones"] if one["zone"] in driven)
    assert found["area"] == pytest.approx(area, abs=0.01)


def test_the_record_holds_the_rules_themselves(out):
    """The day is judged by the rules as they were, not as they may be by then."""
    record = json.loads((out / "record.json").read_text("utf-8"))
    (rules,) = record["rules"]
    assert rules["id"] == "ohio-western-lake-erie"
    limits = {(one["hours"], one["rain"]["above"]) for one in rules["rain"]}
    assert limits == {(12.0, 1.0), (24.0, 0.5)}
    assert rules["read_on"] == str(rule_set("ohio-western-lake-erie").read_on)


def test_without_rules_general_practice_asks(ground):
    """A plan that names none is told so, and which sets ship; nothing forbids."""
    _, out = job.run(ground.write())
    done = ready(out, "--frozen", "--snow", "--saturated")
    text = " ".join(done.stdout.split())
    assert done.exit_code == 0
    assert "The field file names no rules" in text
    assert "from-memory" in text
    assert "Asks to wait" in text
    assert "maryland-2012" in text


def test_a_file_tells_the_day(out, tmp_path):
    """A small TOML file says the same as the options, which come before it."""
    day = tmp_path / "day.toml"
    day.write_text(
        'units = "us"\nfrozen = false\nsnow = false\nsaturated = false\n'
        "growing_crop = false\n[[forecast]]\nrain = 1.2\nhours = 12\nchance = 60\n",
        "utf-8",
    )
    assert ready(out, "--day", str(day)).exit_code == 3
    assert ready(out, "--day", str(day), *NO_RAIN).exit_code == 0
    assert ready(out, "--day", str(day), *NO_RAIN, "--frozen").exit_code == 3


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ('units = "metric"', 'day.toml: units must be "us", as in the record'),
        ("frozen = true", 'day.toml: units must be "us", as in the record, got None'),
        ('units = "us"\nfrosen = true', "frosen: unknown key, did you mean 'frozen'"),
        (
            'units = "us"\n[[forecast]]\nrain = 1\nhours = 12\nchance = 0.6',
            "write a percent, such as 60 for 60 %",
        ),
        (
            'units = "us"\n[[forecast]]\nrain = 1\nhours = 12\nchance = 101',
            "must be at most 100",
        ),
        (
            'units = "us"\n[[forecast]]\nrain = -1\nhours = 12\nchance = 60',
            "must be at least 0",
        ),
        ('units = "us"\ninjected = true\nworked_in = 2', "exclude each other"),
        ("units =", "not valid TOML"),
    ],
)
def test_a_slip_in_the_file_is_refused(out, tmp_path, text, message):
    """What cannot be meant is refused by key, with the remedy; exit code 2."""
    day = tmp_path / "day.toml"
    day.write_text(text, "utf-8")
    done = ready(out, "--day", str(day))
    assert done.exit_code == 2
    assert message in done.stderr


def test_a_share_for_a_percent_is_refused(out):
    """0.6 percent would free where 60 percent forbids."""
    done = ready(out, "--forecast", "1.2", "12", "0.6")
    assert done.exit_code == 2
    assert "write a percent, such as 60 for 60 %" in done.stderr


def test_a_changed_record_is_refused(out):
    """Rules that somebody edited in the record are not asked."""
    path = out / "record.json"
    path.write_text(path.read_text("utf-8").replace('"hours": 12.0', '"hours": 1.0'))
    with pytest.raises(InputError, match="was changed after vrp wrote it"):
        readiness(out, file=None, options={})


def test_a_field_that_is_held_back_is_not_ready(ground):
    """A stop of a rule that nobody accepted forbids on the day as well."""
    ground.change(
        (
            "[machine]",
            '[water]\nrules = "northern-ireland-2019"\n[application]\n'
            'date = 2027-10-01\nmethod = "broadcast"\n[machine]',
        )
    )
    prescription, out = job.run(ground.write())
    assert prescription.held_back
    done = ready(out, *DRY, "--date", "2027-06-01")
    assert done.exit_code == 3
    assert "rule-season" in done.stdout


def test_a_stop_that_was_accepted_is_told_with_its_reason(ground):
    """A person takes a rule on with a reason, which the day shows again."""
    ground.change(
        (
            "[machine]",
            '[water]\nrules = "northern-ireland-2019"\n[application]\n'
            'date = 2027-10-01\nmethod = "broadcast"\n[accept]\n'
            'rule-season = "need shown to the department"\n[machine]',
        )
    )
    prescription, out = job.run(ground.write())
    assert not prescription.held_back
    done = ready(out, *DRY, "--date", "2027-06-01")
    assert done.exit_code == 0
    assert "accepted: need shown to the department" in " ".join(done.stdout.split())


def test_the_distance_that_the_map_keeps_is_told(ground):
    """A map of manure that keeps 100 ft is not ready on frozen soil, at 200 ft is."""
    line = shapely.LineString([(240.0, -50.0), (240.0, 530.0)])
    place = shapely.to_geojson(ground.to_lonlat(line))
    (ground.folder / "water.geojson").write_text(place, "utf-8")
    table = (
        '[water]\nrules = "ohio-590-manure"\n'
        'features = [{ file = "water.geojson", kind = "stream" }]\n'
    )
    ground.change(
        ('grade = "11-52-0"', 'grade = "4-3-2"\nmaterial = "manure"'),
        ("max_rate = 400", "max_rate = 9000\nswath = 40"),
        ("[machine]", f"{table}{BROADCAST}[machine]"),
    )
    _, out = job.run(ground.write())
    done = ready(out, "--frozen", "--no-snow")
    assert done.exit_code == 3
    text = " ".join(done.stdout.split())
    assert "nearer than 200 ft to stream, ditch, tile-inlet" in text
    assert "the map keeps 100 ft from stream" in text
    assert "The map keeps 100 ft from stream: mark them, and keep them." in text
    assert json.loads(ready(out, "--json").stdout)["kept"] == {"stream": 100.0}
    assert ready(out, "--not-frozen", "--no-snow").exit_code == 0


def test_a_metric_liquid_is_told_in_its_units(ground):
    """Zones of a liquid have their rate in L/ha, rain is in mm: 25.4 mm is not over."""
    ground.change(
        ('units = "us"', 'units = "metric"'),
        ("depth = 8", "depth = 20.32"),
        ("yield_goal = 200", "yield_goal = 12"),
        ("yield_goal = 60", "yield_goal = 4"),
        ('grade = "11-52-0"', 'grade = "10-34-0"\nform = "liquid"\ndensity = 1.396'),
        ("max_rate = 400", "max_rate = 900"),
        ("[machine]", f'[water]\nrules = "mine.toml"\n{BROADCAST}[machine]'),
    )
    text = (
        'id = "mine"\ntitle = "An invented code"\npublisher = "Nobody"\n'
        'read_on = 2026-11-25\nstanding = "law"\nplace = "nowhere"\n'
        '[[rain]]\ntext = "no"\nmaterials = ["fertilizer"]\nforms = ["liquid"]\n'
        'does = "forbids"\nrain = { above = 1, unit = "in" }\n'
        'chance = { at_least = 50, unit = "percent" }\nhours = 12\n'
        'source = { status = "read", where = "page 3" }\n'
    )
    (ground.folder / "mine.toml").write_text(text, "utf-8")
    prescription, out = job.run(ground.write())
    driven = [one.number for one in prescription.zones if one.rate > 0.0]
    codes = {
        ("25.4", "50"): 0,
        ("25.5", "50"): 3,
        ("25.5", "49.9"): 0,
    }
    for (rain, chance), code in codes.items():
        done = ready(out, "--forecast", rain, "12", chance, "--json")
        assert done.exit_code == code
        found = json.loads(done.stdout)
        assert (found["zones"], found["area_unit"]) == (driven, "ha")


def test_a_distance_below_the_rule_is_told_on_the_day(ground):
    """The map keeps 20 ft where Maryland asks for 35: no day passes that over."""
    place = shapely.to_geojson(ground.to_lonlat(shapely.Point(240.0, 240.0)))
    (ground.folder / "water.geojson").write_text(place, "utf-8")
    table = (
        '[water]\nrules = "maryland-2012"\ndistance = { stream = 20 }\n'
        'features = [{ file = "water.geojson", kind = "stream" }]\n'
    )
    ground.change(("[machine]", f"{table}{BROADCAST}[machine]"))
    _, out = job.run(ground.write())
    text = " ".join(ready(out).stdout.split())
    assert "setback-below-rule" in text
    assert "the map keeps less from water than they ask for" in text


def test_what_is_worked_in_later_than_planned_needs_more_distance(ground):
    """Minnesota's 25 ft are for manure worked in within 24 hours; else 300 ft."""
    place = shapely.to_geojson(ground.to_lonlat(shapely.Point(240.0, 240.0)))
    (ground.folder / "water.geojson").write_text(place, "utf-8")
    table = (
        '[water]\nrules = "minnesota-7020-manure"\n'
        'features = [{ file = "water.geojson", kind = "lake" }]\n'
        '[application]\nmethod = "incorporated"\nincorporated_within = 24\n'
    )
    ground.change(
        ('grade = "11-52-0"', 'grade = "4-3-2"\nmaterial = "manure"'),
        ("max_rate = 400", "max_rate = 9000\nswath = 40"),
        ("[machine]", f"{table}[machine]"),
    )
    _, out = job.run(ground.write())
    assert ready(out).exit_code == 0
    assert ready(out, "--worked-in", "24").exit_code == 0
    late = ready(out, "--worked-in", "48")
    assert late.exit_code == 3
    assert "the map keeps 25 ft from lake" in " ".join(late.stdout.split())


def test_what_nothing_judges_is_told_on_the_day(ground):
    """Maryland lets no manure be spread in winter; its days were not read."""
    ground.change(
        ('grade = "11-52-0"', 'grade = "4-3-2"\nmaterial = "manure"'),
        ("max_rate = 400", "max_rate = 9000"),
        ("[machine]", '[water]\nrules = "maryland-2012"\n[machine]'),
    )
    _, out = job.run(ground.write())
    done = ready(out, "--date", "2027-01-10", "--injected")
    text = " ".join(done.stdout.split())
    assert "no manure in winter, on farms of any size" in text
    # Four of Maryland's, and four of general practice, asked for frozen ground.
    assert "8 more are not judged, look yourself" in text
    told = json.loads(ready(out, "--json").stdout)["also"]
    sets = ["maryland-2012"] * 4 + ["nrcs-590-general"] * 4
    assert [one["rules"] for one in told] == sets
    assert told[0]["status"] == "read"


def test_a_boundary_that_was_set_back_keeps_what_it_comes_within(ground):
    """The field ends 480 m east; a stream 20 m beyond is 65.6 ft away, not nowhere."""
    line = shapely.LineString([(500.0, -50.0), (500.0, 530.0)])
    place = shapely.to_geojson(ground.to_lonlat(line))
    (ground.folder / "water.geojson").write_text(place, "utf-8")
    file = 'file = "water.geojson", kind = "stream", already_set_back = true'
    ground.change(("[machine]", f"[water]\nfeatures = [{{ {file} }}]\n[machine]"))
    _, out = job.run(ground.write())
    kept = json.loads(ready(out, "--json").stdout)["kept"]
    assert kept["stream"] == pytest.approx(65.6, abs=0.1)


def test_rules_of_distance_leave_frost_and_rain_to_general_practice(ground):
    """Maryland's distances say nothing of frost: general practice asks to wait."""
    ground.change(
        ("[machine]", f'[water]\nrules = "maryland-2012"\n{BROADCAST}[machine]')
    )
    _, out = job.run(ground.write())
    done = ready(out, "--frozen", "--forecast", "3", "6", "100")
    text = " ".join(done.stdout.split())
    assert done.exit_code == 0
    assert "Asks to wait" in text
    assert "the ground is frozen" in text
    assert "no rule looks at the forecast of rain" in text


def test_rain_is_never_passed_over(ground):
    """Without rules 3 in of rain are told to be looked at by nobody."""
    ground.change(("[machine]", f"{BROADCAST}[machine]"))
    _, out = job.run(ground.write())
    done = ready(out, "--forecast", "3", "6", "100", "--json")
    found = json.loads(done.stdout)
    assert found["unheard"] == ["the forecast of rain"]
    assert any("not before heavy rain" in one["text"] for one in found["also"])


def test_a_stop_of_the_plan_is_no_rule(ground):
    """A field held back by its own plan exits 3, and no rule is blamed for it."""
    ground.samples[0, 2] = 2_000.0  # above 30 times the median
    _, out = job.run(ground.write())
    done = ready(out)
    text = " ".join(done.stdout.split())
    assert done.exit_code == 3
    assert "At least one of the rules" not in text
    assert "stops of the plan itself hold its files back: " in text
