"""Published removal figures: loading, conversion, comparison."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vrp.agronomy import removal
from vrp.agronomy.guidelines import shipped
from vrp.agronomy.removal_comparison import compare
from vrp.errors import GuidelineError

TEXT = """
title = "A table"
publisher = "An institute"
year = 2020
state = "current"
[[figure]]
crops = ["corn-grain"]
part = "grain"
kind = "removal"
value = 0.4
unit = "lb P2O5/bu"
basis = "as harvested"
source = { status = "read", where = "page 1" }
"""


def printed(set_id, crop):
    """Return the harvest's figure of a set, its range as a middle."""
    return removal.harvest(removal.find(set_id), crop)


# Worked totals that were printed: set, crop, yield, P2O5, how far rounding goes.
@pytest.mark.parametrize(
    ("set_id", "crop", "goal", "total", "within"),
    [
        # "How much fertilizer will move soil test levels", Ohio State University, 2012.
        ("tri-state-1995", "corn-grain", 150, 55, 1),
        # "Nutrient removal rates by grain crops", Michigan State University, 2017.
        ("michigan-2017", "corn-grain", 150, 56, 1),
        ("michigan-2017", "soybean", 40, 32, 0),
        # "Phosphorus deficiency big prairie problem", The Western Producer, 2016.
        ("prairie-2016", "canola", 60, 54, 0),
        # "Plant nutrient uptake", Soil Science News & Views 142: 5 ton take 70 lb.
        ("kentucky-142", "alfalfa", 5, 70, 0),
        # RB209, Section 4, Example 4.8 adds 13 kg for 2 t/ha of wheat.
        ("rb209-2023", "winter-wheat", 2, 13, 0),
    ],
)
def test_printed_totals(set_id, crop, goal, total, within):
    """Yield times the figure gives the total that was printed."""
    assert goal * printed(set_id, crop).middle == pytest.approx(
        total, abs=within + 1e-9
    )


def test_minnesota_range():
    """200 bu of corn take 50 to 66 lb (University of Minnesota, 2022)."""
    assert [200 * end for end in printed("minnesota-2022", "corn-grain").ends] == [
        50,
        66,
    ]


def test_iowa_farm_total():
    """250 ac of 200-bu corn and of 50-bu soybean take over 12.5 tons (Iowa, 2019)."""
    corn, soybean = (
        printed("iowa-pm1688", crop).middle for crop in ("corn-grain", "soybean")
    )
    pounds = 250 * (200 * corn + 50 * soybean)
    assert 12.5 < pounds / 2000 < 12.6


def test_ohio_rotation_total():
    """180 bu of corn and 60 bu of soybean take 100 to 120 lb (ANR-74, 2019)."""
    corn, soybean = (
        printed("tri-state-2020", crop).middle for crop in ("corn-grain", "soybean")
    )
    assert 100 <= 180 * corn + 60 * soybean <= 120


def test_stover():
    """1.8 ton of stover take 8.6 lb (Iowa State University)."""
    stover = removal.residue(removal.find("iowa-stover"), "corn-grain")
    assert 1.8 * stover.middle == pytest.approx(8.6, abs=0.05)


def test_silage_by_moisture():
    """Iowa prints 3.5 lb a ton at 65 % moisture and 10 lb in dry matter: 10 × 0.35."""
    silage = printed("iowa-pm1688", "corn-silage")
    assert removal.at_moisture(silage, 65.0) == 3.5
    assert removal.at_moisture(silage, 0.0) == pytest.approx(10.0)


def test_silage_by_analysis():
    """20 ton at 35 % dry matter and 0.62 % P2O5 take 86.8 lb (Cornell, PO 59)."""
    percent = 0.62 / 2.29133  # of P

    pounds = removal.measured(20 * 2000, percent=percent, dry_matter=35.0)

    assert pounds == pytest.approx(86.8, abs=0.01)
    assert pounds / 20 == pytest.approx(
        printed("cornell-po59", "corn-silage").middle, abs=0.02
    )


def test_grain_by_analysis():
    """10 t/ha of wheat with 0.45 % P take 88 kg/ha (RB209, Example 4.7)."""
    kilograms = removal.measured(10_000.0, percent=0.45, dry_matter=85.0)
    assert kilograms == pytest.approx(88.0, abs=0.5)
    assert kilograms == pytest.approx(10 * 0.45 * 19.5, rel=0.002)


@pytest.mark.parametrize(
    ("crop", "pounds", "kilograms"),
    # Ontario's Table 1 of 2025 prints both; their rounding is two decimals of a pound.
    [
        ("corn-grain", 0.37, 6.6),
        ("soybean", 0.8, 13.3),
        ("winter-wheat", 0.63, 10.4),
        ("barley", 0.25, 5.21),
        ("rye", 0.34, 6.07),
        ("canola", 1.11, 22.2),
    ],
)
def test_ontario_prints_both(crop, pounds, kilograms):
    """Pounds a bushel become the kilograms a tonne that are printed beside."""
    found = removal.converted(pounds, "lb P2O5/bu", wanted="kg P2O5/t", crop=crop)
    assert found == pytest.approx(kilograms, rel=0.011)


def test_tons_and_hundredweights():
    """2 lb in a ton are 0.1 lb in 100 lb, and 1 kg in a tonne."""
    unit = "lb P2O5/ton"
    assert removal.converted(
        2.0, unit, wanted="lb P2O5/cwt", crop="potato"
    ) == pytest.approx(0.1)
    assert removal.converted(
        2.0, unit, wanted="kg P2O5/t", crop="potato"
    ) == pytest.approx(1.0)


def test_p_is_not_p2o5():
    """1 kg of P is 2.2914 kg of P2O5, by atomic masses."""
    found = removal.converted(1.0, "kg P/t", wanted="kg P2O5/t", crop="barley")
    assert found == pytest.approx(2.2914, abs=2e-4)


@given(
    st.floats(0.01, 50),
    st.sampled_from(["corn-grain", "oats", "canola"]),
    st.sampled_from(["lb P2O5/bu", "lb P2O5/ton", "lb P2O5/cwt", "kg P2O5/t"]),
)
def test_conversion_goes_back(value, crop, unit):
    """A figure that is converted there and back is itself."""
    there = removal.converted(value, "lb P2O5/bu", wanted=unit, crop=crop)
    back = removal.converted(there, unit, wanted="lb P2O5/bu", crop=crop)
    assert back == pytest.approx(value)


def test_no_weight_no_conversion():
    """A bushel of hay has no weight, so nothing is made of it."""
    with pytest.raises(
        GuidelineError, match=r"alfalfa: no weight of a bushel is known"
    ):
        removal.converted(1.0, "lb P2O5/bu", wanted="kg P2O5/t", crop="alfalfa")


def test_corn_side_by_side():
    """Corn grain: Minnesota's 0.25 is lowest, Missouri's 0.45 highest, 1.8 times it."""
    (grain, *_) = compare("corn-grain").spans
    assert (grain.kind, grain.part, grain.unit) == ("removal", "grain", "lb P2O5/bu")
    assert (grain.lowest, grain.highest) == (0.25, 0.45)
    assert grain.ratio == pytest.approx(1.8)


def test_uptake_is_kept_apart():
    """What the whole crop holds is never among what leaves the field."""
    found = compare("soybean")
    uptake = [row for row in found.rows if row.coefficient.kind == "uptake"]
    assert {row.coefficient.ends for row in uptake} == {(0.95, 0.95), (0.96, 0.96)}
    assert max(
        span.highest for span in found.spans if span.kind == "removal"
    ) == pytest.approx(4.7)  # lb a ton of residue; grain ends at 1.0
    for set_id in removal.sets():
        figure = printed(set_id, "soybean")
        assert figure is None or figure.kind == "removal"


def test_other_names():
    """A guideline's wheat is winter wheat here, its forage maize corn silage."""
    assert compare("wheat").crop == "winter-wheat"
    assert printed("rb209-2023", "spring-barley").middle == 8
    # Straw of spring barley holds 1.5 kg a tonne, of winter barley 1.2.
    straw = removal.residue(removal.find("rb209-2023"), "spring-barley")
    assert straw.middle == 1.5
    assert compare("forage-maize").crop == "corn-silage"


def test_every_guideline_can_be_balanced():
    """Whatever crop a guideline that ships has, some set has its harvest."""
    for guideline in shipped().values():
        for crop in guideline.crops:
            assert removal.holding(crop), crop


def test_outliers_are_left_out():
    """No root figure reaches the 6 lb a ton that a lone trial gave for sugar beet."""
    (root,) = compare("sugar-beet").spans
    # In kilograms a tonne: 6 lb a ton are 3.
    assert (root.unit, root.highest < 1.5) == ("kg P2O5/t", True)


def test_every_set_is_cited():
    """Each has title, publisher and a year or an address; read ones say when."""
    for one in removal.sets().values():
        assert one.title
        assert one.publisher
        assert one.year or one.url
        read = any(figure.source.status == "read" for figure in one.figure)
        assert read == (one.read_on is not None)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (("year = 2020\n", ""), "give year or url"),
        (('publisher = "An institute"\n', ""), "publisher: missing"),
        (("value = 0.4", "low = 0.4"), "give value, or low and high"),
        (("value = 0.4", "low = 0.5\nhigh = 0.4"), "low must be below high"),
        (("lb P2O5/bu", "lb P/bu"), "unit: must be one of"),
        (("removal", "offtake"), "kind: must be one of"),
        (('source = { status = "read", where = "page 1" }', ""), "source: missing"),
        (('"read"', '"computed"'), "status"),
    ],
)
def test_bad_tables_are_refused(change, message):
    """A table without citation, figure, unit or source is refused by its key."""
    assert removal.parse(TEXT, "own").figure[0].middle == 0.4
    with pytest.raises(GuidelineError, match=message):
        removal.parse(TEXT.replace(*change), "own")


def test_unknown_set_and_crop():
    """The nearest known name is given."""
    with pytest.raises(GuidelineError, match="did you mean 'illinois-2019'"):
        removal.find("illinois-2091")
    with pytest.raises(GuidelineError, match="did you mean 'soybean'"):
        compare("soybaen")


@pytest.mark.parametrize(
    ("crop", "name", "pounds"),
    [
        # USDA grade weights.
        ("corn-grain", "Corn, grain", 56.0),
        ("corn", "Corn, grain", 56.0),
        ("wheat", "Winter wheat", 60.0),
        ("oats", "Oats", 32.0),
        ("teff", "teff", None),
        ("sugar-beet", "Sugar beet", None),
    ],
)
def test_names_and_bushels(crop, name, pounds):
    """A crop has a name and the weight of its bushel by either id, or none."""
    assert (removal.crop_name(crop), removal.bushel(crop)) == (name, pounds)


@pytest.mark.parametrize(
    ("ask", "message"),
    [
        (
            lambda: removal.find("iowa-stove"),
            "no set of removal figures 'iowa-stove', did you mean 'iowa-stover'; vrp "
            "removal lists them by crop",
        ),
        (
            lambda: compare("soybaen"),
            "no removal figure for 'soybaen', did you mean 'soybean'; vrp removal "
            "lists "
            "the crops",
        ),
        (
            lambda: removal.at_moisture(printed("illinois-2019", "corn-grain"), 20.0),
            "corn-grain: 0.37 lb P2O5/bu is printed without its moisture; leave the "
            "season's moisture out, or choose a set that prints it",
        ),
    ],
)
def test_refusals_in_a_sentence(ask, message):
    """What is not known is named, with the nearest and where to look."""
    with pytest.raises(GuidelineError) as refused:
        ask()

    assert str(refused.value) == message


def test_comparison_by_its_own_id():
    """Wheat is compared as winter wheat, and each row counts to its span."""
    found = compare("wheat")

    assert (found.crop, found.name) == ("winter-wheat", "Winter wheat")
    assert sum(span.sets for span in found.spans) == len(found.rows)
    assert {span.basis for span in found.spans} == {
        row.coefficient.basis for row in found.rows
    }
    assert {row.set_id for row in found.rows} >= {"rb209-2023", "tri-state-2020"}


@pytest.mark.parametrize(
    ("value", "unit", "wanted", "crop", "pounds", "expected"),
    [
        # 0.35 lb in 56 lb, or in a guideline's own 50 lb, of a tonne of 1000 kg.
        (0.35, "lb P2O5/bu", "kg P2O5/t", "corn-grain", None, 6.25),
        (0.35, "lb P2O5/bu", "kg P2O5/t", "corn-grain", 50.0, 7.0),
        (7.0, "kg P2O5/t", "lb P2O5/bu", "teff", 50.0, 0.35),
        # A bale of 480 lb, whatever a bushel weighs.
        (12.0, "lb P2O5/bale", "kg P2O5/t", "cotton", None, 25.0),
        (12.0, "lb P2O5/bale", "kg P2O5/t", "cotton", 50.0, 25.0),
        # 2 lb in a ton of 2000 lb are 0.1 lb in 100 lb, and 1 kg in a tonne.
        (2.0, "lb P2O5/ton", "lb P2O5/cwt", "potato", None, 0.1),
        (2.0, "lb P2O5/ton", "kg P2O5/t", "potato", None, 1.0),
    ],
)
def test_units_by_hand(value, unit, *, wanted, crop, pounds, expected):
    """A figure moves between measures by their weights alone."""
    found = removal.converted(value, unit, wanted=wanted, crop=crop, pounds=pounds)

    assert found == pytest.approx(expected)


@pytest.mark.parametrize(
    ("unit", "crop", "message"),
    [
        ("lb P2O5/bu", "alfalfa", "alfalfa: no weight of a bushel is known"),
        ("lb P2O5/bu", "teff", "teff: no weight of a bushel is known"),
        ("lb P2O5/bale", "corn-grain", "corn-grain: no weight of a bale is known"),
    ],
)
def test_measures_without_a_weight(unit, crop, message):
    """A measure that nobody weighs is told with its crop."""
    with pytest.raises(GuidelineError) as refused:
        removal.converted(1.0, unit, wanted="kg P2O5/t", crop=crop)

    assert str(refused.value) == message
