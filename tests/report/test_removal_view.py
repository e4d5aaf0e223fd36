"""Removal figures in the terminal."""

import io
import json

import pytest

from vrp.agronomy.removal import crops, sets
from vrp.errors import InputError
from vrp.report import removal_view


def shown(crop, *, as_json=False):
    file = io.StringIO()
    removal_view.show(crop, as_json=as_json, file=file)
    return file.getvalue()


def test_one_crop():
    """Every set with the crop has a row and a source; the span is said."""
    text = shown("corn-grain")

    rows = text[: text.index("Sources")]
    for set_id, one in sets().items():
        held = any("corn-grain" in figure.crops for figure in one.figure)
        assert (f"\n{set_id} " in rows) == held
        if held:
            assert one.title.split()[0] in text[text.index("Sources") :]
    assert "0.25–0.45 lb P2O5/bu" in " ".join(text.split())
    assert "1.80 times the lowest" in " ".join(text.split())
    assert max(map(len, text.splitlines())) <= 80


def test_list_of_crops():
    """Without a crop all are listed with how far their figures lie apart."""
    text = shown(None)

    for crop in crops():
        assert f"\n{crop} " in text
    # Barley: 0.25 (Ontario) to 0.46 (western Canada), 1.84 times.
    (barley,) = [line for line in text.splitlines() if line.startswith("barley")]
    assert barley.split() == ["barley", "grain", "6", "0.25–0.46", "lb/bu", "1.84"]
    assert max(map(len, text.splitlines())) <= 80


def test_json_has_the_same():
    """JSON has every figure as printed, with its status and citation."""
    facts = json.loads(shown("wheat", as_json=True))

    assert (facts["crop"], facts["name"]) == ("winter-wheat", "Winter wheat")
    (illinois,) = [one for one in facts["figures"] if one["set"] == "illinois-2019"]
    assert (illinois["low"], illinois["unit"], illinois["status"]) == (
        0.46,
        "lb P2O5/bu",
        "read",
    )
    assert "2019" in illinois["citation"]
    assert [one["crop"] for one in json.loads(shown(None, as_json=True))] == [*crops()]


def test_unlike_moisture_is_said():
    """Figures for silage at several moistures are not called alike."""
    assert "not all at one moisture" in " ".join(shown("corn-silage").split())


def test_unknown_crop():
    """A crop without a figure is refused with the nearest."""
    with pytest.raises(InputError, match="did you mean 'alfalfa'"):
        shown("alfafa")
