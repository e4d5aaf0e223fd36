"""Slips that would be spread as they stand."""

import pytest

from vrp.agronomy import sense_checks
from vrp.agronomy.products import Grade


@pytest.mark.parametrize(
    ("value", "system", "message"),
    [
        (250.0, "us", None),
        (250.1, "us", "zone 3: a need of 250.1 lb/ac, more than 250 lb/ac"),
        (280.0, "metric", None),
        (690.0, "metric", "zone 3: a need of 690.0 kg/ha, more than 280 kg/ha"),
    ],
)
def test_need(value, system, message):
    """A need above 250 lb/ac (280 kg/ha) stops; at the limit it does not."""
    found = sense_checks.need(value, system=system, zone=3)

    assert [(one.severity, one.zone, one.message) for one in found] == (
        [] if message is None else [("stop", 3, message)]
    )


@pytest.mark.parametrize(("value", "many"), [(98.0, 0), (120.0, 0), (383.0, 1)])
def test_nitrogen(value, many):
    """18-46-0 at 250 lb of P2O5 (98 lb of N) is usual; 383 lb of N are not."""
    found = sense_checks.nitrogen(value, system="us", zone=1)

    assert len(found) == many
    for one in found:
        message = "zone 1: the rate carries N of 383.0 lb/ac, more than 120 lb/ac"
        assert (one.severity, one.bound, one.message) == ("warn", 120.0, message)


def test_credit_in_gallons():
    """4000 (1000 gal) × 12 lb × 80 % are 38,400 lb: gallons were meant."""
    (found,) = sense_checks.credit(38_400.0, "slurry", system="us", place="credit[1]")

    assert found.severity == "warn"
    assert found.message == (
        "credit[1]: slurry brings 38,400.0 lb P2O5/ac, more than 250"
    )
    assert sense_checks.credit(250.0, "x", system="us", place="credit[1]") == ()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("11-52-0", None),
        ("10-30-10", None),
        ("52-11-0", "52-11-0 holds the figures of 11-52-0 in another order"),
        ("46-18-0", "46-18-0 holds the figures of 18-46-0 in another order"),
        # 52 × 0.4364 = 22.7.
        ("11-23-0", "11-23-0 would be 11-52-0 if its 23 were P, the element"),
        # 46 × 0.4364 = 20.1.
        ("18-20-0", "18-20-0 would be 18-46-0 if its 20 were P, the element"),
    ],
)
def test_grade(text, said):
    """A known grade turned round, or in P, is asked about; others are not."""
    found = sense_checks.grade(Grade.parse(text), place="product.grade")

    assert [one.message for one in found] == (
        [] if said is None else [f"product.grade: {said}"]
    )


def test_accepted_in_vain():
    """An acceptance without its stop is named, one with it is not."""
    accepted = {"sampling-depth": "why", "soil-test-method": "why"}

    (found,) = sense_checks.accepted_in_vain(accepted, {"soil-test-method"})

    assert (found.severity, found.place) == ("note", "accept.sampling-depth")
    assert found.message == "accept.sampling-depth: no such stop came up in this run"
