"""record.json: its schema, its digest, and what is not believed."""

import hashlib
import json
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from vrp import job
from vrp.errors import InputError
from vrp.io import record

SCHEMA = json.loads(
    (Path(record.__file__).parent / "schemas" / "record.schema.json").read_text()
)


@pytest.fixture
def out(ground):
    """Return the output folder of a built field."""
    return job.run(ground.write())[1]


def load(out):
    return json.loads((out / "record.json").read_text("utf-8"))


def test_fits_the_schema_that_ships(out):
    """The record fits its JSON Schema, and what lacks a part does not."""
    Draft202012Validator.check_schema(SCHEMA)
    validator, written = Draft202012Validator(SCHEMA), load(out)

    assert list(validator.iter_errors(written)) == []
    for key in ("digest", "zones", "totals", "findings"):
        assert not validator.is_valid(
            {name: one for name, one in written.items() if name != key}
        )


@pytest.mark.parametrize("name", ["us", "metric", "creek"])
def test_sample_fields_fit_the_schema(name, sample_fields, tmp_path):
    """So do the sample fields' records."""
    _, out = job.run(sample_fields / name, out=tmp_path / "out")

    assert list(Draft202012Validator(SCHEMA).iter_errors(load(out))) == []


def test_composites_fit_the_schema(ground):
    """Without a surface the record says null, and still fits."""
    ground.samples = ground.samples[:1]
    _, out = job.run(ground.write())

    assert list(Draft202012Validator(SCHEMA).iter_errors(load(out))) == []
    assert load(out)["surface"]["variogram"] is None
    assert load(out)["zones"][0]["stp_lo"] is None


def test_digest(out):
    """The digest is the sha256 of the sorted record without digest and files."""
    written = load(out)
    bare = {key: one for key, one in written.items() if key not in ("digest", "files")}
    text = json.dumps(bare, ensure_ascii=False, sort_keys=True, separators=(",", ":"))

    assert written["digest"] == hashlib.sha256(text.encode()).hexdigest()


def test_files_and_inputs(out):
    """Files and inputs stand there with the sha256 of their bytes."""
    written = load(out)

    for listed, folder in ((written["files"], out), (written["inputs"], out.parent)):
        for one in listed:
            data = (folder / one["name"]).read_bytes()
            assert one["sha256"] == hashlib.sha256(data).hexdigest()
    assert sorted(Path(one["name"]).name for one in written["inputs"]) == [
        "boundary.geojson",
        "field.toml",
        "samples.csv",
        "tri-state-2020.toml",
    ]


def test_totals_are_the_zones(out):
    """Area and product are the sums of the zones', applied their rates' times 0.52."""
    written = load(out)
    zones, totals = written["zones"], written["totals"]

    assert totals["product"] == pytest.approx(sum(one["total_lb"] for one in zones))
    assert totals["area"] == pytest.approx(sum(one["area_ac"] for one in zones))
    carried = sum(one["rate_lb_ac"] * one["area_ac"] * 0.52 for one in zones)
    assert totals["p2o5_applied"] == pytest.approx(carried, abs=0.06)
    needed = sum(one["p2o5_lb_ac"] * one["area_ac"] for one in zones)
    assert totals["p2o5_need"] == pytest.approx(needed, abs=0.06)


@pytest.mark.parametrize(
    "change",
    [
        lambda one: one["zones"][0].update(rate_lb_ac=999.0),
        lambda one: one["zones"].pop(),
        lambda one: one["zones"][0]["ledger"].pop(),
        lambda one: one["totals"].update(product=0.0),
        lambda one: one["findings"].clear(),
        lambda one: one.update(remark="checked"),
        lambda one: one["guideline"].update(status="confirmed: me"),
    ],
)
def test_changed_record_is_refused(out, change):
    """Whatever was changed in it, a record is not shown as vrp's."""
    changed = load(out)
    change(changed)
    (out / "record.json").write_text(json.dumps(changed), "utf-8")

    with pytest.raises(InputError, match=r"record.json: was changed after vrp wrote"):
        record.zones(out, number=None)


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"", "is no record as this version of vrp writes it: the file: Invalid JSON"),
        (b"[]", "is no record as this version of vrp writes it: the file: "),
        (b'{"format": 2}', "is no record as this version of vrp writes it: format: "),
        (b"\xff\xfe", "is no text in UTF-8; build the field again"),
    ],
)
def test_no_record(out, content, message):
    """What is no record is refused in a sentence."""
    (out / "record.json").write_bytes(content)

    with pytest.raises(InputError, match=message) as caught:
        record.read(out)
    assert "\n" not in str(caught.value)


def test_no_output(tmp_path):
    """A folder without a record, or none, is named with what makes one."""
    for folder in (tmp_path, tmp_path / "none"):
        with pytest.raises(InputError, match=f"^{folder}: holds no record.json; vrp b"):
            record.read(folder)
