"""Which cautions come up, and beside what."""

import tomllib
from dataclasses import replace
from importlib.resources import files
from typing import get_args

import pytest

from vrp.agronomy.cautions import Case, Trigger, Where, cautions, every_caution
from vrp.agronomy.products import Grade

PLAIN = Case(
    codes=(),
    grade=Grade.parse("0-46-0"),
    form="granular",
    material="fertilizer",
    nitrogen=0.0,
    unit="lb/ac",
    method="incorporated",
    band_factor=1.0,
    soil_test_method="mehlich-3-icp",
    soil_test_unit="ppm",
    as_p2o5=False,
    ph=None,
    texture=None,
    zones=1,
    over_limit=False,
    manure_credit=False,
    forecast=False,
    rules=True,
    water=False,
)
ALWAYS = {
    "draft",
    "method-and-depth",
    "laboratories-differ",
    "label",
    "calibrate",
    "granular-safety",
    "field-walk",
    "on-the-day",
}


def codes(**changed):
    return {one.code for one in cautions(replace(PLAIN, **changed))}


def test_what_is_always_said():
    """A map with nothing of its own is a draft, and so is its test, label and day."""
    assert codes() == ALWAYS


@pytest.mark.parametrize(
    ("changed", "code"),
    [
        ({"codes": ("guideline-unconfirmed",)}, "not-known"),
        ({"codes": ("samples-dropped",)}, "not-known"),
        ({"codes": ("samples-sparse",)}, "sparse"),
        ({"codes": ("samples-old",)}, "old"),
        ({"codes": ("samples-undated",)}, "old"),
        ({"codes": ("sampling-depth",)}, "depth"),
        ({"codes": ("soil-test-very-high",)}, "very-rich"),
        ({"codes": ("p-index",)}, "screen-only"),
        ({"codes": ("manure-screen",)}, "screen-only"),
        ({"water": True}, "screen-only"),
        ({"soil_test_unit": "lb/ac"}, "unit"),
        ({"as_p2o5": True}, "unit"),
        ({"zones": 2}, "response"),
        ({"over_limit": True}, "over-limit"),
        ({"nitrogen": 12.0}, "carried-nitrogen"),
        ({"grade": Grade.parse("0-20-0", sulfur=12.0)}, "carried-sulfur"),
        ({"material": "manure"}, "manure"),
        ({"manure_credit": True}, "manure"),
        ({"method": "broadcast"}, "on-the-surface"),
        ({"method": None}, "placement-not-told"),
        ({"method": "seed-row"}, "beside-the-seed"),
        ({"band_factor": 0.5, "method": "band"}, "part-of-the-rate"),
        ({"texture": "sandy"}, "light-soil"),
        ({"rules": False}, "rules-not-named"),
        ({"zones": 2}, "rate-change"),
        ({"forecast": True}, "forecast-band"),
    ],
)
def test_each_comes_with_its_trigger(changed, code):
    """What brings it up brings it up, and without that it is not said."""
    assert code in codes(**changed)
    assert code not in codes()


def test_every_caution_is_seen_by_a_test():
    """A caution that no case brings up would be dead text."""
    text = (files("vrp.agronomy") / "data" / "cautions.toml").read_text("utf-8")
    known = {one["code"] for one in tomllib.loads(text)["cautions"]}
    marks = test_each_comes_with_its_trigger.pytestmark[0].args[1]
    seen = {code for _, code in marks} | ALWAYS | {"carbonate", "liquid-safety"}
    assert seen == known


@pytest.mark.parametrize(
    ("method", "ph", "told"),
    [
        ("bray-p1", 7.4, False),
        ("bray-p1", 7.5, True),
        ("bray-p1", None, True),
        ("olsen", 8.2, False),
        ("mehlich-3-icp", 8.2, False),
    ],
)
def test_carbonate(method, ph, told):
    """Bray P1 may read low above pH 7.4, University of Minnesota Extension, 2021."""
    assert ("carbonate" in codes(soil_test_method=method, ph=ph)) == told


def test_a_liquid_has_its_own_safety():
    """A liquid makes no dust, but salts out."""
    found = codes(form="liquid", grade=Grade.parse("10-34-0"))
    assert "liquid-safety" in found
    assert "granular-safety" not in found


def test_nitrogen_is_told_with_its_amount():
    """200 lb of 18-46-0 carry 36 lb of N."""
    case = replace(PLAIN, nitrogen=36.0, grade=Grade.parse("18-46-0"))
    (one,) = (each for each in cautions(case) if each.code == "carried-nitrogen")
    assert "36 lb/ac of N" in one.text
    assert "36 lb/ac of N" in one.short
    assert one.where == "product"


@pytest.mark.parametrize(
    ("method", "told"),
    [("seed-row", True), (None, True), ("broadcast", False), ("deep-band", False)],
)
def test_seed_safety_stands_with_the_product(method, told):
    """18-46-0 frees ammonia beside the seed: said where it may come near it."""
    case = replace(PLAIN, grade=Grade.parse("18-46-0"), method=method)
    found = [one for one in cautions(case) if one.code == "product-seed"]
    assert bool(found) == told
    assert all(one.where == "product" and "ammonia" in one.text for one in found)


def test_every_part_of_a_page_is_named():
    """Each part of a page may have a caution, and none stands anywhere else."""
    text = (files("vrp.agronomy") / "data" / "cautions.toml").read_text("utf-8")
    named = {one["where"] for one in tomllib.loads(text)["cautions"]}
    assert named == set(get_args(Where))


def test_every_trigger_is_pulled_and_told():
    """Each trigger brings up a caution and is told in words."""
    used = {one.when for one, _ in every_caution()}
    assert used == set(get_args(Trigger))
    assert all(when for _, when in every_caution())


def test_short_lines_are_short():
    """A line in a terminal is read at a glance."""
    text = (files("vrp.agronomy") / "data" / "cautions.toml").read_text("utf-8")
    for one in tomllib.loads(text)["cautions"]:
        assert len(one["short"]) <= 60
        assert len(one["text"]) <= 200
