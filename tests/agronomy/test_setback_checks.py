"""Findings on water features and the distances kept from them."""

import pytest

from vrp.agronomy import setback_checks


@pytest.mark.parametrize(
    ("away", "unit", "system", "said"),
    [
        (3000.0, "ft", "us", 0),
        (3001.0, "ft", "us", 1),
        (1000.0, "m", "metric", 0),
        (1001.0, "m", "metric", 1),
    ],
)
def test_far(away, unit, system, said):
    """Water beyond 3,000 ft or 1,000 m is told to be far, at it is not."""
    found = list(
        setback_checks.far("lake", away, unit, file="lakes.gpkg", system=system)
    )

    assert len(found) == said
    if said:
        assert f"the nearest lake is {away:,.0f} {unit} from the field" in (
            found[0].message
        )


def test_below_rule():
    """A distance below a rule's warns, and stops where the rule forbids."""
    (found,) = setback_checks.below_rule(
        "stream", 10.5, 35.0, "ft", file="c.shp", forbidden=False
    )

    assert (found.severity, found.value, found.bound) == ("warn", 10.5, 35.0)
    assert "keeps 10.5 ft from a stream" in found.message
    assert "ask for 35 ft" in found.message
    (worse,) = setback_checks.below_rule(
        "stream", 10.5, 35.0, "ft", file="c.shp", forbidden=True
    )
    assert worse.severity == "stop"
    assert not list(
        setback_checks.below_rule(
            "well", 10.0, None, "ft", file="c.shp", forbidden=False
        )
    )


def test_setback_and_strip():
    """Both are notes of the zone; onto a strip product is thrown, and it is said."""
    (kept,) = setback_checks.setback("within 9 m", strip=False, area="1 ha", zone=3)
    (strip,) = setback_checks.setback("not driven", strip=True, area="2 ha", zone=4)

    assert (kept.code, kept.severity, kept.zone) == ("setback", "note", 3)
    assert "nothing is applied on 1 ha: within 9 m" in kept.message
    assert (strip.code, strip.zone) == ("setback", 4)
    assert "the pass beside it throws product there" in strip.message


def test_notes_without_a_limit():
    """No features, no swath, a boundary set back and an override each say their own."""
    (none,) = setback_checks.no_features()
    (throw,) = setback_checks.throw_unknown()
    (already,) = setback_checks.already("stream", 12.4, "m", "creek.shp")
    (point,) = setback_checks.override(2, None)

    assert (none.code, none.severity) == ("no-water-features", "note")
    assert (throw.code, throw.severity) == ("setback-throw-unknown", "warn")
    assert "within 12 m of the nearest" in already.message
    (touched,) = setback_checks.already("lake", 0.0, "ft", "lake.shp")
    assert (already.severity, touched.severity) == ("note", "warn")
    assert point.message.startswith("override 2: its point lies on excluded ground")


def test_default_rate():
    """A rate that is sent without position warns, 0 does not."""
    (found,) = setback_checks.default_rate(120.0, "lb/ac")

    assert found.severity == "warn"
    assert "120 lb/ac are sent where position is lost" in found.message
    assert not list(setback_checks.default_rate(0.0, "lb/ac"))
