"""Guidelines in the terminal and as JSON."""

import io
import json
import re
from pathlib import Path

import pytest

from vrp.agronomy.guidelines import parse, shipped
from vrp.errors import InputError
from vrp.report import guideline_view

OWN = Path(__file__).parents[1] / "data" / "own-guideline.toml"


def shown(*arguments, as_json, **options):
    file = io.StringIO()
    guideline_view.one(*arguments, as_json=as_json, file=file, **options)
    return file.getvalue()


def ship(name, *, as_json=False, **options):
    return shown(name, shipped()[name], as_json=as_json, **options)


def rows(text):
    """Return the cells of each line."""
    return [line.split() for line in text.splitlines()]


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


def test_needs_by_stretch():
    """Corn at 200 bu: 5 × 20 + 70 = 170 falls to 70 at 20 ppm, and is 0 above 40."""
    text = ship("tri-state-2020", crop="corn-grain", yield_goal=200.0)

    assert "corn-grain (Corn, grain) at 200 bu/ac: need in lb P2O5/ac" in text
    assert ["0", "to", "20", "170", "to", "70", "below", "critical"] in rows(text)
    assert ["20", "to", "40", "70", "maintenance"] in rows(text)
    assert ["above", "40", "0", "above", "the", "limit"] in rows(text)


def test_yield_goal_that_no_one_gave():
    """Without a goal it is the printed yield or amid the plausible: which is said."""
    wheat = " ".join(ship("rb209-2023", crop="winter-wheat").split())
    corn = " ".join(ship("tri-state-2020", crop="corn-grain").split())

    assert "at 8 t/ha, the printed yield: need in kg P2O5/ha" in wheat
    # (60 + 320) / 2
    assert "at 190 bu/ac, the middle of the plausible yields, our choice" in corn


def test_every_crop_is_drawn():
    """Without a crop each has its table and its curve, none wider than 80."""
    text = ship("rb209-2023")

    for crop, one in shipped()["rb209-2023"].crops.items():
        assert f"{crop} ({one.name}) at " in text
    assert text.count(" └┴") == len(shipped()["rb209-2023"].crops)
    assert max(map(len, text.splitlines())) <= 80


def test_rates_as_printed():
    """The table of RB209 stands as printed: 110, 80, 50, 0, 0 with straw left."""
    text = rows(ship("rb209-2023"))

    assert ["winter-wheat,", "residue", "left", "110", "80", "50", "0", "0"] in text
    assert ["potatoes", "250", "210", "170", "100", "0"] in text


def test_fates_have_letters():
    """Residue left and removed are one table and one drawing, by letters."""
    text = ship("rb209-2023", crop="winter-wheat", yield_goal=8.0)

    assert ["9.5", "to", "15.5", "80", "85"] in rows(text)
    assert "a: residue left\nb: residue removed\n" in text.replace(" \n", "\n")


def test_goal_in_other_units():
    """11.926 t/ha are 190.002 bu of 56 lb; they remove 66.5 lb/ac or 74.5 kg/ha."""
    text = ship("tri-state-2020", crop="corn-grain", yield_goal=11.926, system="metric")

    said = " ".join(text.split())
    assert "at 11.926 t/ha (190.002 bu/ac): need in kg P2O5/ha" in said
    assert ["20", "to", "40", "74.5", "maintenance"] in rows(text)


def test_needs_as_json():
    """JSON holds the need at 0 and at every edge, beside what it held before."""
    options = {"crop": "corn-grain", "yield_goal": 200.0}
    facts = json.loads(ship("tri-state-2020", as_json=True, **options))

    (needs,) = facts["needs"]
    assert [(one["soil_test"], one["at"]) for one in needs["need"]] == [
        (0, 170),
        (20, 70),
        (40, 70),
    ]
    assert needs["need"][2]["above"] == 0
    assert facts["figures"]


def test_goal_takes_a_crop():
    """A yield goal for a guideline of several crops asks for one of them."""
    with pytest.raises(InputError, match="a yield goal is for one crop: choose one"):
        ship("tri-state-2020", yield_goal=200.0)


@pytest.mark.parametrize("name", list(shipped()))
def test_all_that_ship_are_drawn(name):
    """Every guideline shows every crop, within 80 columns."""
    text = ship(name)

    assert max(map(len, text.splitlines())) <= 80
    assert text.count("└┴") == len(shipped()[name].crops)
