"""What a build writes for the spreader's terminal."""

import json
import re

import pytest
from click.testing import CliRunner

from vrp import job
from vrp.cli import main
from vrp.errors import InputError, VrpError
from vrp.io import verify
from vrp.io.taskdata_read import read


def names(folder):
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*.*"))


def record_of(out):
    return json.loads((out / "record.json").read_text("utf-8"))


def test_both_are_written(ground):
    """Without a word in the field file, shapefile and task data 3.3 are written."""
    prescription, out = job.run(ground.write())

    found = names(out / "machine")
    assert found[:2] == ["TASKDATA/GRD00001.bin", "TASKDATA/TASKDATA.XML"]
    assert [name.rsplit(".")[-1] for name in found[2:]] == [
        "cpg", "dbf", "prj", "shp", "shx",
    ]  # fmt: skip
    data = read(out / "machine")
    (task,) = data.tasks
    assert (data.version, task.name) == ("3.3", "Test Ground 2027 11-52-0")
    product = prescription.totals.zones.product * 0.45359237
    assert task.product == pytest.approx(product, rel=0.005)
    listed = {one["name"] for one in record_of(out)["files"]}
    assert {f"machine/{name}" for name in found} <= listed


@pytest.mark.parametrize(
    ("asked", "suffixes"),
    [
        ('["shapefile"]', {".cpg", ".dbf", ".prj", ".shp", ".shx"}),
        ('["task-data"]', {".XML", ".bin"}),
    ],
)
def test_one_of_them(asked, suffixes, ground):
    """A plan may ask for either alone, and the other is not missed."""
    ground.text += f"[files]\nmachine = {asked}\n"

    prescription, out = job.run(ground.write())

    written = {path.suffix for path in (out / "machine").rglob("*.*")}
    assert written == suffixes
    assert (prescription.grid is None) == (".XML" not in suffixes)
    assert (record_of(out)["task_data"] is None) == (".XML" not in suffixes)


def test_the_grid_is_stated(ground):
    """Cell, errors and default stand in the record and on the screen."""
    ground.change(("step = 5", "step = 5\nswath = 60\ndefault_rate = 150"))
    ground.text += '[files]\ntask_data_version = "4.3"\n'
    path = ground.write()

    done = CliRunner().invoke(main, ["build", str(path)])

    out = path.parent / "out"
    said = record_of(out)["task_data"]
    # A swath divided by a whole number, printed to a hundredth of a foot.
    assert 60.0 / said["cell"] == pytest.approx(round(60.0 / said["cell"]), rel=1e-3)
    assert said["version"] == "4.3"
    assert abs(said["total_error"]) <= 0.005
    assert said["default_rate"] == 150.0
    text = " ".join(done.stdout.split())
    assert f"Task data: cells of {said['cell']:g} ft carry the field's product" in text
    assert f"zone {said['worst_zone']} differs most" in text
    assert "where position is lost: 150 lb/ac." in text
    (task,) = read(out / "machine").tasks
    # 150 lb of 0.45359237 kg on 0.40468564224 ha.
    assert task.treatments[task.default].rate == pytest.approx(168.13, abs=0.005)
    assert task.treatments[task.outside].rate == 0.0


def test_liquids(ground):
    """A liquid goes out by volume: gallons an acre become litres a hectare."""
    ground.change(
        ('grade = "11-52-0"', 'grade = "10-34-0"\nform = "liquid"\ndensity = 11.65'),
        ("min_rate = 50\nmax_rate = 400\nstep = 5", "step = 0.5"),
    )

    prescription, out = job.run(ground.write())

    (task,) = read(out / "machine").tasks
    assert {(one.ddi, one.unit) for one in task.treatments.values()} == {(1, "gal/ac")}
    product = prescription.totals.zones.product * 3.785411784
    assert task.product == pytest.approx(product, rel=0.005)


def test_held_back(ground):
    """With a stop finding that nobody accepted there is no folder for the machine."""
    # A test that the guideline does not know.
    ground.change(('"mehlich-3-icp"', '"olsen"'))

    prescription, out = job.run(ground.write())

    assert prescription.held_back
    assert not (out / "machine").exists()
    assert record_of(out)["task_data"] is None


@pytest.mark.parametrize("rate", ["20", "450"])
def test_default_within_the_limits(rate, ground):
    """A default that the spreader cannot hold is refused."""
    ground.change(("step = 5", f"step = 5\ndefault_rate = {rate}"))

    message = rf"machine.default_rate {rate} lies outside machine.min_rate and machine"
    with pytest.raises(InputError, match=message):
        job.run(ground.write())


def test_fault_is_found(ground):
    """What verify finds in the task data is named with the task."""
    prescription, out = job.run(ground.write())
    path = out / "machine" / "TASKDATA" / "TASKDATA.XML"
    text, count = re.subn(
        r'(<TZN A="1".*?\s+<PDV A="0006" B=")\d+', r"\g<1>7", path.read_text("utf-8")
    )
    assert count == 1
    path.write_text(text, "utf-8")

    message = (
        r"^task data: task Test Ground 2027 11-52-0: zone 1: rate reads 0.07 kg/ha"
    )
    with pytest.raises(VrpError, match=message):
        verify.check(out, prescription)


def test_more_zones_than_codes(ground):
    """A build with more zones than codes is refused, and the way out is named."""
    ground.change(("[need]", '[zones]\nby = "grid"\nside = 90\n[need]'))

    message = r"Test Ground: \d+ zones, .* 253 apart.* take \"task-data\" out of files"
    with pytest.raises(InputError, match=message):
        job.run(ground.write())
    assert not (ground.folder / "out").exists()
