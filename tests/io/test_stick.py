"""Machine files of several fields for one stick."""

import shutil

import pytest

from vrp import job
from vrp.errors import InputError
from vrp.io import taskdata_read
from vrp.io.stick import gather


@pytest.fixture
def built(ground, tmp_path):
    """Return the output folders of two fields, and what they ask of each."""
    outs, products = [], []
    ground.change(("Test Ground", "North End"))
    for name in ("North End", "South End"):
        ground.text = ground.text.replace("North End", name)
        out = tmp_path / name
        prescription, _ = job.run(ground.write(), out=out)
        outs.append(out)
        products.append(prescription.totals.zones.product)
    return outs, products


def test_two_fields(built, tmp_path):
    """One TASKDATA has a task a field, with its product; shapefiles lie beside it."""
    outs, products = built
    to = tmp_path / "stick"

    grids = gather(to, outs)

    found = taskdata_read.read(to)
    assert len(grids) == len(found.tasks) == 2
    for task, product in zip(found.tasks, products, strict=True):
        # lb; a grid may miss the zones' product by 0.5 %.
        assert task.product / 0.45359237 == pytest.approx(product, rel=0.005)
    assert sorted(path.name for path in to.glob("*.shp")) == [
        "North_End_2027_11-52-0.shp",
        "South_End_2027_11-52-0.shp",
    ]
    for path in outs[0].glob("machine/*.dbf"):
        assert (to / path.name).read_bytes() == path.read_bytes()


def test_refused(built, tmp_path):
    """A folder that is there, a changed output and one without machine files."""
    outs, _ = built
    taken = tmp_path / "taken"
    taken.mkdir()
    with pytest.raises(InputError, match="is there already: name a new folder"):
        gather(taken, outs)

    edited = tmp_path / "edited"
    shutil.copytree(outs[0], edited)
    table = edited / "map" / "zones.csv"
    table.write_text(table.read_text() + "\n")
    with pytest.raises(InputError, match="does not agree with its record"):
        gather(tmp_path / "stick", [edited])
    assert not (tmp_path / "stick").exists()


def test_held_back(ground, tmp_path):
    """A field that a stop holds back has nothing for a stick."""
    ground.change(("depth = 8", "depth = 4"))
    prescription, out = job.run(ground.write())
    assert prescription.held_back

    with pytest.raises(InputError, match="a stop finding holds them back"):
        gather(tmp_path / "stick", [out])


def test_same_name(ground, built, tmp_path):
    """Two fields of one name and year would overwrite each other: refused."""
    outs, _ = built
    ground.samples[:, 2] = 25.0
    job.run(ground.write(), out=tmp_path / "again")

    with pytest.raises(InputError, match="two fields have a file of this name"):
        gather(tmp_path / "stick", [outs[1], tmp_path / "again"])
