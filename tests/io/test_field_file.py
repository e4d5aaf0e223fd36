"""Field files: what each bad key is called, and what a farm file supplies."""

import json
import tomllib
from datetime import date
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from vrp.errors import InputError
from vrp.io import field_file
from vrp.io.field_file import FieldFile, read_field_file

SCHEMA = json.loads(
    (Path(field_file.__file__).parent / "schemas" / "field.schema.json").read_text()
)


@pytest.fixture
def asked(ground):
    """Return what reads the ground's field file after some changes."""

    def read(*changes):
        ground.change(*changes)
        ground.path.write_text(ground.text, "utf-8")
        return read_field_file(ground.path)

    return read


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ('units = "us"', 'units = "uk"', "units = 'uk': use one of 'us' or 'metric'"),
        ('units = "us"', 'unit = "us"', "unit is not a key here; did you mean units?"),
        ('units = "us"', "", "units is missing"),
        ('units = "us"', '"" = 1', "'' is not a key here; known here: units, bound"),
        ('"boundary.geojson"', "5", "boundary = 5: must be the name of a file, in qu"),
        ('"Test Ground"', "5", "field.name = 5: must be text, in quotes"),
        ('"Test Ground"', '" "', "field.name = ' ': must not be empty"),
        ('"Test Ground"', f'"{"x" * 201}"', "must have at most 200 characters"),
        ("year = 2027", "year = 27", "field.year = 27: must be at least 1900"),
        ("year = 2027", "year = 2300", "field.year = 2300: must be at most 2200"),
        ("year = 2027", "year = 2027.5", "field.year = 2027.5: must be a whole numb"),
        ("year = 2027", "yaer = 2027", "field.yaer is not a key here; did you mean y"),
        ("depth = 8", 'depth = "8"', "samples.depth = '8': must be a number"),
        ("depth = 8", "depth = true", "samples.depth = True: must be a number"),
        ("depth = 8", "depth = -8", "samples.depth = -8: must be more than 0"),
        ("depth = 8", "depth = nan", "samples.depth = nan: must be a finite number"),
        ("depth = 8", "depth = inf", "samples.depth = inf: must be a finite number"),
        ("2026-10-02", "2026", "samples.sampled = 2026: must be a date like 2026-10"),
        ("2026-10-02", '"May"', "samples.sampled = 'May': must be a date like 2026"),
        ("2026-10-02", "2026-10-02T09:30:00", "sampled = 2026-10-02 09:30:00: must"),
        ('"mehlich-3-icp"', '"M3"', "samples.method = 'M3': use one of 'bray-p1', '"),
        ('unit = "ppm"', 'unit = "PPM"', "samples.unit = 'PPM': use one of 'ppm', 'm"),
        ('y = "y"\n', "", "samples.x and samples.y go together"),
        ('y = "y"', 'y = "y"\npoints = "p"', "points needs samples.id, the column"),
        ("[samples]", "[samples]\nlab_cv = 0", "samples.lab_cv = 0: must be more th"),
        ("[samples]", '[samples]\nkind = "spot"', "kind = 'spot': use one of 'point'"),
        ("= 200", '= "200"', r"season\[1\].yield_goal = '200': must be a number"),
        ("= 200", "= 0", r"season\[1\].yield_goal = 0: must be more than 0"),
        ("= 200", '= { file = "g" }', r"season\[1\].yield_goal.column is missing"),
        ("= 200", '= { fil = "g" }', r"yield_goal.fil is not a key here; did you m"),
        ("= 200", '= { file = 5, column = "g" }', "yield_goal.file = 5: must be the n"),
        ("yield_goal = 60", "", r"season\[2\].yield_goal is missing"),
        ("= 60", '= 60\nresidue = "burnt"', r"season\[2\].residue = 'burnt': use one"),
        ("[need]", '[need]\npool = "maybe"', "need.pool = 'maybe': must be true or f"),
        ("[need]", "[need]\nmin_p2o5 = 9\nmax_p2o5 = 2", "min_p2o5 9 exceeds need.max"),
        ('"11-52-0"', '"11-52"', "product.grade = '11-52': write it as N-P2O5-K2O"),
        ('"11-52-0"', "11", "product.grade = 11: write it as N-P2O5-K2O"),
        ("min_rate", "min-rate", "machine.min-rate is not a key here; did you mean m"),
        ("min_rate", "a.b", "machine.a is not a key here; known here: min_rate, max_"),
        ("= 50", "= 500", "machine.min_rate 500 exceeds machine.max_rate"),
        ("step = 5", "step = 0", "machine.step = 0: must be more than 0"),
        ("[machine]", "[machin]", "machin is not a key here; did you mean machine?"),
        ("[machine]", "[accept]\na-b = 5\n[machine]", "accept.a-b = 5: must be text"),
        ("[machine]", '[accept]\na-b = ""\n[machine]', "accept.a-b = '': must not be"),
        ("[machine]", '[zones]\nby = "gird"\n[machine]', "zones.by = 'gird': use one"),
        ("[machine]", '[zones]\nby = "grid"\n[machine]', "needs zones.side, the side"),
        ("[machine]", '[zones]\nby = "file"\n[machine]', 'by = "file" needs zones.fi'),
        ("[machine]", '[zones]\nfile = "z"\n[machine]', "but zones.by is not "),
        ("[machine]", '[zones]\nby = "samples"\n[machine]', "needs samples.kind "),
        ("[machine]", "[zones]\ncell = 0\n[machine]", "zones.cell = 0: must be more"),
        (
            "[machine]",
            "[application]\ndate = 1\n[machine]",
            "application.date = 1: must",
        ),
        ("[machine]", "[[override]]\np2o5 = 1\n[machine]", r"override\[1\].reason is"),
        (
            "[machine]",
            '[[override]]\np2o5 = 1\nreason = "r"\n[machine]',
            r"\[\[override\]\] needs either file or point",
        ),
        (
            "[machine]",
            '[[override]]\np2o5 = 1\nreason = "r"\npoint = ["a", 2]\n[machine]',
            r"override\[1\].point\[1\] = 'a': must be a number",
        ),
        (
            "[machine]",
            '[override]\np2o5 = 1\nreason = "r"\n[machine]',
            r"override must be a list \(tables: \[\[override\]\]\)",
        ),
    ],
)
def test_bad_keys(asked, old, new, message):
    """One sentence names the file, the key, its value and what it must be."""
    with pytest.raises(InputError, match=f"^field.toml: .*{message}") as caught:
        asked((old, new))
    assert "\n" not in str(caught.value)
    assert len(str(caught.value)) < 300


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("Test Ground", "a\\u001b[31mred", r"field.name holds U\+001B, a character"),
        ("Test Ground", "a\\u202Egnp", r"field.name holds U\+202E, a character"),
        ("boundary.geojson", "b\\u0000", r"boundary holds U\+0000, a character"),
        ('"Test Ground"', f'"{"x" * 10_000}"', "field.name has 10,000 characters; wr"),
        ("boundary.geojson", "x" * 10_000, "boundary has 10,000 characters; write 1,"),
        ("step", "x" * 10_000, "machine.a key has 10,000 characters"),
        ("step", '"s\\u0007"', r"machine.a key holds U\+0007"),
        ("step", '"s\\np"', r"machine\.'s\\np' is not a key here"),
    ],
)
def test_hostile_text(asked, old, new, message):
    """What does not show, or has no end, is refused by its key."""
    with pytest.raises(InputError, match=f"^field.toml: {message}"):
        asked((old, new))


@pytest.mark.parametrize(
    "name", ["<b>&amp;</b>", "../../etc", "=1+1", "حقل שדה", "Größe 麦", "a\\\\b"]
)
def test_text_is_text(asked, name):
    """Markup, formulas, pieces of paths and other scripts are names like any other."""
    assert asked(("Test Ground", name)).plan.field.name == name.replace("\\\\", "\\")


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b'units = "us', "not TOML: Unterminated string "),
        (b'units = "us"\nunits = "us"', "not TOML: Cannot overwrite a value"),
        (b'units = "\xff"', "cannot be read as text: "),
        (b"", "units, boundary, field, samples, season, product are missing"),
        (b"a = " + b"[" * 10_000, "nested too deep: a field file has tables of keys"),
    ],
)
def test_no_field_file(tmp_path, content, message):
    """What is no TOML, or no text, is refused by its place."""
    (tmp_path / "field.toml").write_bytes(content)

    with pytest.raises(InputError, match=f"^field.toml: {message}"):
        read_field_file(tmp_path)


def test_missing_field_file(tmp_path):
    """What is not there is named, with what makes it."""
    with pytest.raises(InputError, match=r"field.toml: no such file; vrp new writes"):
        read_field_file(tmp_path)


def test_byte_order_mark(ground):
    """A file by an editor that writes a byte order mark is read as any other."""
    ground.path.write_text(ground.text, "utf-8-sig")

    assert read_field_file(ground.path).plan.units == "us"


def test_least(tmp_path):
    """Absent keys mean what the contract says."""
    text = 'units = "metric"\nboundary = "b.gpkg"\nfield.name = "N"\n'
    text += 'samples = { file = "s.gpkg", soil_test = "P", method = "olsen", '
    text += 'unit = "mg/L", depth = 15 }\nproduct.grade = "0-46-0"\n'
    text += '[[season]]\ncrop = "winter-wheat"\nyield_goal = 8\n'
    (tmp_path / "field.toml").write_text(text)

    plan = read_field_file(tmp_path).plan

    assert plan.samples.kind == "point"
    assert (plan.need.pool, plan.need.build_up) == (False, True)
    assert (plan.zones.seed, plan.zones.parts) == (1, "multi")
    assert plan.zones.on_weak_map == "uniform"
    assert (plan.machine.min_rate, plan.machine.max_rate) == (0.0, None)
    assert plan.sample_depth == 15.0


FARM = """
units = "us"
[field]
client = "The Farm"
name = "Not This"
[samples]
lab_cv = 10
[[credit]]
name = "starter"
p2o5 = 10
source = "plan"
[[season]]
crop = "wheat"
yield_goal = 80
[need]
guideline = "own.toml"
[zones]
by = "file"
file = "shared/zones.geojson"
[machine]
swath = 60
step = 1
"""


@pytest.fixture
def farm(ground, asked):
    """Return what reads a field two folders below farm files."""
    deep = ground.folder / "a" / "b"
    deep.mkdir(parents=True)
    ground.path = deep / "field.toml"

    def read(text, *changes, above="a"):
        (ground.folder / above / "farm.toml").write_text(text)
        return asked(*changes)

    return read


def test_farm_file(farm, ground):
    """The field's own keys hold, tables merge key by key, lists are taken whole."""
    read = farm(FARM, ('guideline = "tri-state-2020"\n', ""))

    plan, above = read.plan, ground.folder / "a"
    assert read.farm == above / "farm.toml"
    assert (plan.field.name, plan.field.client) == ("Test Ground", "The Farm")
    assert (plan.samples.lab_cv, plan.samples.depth) == (10.0, 8.0)
    assert (plan.machine.swath, plan.machine.step) == (60.0, 5.0)
    assert [one.crop for one in plan.season] == ["corn-grain", "soybean"]
    assert [one.name for one in plan.credit] == ["starter"]
    assert plan.zones.file == above / "shared" / "zones.geojson"
    assert plan.need.guideline == str(above / "own.toml")
    assert plan.boundary == ground.path.parent / "boundary.geojson"


def test_nearest_farm_file(farm, ground):
    """Of two farm files above it the nearer one supplies, alone."""
    (ground.folder / "farm.toml").write_text('units = "us"\n[machine]\nswath = 90\n')

    read = farm('units = "us"\n[samples]\nlab_cv = 5\n')

    assert read.plan.samples.lab_cv == 5.0
    assert read.plan.machine.swath is None


def test_units_from_the_farm(farm):
    """A field file that leaves out its units has the farm's."""
    assert farm('units = "us"\n', ('units = "us"\n', "")).plan.units == "us"


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ('units = "metric"', "^field.toml: units is 'us', but .*farm.toml states 'met"),
        ("[machine]\nswath = 60", "^field.toml: units is 'us', but .* states None: bo"),
        ('units = "us"\n[machine]\nswaht = 6', "^farm.toml: machine.swaht is not a k"),
        ('units = "us"\n[machine]\nswath = "6"', "^farm.toml: machine.swath = '6': m"),
        (
            'units = "us"\n[samples]\ndepth = "8"\n[machine]\nswath = 0',
            "^farm.toml: ma",
        ),
        ('units = "us', "^farm.toml: not TOML: "),
        ('units = "us"\nseason = 5', None),
    ],
)
def test_refused_farm_file(farm, text, message):
    """A complaint names the file that holds the key; what is overruled is no matter."""
    if message is None:
        assert isinstance(farm(text), FieldFile)
        return
    with pytest.raises(InputError, match=message):
        farm(text)


def test_farm_file_without_units(farm):
    """A farm file states its units, even where the field file does not."""
    with pytest.raises(InputError, match=r"farm.toml: units is missing; it must be"):
        farm("[machine]\nswath = 60", ('units = "us"\n', ""))


def test_schema_agrees(ground):
    """A field file that is read fits the schema that ships, a wrong one does not."""
    validator = Draft202012Validator(SCHEMA)
    Draft202012Validator.check_schema(SCHEMA)
    good = tomllib.loads(ground.text)
    good["samples"]["sampled"] = str(good["samples"]["sampled"])

    assert list(validator.iter_errors(good)) == []
    assert not validator.is_valid(good | {"machin": {}})
    assert not validator.is_valid(good | {"season": []})


VALUES = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.text(max_size=8)
    | st.dates()
    | st.sampled_from(["us", "point", "olsen", "ppm", "0-46-0", "file", "../x.toml"]),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(
            st.sampled_from(
                ["file", "crop", "yield_goal", "column", "point", "p2o5", "reason", "x"]
            )
            | st.text(max_size=4),
            inner,
            max_size=4,
        )
    ),
    max_leaves=8,
)
PLACES = [
    (table, key)
    for table, keys in {
        "field": ("name", "client", "year"),
        "samples": ("file", "kind", "x", "points", "id", "method", "unit", "depth"),
        "need": ("guideline", "pool", "min_p2o5", "max_p2o5"),
        "zones": ("seed", "cell", "by", "side", "file", "parts"),
        "machine": ("min_rate", "step", "zzz"),
        "product": ("grade",),
        "accept": ("a-b", ""),
    }.items()
    for key in keys
]
TOP = ["units", "boundary", "season", "credit", "override", "confirm", "application"]


def toml(value):
    """Return a value as TOML, as the format has it; JSON's strings are TOML's."""
    if value is None or isinstance(value, bool):
        return str(value is True).lower()
    if isinstance(value, int | float | date):
        return str(value)
    if isinstance(value, str):
        return json.dumps(value).replace("\x7f", "\\u007f")
    if isinstance(value, list):
        return f"[{', '.join(map(toml, value))}]"
    pairs = (f"{toml(key)} = {toml(each)}" for key, each in value.items())
    return f"{{ {', '.join(pairs)} }}"


def plain_text(value):
    """Say whether TOML can hold a value: no half of a pair of UTF-16 in its text."""
    try:
        json.dumps(value, ensure_ascii=False, default=str).encode()
    except UnicodeEncodeError:
        return False
    return True


@settings(
    max_examples=300,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    placed=st.lists(
        st.tuples(st.sampled_from(PLACES), VALUES), max_size=3, unique_by=lambda x: x[0]
    ),
    top=st.dictionaries(
        st.sampled_from(TOP) | st.text(max_size=5), VALUES, max_size=2
    ).filter(lambda top: "samples" not in top),
)
def test_any_tables(tmp_path, placed, top):
    """Whatever TOML holds, it is a plan or refused in a sentence of one line."""
    asked = {
        "units": "us",
        "boundary": "b.geojson",
        "field": {"name": "Test"},
        "samples": {
            "file": "s.csv",
            "soil_test": "P",
            "method": "olsen",
            "unit": "ppm",
            "depth": 8,
        },
        "season": [{"crop": "corn-grain", "yield_goal": 200}],
        "product": {"grade": "11-52-0"},
    }
    for (table, key), value in placed:
        asked.setdefault(table, {})[key] = value
    asked |= top
    if not plain_text(asked):
        return
    text = "\n".join(f"{toml(key)} = {toml(value)}" for key, value in asked.items())
    (tmp_path / "field.toml").write_text(text, "utf-8", newline="")

    try:
        said = str(read_field_file(tmp_path).plan.units)
    except InputError as exc:
        said = str(exc)
    assert said in ("us", "metric") or said.startswith("field.toml: ")
    assert "\n" not in said
    assert len(said) < 600
