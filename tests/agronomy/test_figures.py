"""Figures with their sources, by name and in words."""

from dataclasses import replace

import pytest
from pydantic import ValidationError

from vrp.agronomy.figures import Classes, Range, Rates, walk
from vrp.agronomy.guidelines import shipped
from vrp.agronomy.removal import find
from vrp.agronomy.removal_figures import Coefficient, RemovalSet
from vrp.evidence import Source

OURS = Source("our-choice", "test")
IRELAND, OKLAHOMA = shipped()["ireland-2016"], shipped()["oklahoma-pss-2225"]


def test_every_figure_has_its_name():
    """Keys are joined by dots, rows of a list counted from 1, methods accepted."""
    tested = {one.name: one.printed for one in walk(OKLAHOMA.soil_test)}
    rules = [one.name for one in walk(OKLAHOMA) if one.name.startswith("ph_rule")]

    assert tested["depth"] == "6 in"
    assert tested["rounding"] == "as-is"
    assert tested["methods.mehlich-3-icp"] == "accepted"
    assert rules == ["ph_rule.1"]
    assert [one.name for one in walk((IRELAND.critical, IRELAND.target))] == ["1", "2"]
    assert [one.name for one in walk(IRELAND.critical, "critical")] == ["critical"]
    assert [one.name for one in walk({"depth": IRELAND.critical})] == ["depth"]


@pytest.mark.parametrize(
    ("figure", "said"),
    [
        (
            Rates(values=(60, 40.5, 0), unit="lb P2O5/ac", source=OURS),
            "60, 40.5, 0 lb P2O5/ac",
        ),
        (
            Classes(
                words=("low", "optimum", "high"),
                uppers=(9, 13),
                unit="ppm",
                source=OURS,
            ),
            "low to 9, optimum to 13, high above ppm",
        ),
        (Range(low=60, high=320.5, source=OURS), "60 to 320.5"),
        (
            OKLAHOMA.ph_rule[0],
            "wheat at a pH below 5.5: 30 lb P2O5/ac more, banded with the seed, where "
            "lime is not applied",
        ),
        (
            IRELAND.ph_rule[0],
            "winter-wheat and winter-barley at a pH of 7.0 or more in Index 4: 20 kg "
            "P/ha, although the Index asks for none",
        ),
        (
            replace(IRELAND.ph_rule[0], classes=("Index 3", "Index 4")),
            "winter-wheat and winter-barley at a pH of 7.0 or more in Index 3 and "
            "Index "
            "4: 20 kg P/ha, although the Index asks for none",
        ),
        (
            find("iowa-stover"),
            "Nutrient replacement with corn and soybean stover removal, Iowa State "
            "University Extension, https://m.farms.com/news/nutrient-replacement-with-"
            "corn-and-soybean-stover-removal-218587.aspx",
        ),
        (find("iowa-stover").figure[0], "4.8 lb P2O5/ton"),
    ],
)
def test_in_words(figure, said):
    """A figure is written with its unit, a row in order, a rule as a sentence."""
    assert str(figure) == said


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (
            lambda: Classes(
                words=("a", "b", "c"), uppers=(9, 9), unit="ppm", source=OURS
            ),
            "uppers must rise, got 9 before 9",
        ),
        (
            lambda: Classes(words=("a", "b"), uppers=(9, 12), unit="ppm", source=OURS),
            "2 words need 1 uppers, the last class being open, got 2",
        ),
        (
            lambda: Range(low=60, high=60, source=OURS),
            "low must be below high, got 60 and 60",
        ),
        (
            lambda: Rates(values=(10, 20), unit="lb P2O5/ac", source=OURS),
            "rates must not rise with the soil test, got 20 after 10",
        ),
        (
            lambda: coefficient(low=0.4, high=0.4),
            "low must be below high, got 0.4 and 0.4",
        ),
        (lambda: coefficient(low=0.4), "give value, or low and high"),
        (lambda: coefficient(value=0.4, low=0.3), "give value, or low and high"),
        (lambda: coefficient(high=0.4), "give value, or low and high"),
        (lambda: coefficient(**{}), "give value, or low and high"),
        (
            lambda: coefficient(value=0.4, low=0.3, high=0.5),
            "give value, or low and high",
        ),
        (
            lambda: RemovalSet(
                title="A table",
                publisher="An institute",
                state="current",
                figure=(coefficient(value=0.4),),
            ),
            "give year or url: a publication must be found again",
        ),
    ],
)
def test_refused(make, message):
    """What is empty, falls, rises or leads nowhere is refused."""
    with pytest.raises(ValidationError) as refused:
        make()

    assert [one["msg"] for one in refused.value.errors()] == [f"Value error, {message}"]


def coefficient(**figure):
    """Return a removal figure of the tests' own."""
    return Coefficient(
        crops=("corn-grain",),
        part="grain",
        kind="removal",
        unit="lb P2O5/bu",
        basis="as harvested",
        source=OURS,
        **figure,
    )
