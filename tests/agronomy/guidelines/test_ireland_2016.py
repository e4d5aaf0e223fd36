"""
Its rates of P, the element, against what was read in units an acre.

Green Book, 4th edition, Teagasc, 2016, and S.I. 605/2017, as reprinted by the trade; a
unit an acre × 1.25 is a kg/ha (100 kg/ha are 80 units an acre, "Nutrient Management
Guide (RB209)", 2023).
"""

import numpy as np
import pytest

from vrp.agronomy.guidelines import settled, shipped
from vrp.agronomy.need import Season, figures, ledger, need_curve
from vrp.agronomy.plan_checks import ph_rules

PRINTED = settled(shipped()["ireland-2016"], method="morgan")
UNITS = (36, 28, 20, 0)  # an acre, Index 1 to 4
P2O5_IN_P = 2.291  # kg of P2O5 in a kg of P, RB209, 2023


def need(crop, goal, residue=None):
    season = Season(crop, goal, "t/ha", residue)
    return need_curve(PRINTED, [season], pool=False, build_up=True)


@pytest.mark.parametrize(
    ("crop", "residue", "less"),
    [
        ("winter-wheat", None, 0),
        ("winter-barley", "removed", 0),
        ("winter-barley", "left", 4),
    ],
)
def test_rates(crop, residue, less):
    """36, 28, 20 and 0 units an acre at Index 1 to 4, 4 less where straw is left."""
    kilograms = [max(units - less, 0) * 1.25 for units in UNITS]

    found = need(crop, 6.5, residue).in_unit([2.0, 5.0, 8.0, 15.0])

    assert found == pytest.approx(P2O5_IN_P * np.array(kilograms), rel=2e-4)


def test_index_2():
    """Winter wheat at Index 2 gets 28 units, 35 kg of P, 80 kg of P2O5 a hectare."""
    assert round(float(need("winter-wheat", 6.5).in_unit(5.0))) == 80
    assert PRINTED.crops["winter-wheat"].either.rates.values == (45, 35, 25, 0)


@pytest.mark.parametrize(
    ("soil_test", "word"),
    [
        (0.0, "Index 1"),
        (3.0, "Index 1"),
        (3.1, "Index 2"),
        (6.0, "Index 2"),
        (6.1, "Index 3"),
        (10.0, "Index 3"),
        (10.1, "Index 4"),
    ],
)
def test_index(soil_test, word):
    """Tillage: 0–3.0, 3.1–6.0, 6.1–10.0 and above 10.0 mg/L of Morgan's P (read)."""
    assert need("winter-wheat", 6.5).word(soil_test) == word
    assert PRINTED.classes.uppers == (3.0, 6.0, 10.0)
    # Target: Index 3.
    assert PRINTED.target.value == 6.1


@pytest.mark.parametrize(
    ("asked", "soil_test", "phosphorus"),
    [
        # 35 + (9 − 6.5) × 3.8
        (("winter-wheat", 9.0), 5.0, 44.5),
        # 25 + (9 − 6.5) × 3.8
        (("winter-wheat", 9.0), 8.0, 34.5),
        # 45 − (6.5 − 5) × 3.8
        (("winter-wheat", 5.0), 2.0, 39.3),
        (("winter-wheat", 9.0), 15.0, 0.0),
        # 35 and 30 + (8 − 6.5) × 3.8
        (("winter-barley", 8.0, "removed"), 5.0, 40.7),
        (("winter-barley", 8.0, "left"), 5.0, 35.7),
    ],
)
def test_yield(asked, soil_test, phosphorus):
    """3.8 kg of P a tonne (read) from 6.5 t/ha (from memory), up to Index 3."""
    found = need(*asked).in_unit(soil_test)

    assert found == pytest.approx(P2O5_IN_P * phosphorus, rel=2e-4)


def test_ledger():
    """P, the element, and P2O5 stand on lines of their own and are never confused."""
    wheat = Season("winter-wheat", 9.0, "t/ha")

    lines = ledger(PRINTED, [wheat], 5.0, pool=False, build_up=True)

    assert [(line.step, line.arithmetic, line.unit) for line in lines] == [
        ("class", "5 mg/L → Index 2", ""),
        ("printed rate", "Winter wheat, Index 2: 35", "kg P/ha"),
        ("yield adjustment", "(9 − 6.5) × 3.8 = 9.5", "kg P/ha"),
        ("need as P, the element", "35 + 9.5 = 44.5", "kg P/ha"),
        ("need at the zone's test", "44.5 × 2.291325 = 101.964", "kg P2O5/ha"),
    ]
    assert lines[-1].value == pytest.approx(
        need("winter-wheat", 9.0).in_unit(5.0), rel=1e-6
    )
    assert (PRINTED.printed_unit, PRINTED.p2o5_unit) == ("kg P/ha", "kg P2O5/ha")


@pytest.mark.parametrize(
    ("ph", "word", "many"),
    [([7.0, 6.9], "Index 4", 1), ([6.9], "Index 4", 0), ([7.5], "Index 3", 0)],
)
def test_high_ph(ph, word, many):
    """At Index 4 and pH 7.0 or more 20 kg of P a hectare may be given (read)."""
    found = ph_rules(PRINTED, "winter-wheat", ph, word=word, zone=1)

    assert len(found) == many
    for one in found:
        assert (one.severity, one.value, one.bound) == ("note", 7.0, 7.0)
        assert one.message.startswith(
            "zone 1: 1 of 2 samples have a pH of 7.0 or more: the guideline gives "
            "winter-wheat 20 kg P/ha, although"
        )


def test_ph_of_another_crop():
    """A rule is for its crops only, and a pH that is missing brings none in."""
    assert ph_rules(PRINTED, "oats", [7.5], word="Index 4", zone=1) == ()
    assert ph_rules(PRINTED, "winter-wheat", [np.nan], word="Index 4", zone=1) == ()


def test_status():
    """The Index was read; rates agree with units that were; the yield is remembered."""
    used = figures(PRINTED, [Season("winter-wheat", 9.0, "t/ha")])

    assert {one.name: one.source.status for one in used} == {
        "classes": "read",
        "critical level": "our-choice",
        "depth": "from-memory",
        "winter-wheat, rates": "agrees",
        "winter-wheat, printed yield": "from-memory",
        "winter-wheat, offtake": "read",
        "yield adjustment": "agrees",
    }
    assert str(PRINTED.soil_test.depth) == "10 cm"
    assert PRINTED.crops["winter-wheat"].also == ("wheat",)
    assert need("winter-wheat", 6.5).critical == 6.0
