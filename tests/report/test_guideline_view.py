"""Guidelines in the terminal and as JSON."""

import io
import json
import re
from pathlib import Path

from vrp.agronomy.guidelines import parse
from vrp.report import guideline_view

OWN = Path(__file__).parents[1] / "data" / "own-guideline.toml"


def shown(*arguments, as_json):
    file = io.StringIO()
    guideline_view.one(*arguments, as_json=as_json, file=file)
    return file.getvalue()


def test_every_figure_is_listed():
    """Each source of the file stands behind one figure or rule that is shown."""
    text = OWN.read_text("utf-8")
    own = parse(text, OWN.name)
    sources = re.findall(r'status = "([a-z-]+)"', text)

    facts = json.loads(shown("own", own, as_json=True))

    assert sorted(one["status"] for one in facts["figures"]) == sorted(sources)
    assert facts["statuses"] == {
        status: sources.count(status) for status in dict.fromkeys(facts["statuses"])
    }


def test_figures_are_printed_as_in_the_file():
    """The terminal shows figure, unit and where it stands, without rounding."""
    own = parse(OWN.read_text("utf-8"), OWN.name)

    text = " ".join(shown("own", own, as_json=False).split())

    assert "crops.corn-grain.removal: 0.37 lb P2O5/bu read: test" in text
    assert "crops.corn-grain.critical: 20 ppm read: test" in text
    assert "crops.corn-grain.bushel: 56 lb/bu read: test" in text
    assert "A test's own guideline, 1, vrp tests, 2026, https://example.org/own" in text
    assert "read on 2026-11-25" in text
    assert "mehlich-3-icp in ppm" in text
