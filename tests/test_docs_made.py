"""What is made from the code is as it would be made now."""

import importlib.util
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]

spec = importlib.util.spec_from_file_location("docs_make", ROOT / "docs" / "make.py")
make = importlib.util.module_from_spec(spec)
spec.loader.exec_module(make)


@pytest.mark.parametrize("path", make.files(), ids=lambda path: path.name)
def test_made_files_are_current(path):
    """The committed file is what `python docs/make.py` writes."""
    assert path.read_text("utf-8") == make.files()[path]


def test_every_code_has_its_section():
    """The page of findings has a section for each code of the data, in its order."""
    import tomllib

    data = ROOT / "vrp" / "agronomy" / "data" / "checks.toml"
    codes = [
        code
        for code, check in tomllib.loads(data.read_text("utf-8")).items()
        if isinstance(check, dict)
    ]
    page = (ROOT / "docs" / "findings.md").read_text("utf-8")
    heads = [line[3:] for line in page.splitlines() if line.startswith("## ")]

    assert heads == codes
