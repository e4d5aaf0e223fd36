"""
Its tables against print.

"Nutrient Management Guide (RB209)", Agriculture and Horticulture Development Board,
Sections 1, 3 and 4, 2023, and 5, 2021.
"""

from math import nextafter

import pytest

from vrp.agronomy.guidelines import shipped
from vrp.agronomy.need import Season, figures, ledger, need_curve
from vrp.errors import GuidelineError

RB209 = shipped()["rb209-2023"]

# Rates at Index 0, 1, 2, 3 and 4+ at the printed yield [t/ha], kg P2O5/ha.
# Section 4, Tables 4.13 and 4.14 (straw incorporated, straw removed), 4.27, 4.34, 4.36;
# Section 3, Tables 3.27 and 3.29 and that of forage maize; Section 5, Table 5.2.
PRINTED = [
    ("winter-wheat", 8.0, "left", [110, 80, 50, 0, 0]),
    ("winter-wheat", 8.0, "removed", [115, 85, 55, 0, 0]),
    ("winter-triticale", 8.0, "left", [125, 95, 65, 0, 0]),
    ("winter-triticale", 8.0, "removed", [130, 100, 70, 0, 0]),
    ("winter-barley", 6.5, "left", [110, 80, 50, 0, 0]),
    ("winter-barley", 6.5, "removed", [115, 85, 55, 0, 0]),
    ("spring-barley", 5.5, "left", [105, 75, 45, 0, 0]),
    ("spring-barley", 5.5, "removed", [105, 75, 45, 0, 0]),
    ("spring-wheat", 6.0, "left", [110, 80, 50, 0, 0]),
    ("spring-wheat", 6.0, "removed", [110, 80, 50, 0, 0]),
    ("spring-triticale-rye", 6.0, "left", [110, 80, 50, 0, 0]),
    ("spring-triticale-rye", 6.0, "removed", [110, 80, 50, 0, 0]),
    ("oats", 6.0, "left", [110, 80, 50, 0, 0]),
    ("oats", 6.0, "removed", [115, 85, 55, 0, 0]),
    ("winter-oilseed-rape", 3.5, "left", [110, 80, 50, 0, 0]),
    ("spring-oilseed-rape", 2.0, None, [90, 60, 30, 0, 0]),
    ("dried-peas", 4.0, None, [100, 70, 40, 0, 0]),
    ("field-beans", 3.5, None, [100, 70, 40, 0, 0]),
    ("sugar-beet", 60.0, None, [110, 80, 50, 0, 0]),
    ("wholecrop-cereals", 30.0, None, [115, 85, 55, 0, 0]),
    ("fodder-beet", 85.0, None, [120, 90, 60, 0, 0]),
    ("forage-swede-turnip", 65.0, None, [105, 75, 45, 0, 0]),
    ("forage-maize", 40.0, None, [115, 85, 55, 20, 0]),
    ("potatoes", 50.0, None, [250, 210, 170, 100, 0]),
]


def rb209(crop, goal, residue=None, unit="t/ha"):
    season = Season(crop, goal, unit, residue)
    return need_curve(RB209, [season], pool=False, build_up=True)


@pytest.mark.parametrize(("crop", "goal", "residue", "rates"), PRINTED)
def test_rb209_table(crop, goal, residue, rates):
    """Every cell comes out at the printed yield, at both ends of its Index."""
    need = rb209(crop, goal, residue)

    assert need.at([0, 10, 16, 26, 46]) == pytest.approx(rates)
    assert need.at([9, 15, 25, 45, 300]) == pytest.approx(rates)


# Offtake, kg P2O5 a tonne of fresh material: Sections 3 and 4; of swedes, turnips and
# maize a leaflet of the Potash Development Association, 2020. Potatoes: none.
OFFTAKE = {
    ("winter-wheat", "left"): 6.5,
    ("winter-wheat", "removed"): 7.0,
    ("winter-triticale", "left"): 8.0,
    ("winter-triticale", "removed"): 8.5,
    ("winter-barley", "left"): 8.0,
    ("winter-barley", "removed"): 8.5,
    ("spring-barley", "left"): 8.0,
    ("spring-barley", "removed"): 8.5,
    ("spring-wheat", "left"): 8.0,
    ("spring-wheat", "removed"): 8.5,
    ("spring-triticale-rye", "left"): 8.0,
    ("spring-triticale-rye", "removed"): 8.5,
    ("oats", "left"): 8.0,
    ("oats", "removed"): 9.0,
    ("winter-oilseed-rape", "left"): 14.0,
    ("spring-oilseed-rape", None): 14.0,
    ("dried-peas", None): 9.0,
    ("field-beans", None): 11.0,
    ("sugar-beet", None): 0.8,
    ("wholecrop-cereals", None): 1.8,
    ("fodder-beet", None): 0.7,
    ("forage-swede-turnip", None): 0.7,
    ("forage-maize", None): 1.4,
    ("potatoes", None): 0.0,
}


@pytest.mark.parametrize(("crop", "goal", "residue", "rates"), PRINTED)
def test_rb209_offtake(crop, goal, residue, rates):
    """A tonne more than printed adds the offtake up to Index 2, and nothing above."""
    assert RB209.crops[crop].printed_yield.value == goal
    found = rb209(crop, goal + 1.0, residue).at([0, 10, 16, 26, 46])

    added = OFFTAKE[crop, residue]
    assert found == pytest.approx([each + added for each in rates[:3]] + rates[3:])


def test_every_crop_is_checked():
    """No crop ships whose table is not held against print here."""
    assert {crop for crop, *_ in PRINTED} == set(RB209.crops)


def test_rb209_example_4_8():
    """Winter wheat, Index 1, 10 t/ha, straw incorporated: 80 + 2 × 6.5 = 93."""
    wheat = Season("winter-wheat", 10.0, "t/ha", "left")

    lines = ledger(RB209, [wheat], 12.0, pool=False, build_up=True)

    assert rb209("winter-wheat", 10.0, "left").at(12.0) == 93.0
    assert [(line.step, line.arithmetic, line.value) for line in lines] == [
        ("class", "12 mg/L → 12 → Index 1", 12.0),
        ("printed rate", "Winter wheat, Index 1: 80", 80.0),
        ("yield adjustment", "(10 − 8) × 6.5 = 13.0", 13.0),
        ("need at the zone's test", "80 + 13.0 = 93.0", 93.0),
    ]


def test_rb209_example_3_6():
    """Wholecrop cereals, Index 0, 30 t/ha: 115 (Table 3.27)."""
    assert rb209("wholecrop-cereals", 30.0).at(5.0) == 115.0


def test_rb209_example_4_6():
    """Winter wheat of 10 t/ha takes off 70 kg with grain and straw."""
    assert RB209.crops["winter-wheat"].removed.offtake.value * 10.0 == 70.0


@pytest.mark.parametrize(
    ("goal", "grain", "printed", "rate"), [(6.0, 39.0, 45.0, 41.0), (12, 78, 85, 83)]
)
def test_rb209_example_1_4(goal, grain, printed, rate):
    """
    Example 1.4 is offtake rounded to 5 kg, not a rate of the tables.

    It adds grain at 6.5 kg/t and straw at 1.2 kg/t; the rate is the rounded table value
    and the adjustment at 7.0 kg/t, 55 + (yield − 8) × 7.0, as in Section 4.
    """
    assert RB209.crops["winter-wheat"].left.offtake.value * goal == grain
    assert rb209("winter-wheat", goal, "removed").at(20.0) == rate != printed


@pytest.mark.parametrize(
    ("soil_test", "word"),
    [
        (0.0, "Index 0"),
        (9.49, "Index 0"),
        (9.5, "Index 1"),
        (nextafter(15.5, 0.0), "Index 1"),
        (15.5, "Index 2"),
        (15.6, "Index 2"),
        (nextafter(25.5, 0.0), "Index 2"),
        (25.5, "Index 3"),
        (45.4, "Index 3"),
        (45.5, "Index 4+"),
        (200.0, "Index 4+"),
    ],
)
def test_rb209_decimals(soil_test, word):
    """A decimal is rounded half up to a whole number, then classed (our choice)."""
    need = rb209("winter-wheat", 8.0, "left")

    assert need.word(soil_test) == word
    assert RB209.soil_test.rounding.source.status == "our-choice"


def test_rb209_zero_stays_zero():
    """Where the table prints 0, no yield lifts it."""
    assert rb209("winter-wheat", 14.0, "left").at([30.0, 60.0]).tolist() == [0, 0]


def test_rb209_never_below_zero():
    """A small yield takes the rate to 0 and no further: 50 + (0.2 − 8) × 6.5 < 0."""
    assert rb209("winter-wheat", 0.2, "left").at(20.0) == 0.0


def test_rb209_potatoes():
    """Potatoes answer the crop's response: no yield changes the rate (Section 5)."""
    assert rb209("potatoes", 80.0).at([5, 12, 20, 30, 50]).tolist() == [
        250,
        210,
        170,
        100,
        0,
    ]
    steps = [
        line.step
        for line in ledger(
            RB209, [Season("potatoes", 80.0, "t/ha")], 12.0, pool=False, build_up=True
        )
    ]
    assert "yield adjustment" not in steps


def test_rb209_maize_above_target():
    """Maize at Index 3 gets 20 as printed, and never more than at Index 2."""
    assert rb209("forage-maize", 50.0).at([20.0, 30.0]).tolist() == [69.0, 20.0]
    # 55 + (10 − 40) × 1.4 = 13
    assert rb209("forage-maize", 10.0).at([20.0, 30.0]) == pytest.approx([13.0, 13.0])


def test_rb209_levels():
    """The target Index begins at 16 mg/L, 15.5 before rounding; wheat ends above it."""
    wheat, maize = rb209("winter-wheat", 8.0, "left"), rb209("forage-maize", 40.0)

    assert (wheat.critical, wheat.critical_source.status) == (15.5, "our-choice")
    assert (wheat.no_need_above, maize.no_need_above) == (25.5, 45.5)
    assert (wheat.closed, wheat.soil_test_unit) == ("left", "mg/L")
    assert wheat.edges[:-1] == (9.5, 15.5, 25.5, 45.5)
    assert str(RB209.target) == "16 mg/L"


@pytest.mark.parametrize(
    ("crop", "residue", "message"),
    [
        (
            "winter-wheat",
            None,
            'winter-wheat: .* say residue = "left" or residue = "re',
        ),
        ("winter-oilseed-rape", "removed", "no figure for residue removed; .* left"),
        ("sugar-beet", "removed", "sugar-beet: .* no figure for residue removed"),
    ],
)
def test_rb209_residue(crop, residue, message):
    """Residue is asked for where it counts, and refused where no figure is printed."""
    with pytest.raises(GuidelineError, match=message):
        rb209(crop, 5.0, residue)


def test_rb209_in_bushels():
    """100 bu/ac of wheat is 6.725 t/ha of 60 lb bushels: 80 − 1.275 × 6.5 = 71.7."""
    need = rb209("winter-wheat", 100.0, "left", unit="bu/ac")

    assert need.at(12.0) == pytest.approx(71.71, abs=0.01)


def test_ledger_with_less_yield():
    """A smaller yield is shown as taken off."""
    season = Season("winter-wheat", 7.0, "t/ha", "removed")

    lines = ledger(RB209, [season, season], 20.4, pool=True, build_up=True)

    assert [line.arithmetic for line in lines] == [
        "20.4 mg/L → 20 → Index 2",
        "Winter wheat, Index 2: 55",
        "(7 − 8) × 7 = −7.0",
        "winter-wheat: not added",
        "55 − 7.0 = 48.0",
    ]
    assert lines[1].rule == "printed for 8 t/ha, residue removed"


@pytest.mark.parametrize("soil_test", [0.0, 9.5, 15.49, 25.0, 26.0, 60.0])
@pytest.mark.parametrize(("crop", "goal", "residue", "rates"), PRINTED)
def test_ledger_ends_with_the_need(crop, goal, residue, rates, soil_test):
    """The last line is the need of the curve."""
    season = Season(crop, 1.1 * goal, "t/ha", residue)

    last = ledger(RB209, [season], soil_test, pool=False, build_up=True)[-1]

    assert last.value == pytest.approx(rb209(crop, 1.1 * goal, residue).at(soil_test))
    assert last.unit == "kg P2O5/ha"


def test_figures():
    """Maize's printed yield is from memory; wheat's figures were read."""
    maize = figures(RB209, [Season("forage-maize", 40.0, "t/ha")])
    wheat = figures(RB209, [Season("winter-wheat", 8.0, "t/ha", "left")])

    assert {one.name for one in maize if one.source.status == "from-memory"} == {
        "forage-maize, printed yield"
    }
    assert {one.source.status for one in wheat} == {"read", "our-choice", "agrees"}
    assert [one.name for one in wheat if one.source.status == "agrees"] == ["depth"]


def test_surplus_of_potatoes():
    """A surplus over offtake counts at Index 2 or 3, not at 0 or 1 (Section 5)."""
    surplus = RB209.surplus

    assert surplus.crops == ("potatoes",)
    assert surplus.classes == ("Index 2", "Index 3")
    assert surplus.source.status == "read"


def test_other_names():
    """A comparison finds winter wheat as wheat, forage maize as corn silage."""
    assert RB209.crops["winter-wheat"].also == ("wheat",)
    assert RB209.crops["forage-maize"].also == ("corn-silage",)
