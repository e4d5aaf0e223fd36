"""The page about guideline files."""

import re
from pathlib import Path

import pytest

from vrp.agronomy.guidelines import parse

PAGE = (Path(__file__).parents[1] / "docs" / "guideline_file.md").read_text("utf-8")
EXAMPLES = re.findall(r"```toml\n(form = .*?)```", PAGE, flags=re.DOTALL)


def test_every_form_has_an_example():
    """The page shows all three forms."""
    shown = [re.match(r'form = "(.*)"', example)[1] for example in EXAMPLES]

    assert shown == ["build-up-maintenance", "index-table", "class-table"]


@pytest.mark.parametrize("example", EXAMPLES)
def test_examples_are_valid(example):
    """What the page shows is a guideline as it stands."""
    assert parse(example, "page").title == "An invented guideline"
