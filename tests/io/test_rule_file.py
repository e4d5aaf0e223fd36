"""Rules by id or by the path of a file."""

from importlib.resources import files

import pytest

from vrp.agronomy.water import rule_set
from vrp.errors import InputError
from vrp.io.rule_file import find

NAME = "maryland-2012.toml"


def test_a_file_reads_as_the_set_that_ships(tmp_path):
    """A copy of a set that ships, by its path, is the same set."""
    shipped = files("vrp.agronomy") / "data" / "rules" / NAME
    path = tmp_path / NAME
    path.write_text("﻿" + shipped.read_text("utf-8"), "utf-8")
    assert find(str(path)) == rule_set("maryland-2012") == find("maryland-2012")


def test_a_file_that_is_not_there_is_named(tmp_path):
    """The message names the file and not the whole way to it."""
    with pytest.raises(InputError, match=r"rules mine\.toml: cannot be read"):
        find(str(tmp_path / "mine.toml"))
