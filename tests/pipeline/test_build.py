"""From a plan and the ground to a prescription, without a file."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely

from vrp.agronomy.guidelines import parse
from vrp.errors import InputError
from vrp.pipeline import Inputs, build
from vrp.plan import Override
from vrp.spatial.field import LONLAT, Field, Samples, fitting_crs, reproject

OWN = Path(__file__).parents[1] / "data" / "own-guideline.toml"
PLACE = shapely.MultiPolygon([shapely.box(-84.303, 40.598, -84.297, 40.602)])


def inputs(shapes=None, value=None, **changes):
    """Return ground whose soil test rises from 10 to 60 ppm from west to east."""
    crs = fitting_crs(PLACE)
    field = Field("b.geojson", PLACE, crs, reproject(PLACE, LONLAT, crs))
    west, south, east, north = field.outline.bounds
    if shapes is None:
        x, y = np.meshgrid(
            np.linspace(west + 20, east - 20, 9), np.linspace(south + 20, north - 20, 8)
        )
        value = 10.0 + 50.0 * (x.ravel() - west) / (east - west)
        value += np.tile([1.0, -1.0], 36)
        shapes = shapely.points(x.ravel(), y.ravel())
    rows = tuple(range(2, len(shapes) + 2))
    samples = Samples("s.csv", rows, ("",) * len(rows), shapes, value, {})
    guideline = parse(OWN.read_text("utf-8"), OWN.name)
    found = Inputs(field, samples, (), (), (), "own", guideline, None, (), (None,), ())
    return replace(found, **changes)


def amounts(prescription):
    return [(one.soil_test, one.need, one.rate, one.area) for one in prescription.zones]


def test_order_of_samples_is_no_matter(plan):
    """The rows of a file may stand in any order."""
    asked, given = plan(), inputs()
    order = np.random.default_rng(1).permutation(len(given.samples.rows))
    turned = replace(given, samples=given.samples.take(order))

    one, two = build(asked, given), build(asked, turned)

    assert len(one.zones) > 2
    assert np.allclose(amounts(one), amounts(two), rtol=1e-3, atol=0.02)


def test_need_falls_as_the_test_rises(plan):
    """
    From west to east the test rises and the need falls, to nothing above 50 ppm.

    The guideline: below 20 ppm 5 lb a ppm more than 200 × 0.37 = 74 lb, above 50 none.
    """
    found = build(plan(), inputs())

    zones = sorted(found.zones, key=lambda one: one.geometry.centroid.x)
    needs = [one.need for one in zones]
    assert needs == sorted(needs, reverse=True)
    assert [one.soil_test for one in zones] == sorted(one.soil_test for one in zones)
    assert zones[0].need > 74.0
    assert 74.0 in needs
    assert (zones[-1].need, zones[-1].rate) == (0.0, 0.0)


def test_composites_by_hand(plan):
    """
    Halves at 10 and 60 ppm need 74 + 5 × 10 = 124 lb and nothing.

    124 / 0.52 = 238.46, a whole 238 lb without a step.
    """
    middle = inputs().field.outline.centroid.x
    west, south, east, north = inputs().field.outline.bounds
    halves = np.array(
        [
            shapely.box(west - 9, south - 9, middle, north + 9),
            shapely.box(middle, south - 9, east + 9, north + 9),
        ]
    )
    table = plan().samples

    found = build(
        plan(samples=replace(table, kind="cell")), inputs(halves, np.array([10.0, 60]))
    )

    assert sorted((one.need, one.rate) for one in found.zones) == [
        (0.0, 0.0),
        (124.0, 238.0),
    ]
    assert found.surface is None
    assert found.totals.composite == pytest.approx(35.0, abs=0.3)


def test_single_parts_cover_the_same_ground(plan):
    """Zones of one part each cover what zones of several do."""
    several = build(plan(), inputs())
    single = build(plan(zones={"parts": "single"}), inputs())

    assert all(one.geometry.geom_type == "Polygon" for one in single.zones)
    assert sum(one.area for one in single.zones) == pytest.approx(
        sum(one.area for one in several.zones), rel=1e-6
    )


def test_two_overrides_of_one_zone(plan):
    """A zone that is set by hand twice is refused by the number of the second."""
    here = {"p2o5": 10.0, "reason": "r", "point": (-84.3029, 40.6)}
    asked = plan(override=(Override(**here), Override(**here)))

    with pytest.raises(InputError, match=r"^override 2: zone \d .* another override"):
        build(asked, inputs(overrides=(None, None)))


def test_notes_are_the_zones_findings(plan):
    """A zone's note holds the codes of its findings, each once."""
    asked = plan(
        override=(Override(p2o5=10.0, reason="r", point=(-84.3029, 40.6)),),
        machine={"min_rate": 60.0},
    )
    found = build(asked, inputs(overrides=(None,)))

    (zone,) = [one for one in found.zones if "need-by-hand" in one.note.split()]
    assert zone.need == 10.0
    for one in found.zones:
        codes = [each.code for each in found.findings if each.zone == one.number]
        assert one.note.split() == list(dict.fromkeys(codes))
