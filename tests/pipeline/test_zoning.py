"""Bands of need on a field, and what they are worth."""

from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import shapely

from vrp.agronomy.guidelines import parse
from vrp.pipeline import Inputs, build
from vrp.spatial.field import LONLAT, Field, Samples, fitting_crs, reproject

OWN = Path(__file__).parents[1] / "data" / "own-guideline.toml"
PLACE = shapely.MultiPolygon([shapely.box(-84.303, 40.598, -84.297, 40.602)])


@pytest.fixture
def ground():
    """Return ground whose soil test rises from 10 to 60 ppm from west to east."""
    crs = fitting_crs(PLACE)
    field = Field("b.geojson", PLACE, crs, reproject(PLACE, LONLAT, crs))
    west, south, east, north = field.outline.bounds
    x, y = np.meshgrid(
        np.linspace(west + 20, east - 20, 9), np.linspace(south + 20, north - 20, 8)
    )
    value = 10.0 + 50.0 * (x.ravel() - west) / (east - west)
    value += np.tile([1.0, -1.0], 36)
    rows = tuple(range(2, 74))
    places = shapely.points(x.ravel(), y.ravel())
    samples = Samples("s.csv", rows, ("",) * 72, places, value, {})
    guideline = parse(OWN.read_text("utf-8"), OWN.name)
    return Inputs(field, samples, (), (), (), "own", guideline, None, (), (None,), ())


def codes(prescription):
    return [one.code for one in prescription.findings]


@pytest.mark.parametrize("count", [3, 4, 6])
def test_as_many_bands_as_asked_for(plan, ground, count):
    """Without least area and width the map has as many zones as the plan counts."""
    zones = {"count": count, "min_area": 0, "min_width": 0}
    found = build(plan(zones=zones), ground)
    assert len(found.zones) == found.zoning.count == count
    assert "zones-not-as-counted" not in codes(found)


def test_fewer_bands_than_the_limits_leave_are_said(plan, ground):
    """Two bands cannot keep the critical level and the last limit: three are made."""
    found = build(plan(zones={"count": 2}), ground)
    assert (found.zoning.fewest, found.zoning.count) == (3, 3)
    (said,) = [one for one in found.findings if one.code == "zones-not-as-counted"]
    assert (said.value, said.bound) == (3, 2)
    assert "3 bands of need in place of the 2 asked for: the critical" in said.message


def test_no_zone_lies_on_two_sides_of_a_limit(plan, ground):
    """A zone without need is above the last limit, one short below the critical."""
    found = build(plan(zones={"min_area": 0, "min_width": 0}), ground)
    facts = found.guideline
    sides = [
        (one.soil_test > facts.no_need_above, one.soil_test < facts.critical)
        for one in found.zones
    ]
    assert len(set(sides)) == 3
    assert all(
        (one.need == 0.0) == above
        for one, (above, _) in zip(found.zones, sides, strict=True)
    )


def test_more_bands_misplace_less(plan, ground):
    """Up to the rounding of rates each further band brings the map nearer the need."""
    zones = {"min_area": 0, "min_width": 0, "count": 8}
    bands = build(plan(zones=zones), ground).zoning.bands
    assert [one.zones for one in bands] == list(range(1, 9))
    # One and two straddle the limits; from three on they are nested choices.
    assert all(b.misplaced <= a.misplaced + 0.1 for a, b in pairwise(bands[2:]))
    assert bands[7].misplaced < bands[0].misplaced / 4


def test_what_is_misplaced_by_hand(plan, ground):
    """At one rate of 0 every cell goes without all of its need, and nothing is over."""
    asked = plan(machine={"max_rate": 0.01, "step": 0.01})
    found = build(asked, ground)
    one_rate, built = found.zoning.one_rate, found.zoning.built
    # A hundredth of a pound of product carries next to nothing.
    need = found.totals.zones.p2o5_need
    assert max(one_rate.over, built.over) <= 0.2
    assert built.under == pytest.approx(need, rel=0.01)
    assert built.misplaced == pytest.approx(need / found.totals.area, rel=0.01)


def test_the_mean_puts_on_as_much_too_much_as_too_little(plan, ground):
    """Zones with the mean need of their cells are over and under alike."""
    asked = plan(machine={"step": 0.01}, zones={"min_area": 0, "min_width": 0})
    built = build(asked, ground).zoning.built
    assert built.over == pytest.approx(built.under, rel=0.02)


def test_what_zones_cost(plan, ground):
    """Product costs its price: 800 a ton of 2,000 lb is 0.40 a pound."""
    asked = plan(product={"grade": "11-52-0", "price": 800.0})
    zoning = build(asked, ground).zoning
    for one in (zoning.one_rate, *zoning.bands, zoning.built):
        assert one.cost == pytest.approx(0.40 * one.product, abs=0.1)


def test_ground_set_by_hand_is_left_out(plan, ground):
    """A zone whose need a person set is no work of the zones."""
    bare = build(plan(), ground)
    lon, lat = bare.zones[0].geometry.representative_point().coords[0]
    override = {"point": (lon, lat), "p2o5": 300.0, "reason": "tested again"}
    found = build(plan(override=(override,)), replace(ground, overrides=(None,)))
    assert found.zoning.built.zones == bare.zoning.built.zones - 1
    assert found.zoning.built.over < bare.zoning.built.over + 1.0


@pytest.mark.parametrize("by", ["grid", "file"])
def test_drawn_zones_stand_beside_bands(plan, ground, by):
    """Squares and drawn halves are compared with bands of need, and have no count."""
    west, south, east, north = ground.field.outline.bounds
    middle = (west + east) / 2
    halves = np.array(
        [
            shapely.box(west, south, middle, north),
            shapely.box(middle, south, east, north),
        ]
    )
    asked = {"by": by} | ({"side": 660} if by == "grid" else {"file": "zones.geojson"})
    drawn = replace(ground, zones=halves) if by == "file" else ground
    zoning = build(plan(zones=asked), drawn).zoning
    assert (zoning.by, zoning.count) == (by, None)
    assert zoning.built.misplaced > zoning.bands[zoning.knee - 1].misplaced


def test_the_swath_is_the_least_width(plan, ground):
    """A swath, or a width of the plan's own, is in the record; 0 asks for none."""
    swath = {"machine": {"swath": 60}}
    assert build(plan(**swath), ground).zoning.min_width == 60
    for asked in (0, 90):
        found = build(plan(zones={"min_width": asked}, **swath), ground)
        assert found.zoning.min_width == asked


def test_bands_narrower_than_the_swath_are_merged(plan, ground):
    """Where need falls by 250 lb in 100 m, a swath of 60 m leaves fewer zones."""
    many = {"count": 8, "min_area": 0}
    loose = build(plan(zones={**many, "min_width": 0}), ground)
    wide = build(plan(zones={**many, "min_width": 200}), ground)
    assert len(wide.zones) < len(loose.zones) == 8
    for zone in wide.zones:
        shape = reproject(zone.geometry, LONLAT, ground.field.crs)
        half = 200 * 0.3048 / 2 - 5.0  # less the smoothing of a cell
        assert not shape.buffer(-half).is_empty


def test_composites_have_no_such_figures(plan, ground):
    """Without a surface there is no need at a cell to compare with."""
    samples = {
        "file": "s.csv",
        "soil_test": "P",
        "method": "mehlich-3-icp",
        "unit": "ppm",
        "depth": 8,
        "kind": "zone",
    }
    own = Samples(
        "s.csv", (2,), ("",), np.array([ground.field.outline]), np.array([15.0]), {}
    )
    assert build(plan(samples=samples), replace(ground, samples=own)).zoning is None


@pytest.mark.parametrize("parts", ["multi", "single"])
def test_parts_and_holes_of_wide_zones(plan, ground, parts):
    """A pond stays a hole, zones tile the rest, and single parts are one polygon."""
    lonlat = PLACE.difference(shapely.box(-84.3012, 40.5995, -84.3000, 40.6005))
    field = ground.field
    outline = reproject(lonlat, LONLAT, field.crs)
    # Two rich spots, so that a band has more than one part.
    value = ground.samples.value.copy()
    value[[28, 60]] = 80.0
    holed = replace(
        ground,
        field=replace(field, lonlat=shapely.MultiPolygon([lonlat]), outline=outline),
        samples=replace(ground.samples, value=value),
    )
    found = build(plan(zones={"parts": parts, "min_width": 60, "min_area": 0.2}), holed)
    whole = shapely.union_all([zone.geometry for zone in found.zones])
    assert len(shapely.get_parts(whole)) == 1
    assert len(whole.interiors) == 1
    assert sum(zone.area for zone in found.zones) == pytest.approx(
        outline.area / 4046.86, rel=1e-4
    )
    kinds = {zone.geometry.geom_type for zone in found.zones}
    assert kinds == {"Polygon"} if parts == "single" else "MultiPolygon" in kinds


def test_a_map_of_very_many_cells_shapes_its_own_bands_alone(plan, ground, monkeypatch):
    """Beyond a number of cells only the map's own bands are merged, for time's sake."""
    asked = {"count": 8, "min_width": 200, "min_area": 0}
    slow = build(plan(zones=asked), ground)
    monkeypatch.setattr("vrp.pipeline.classing.MOST_SHAPED", 100)
    quick = build(plan(zones=asked), ground)
    assert [one.need for one in quick.zones] == [one.need for one in slow.zones]
    # As they are cut, bands of a steep need misplace less than as zones.
    assert quick.zoning.bands[6].misplaced < slow.zoning.bands[6].misplaced
    assert quick.zoning.bands[7] == slow.zoning.bands[7]
