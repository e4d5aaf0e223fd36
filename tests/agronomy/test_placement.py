"""Where phosphate comes to lie, and what the seed row bears."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vrp.agronomy.placement import (
    SeedRowLimit,
    broadcast_depth,
    figures,
    mixed,
    seed_row_limit,
)


@pytest.mark.parametrize(("passes", "depth"), [(1, 3.0), (2, 4.5), (3, 5.25)])
def test_half_of_what_is_left(passes, depth):
    """Tillage 6 in deep takes phosphate to 3 in, then 4.5 in (common practice)."""
    assert broadcast_depth(6.0, passes=passes) == depth


def test_field_cultivator():
    """
    Layers of 50 mm at 60 and 20 become 54 and 26 by a pass of 0.30 over 100 mm.

    The published formula by hand: 0.7 × 60 + 0.3 × 40 and 0.7 × 20 + 0.3 × 40.
    """
    tool = figures().mixing.implements["field cultivator"]

    found = mixed(
        [60.0, 20.0], [50.0, 50.0], efficiency=tool.efficiency, depth=tool.depth
    )

    assert found == pytest.approx((54.0, 26.0))


def test_a_layer_that_ends_below():
    """
    A pass 75 mm deep mixes the upper half of a second layer of 50 mm alone.

    Mean over 75 mm (50 × 60 + 25 × 20) / 75 = 46.667; the top 0.5 × 60 + 0.5 × 46.667
    = 53.333, the worked half 0.5 × 20 + 0.5 × 46.667 = 33.333, the whole 26.667.
    """
    found = mixed([60.0, 20.0], [50.0, 50.0], efficiency=0.5, depth=75.0)

    assert found == pytest.approx((53.3333, 26.6667), abs=1e-4)


LAYERS = st.lists(
    st.tuples(st.floats(0.0, 300.0), st.floats(5.0, 200.0)), min_size=1, max_size=6
)


@given(LAYERS, st.floats(0.0, 1.0), st.floats(0.0, 500.0))
def test_nothing_is_lost(layers, efficiency, depth):
    """Mixing changes where phosphorus lies and not how much there is."""
    contents, thickness = zip(*layers, strict=True)

    found = mixed(contents, thickness, efficiency=efficiency, depth=depth)

    before = sum(c * t for c, t in layers)
    after = sum(c * t for c, t in zip(found, thickness, strict=True))
    assert after == pytest.approx(before, abs=1e-6)
    assert min(contents) - 1e-9 <= min(found)
    assert max(found) <= max(contents) + 1e-9


def test_the_odd_row_is_left_out():
    """The table of implements has no tool that works 5 mm deep."""
    implements = figures().mixing.implements

    assert min(one.depth for one in implements.values()) == 25
    assert implements["moldboard plow"].efficiency == 0.95


@pytest.mark.parametrize(
    ("spacing", "texture", "printed"),
    [
        # Kansas State University, "What to know about using starter fertilizer for
        # no-till corn", Table 1: N + K2O by row spacing, medium and fine or sandy.
        (40.0, "fine", 6.0),
        (40.0, "sandy", 4.0),
        (30.0, "medium", 8.0),
        (30.0, "sandy", 6.0),
        (20.0, "fine", 12.0),
        (20.0, "sandy", 8.0),
        # Our choices: the wider row between two, sand where nothing is known, the same
        # in each row beyond the table.
        (22.0, "fine", 8.0),
        (15.0, "fine", 12.0),
        (30.0, None, 6.0),
        (60.0, "fine", 4.0),
    ],
)
def test_corn(spacing, texture, printed):
    """Corn bears the printed N + K2O with the seed."""
    limit = seed_row_limit("corn-grain", row_spacing=spacing, texture=texture)

    assert (limit.value, limit.of) == (pytest.approx(printed), "N + K2O")


@pytest.mark.parametrize(
    ("crop", "limit"),
    [
        # "Safe rates of seed-placed phosphorus", Table 1, Manitoba Agriculture: the
        # lower of Manitoba's and Saskatchewan's.
        ("spring-wheat", 50.0),
        ("oats", 50.0),
        ("canola", 20.0),
        ("flax", 15.0),
        ("faba-bean", 20.0),
        ("dry-bean", 10.0),
    ],
)
def test_prairies(crop, limit):
    """Narrow rows bear the printed P2O5, and wide ones as much in each row."""
    narrow = seed_row_limit(crop, row_spacing=7.0, texture="medium")
    wide = seed_row_limit(crop, row_spacing=14.0, texture="medium")

    assert (narrow.value, narrow.of) == (limit, "P2O5")
    assert wide.value == pytest.approx(limit / 2)


def test_soybean_bears_none():
    """Soybean gets nothing in contact with the seed (Michigan State University)."""
    assert seed_row_limit("soybean", row_spacing=30.0, texture="fine").value == 0.0


def test_no_limit_known():
    """A crop without a published limit has none."""
    assert seed_row_limit("sugar-beet", row_spacing=22.0, texture="fine") is None


def test_published_reductions():
    """Bands were credited with half to the whole of the broadcast rate."""
    bands = figures().bands

    assert min(one.low for one in bands) == 0.5
    assert max(one.high for one in bands) == 1.0
    assert {one.source.status for one in bands} == {"read"}


SALT = ("Kansas State University", figures().seed_row.salt.source)
PRAIRIE = ("Manitoba Agriculture", figures().seed_row.p2o5.source)
NONE = ("Michigan State University", figures().seed_row.none.source)
SAME = "the same in each row at"
CANOLA = "lower of Manitoba's 20 and Saskatchewan's 25 lb/ac in rows to 7 in"


@pytest.mark.parametrize(
    ("crop", "spacing", "texture", "value", "condition"),
    [
        ("corn-grain", 30.0, "fine", 8.0, "rows of 30 in, medium and fine soil"),
        ("corn-silage", 40.0, "sandy", 4.0, "rows of 40 in, sand"),
        (
            "corn-grain",
            20.0,
            None,
            8.0,
            "rows of 20 in, sand, as field.texture is not given",
        ),
        # 76.3 cm are 30.04 in, and 76.36 are 30.06: to a tenth 30.0 and 30.1.
        ("corn-grain", 30.04, "fine", 8.0, "rows of 30 in, medium and fine soil"),
        ("corn-grain", 30.06, "fine", 6.0, "rows of 40 in, medium and fine soil"),
        ("corn-grain", 40.04, "fine", 6.0, "rows of 40 in, medium and fine soil"),
        # 6 × 40 / 50 = 4.8.
        (
            "corn-grain",
            50.0,
            "medium",
            4.8,
            f"rows of 40 in, medium and fine soil, {SAME} 50 in",
        ),
        # To a tenth of an inch: 6 × 40 / 50.4 = 4.7619.
        (
            "corn-grain",
            50.44,
            "medium",
            240.0 / 50.4,
            f"rows of 40 in, medium and fine soil, {SAME} 50.4 in",
        ),
        # 4 × 40 / 50 = 3.2.
        (
            "corn-grain",
            50.0,
            None,
            3.2,
            f"rows of 40 in, sand, as field.texture is not given, {SAME} 50 in",
        ),
    ],
)
def test_salt_limit_is_told(crop, spacing, texture, value, condition):
    """For which rows and soil a limit is, and what was our choice, is said."""
    limit = seed_row_limit(crop, row_spacing=spacing, texture=texture)

    assert limit == SeedRowLimit(pytest.approx(value), "N + K2O", condition, *SALT)


@pytest.mark.parametrize(
    ("spacing", "value", "condition"),
    [
        (6.0, 20.0, CANOLA),
        (7.0, 20.0, CANOLA),
        # 20 × 7 / 10 = 14.
        (10.0, 14.0, f"{CANOLA}, {SAME} 10 in"),
    ],
)
def test_prairie_limit_is_told(spacing, value, condition):
    """Both provinces' limits, the product, and rows that are wider."""
    limit = seed_row_limit("canola", row_spacing=spacing, texture=None)

    assert limit == SeedRowLimit(
        pytest.approx(value), "P2O5", condition, *PRAIRIE, "11-52-0"
    )


def test_soybean_limit_is_told():
    """Nothing may touch the seed, of whatever product."""
    limit = seed_row_limit("soybean", row_spacing=30.0, texture="sandy")

    assert limit == SeedRowLimit(0.0, "P2O5", "nothing in contact with the seed", *NONE)


def test_nothing_is_mixed():
    """A pass that does not reach the soil changes nothing."""
    assert mixed([60.0, 20.0], [50.0, 50.0], efficiency=0.9, depth=0.0) == (60.0, 20.0)


def test_each_layer_has_a_thickness():
    """Layers without a thickness of their own are refused."""
    with pytest.raises(ValueError, match="zip"):
        mixed([60.0, 20.0, 10.0], [50.0, 50.0], efficiency=0.5, depth=100.0)
