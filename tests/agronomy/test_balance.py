"""What a season's harvest takes, and the running balance."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vrp.agronomy.balance import Taken, removal, running
from vrp.agronomy.guidelines import parse, shipped
from vrp.agronomy.need import Season
from vrp.agronomy.removal import find
from vrp.errors import GuidelineError
from vrp.evidence import LedgerLine, Source
from vrp.units import LB_AC

PLAIN = Taken()


def taken(season, *, guideline="rb209-2023", chosen=None, of=PLAIN):
    """Return the removal of a season by a guideline that ships."""
    return removal(
        shipped()[guideline], season, own_set=guideline, chosen=chosen, taken=of
    )


def wheat(goal, residue="removed"):
    return Season("winter-wheat", goal, "t/ha", residue)


def test_corn_by_the_guideline():
    """200 bu take 200 × 0.35 = 70 lb/ac, the guideline's own figure."""
    found = taken(Season("corn-grain", 200.0, "bu/ac"), guideline="tri-state-2020")
    assert (found.value, found.unit) == (pytest.approx(70.0), "lb P2O5/ac")
    assert [line.arithmetic for line in found.lines] == ["200 × 0.35 = 70.0"]


def test_straw_by_the_grain():
    """10 t/ha of wheat with the straw gone take 70 kg (RB209, Example 4.6)."""
    found = taken(wheat(10.0))
    assert found.value == pytest.approx(70.0)
    assert not found.straw_left_out
    assert taken(wheat(10.0, "left")).value == pytest.approx(65.0)


def test_straw_that_a_guideline_does_not_count():
    """Ireland prints 3.8 kg P a tonne for straw left and removed: straw is left out."""
    barley = Season("winter-barley", 7.5, "t/ha", "removed")

    found = taken(barley, guideline="ireland-2016")

    # 7.5 × 3.8 kg of P × 2.291325.
    assert found.value == pytest.approx(65.303, abs=0.001)
    assert found.straw_left_out


@pytest.mark.parametrize(
    ("goal", "straw", "grain", "of_straw"), [(6, 3, 39, 4), (12, 6, 78, 7)]
)
def test_straw_by_its_own_yield(goal, straw, grain, of_straw):
    """6 t/ha take 39 in grain and 4 in 3 t of straw (RB209, Example 1.4, rounded)."""
    found = taken(wheat(float(goal)), of=Taken(straw_yield=float(straw)))
    one, two = (line.value for line in found.lines)
    assert one == pytest.approx(grain)
    assert two == pytest.approx(straw * 1.2)
    assert two == pytest.approx(of_straw, abs=0.5)
    assert found.value == pytest.approx(one + two)


def test_measured_grain():
    """10 t/ha of wheat with 0.45 % P take 88 kg (RB209, Example 4.7), straw aside."""
    found = taken(wheat(10.0, "left"), of=Taken(grain_p=(0.45, 85.0)))
    assert found.value == pytest.approx(88.0, abs=0.5)
    assert found.lines[0].source.status == "given"


def test_measured_grain_in_bushels():
    """200 bu of 56 lb, 85 % dry, 0.30 % P: 28.56 lb of P, 65.4 of P2O5."""
    found = taken(
        Season("corn-grain", 200.0, "bu/ac"),
        guideline="tri-state-2020",
        of=Taken(grain_p=(0.30, 85.0)),
    )
    assert found.value == pytest.approx(28.56 * 2.2914, abs=0.01)


def test_another_set():
    """200 bu by the Illinois figure of 2019 take 200 × 0.37 = 74 lb/ac."""
    found = taken(
        Season("corn-grain", 200.0, "bu/ac"),
        guideline="tri-state-2020",
        chosen="illinois-2019",
    )
    assert found.value == pytest.approx(74.0)
    assert not found.from_elsewhere
    assert found.lines[0].source.status == "read"


def test_range_gives_its_middle():
    """Ontario prints 0.37 to 0.44, so 100 bu take 40.5 lb/ac, and it is said."""
    found = taken(
        Season("corn-grain", 100.0, "bu/ac"),
        guideline="ontario-811",
        chosen="ontario-2025",
    )
    assert found.value == pytest.approx(40.5)
    assert "the middle of 0.37–0.44 lb P2O5/bu" in found.lines[0].rule


def test_set_without_the_crop():
    """Where the set lacks the crop the guideline's figure stands, and it is told."""
    found = taken(
        Season("soybean", 60.0, "bu/ac"),
        guideline="tri-state-2020",
        chosen="minnesota-2022",
    )
    assert (found.value, found.from_elsewhere) == (pytest.approx(48.0), True)


def test_table_without_removal():
    """A table of rates by class prints no removal: nothing is assumed."""
    season = Season("corn-grain", 200.0, "bu/ac")
    assert taken(season, guideline="ontario-811") is None


def test_straw_left_out():
    """Residue removed counts for nothing where no straw yield is given."""
    season = Season("wheat", 80.0, "bu/ac", "removed")
    found = taken(season, guideline="tri-state-2020")
    assert (found.value, found.straw_left_out) == (pytest.approx(40.0), True)
    # 1.5 ton × 3.7 lb of straw beside it.
    counted = taken(season, guideline="tri-state-2020", of=Taken(straw_yield=1.5))
    assert counted.value == pytest.approx(40.0 + 5.55)
    assert not counted.straw_left_out


def test_straw_of_a_set_without_grain():
    """A set of stover alone gives the stover: 200 × 0.35 + 1.8 ton × 4.8 = 78.64 lb."""
    found = taken(
        Season("corn-grain", 200.0, "bu/ac", "removed"),
        guideline="tri-state-2020",
        chosen="iowa-stover",
        of=Taken(straw_yield=1.8),
    )
    assert found.value == pytest.approx(78.64)
    assert found.from_elsewhere


def test_straw_that_stays():
    """Straw that is left takes nothing away."""
    found = taken(wheat(6.0, "left"), of=Taken(straw_yield=3.0))
    assert found.value == pytest.approx(39.0)


def test_silage_with_more_water():
    """Iowa's 3.5 lb a ton at 65 % are 3.2 at 68 %: 20 ton take 64 lb/ac."""
    silage = Season("corn-silage", 20.0, "ton/ac")
    guideline = next(
        key for key, one in shipped().items() if "corn-silage" in one.crops
    )
    found = taken(
        silage, guideline=guideline, chosen="iowa-pm1688", of=Taken(moisture=68.0)
    )
    assert found.value == pytest.approx(64.0)


def test_moisture_without_its_own():
    """A figure printed without its moisture is not moved to another."""
    season = Season("corn-grain", 200.0, "bu/ac")
    with pytest.raises(GuidelineError, match="printed without its moisture"):
        taken(
            season,
            guideline="tri-state-2020",
            chosen="illinois-2019",
            of=Taken(moisture=20.0),
        )


def test_moisture_by_the_guideline():
    """A guideline's figure has no moisture to start from: it is not passed over."""
    with pytest.raises(GuidelineError, match=r"prints its 0\.35 lb P2O5/bu without a"):
        taken(
            Season("corn-grain", 200.0, "bu/ac"),
            guideline="tri-state-2020",
            of=Taken(moisture=20.0),
        )


def test_unknown_set():
    """A set that does not ship is refused."""
    with pytest.raises(GuidelineError, match="no set of removal figures 'mine'"):
        taken(wheat(8.0), chosen="mine")


@given(st.floats(1.0, 20.0))
def test_units_agree(goal):
    """The same harvest takes the same in pounds an acre as in kilograms a hectare."""
    bushels = goal * 1000.0 / (60 * 0.45359237) * 0.40468564224
    metric = taken(Season("winter-wheat", goal, "t/ha", "left"))
    us = taken(Season("winter-wheat", bushels, "bu/ac", "left"))
    # The figure for a bushel is rounded to four decimals, as it is shown.
    assert us.value * LB_AC == pytest.approx(metric.value, rel=2e-4)


@given(
    st.lists(st.tuples(st.floats(0, 300), st.floats(0, 300)), min_size=1, max_size=6)
)
def test_balance_is_summed(seasons):
    """After each season it is the sum of applied less removed."""
    applied, removed = zip(*seasons, strict=True)
    for number, left in enumerate(running(applied, removed), start=1):
        total = sum(applied[:number]) - sum(removed[:number])
        assert left == pytest.approx(total, abs=0.0501)


@pytest.mark.parametrize(
    ("season", "guideline", "grain_p", "arithmetic", "value", "unit"),
    [
        # 10,000 × 0.85 × 0.0045 = 38.25 kg of P, × 141.943 / 61.948.
        (
            wheat(10.0, "left"),
            "rb209-2023",
            (0.45, 85.0),
            "10 × 1000 × 0.85 × 0.0045 × 2.291325 = 87.6",
            87.6432,
            "kg P2O5/ha",
        ),
        # 11,200 × 0.85 × 0.003 = 28.56 lb of P.
        (
            Season("corn-grain", 200.0, "bu/ac"),
            "tri-state-2020",
            (0.30, 85.0),
            "200 × 56 × 0.85 × 0.003 × 2.291325 = 65.4",
            65.4402,
            "lb P2O5/ac",
        ),
        # 40,000 × 0.35 × 0.002 = 28 lb of P.
        (
            Season("corn-silage", 20.0, "ton/ac"),
            "tri-state-2020",
            (0.20, 35.0),
            "20 × 2000 × 0.35 × 0.002 × 2.291325 = 64.2",
            64.1571,
            "lb P2O5/ac",
        ),
    ],
)
def test_measured_is_told(season, guideline, *, grain_p, arithmetic, value, unit):
    """Yield, weight, dry matter, P and P2O5 in it are multiplied in sight."""
    found = taken(season, guideline=guideline, of=Taken(grain_p=grain_p))

    assert found.unit == unit
    assert found.lines == (
        LedgerLine(
            "removal",
            arithmetic,
            pytest.approx(value, abs=5e-5),
            unit,
            "yield goal × dry matter × P in it × P2O5 in P",
            Source("given", "field file: grain_p"),
        ),
    )


@pytest.mark.parametrize(
    ("season", "chosen", "of", "arithmetic", "value", "unit", "rule"),
    [
        (
            Season("corn-grain", 200.0, "bu/ac"),
            None,
            PLAIN,
            "200 × 0.35 = 70.0",
            70.0,
            "lb P2O5/ac",
            "yield goal × removal, lb P2O5/bu",
        ),
        # 0.35 lb in 56 lb are 6.25 kg in a tonne.
        (
            Season("corn-grain", 12.5, "t/ha"),
            None,
            PLAIN,
            "12.5 × 6.25 = 78.125",
            78.125,
            "kg P2O5/ha",
            "yield goal × removal, kg P2O5/t; that is 0.35 lb P2O5/bu",
        ),
        # (0.37 + 0.44) / 2 = 0.405.
        (
            Season("corn-grain", 100.0, "bu/ac"),
            "ontario-2025",
            PLAIN,
            "100 × 0.405 = 40.5",
            40.5,
            "lb P2O5/ac",
            "yield goal × removal, lb P2O5/bu; the middle of 0.37–0.44 lb P2O5/bu",
        ),
        (
            Season("corn-grain", 200.0, "bu/ac"),
            "illinois-2019",
            PLAIN,
            "200 × 0.37 = 74.0",
            74.0,
            "lb P2O5/ac",
            "yield goal × removal, lb P2O5/bu",
        ),
        # 3.5 × 32 / 35 = 3.2.
        (
            Season("corn-silage", 20.0, "ton/ac"),
            "iowa-pm1688",
            Taken(moisture=68.0),
            "20 × 3.2 = 64.0",
            64.0,
            "lb P2O5/ac",
            "yield goal × removal, lb P2O5/ton; 3.5 at 65 % moisture is 3.2 at 68 %",
        ),
        # To four decimals of 43.333225.
        (
            Season("soybean", 3.25, "t/ha"),
            None,
            PLAIN,
            "3.25 × 13.3333 = 43.3332",
            43.333225,
            "kg P2O5/ha",
            "yield goal × removal, kg P2O5/t; that is 0.8 lb P2O5/bu",
        ),
        # 0.8 lb in 60 lb are 13.3333 kg in a tonne.
        (
            Season("soybean", 3.0, "t/ha"),
            None,
            PLAIN,
            "3 × 13.3333 = 39.9999",
            39.9999,
            "kg P2O5/ha",
            "yield goal × removal, kg P2O5/t; that is 0.8 lb P2O5/bu",
        ),
    ],
)
def test_printed_removal_is_told(season, chosen, *, of, arithmetic, value, unit, rule):
    """Yield goal × figure, its unit as printed, its range or its moisture."""
    found = taken(season, guideline="tri-state-2020", chosen=chosen, of=of)

    (line,) = found.lines
    assert found.unit == unit
    assert (line.step, line.arithmetic, line.unit, line.rule) == (
        "removal",
        arithmetic,
        unit,
        rule,
    )
    assert line.value == pytest.approx(value, rel=1e-9)
    assert not found.from_elsewhere
    assert not found.straw_left_out
    if chosen is None:
        crop = shipped()["tri-state-2020"].crops[season.crop]
        assert line.source == crop.removal.source
    else:
        assert line.source.where.startswith(f"{find(chosen).title}: ")


def test_straw_is_told():
    """3 t/ha of straw take 3 × 1.2 = 3.6 kg (RB209, Example 1.4, prints 4)."""
    found = taken(wheat(6.0), of=Taken(straw_yield=3.0))

    grain, straw = found.lines
    assert (grain.arithmetic, grain.unit) == ("6 × 6.5 = 39.0", "kg P2O5/ha")
    assert (straw.step, straw.arithmetic, straw.value, straw.unit) == (
        "removal in straw",
        "3 × 1.2 = 3.6",
        pytest.approx(3.6),
        "kg P2O5/ha",
    )
    assert straw.rule == "straw yield × removal in straw, kg P2O5/t"
    assert straw.source.where.startswith(f"{find('rb209-2023').title}: ")


def test_moisture_by_the_guideline_in_a_sentence():
    """The remedy stands beside what is missing."""
    with pytest.raises(GuidelineError) as refused:
        taken(
            Season("corn-grain", 200.0, "bu/ac"),
            guideline="tri-state-2020",
            of=Taken(moisture=20.0),
        )

    assert str(refused.value) == (
        "corn-grain: the guideline prints its 0.35 lb P2O5/bu without a moisture; "
        "leave "
        "the season's moisture out, or choose a set that prints one"
    )


def test_balance_to_a_tenth():
    """Seasons are summed before they are rounded, and nothing has no sign."""
    assert running([0.26, 0.26], [0.0, 0.0]) == (0.3, 0.5)
    (nothing,) = running([70.0], [70.01])
    assert str(nothing) == "0.0"
    with pytest.raises(ValueError, match="shorter"):
        running([70.0, 0.0], [70.0])


def test_straw_in_pounds_is_told():
    """1.8 ton of stover take 1.8 × 4.8 = 8.64 lb (Iowa State University Extension)."""
    found = taken(
        Season("corn-grain", 200.0, "bu/ac", "removed"),
        guideline="tri-state-2020",
        chosen="iowa-stover",
        of=Taken(straw_yield=1.8),
    )

    assert found.lines[1] == LedgerLine(
        "removal in straw",
        "1.8 × 4.8 = 8.64",
        pytest.approx(8.64),
        "lb P2O5/ac",
        "straw yield × removal in stover, lb P2O5/ton",
        Source(
            "read",
            f"{find('iowa-stover').title}: worked: 1.8 ton × 4.8 = 8.6 lb/ac",
        ),
    )


def test_straw_of_a_metric_set_in_pounds():
    """1.2 kg in a tonne of straw are 2.4 lb in a ton: 2.5 ton take 6.0 lb."""
    found = taken(
        Season("winter-wheat", 90.0, "bu/ac", "removed"), of=Taken(straw_yield=2.5)
    )

    assert found.unit == "lb P2O5/ac"
    assert found.lines[1].arithmetic == "2.5 × 2.4 = 6.0"
    # 6.5 kg in a tonne of 60 lb bushels: 0.39 lb.
    assert found.lines[0].arithmetic == "90 × 0.39 = 35.1"


OWN = (Path(__file__).parent / "own.toml").read_text("utf-8")


def test_bushel_of_the_guideline():
    """A guideline's own bushel of 50 lb counts: 0.37 lb in it are 7.4 kg in a tonne."""
    own = parse(OWN.replace("value = 56,", "value = 50,"), "own.toml")
    season = Season("corn", 10.0, "t/ha")

    found = removal(own, season, own_set="own", chosen=None, taken=PLAIN)
    measured = removal(
        own,
        Season("corn", 10.0, "bu/ac"),
        own_set="own",
        chosen=None,
        taken=Taken(grain_p=(0.3, 85.0)),
    )

    by_set = removal(own, season, own_set="own", chosen="illinois-2019", taken=PLAIN)

    assert found.lines[0].arithmetic == "10 × 7.4 = 74.0"
    assert by_set.lines[0].arithmetic == "10 × 7.4 = 74.0"
    assert measured.lines[0].arithmetic.startswith("10 × 50 × 0.85 × 0.003 × ")


def test_measured_without_a_bushel():
    """Bushels of a crop that nobody weighs in bushels are refused."""
    with pytest.raises(GuidelineError) as refused:
        taken(Season("fodder-beet", 300.0, "bu/ac"), of=Taken(grain_p=(0.2, 20.0)))

    assert str(refused.value) == "fodder-beet: no weight of a bushel is known"
