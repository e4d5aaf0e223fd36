"""Needs side by side against hand arithmetic, in published units and converted."""

from dataclasses import replace
from pathlib import Path

import pytest

from vrp.agronomy.comparison import alone, compare, usual_yield
from vrp.agronomy.guidelines import parse, shipped
from vrp.errors import InputError

SHIPPED = shipped()
TRI_STATE = {"tri-state-2020": SHIPPED["tri-state-2020"]}
RB209 = {"rb209-2023": SHIPPED["rb209-2023"]}
OWN = (Path(__file__).parent / "own.toml").read_text("utf-8")


def own(*changes):
    """Return the tests' own guideline with parts of its text replaced."""
    text = OWN
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    return parse(text, "own")


def columns(comparison):
    return [one for block in comparison.blocks for one in block.columns]


def corn(**options):
    (one,) = columns(
        compare(TRI_STATE, "corn-grain", yield_goal=200, system="us", **options)
    )
    return one


@pytest.mark.parametrize(
    ("soil_test", "need"),
    [(0, 170), (10, 120), (12.5, 107.5), (20, 70), (35, 70), (45, 0)],
)
def test_tri_state_corn(soil_test, need):
    """200 × 0.35 = 70 lb, and below 20 ppm 5 lb more a ppm that is lacking, by hand."""
    assert corn().need(soil_test).at == pytest.approx(need)


def test_a_step_has_two_sides():
    """At 40 ppm exactly Bulletin 974 still maintains with 70 lb, above it it is 0."""
    need = corn().need(40.0)

    assert (need.below, need.at, need.above) == (70.0, 70.0, 0.0)
    assert need.steps
    assert not corn().need(20.0).steps


@pytest.mark.parametrize(
    ("residue", "index_0", "index_1"), [("left", 110, 80), ("removed", 115, 85)]
)
def test_rb209_winter_wheat(residue, index_0, index_1):
    """At the printed 8 t/ha the needs are those of Tables 4.13 and 4.14."""
    found = compare(
        RB209, "winter-wheat", yield_goal=8, system="metric", residue=residue
    )
    (one,) = columns(found)

    assert found.unit == "kg/ha"
    assert found.blocks[0].unit == "mg/L"
    assert one.need(5.0).at == index_0
    assert one.need(12.0).at == index_1
    # Whole mg/L, rounded half up: 9.5 is 10, which is Index 1.
    step = one.need(9.5)
    assert (step.below, step.at, step.above) == (index_0, index_1, index_1)


def test_conversion_of_a_rate():
    """Potatoes at Index 1: 210 kg/ha × 0.40468564 / 0.45359237 = 187.36 lb/ac."""
    found = compare(RB209, "potatoes", yield_goal=20, system="us")
    (one,) = columns(found)

    assert (found.unit, found.yield_unit) == ("lb/ac", "ton/ac")
    assert one.need(12.0).at == pytest.approx(187.36, abs=0.005)


def test_conversion_of_a_yield_goal():
    """
    Bushels become t/ha, and the need of the yield lb/ac, each once.

    119 bu/ac × 60 lb × 0.45359237 / 0.40468564 = 8,002.9 kg/ha, 8.003 t/ha; Index 1 is
    80 + 0.003 × 6.5 = 80.0195 kg/ha, which × 0.892179 is 71.392 lb/ac.
    """
    found = compare(RB209, "winter-wheat", yield_goal=119, system="us", residue="left")
    (one,) = columns(found)

    assert one.yield_goal == 8.003
    assert one.need(12.0).at == pytest.approx(71.392, abs=0.001)


def test_own_unit_is_not_converted():
    """A guideline in the unit that is asked for keeps its printed figures exactly."""
    (one,) = columns(compare(RB209, "potatoes", yield_goal=50, system="metric"))

    assert one.factor == 1.0
    assert [one.need(at).at for at in (5, 12, 20, 30, 50)] == [250, 210, 170, 100, 0]


def test_rows():
    """Rows stand every 5, and at each edge of a guideline, to one beyond the last."""
    (block,) = compare(
        RB209, "winter-wheat", yield_goal=8, system="metric", residue="left"
    ).blocks

    # Above 25.5 mg/L nothing is needed, so that 45.5, the next edge, changes nothing.
    assert block.soil_tests == (0, 5, 9.5, 10, 15, 15.5, 20, 25, 25.5, 30)


def test_methods_stand_apart():
    """Without a method each method has its own block; mg/L and ppm never share one."""
    ppm = own(("mehlich-3-icp =", "olsen ="), ("[crops.corn]", "[crops.winter-wheat]"))
    found = compare(
        {**RB209, "own": ppm}, "winter-wheat", yield_goal=8, system="metric"
    )

    assert [(block.method, block.unit) for block in found.blocks] == [
        ("olsen", "mg/L"),
        ("olsen", "ppm"),
    ]


def test_who_is_left_out():
    """With a method, those that take another are named with it; then those without."""
    found = compare(
        SHIPPED, "corn-grain", yield_goal=200, system="us", method="mehlich-3-icp"
    )

    assert {one.name for one in columns(found)} >= {"tri-state-2020"}
    assert found.other_methods["ontario-811"] == ("olsen",)
    assert "rb209-2023" in found.lacking
    named = {one.name for one in columns(found)} | set(found.refused)
    assert sorted([*named, *found.other_methods, *found.lacking]) == sorted(SHIPPED)


def test_residue_has_a_column_each():
    """Without a fate of the residue both columns stand, where they are told apart."""
    found = compare(RB209, "winter-wheat", yield_goal=8, system="metric")
    either = compare(RB209, "potatoes", yield_goal=50, system="metric", residue="left")

    assert [one.season.residue for one in columns(found)] == ["left", "removed"]
    assert [one.season.residue for one in columns(either)] == [None]


def test_fate_without_figures():
    """A fate that a guideline has no row for is refused in its words."""
    with pytest.raises(InputError, match="no figure for residue removed"):
        compare(RB209, "sugar-beet", yield_goal=60, system="metric", residue="removed")


LEVEL = '{{ value = {}, unit = "ppm", source = {{ status = "read", where = "x" }} }}'


def with_regions():
    """Return the tests' own guideline with two regions and no levels of a crop."""
    levels = "".join(
        f'[regions.{name.lower()}]\nname = "{name}"\n'
        f"critical = {LEVEL.format(critical)}\nlimit = {LEVEL.format(limit)}\n"
        for name, critical, limit in (("Low", 25, 50), ("High", 20, 40))
    )
    return own(
        ("critical = { value = 20,", "# "),
        ("limit = { value = 50,", "# "),
        ("[pooling]", f"{levels}\n[pooling]"),
    )


def test_regions_have_a_column_each():
    """100 bu × 0.37 = 37 lb; at 10 ppm 15 × 5 = 75 are lacking here, 10 × 5 there."""
    guideline = with_regions()
    found = compare({"own": guideline}, "corn", yield_goal=100, system="us")
    low = compare({"own": guideline}, "corn", yield_goal=100, system="us", region="low")

    assert {one.region: one.need(10.0).at for one in columns(found)} == {
        "low": 112.0,
        "high": 87.0,
    }
    assert [one.region for one in columns(low)] == ["low"]


def test_region_is_for_guidelines_with_regions():
    """A region is refused where no guideline of the crop has any."""
    with pytest.raises(InputError, match="no guideline that has corn-grain tells reg"):
        corn(region="low")


def test_a_guideline_with_two_times_to_build_up():
    """A whole build-up of 20 lb a ppm over 4 and 8 years: at 10 ppm 50 and 25 lb."""
    years = (
        '{ values = [4, 8], unit = "years", source = { status = "read", where = "x" } }'
    )
    guideline = own(
        ("value = 5,", "value = 20,"),
        ("\n[pooling]", f"build_up_years = {years}\n[pooling]"),
    )
    found = compare({"own": guideline}, "corn", yield_goal=100, system="us")

    assert {one.years: one.need(10.0).at for one in columns(found)} == {
        4: 87.0,
        8: 62.0,
    }


def test_soil_test_in_lb_stands_as_ppm():
    """40 lb/ac is 20 ppm: levels and build-up for a lb/ac give the same line."""
    guideline = own(
        ('"lb P2O5/ac per ppm"', '"lb P2O5/ac per lb/ac"'),
        ('unit = "ppm"', 'unit = "lb/ac"'),
        ("value = 5,", "value = 2.5,"),
        ("value = 20,", "value = 40,"),
        ("value = 50,", "value = 100,"),
    )
    found = compare({"a": own(), "b": guideline}, "corn", yield_goal=100, system="us")

    (block,) = found.blocks
    assert block.unit == "ppm"
    first, second = block.columns
    assert first.edges == second.edges == (20.0, 50.0)
    assert first.stretches(60.0) == second.stretches(60.0)
    assert second.need(10.0).at == 87.0


def test_another_id_of_a_crop():
    """A crop that goes by another id too is found by it."""
    guideline = own(('name = "Corn"', 'name = "Corn"\nalso = ["corn-grain"]'))

    found = compare(
        {**TRI_STATE, "own": guideline}, "corn-grain", yield_goal=200, system="us"
    )

    assert [(one.name, one.season.crop) for one in columns(found)] == [
        ("tri-state-2020", "corn-grain"),
        ("own", "corn"),
    ]


def test_bushels_without_a_weight():
    """A guideline without the weight of a bushel is left out, with the reason."""
    guideline = parse(
        OWN.replace("bu/ac", "ton/ac")
        .replace("P2O5/bu", "P2O5/ton")
        .replace("bushel =", "# bushel =")
        .replace("[crops.corn]", "[crops.corn-grain]"),
        "own",
    )

    found = compare(
        {**TRI_STATE, "own": guideline}, "corn-grain", yield_goal=200, system="us"
    )

    assert [one.name for one in columns(found)] == ["tri-state-2020"]
    assert "gives no weight of a bushel" in found.refused["own"]


def test_what_was_not_read():
    """Figures by status stand behind a column; our own choices alone mark none."""
    statuses = {one.name: one.source.status for one in corn().not_read}
    (ours,) = columns(compare({"own": own()}, "corn", yield_goal=100, system="us"))

    assert statuses["depth"] == "from-memory"
    assert statuses["corn-grain, removal"] == "agrees"
    assert statuses["method"] == "agrees"
    assert corn().marked
    assert {one.source.status for one in ours.not_read} == {"our-choice"}
    assert not ours.marked


def test_implausible_yield():
    """A goal outside the plausible yields of a guideline, 60 to 320 bu, is told."""
    (one,) = columns(compare(TRI_STATE, "corn-grain", yield_goal=400, system="us"))

    assert corn().plausible
    assert not one.plausible


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"crop": "corn-gran"}, "none of the guidelines, did you mean 'corn-grain'"),
        ({"crop": "zzz"}, "the crops are alfalfa, "),
        ({"method": "mehlich-3-ipc"}, "did you mean 'mehlich-3-icp'"),
        ({"method": "morgan"}, "no guideline that has corn-grain takes morgan"),
        ({"yield_goal": 0.0}, "yield goal of 0 must be above 0"),
        ({"yield_goal": float("nan")}, "yield goal of nan must be above 0"),
        ({"yield_goal": float("inf")}, "yield goal of inf must be above 0"),
    ],
)
def test_refusals(options, message):
    """What is not known is refused with the nearest that is."""
    asked = {"crop": "corn-grain", "yield_goal": 200.0, "system": "us"} | options

    with pytest.raises(InputError, match=message):
        compare(TRI_STATE, asked.pop("crop"), **asked)


def test_stretches():
    """The line of corn runs from 170 to 70 at 20, level to 40, and then at 0."""
    assert corn().stretches(45.0) == (
        ((0.0, 170.0), (20.0, 70.0), (40.0, 70.0)),
        ((40.0, 0.0), (45.0, 0.0)),
    )


def test_alone_by_the_guidelines_own_units():
    """One guideline is shown at its printed yield, else amid the plausible ones."""
    wheat = alone("rb209-2023", RB209["rb209-2023"], "winter-wheat")
    grain = alone("tri-state-2020", TRI_STATE["tri-state-2020"], "corn-grain")

    assert [(one.season.yield_goal, one.rate) for one in wheat] == [(8, "kg/ha")] * 2
    # (60 + 320) / 2 = 190 bu, 190 × 0.35 = 66.5 lb
    assert [one.need(30.0).at for one in grain] == [66.5]
    crops = RB209["rb209-2023"].crops
    assert usual_yield(crops["winter-wheat"]) == (8.0, "the printed yield")


def test_alone_in_other_units():
    """8 t/ha asked for in metric, 66.5 lb/ac × 1.12085 = 74.54 kg/ha at 30 ppm."""
    (one,) = alone(
        "tri-state-2020",
        TRI_STATE["tri-state-2020"],
        "corn-grain",
        # 190 bu × 56 lb × 0.45359237 / 0.40468564 / 1000 = 11.926 t/ha
        yield_goal=11.926,
        system="metric",
    )

    assert one.yield_goal == pytest.approx(190.0, abs=0.01)
    assert one.need(30.0).at == pytest.approx(74.54, abs=0.01)


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"crop": "corn"}, "did you mean 'corn-grain'"),
        ({"method": "olsen"}, "method 'olsen' is not in .* it takes mehlich-3-icp"),
        ({"region": "low"}, "has no regions"),
        ({"yield_goal": -1.0}, "yield goal of -1 must be above 0"),
    ],
)
def test_refusals_of_one(options, message):
    """What the guideline does not know is refused with what it does."""
    asked = {"crop": "corn-grain"} | options

    with pytest.raises(InputError, match=message):
        alone("x", TRI_STATE["tri-state-2020"], asked.pop("crop"), **asked)


def test_alone_with_a_unit_of_need_only():
    """Without a goal the printed 8 t/ha stand, also where lb/ac are asked for."""
    found = alone("x", RB209["rb209-2023"], "winter-wheat", system="us", residue="left")

    (one,) = found
    assert (one.name, one.season.residue) == ("x", "left")
    assert (one.yield_goal, one.season.yield_unit, one.rate) == (8.0, "t/ha", "lb/ac")
    # 80 kg/ha × 0.892179 = 71.3743 lb/ac.
    assert one.need(12.0).at == pytest.approx(71.3743, abs=5e-5)


def test_alone_with_a_goal_only():
    """A goal without a system is in the guideline's own unit: 150 × 0.35 = 52.5."""
    (one,) = alone("x", TRI_STATE["tri-state-2020"], "corn-grain", yield_goal=150.0)

    assert one.need(30.0).at == 52.5
    assert alone("x", TRI_STATE["tri-state-2020"], "corn-grain", yield_goal=0.5)[
        0
    ].need(30.0).at == pytest.approx(0.175)


def test_alone_by_method_and_region():
    """Illinois is shown once for each method and region, or for those asked for."""
    illinois = SHIPPED["illinois-2009"]
    told = {(one.method, one.region) for one in alone("x", illinois, "corn-grain")}
    (one,) = alone("x", illinois, "corn-grain", method="bray-p1", region="high")

    methods, regions = ("bray-p1", "mehlich-3-colorimetric"), ("high", "medium", "low")
    assert told == {(method, region) for method in methods for region in regions}
    assert (one.method, one.region, one.unit) == ("bray-p1", "high", "lb/ac")


def test_usual_yield_is_told():
    """Which yield a need is shown for is said: (60 + 320) / 2 = 190."""
    crop = TRI_STATE["tri-state-2020"].crops["corn-grain"]

    assert usual_yield(crop) == (
        190.0,
        "the middle of the plausible yields, our choice",
    )


def test_rows_beyond_the_last_edge():
    """Every 5 ppm to 50, where the rows widen to 10; one row beyond the last edge."""
    found = compare({"own": own()}, "corn", yield_goal=100, system="us")

    assert found.blocks[0].soil_tests == (*range(0, 55, 5), 60)
    assert (found.crop, found.yield_goal) == ("corn", 100)


def test_bushels_come_first():
    """Where any guideline has bushels the goal is in them, whichever stands first."""
    tons = parse(
        OWN.replace("bu/ac", "ton/ac")
        .replace("P2O5/bu", "P2O5/ton")
        .replace("[crops.corn]", "[crops.corn-grain]"),
        "own",
    )

    found = compare(
        {"own": tons, **TRI_STATE}, "corn-grain", yield_goal=200, system="us"
    )

    assert found.yield_unit == "bu/ac"


def test_figures_behind_a_column():
    """None of the figures that are told was read, and the method is named."""
    assert {one.name: one.printed for one in corn().not_read}["method"] == (
        "mehlich-3-icp"
    )
    assert "read" not in {one.source.status for one in corn().not_read}
    assert corn().curve.pooling == ""


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (
            {"method": "mehlich-3-ipc"},
            "soil-test method 'mehlich-3-ipc' is not known, did you mean "
            "'mehlich-3-icp'; it is one of bray-p1, bray-p2, mehlich-3-icp, "
            "mehlich-3-colorimetric, olsen, morgan, modified-morgan",
        ),
        (
            {"method": "morgan"},
            "no guideline that has corn-grain takes morgan; those that have it take "
            "mehlich-3-icp, olsen",
        ),
    ],
)
def test_refusals_in_a_sentence(options, message):
    """Methods that there are, and that are taken, are listed."""
    two = {**TRI_STATE, "ontario-811": SHIPPED["ontario-811"]}

    with pytest.raises(InputError) as refused:
        compare(two, "corn-grain", yield_goal=200, system="us", **options)

    assert str(refused.value) == message


def test_methods_of_one_in_a_sentence():
    """The methods that a guideline takes are listed."""
    with pytest.raises(InputError) as refused:
        alone("x", SHIPPED["illinois-2009"], "corn-grain", method="olsen")

    assert str(refused.value) == (
        f"method 'olsen' is not in {SHIPPED['illinois-2009'].title!r}: it takes "
        "bray-p1, mehlich-3-colorimetric"
    )


def test_stretches_end_where_they_are_asked_to():
    """Edges beyond, and at the end itself, make no stretch; 0.5 ppm is an edge."""
    low = own(("value = 20,", "value = 0.5,"))
    (one,) = columns(compare({"a": low}, "corn", yield_goal=100, system="us"))

    # 37 + 0.5 × 5 = 39.5.
    assert one.stretches(50.0) == (((0.0, 39.5), (0.5, 37.0), (50.0, 37.0)),)
    assert one.stretches(60.0)[1] == ((50.0, 0.0), (60.0, 0.0))


def test_edges_of_half_a_unit():
    """41 lb/ac are 20.5 ppm, and an edge stands there."""
    guideline = own(
        ('"lb P2O5/ac per ppm"', '"lb P2O5/ac per lb/ac"'),
        ('unit = "ppm"', 'unit = "lb/ac"'),
        ("value = 5,", "value = 2.5,"),
        ("value = 20,", "value = 41,"),
        ("value = 50,", "value = 100,"),
    )
    (one,) = columns(compare({"a": guideline}, "corn", yield_goal=100, system="us"))

    # 37 + 41 × 2.5 = 139.5.
    assert one.stretches(40.0) == (((0.0, 139.5), (20.5, 37.0), (40.0, 37.0)),)


def test_each_refusal_is_told():
    """Where all guidelines are refused, each reason is told."""
    asked = {"crop": "winter-wheat", "yield_goal": 8, "system": "metric"}
    text = {"left": "removed", "removed": "left"}
    only = {
        fate: replace(
            RB209["rb209-2023"],
            crops={
                "winter-wheat": replace(
                    RB209["rb209-2023"].crops["winter-wheat"], **{text[fate]: None}
                )
            },
            surplus=None,
        )
        for fate in text
    }

    with pytest.raises(InputError) as refused:
        compare({"a": only["left"], "b": only["left"]}, residue="removed", **asked)

    told = (
        "winter-wheat: the guideline has no figure for residue removed; it has one for "
        "residue left"
    )
    assert str(refused.value) == f"{told}; {told}"


def test_other_ids_are_hinted_at():
    """An id that a crop goes by too is near as well."""
    with pytest.raises(InputError, match=r"guidelines, did you mean 'wheat'$"):
        compare(RB209, "whet", yield_goal=8, system="metric")


def test_one_fate_is_not_told_apart():
    """Where one fate of the residue has rates, there is one column without a fate."""
    (peas,) = alone("x", RB209["rb209-2023"], "dried-peas")

    assert peas.season.residue is None


def test_years_of_build_up_are_columns():
    """Kansas prints 4, 6 and 8 years, Illinois 4 alone."""
    kansas = alone("x", SHIPPED["kansas-mf-2586-2003-build"], "corn-grain")
    illinois = alone("x", SHIPPED["illinois-2009"], "corn-grain", region="high")

    assert {one.years for one in kansas} == {4, 6, 8}
    assert {one.years for one in illinois} == {None}


def test_column_by_method():
    """A guideline whose classes differ by method has a column for the one asked for."""
    (one,) = alone("x", SHIPPED["iowa-pm-1688-2013"], "corn-grain", method="olsen")

    assert one.method == "olsen"
