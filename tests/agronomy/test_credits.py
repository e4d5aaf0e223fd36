"""P2O5 that comes from elsewhere."""

import pytest

from vrp.agronomy.credits import manure_p2o5, surplus_counts
from vrp.agronomy.guidelines import shipped
from vrp.errors import GuidelineError
from vrp.evidence import Source


@pytest.mark.parametrize(
    ("amount", "content", "available", "counted"),
    [
        # 4 (1000 gal)/ac × 12 lb × 80 %.
        (4.0, 12.0, 80.0, 38.4),
        # 30 t/ha × 3.2 kg, all of it.
        (30.0, 3.2, 100.0, 96.0),
        (30.0, 3.2, 0.0, 0.0),
    ],
)
def test_manure(amount, content, available, counted):
    """Amount × content × the share that counts."""
    found = manure_p2o5(amount, content=content, available=available)

    assert found == pytest.approx(counted)


@pytest.mark.parametrize(
    ("soil_class", "counts"),
    [
        ("Index 0", False),
        ("Index 1", False),
        ("Index 2", True),
        ("Index 3", True),
        ("Index 4+", False),
    ],
)
def test_surplus_of_potatoes(soil_class, counts):
    """A surplus counts at Index 2 and 3 (RB209, Section 5, Table 5.2 and its text)."""
    assert surplus_counts(shipped()["rb209-2023"], soil_class) == (
        counts,
        "phosphate that potatoes get beyond their offtake counts for later crops at "
        "Index 2 or 3, and does not at Index 0 or 1",
        Source("read", "Section 5 (February 2021), Table 5.2 and its text"),
    )


def test_no_rule_on_a_surplus():
    """A guideline without such a rule is no ground for a credit."""
    with pytest.raises(GuidelineError) as refused:
        surplus_counts(shipped()["ontario-811"], "0–3 ppm")

    assert str(refused.value) == (
        f"{shipped()['ontario-811'].title!r} has no rule on the surplus of an earlier "
        "season: give it as a credit without surplus, if you hold that it counts"
    )
