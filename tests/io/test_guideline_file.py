"""A guideline by id or by path."""

import shutil
from pathlib import Path

import pytest

from vrp.errors import GuidelineError, InputError
from vrp.io.guideline_file import find

OWN = Path(__file__).parents[1] / "data" / "own-guideline.toml"


def test_by_id():
    """A shipped guideline comes with its id."""
    name, guideline = find("tri-state-2020")

    assert name == "tri-state-2020"
    assert guideline.year == 2020


def test_by_path(tmp_path):
    """A file's own name is its id, with or without a byte order mark."""
    path = tmp_path / "mine.toml"
    shutil.copy(OWN, path)
    plain = find(str(path))
    path.write_bytes(b"\xef\xbb\xbf" + OWN.read_bytes())

    assert plain[0] == "mine"
    assert find(str(path)) == plain
    assert plain[1].title == "A test's own guideline"


@pytest.mark.parametrize("which", ["", "tri-state-2019", "../tri-state-2020", "x.TOML"])
def test_unknown_id(which):
    """What does not ship is named, with what does."""
    with pytest.raises(
        InputError,
        match=r"^guideline .* does not ship; use one of .*tri-state-2020, or the path",
    ):
        find(which)


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (None, "^guideline g.toml: cannot be read: "),
        (b"\xff", "^guideline g.toml: cannot be read: "),
        (b"form = ", "g.toml"),
        (b"", "g.toml"),
        (b'form = "equation"', "g.toml"),
    ],
)
def test_unreadable(tmp_path, content, message):
    """What is not there, no text, no TOML or no guideline is refused by its name."""
    path = tmp_path / "g.toml"
    if content is not None:
        path.write_bytes(content)

    with pytest.raises(InputError, match=message) as caught:
        find(str(path))
    assert "Traceback" not in str(caught.value)


def test_a_key_of_its_own(tmp_path):
    """An unknown key of a guideline is named with its file."""
    path = tmp_path / "g.toml"
    path.write_text(OWN.read_text("utf-8").replace("bushel =", "bushell ="), "utf-8")

    with pytest.raises(GuidelineError, match=r"g.toml.*bushell"):
        find(str(path))
