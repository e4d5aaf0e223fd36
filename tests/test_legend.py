"""Names and units of the columns; classes and colours of the rate."""

import re
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from vrp import job
from vrp.legend import (
    MOST_CLASSES,
    NOTHING,
    cividis,
    columns,
    plain,
    rate_classes,
)


@pytest.mark.parametrize(
    ("name", "own"),
    [
        ("us", {"area_ac", "stp_ppm", "p2o5_lb_ac", "rate_lb_ac", "total_lb"}),
        ("metric", {"area_ha", "stp_mg_l", "p2o5_kg_ha", "rate_kg_ha", "total_kg"}),
    ],
)
def test_columns(name, own, sample_fields, tmp_path):
    """Names fit a table of ten characters, tell the plan's unit, and are unique."""
    prescription, _ = job.run(sample_fields / name, out=tmp_path / "out")

    found = columns(prescription)

    names = [one.name for one in found]
    assert own <= set(names)
    assert len(set(names)) == len(names)
    assert all(re.fullmatch(r"[a-z][a-z0-9_]{0,9}", each) for each in names)
    assert all(one.meaning for one in found)
    for one in found:
        for zone in prescription.zones:
            value = one.of(zone)
            if one.decimals is None:
                assert isinstance(value, str)
            else:
                assert value == round(value, one.decimals)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("a\x1bb", r"a\u001bb"),
        ("\u202eabc", r"\u202eabc"),
        ("Ash\u200e \u061cfield", r"Ash\u200e \u061cfield"),
        ("Ash\ufeff\u200b", r"Ash\ufeff\u200b"),
        ("a\tb\nc", "a\tb\nc"),
        ("حقل 麦 é\xa0–", "حقل 麦 é\xa0–"),
    ],
)
def test_plain(text, expected):
    """Only characters that steer are spelled out; scripts of any direction stay."""
    assert plain(text) == expected


# Of the 256 published colours of cividis, by their number, as matplotlib prints them.
CIVIDIS = {
    0: "#00224e",
    42: "#2a3f6d",
    64: "#434e6c",
    85: "#575d6d",
    106: "#6a6c71",
    128: "#7d7c78",
    149: "#918b78",
    170: "#a59c74",
    213: "#d2c060",
    234: "#e9d34e",
    255: "#fee838",
}


def channels(colour):
    return np.array(list(bytes.fromhex(colour.removeprefix("#"))), dtype=float)


@pytest.mark.parametrize(("number", "published"), CIVIDIS.items())
def test_colours_are_those_of_cividis(number, published):
    """Colours between the ones kept are within 3 of 255 of the published ones."""
    apart = channels(cividis(number / 255)) - channels(published)

    assert np.abs(apart).max() <= 3


def test_colours_grow_darker_with_the_rate():
    """From the light end to the dark one luminance falls at every step."""
    weights = np.array([0.2126, 0.7152, 0.0722])  # of sRGB, ITU-R BT.709
    light = [weights @ channels(cividis(1 - step / 20)) for step in range(21)]

    assert all(one > two for one, two in pairwise(light))


@pytest.fixture(scope="module")
def prescription(sample_fields, tmp_path_factory):
    """Return what a sample field gives, in lb/ac."""
    return job.run(sample_fields / "us", out=tmp_path_factory.mktemp("us") / "out")[0]


def with_rates(prescription, rates):
    zone = prescription.zones[0]
    return replace(prescription, zones=tuple(replace(zone, rate=r) for r in rates))


@pytest.mark.parametrize(
    ("rates", "labels"),
    [
        ([140, 0, 50, 115, 50], ["0 lb/ac: nothing applied", "50", "115", "140"]),
        ([0, 0], ["0 lb/ac: nothing applied"]),
        ([62.5], ["62.5"]),
        # 25 rates: seven bands would be 34 wide, so that 50 is the next round width.
        (
            range(50, 300, 10),
            ["50", "60–100", "110–150", "160–200", "210–250", "260–290"],
        ),
        # From 90 to 225 by 7.5: bands of 20 would be 8, so that they are of 25.
        (
            [90 + 7.5 * step for step in range(19)],
            ["90–97.5", "105–120", "127.5–150", "157.5–172.5", "180–195", "202.5–225"],
        ),
        # Eight rates from 55 in steps of 2.5: five bands of 5.
        (
            [55 + 2.5 * step for step in range(8)],
            ["55", "57.5–60", "62.5–65", "67.5–70", "72.5"],
        ),
    ],
)
def test_classes_of_the_rate(rates, labels, prescription):
    """Few rates are a class each, many are bands; what is in them is said."""
    found = rate_classes(with_rates(prescription, rates))

    named = [one if "nothing" in one else f"{one} lb/ac" for one in labels]
    assert [one.label for one in found] == named


def test_colours_of_the_classes(prescription):
    """Nothing applied is grey; from the lowest rate up cividis runs light to dark."""
    found = rate_classes(with_rates(prescription, [0, 50, 115, 140]))

    assert found[0].colour == NOTHING
    assert len(set(channels(NOTHING))) == 1  # no hue
    assert [one.colour for one in found[1::2]] == [CIVIDIS[255], CIVIDIS[0]]
    assert np.abs(channels(found[2].colour) - channels(CIVIDIS[128])).max() <= 4


RATES = st.integers(0, 200_000).map(lambda hundredths: hundredths / 100)


@given(rates=st.lists(RATES, min_size=1, max_size=60), other=RATES)
def test_every_rate_is_in_one_class(prescription, rates, other):
    """No rate is in two classes or in none, and no class is without a zone."""
    found = rate_classes(with_rates(prescription, rates))

    for rate in (*rates, other):
        assert sum(one.holds(rate) for one in found) == 1
    for one in found:
        assert any(one.holds(rate) for rate in rates)
    assert len({one.label for one in found}) == len(found) <= MOST_CLASSES + 1
    assert len({one.colour for one in found}) == len(found)
