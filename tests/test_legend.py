"""Names and units of the columns."""

import re

import pytest

from vrp import job
from vrp.legend import columns, plain


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
        ("a\tb\nc", "a\tb\nc"),
        ("حقل 麦 é\xa0–", "حقل 麦 é\xa0–"),
    ],
)
def test_plain(text, expected):
    """Only characters that steer are spelled out; scripts of any direction stay."""
    assert plain(text) == expected
