"""The page about comparing guidelines shows what the commands print."""

import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from vrp.cli import main

PAGE = Path(__file__).parents[1] / "docs" / "comparing_guidelines.md"
TEXT = PAGE.read_text("utf-8")
SHOWN = re.findall(
    r"```sh\nvrp (.*?)\n```\n\n```text\n(.*?)\n```", TEXT, flags=re.DOTALL
)


def test_page_has_commands():
    """The page shows two commands with what they print."""
    assert [command.split()[0] for command, _ in SHOWN] == ["guidelines"] * 2


@pytest.mark.parametrize(("command", "shown"), SHOWN, ids=lambda one: one[:30])
def test_page_shows_what_is_printed(command, shown, tmp_path, monkeypatch):
    """What stands on the page is the end of what the command prints, line by line."""
    monkeypatch.chdir(tmp_path)

    done = CliRunner().invoke(main, command.split())

    assert done.exit_code == 0, done.output
    printed = [line.rstrip() for line in done.stdout.rstrip().splitlines()]
    lines = shown.splitlines()
    assert printed[-len(lines) :] == lines


def test_every_option_is_documented():
    """The table names each option of the command but those for one guideline."""
    named = set(re.findall(r"^\| `(--[a-z-]+)", TEXT, re.MULTILINE))
    known = {
        name
        for option in main.commands["guidelines"].params
        for name in option.opts
        if name.startswith("--")
    }

    assert named == known - {"--crop"}
