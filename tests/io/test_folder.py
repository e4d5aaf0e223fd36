"""The output folder: whole or not at all, and never at the cost of someone's files."""

import errno
import hashlib
import json
import os
import resource
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from vrp import job
from vrp.cli import main
from vrp.errors import InputError
from vrp.io import folder

# Runs a job that is killed where its first argument says.
KILLED = """
import os, shutil, signal, sys
from pathlib import Path
from vrp import job
from vrp.io import folder

def die(*args, **kwargs):
    os.kill(os.getpid(), signal.SIGKILL)

def die_if(function, ending):
    def instead(self, *args, **kwargs):
        if Path(self).name.endswith(ending):
            die()
        return function(self, *args, **kwargs)
    return instead

stage, field = sys.argv[1:]
if stage == "before the map":
    job.map_files.write = die
elif stage == "before the record":
    job.record.write = die
elif stage == "before the swap":
    job.verify.check = die
elif stage == "old aside":
    Path.rename = die_if(Path.rename, ".new")
elif stage == "new in place":
    shutil.rmtree = die_if(shutil.rmtree, ".old")
job.run(Path(field))
"""


def invoke(*arguments):
    return CliRunner().invoke(main, [str(one) for one in arguments])


def content(directory):
    """Return every file below a folder with its bytes."""
    found = sorted(path for path in directory.rglob("*") if path.is_file())
    return {path.relative_to(directory).as_posix(): path.read_bytes() for path in found}


def is_whole(out):
    """Say whether all files that the record lists are there, and no other."""
    files = content(out)
    listed = json.loads(files.pop("record.json"))["files"]
    digests = {name: hashlib.sha256(data).hexdigest() for name, data in files.items()}
    return {one["name"]: one["sha256"] for one in listed} == digests


def beside(out):
    return sorted(path.name for path in out.parent.iterdir() if path.name[0] == ".")


@pytest.fixture
def built(ground):
    """Return a field file that was built, its output, and the output's bytes."""
    path = ground.write()
    _, out = job.run(path)
    return path, out, content(out)


@pytest.mark.parametrize(
    "stage",
    [
        "before the map",
        "before the record",
        "before the swap",
        "old aside",
        "new in place",
    ],
)
def test_killed(stage, ground):
    """A run killed anywhere leaves an output that the next command shows whole."""
    _, out = job.run(ground.write())
    before = content(out)
    ground.change(("yield_goal = 200", "yield_goal = 150"))
    arguments = [sys.executable, "-c", KILLED, stage, str(ground.write())]

    killed = subprocess.run(arguments, check=False, capture_output=True)
    shown = invoke("explain", out, "--json")

    assert killed.returncode == -signal.SIGKILL
    assert (shown.exit_code, shown.stderr) == (0, "")
    assert is_whole(out)
    goal = json.loads(shown.stdout)[0]["yield_goal"]
    assert goal == (150.0 if stage == "new in place" else 200.0)
    if stage != "new in place":
        assert content(out) == before
    job.run(ground.path)
    assert is_whole(out)
    assert beside(out) == []


def test_own_output_is_replaced(built):
    """An output that nobody touched gives way, even if a file of it was deleted."""
    path, out, before = built
    (out / "map" / "rates.geojson").unlink()

    job.run(path)

    assert content(out) == before
    assert beside(out) == []


@pytest.mark.parametrize(
    ("name", "text", "reason"),
    [
        ("notes.txt", "mine", "holds notes.txt, which vrp did not write"),
        ("map/mine/a.txt", "mine", "holds map/mine/a.txt, which vrp did not write"),
        ("map/rates.geojson", "{}", "holds map/rates.geojson, which was changed"),
        ("record.json", "{", "its record.json cannot be read"),
        ("record.json", "[]", "its record.json cannot be read"),
        ("record.json", '{"files": ["a"]}', "its record.json cannot be read"),
        ("record.json", "\xff", "its record.json cannot be read"),
    ],
)
def test_foreign_and_changed_files(built, name, text, reason):
    """What vrp did not write, or not so, is refused and kept, unless overwritten."""
    path, out, _ = built
    (out / name).parent.mkdir(exist_ok=True)
    (out / name).write_bytes(text.encode("latin-1"))
    before = content(out)

    refused = invoke("build", path)

    assert refused.exit_code == 2
    assert refused.stderr.startswith(f"Error: {out}: {reason}")
    assert "--overwrite" in refused.stderr
    assert content(out) == before
    assert invoke("build", path, "--overwrite").exit_code == 0
    assert is_whole(out)


def test_links_are_foreign(built, tmp_path_factory):
    """A link in the output is not vrp's; what it leads to stays when overwritten."""
    path, out, _ = built
    elsewhere = tmp_path_factory.mktemp("elsewhere")
    (elsewhere / "mine.txt").write_text("mine")
    (out / "link").symlink_to(elsewhere)

    with pytest.raises(InputError, match="holds link, which vrp did not write"):
        job.run(path)
    job.run(path, overwrite=True)

    assert (elsewhere / "mine.txt").read_text() == "mine"
    assert not (out / "link").exists()


@pytest.mark.parametrize("overwrite", [[], ["--overwrite"]])
@pytest.mark.parametrize("out", [".", "..", "field/../field", "link", "../x/.."])
def test_output_over_inputs(ground, monkeypatch, out, overwrite):
    """A folder that holds the inputs is never replaced, whatever is asked."""
    ground.write()
    work = ground.folder / "field"
    work.mkdir()
    for name in ("field.toml", "boundary.geojson", "samples.csv"):
        (ground.folder / name).rename(work / name)
    (work.parent / "link").symlink_to(work)
    place = work.parent if out in ("field/../field", "link") else work
    monkeypatch.chdir(place)
    before = content(ground.folder)

    refused = invoke("build", work, "--out", out, *overwrite)

    assert refused.exit_code == 2
    assert "an input; choose another folder" in refused.stderr
    assert content(ground.folder) == before


def test_output_over_a_single_input(ground):
    """One input in the folder is enough, here the samples."""
    ground.change(('"samples.csv"', '"data/samples.csv"'))
    ground.write()
    (ground.folder / "data").mkdir()
    (ground.folder / "samples.csv").rename(ground.folder / "data" / "samples.csv")

    with pytest.raises(InputError, match=r"data: holds samples.csv, an input; choose"):
        job.run(ground.path, out=ground.folder / "data", overwrite=True)

    assert (ground.folder / "data" / "samples.csv").exists()


@pytest.mark.parametrize("overwrite", [False, True])
def test_a_file_in_its_place(ground, overwrite):
    """A file is no output folder, and stays."""
    path = ground.write()
    (ground.folder / "out").write_text("mine")

    with pytest.raises(InputError, match=r"out: is a file; name a folder$"):
        job.run(path, overwrite=overwrite)

    assert (ground.folder / "out").read_text() == "mine"
    assert beside(ground.folder / "out") == []


def test_places_that_cannot_be_written(ground):
    """A parent that is a file, or the root of all folders, is refused in a sentence."""
    path = ground.write()

    below = invoke("build", path, "--out", path / "out")
    root = invoke("build", path, "--out", "/", "--overwrite")

    assert (below.exit_code, root.exit_code) == (2, 2)
    assert "cannot be written" in below.stderr
    assert "choose another folder" in root.stderr


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_read_only_parent(built):
    """Where the parent may not be written the output stays."""
    path, out, before = built
    out.parent.chmod(0o555)
    try:
        with pytest.raises(InputError, match="cannot be written: Permission denied"):
            job.run(path)
    finally:
        out.parent.chmod(0o755)

    assert content(out) == before


def full(*args, **kwargs):
    raise OSError(errno.ENOSPC, "No space left on device")


@pytest.mark.parametrize(
    ("owner", "name"),
    [
        (Path, "write_text"),
        (Path, "mkdir"),
        (Path, "write_bytes"),
        (os, "fsync"),
        (Path, "rename"),
    ],
)
def test_disk_full(built, monkeypatch, owner, name):
    """Where the disk is full, at whatever step, the old output stays; exit code 2."""
    path, out, before = built
    monkeypatch.setattr(owner, name, full)

    refused = invoke("build", path)

    assert refused.exit_code == 2
    assert refused.stderr.endswith("cannot be written: No space left on device\n")
    monkeypatch.undo()
    assert content(out) == before
    assert beside(out) == []


@pytest.mark.parametrize("limit", [100, 10_000])
def test_file_size_limit(built, limit):
    """The same with a limit that the system itself imposes on a file's size."""
    path, out, before = built

    def bound():
        resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))

    arguments = [sys.executable, "-m", "vrp.cli", "build", str(path)]
    arguments[1:3] = ["-c", "from vrp.cli import main; main()"]
    refused = subprocess.run(
        arguments, check=False, capture_output=True, text=True, preexec_fn=bound
    )

    assert refused.returncode == 2, refused.stderr
    assert refused.stderr.endswith("cannot be written: File too large\n")
    assert content(out) == before
    assert beside(out) == []


def test_swap_that_fails_half_way(built, monkeypatch):
    """Where the new folder cannot be moved in, the old one comes back at once."""
    path, out, before = built
    rename = Path.rename

    def second_fails(self, target):
        return full() if self.name.endswith(".new") else rename(self, target)

    monkeypatch.setattr(Path, "rename", second_fails)
    with pytest.raises(InputError, match="cannot be written: No space left"):
        job.run(path)

    assert content(out) == before
    assert beside(out) == []


def test_one_run_at_a_time(built):
    """A second run is refused while the first holds the folder, and may follow it."""
    path, out, before = built

    with folder.lock(out):
        refused = invoke("build", path)
        assert refused.exit_code == 2
        assert "another run is writing it; wait for it" in refused.stderr
        assert content(out) == before
    assert invoke("build", path).exit_code == 0
    assert beside(out) == []


def test_lock_that_was_removed(tmp_path, monkeypatch):
    """A lock file that a run which ended took away holds nobody out and nothing."""
    path, hold = tmp_path / ".out.lock", folder._hold
    path.touch()
    held = []

    def removed_meanwhile(descriptor):
        hold(descriptor)
        held.append(descriptor)
        if len(held) == 1:
            path.unlink()

    monkeypatch.setattr(folder, "_hold", removed_meanwhile)
    with folder.lock(tmp_path / "out"):
        monkeypatch.undo()
        assert path.exists()
        with (
            pytest.raises(InputError, match="another run"),
            folder.lock(tmp_path / "out"),
        ):
            pass


def test_defect_of_ours_moves_nothing(built, monkeypatch):
    """Where what was written does not read back the old output stays; exit code 1."""
    path, out, before = built
    monkeypatch.setattr("vrp.io.machine_shapefile._PRJ", "")
    monkeypatch.setattr("vrp.io.machine_files.rate_column", lambda _: "rate_kg_ha")

    failed = invoke("build", path)

    assert failed.exit_code == 1
    assert content(out) == before
    assert beside(out) == []


def test_output_reached_by_a_link(built, tmp_path_factory):
    """An output folder that is a link stays one, and what it leads to is replaced."""
    path, _, before = built
    there = tmp_path_factory.mktemp("there") / "real"
    link = path.parent / "linked"
    job.run(path, out=there)
    link.symlink_to(there)

    job.run(path, out=link)
    job.run(path, out=link)

    assert link.is_symlink()
    assert content(there) == before
