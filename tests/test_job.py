"""One field, from its file to its folder."""

import json
import math
import re
import shutil
from importlib.metadata import version
from pathlib import Path

import geopandas
import numpy as np
import pytest
import shapefile
import shapely
from geojson_validator import validate_structure

from vrp import job
from vrp.errors import InputError

ACRE = 4046.8564224  # [m²]

DATA = Path(__file__).parent / "data"


def record_of(folder):
    return json.loads((folder / "record.json").read_text("utf-8"))


def codes(prescription):
    return {one.code: one.severity for one in prescription.findings}


@pytest.mark.parametrize("name", ["us", "metric"])
def test_sample_fields(name, sample_fields, tmp_path):
    """Both sample fields build without a stop finding; all files carry the same."""
    prescription, out = job.run(sample_fields / name, out=tmp_path / "out")

    assert "stop" not in codes(prescription).values()
    record, rate = record_of(out), "rate_lb_ac" if name == "us" else "rate_kg_ha"
    area, total = ("area_ac", "total_lb") if name == "us" else ("area_ha", "total_kg")
    product = record["totals"]["product"]
    zones = geopandas.read_file(out / "map" / "rates.geojson")
    (path,) = (out / "machine").glob("*.shp")
    with shapefile.Reader(str(path)) as machine:
        rates = [one[0] for one in machine.records()]
        shapes = [shapely.geometry.shape(one) for one in machine.shapes()]
    metres = geopandas.GeoSeries(shapes, crs=4326).to_crs(zones.estimate_utm_crs())
    unit = ACRE if name == "us" else 10_000.0

    assert zones[total].sum() == pytest.approx(product, rel=1e-3)
    assert (zones[rate] * zones[area]).sum() == pytest.approx(product, rel=1e-3)
    # UTM's scale is within 0.04 % of true, its areas within 0.08 %.
    by_machine = float(np.dot(rates, metres.area / unit))
    assert by_machine == pytest.approx(product, rel=1.8e-3)
    assert record["totals"]["area"] == pytest.approx(
        75.0 if name == "us" else 35.0, 0.02
    )
    assert [one["zone"] for one in record["zones"]] == list(range(1, len(zones) + 1))


def test_sixteen_given_zones(ground):
    """
    Sixteen squares of 2.5 acres get the needs and products of a constructed case.

    Formula: below 20 ppm 5 × (20 − S) + 180 × 0.37, to 50 ppm 66.6, above it 0; the
    products are needs over 0.46. All by hand.
    """
    ppm = [[8, 12, 16, 24], [10, 14, 19, 30], [15, 20, 26, 48], [22, 35, 51, 90]]
    needs = [126.6, 106.6, 86.6, 66.6, 116.6, 96.6, 71.6, 66.6]
    needs += [91.6, 66.6, 66.6, 66.6, 66.6, 66.6, 0.0, 0.0]
    products = [275.2, 231.7, 188.3, 144.8, 253.5, 210.0, 155.7, 144.8]
    products += [199.1, 144.8, 144.8, 144.8, 144.8, 144.8, 0.0, 0.0]
    side = math.sqrt(2.5 * ACRE)
    squares = [
        shapely.box(side * column, -side * (row + 1), side * (column + 1), -side * row)
        for row in range(4)
        for column in range(4)
    ]
    tests = [{"P": value} for row in ppm for value in row]
    ground.write_polygons("zones.geojson", squares, tests)
    ground.outline = shapely.box(0.0, -4 * side, 4 * side, 0.0)
    shutil.copy(DATA / "own-guideline.toml", ground.folder / "own.toml")
    ground.change(
        ('file = "samples.csv"', 'file = "zones.geojson"\nkind = "zone"'),
        ('x = "x"\ny = "y"\n', ""),
        (
            'yield_goal = 200\n[[season]]\ncrop = "soybean"\nyield_goal = 60',
            "yield_goal = 180",
        ),
        ('"tri-state-2020"', '"own.toml"'),
        ('"11-52-0"', '"0-46-0"'),
        ("min_rate = 50\nmax_rate = 400\nstep = 5", "step = 0.1"),
    )
    ground.text = "\n".join(
        line for line in ground.text.splitlines() if not line.startswith("crs =")
    )

    prescription, _ = job.run(ground.write())

    by_place = sorted(
        prescription.zones,
        key=lambda one: (-round(one.geometry.centroid.y, 5), one.geometry.centroid.x),
    )
    assert [one.need for one in by_place] == needs
    assert [round(one.rate, 1) for one in by_place] == products
    assert sum(one.area for one in by_place) == pytest.approx(40.0, rel=1e-4)
    assert prescription.totals.zones.p2o5_need == pytest.approx(2906.0, rel=1e-4)
    assert prescription.totals.composite == 27.5
    assert prescription.totals.uniform.p2o5_need == pytest.approx(2664.0, rel=1e-4)
    assert prescription.surface is None


def test_files_are_geojson_by_the_standard(ground):
    """Nothing in rates.geojson offends RFC 7946, and no crs member is there."""
    _, out = job.run(ground.write())

    collection = json.loads((out / "map" / "rates.geojson").read_text("utf-8"))
    problems = validate_structure(collection)
    assert problems == {}
    assert "crs" not in collection
    for feature in collection["features"]:
        shape = shapely.geometry.shape(feature["geometry"])
        for part in shapely.get_parts(shape):
            assert part.exterior.is_ccw
            assert not any(ring.is_ccw for ring in part.interiors)
        numbers = shapely.get_coordinates(shape)
        assert np.array_equal(np.round(numbers, 7), numbers)


def test_zones_tile_the_boundary(ground):
    """No gap, no overlap: the zones' union is the field."""
    prescription, _ = job.run(ground.write())

    shapes = [zone.geometry for zone in prescription.zones]
    assert shapely.coverage_is_valid(shapes)
    union, outline = shapely.union_all(shapes), ground.to_lonlat(ground.outline)
    # No point moves further than half a step of the lattice of 1e-7 degree.
    assert union.symmetric_difference(outline).area < 1e-7 * outline.length


def test_same_input_same_bytes(ground):
    """A second run into another folder writes the same bytes."""
    path = ground.write()
    job.run(path, out=ground.folder / "one")
    job.run(path, out=ground.folder / "two")

    one, two = (
        {p.relative_to(f).as_posix(): p.read_bytes() for p in f.rglob("*.*")}
        for f in (ground.folder / "one", ground.folder / "two")
    )
    assert one == two
    assert record_of(ground.folder / "one")["software"]["numpy"] == version("numpy")


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ([('crop = "soybean"', 'crop = "soyabean"')], "soyabean.*soybean"),
        ([('"tri-state-2020"', '"tri-state-2019"')], "tri-state-2019.*tri-state-2020"),
        ([("yield_goal = 200", "yield_goal = 0")], r"season\[1\].yield_goal = 0"),
        ([('method = "mehlich-3-icp"', 'method = "mehlich"')], "samples.method"),
        ([("[machine]", "[machin]")], "machin is not a key here; did you mean machine"),
        ([('"11-52-0"', '"11-0-0"')], "11-0-0.*P2O5"),
        (
            [('guideline = "tri-state-2020"', "")],
            "need.guideline is missing.*tri-state",
        ),
        ([('"boundary.geojson"', '"edge.geojson"')], "edge.geojson"),
        ([('soil_test = "P"', 'soil_test = "Phos"')], "samples.csv.*Phos"),
        ([('unit = "ppm"', 'unit = "mg/L"')], "samples.csv.*mg/L.*ppm"),
        (
            [("[need]", '[accept]\n"samples-odd" = "fine"\n[need]')],
            "accept.samples-odd",
        ),
        (
            [
                (
                    "[need]",
                    '[[override]]\np2o5 = 5\nreason = "r"\npoint = [0, 0]\n[need]',
                )
            ],
            "override 1: point .* is in no zone",
        ),
    ],
)
def test_refusals_leave_earlier_output_alone(ground, changes, message):
    """What cannot be used is refused in a sentence; what stood there stays."""
    _, out = job.run(ground.write())
    before = (out / "record.json").read_bytes()
    ground.change(*changes)

    with pytest.raises(InputError, match=f"(?s){message}"):
        job.run(ground.write())

    assert (out / "record.json").read_bytes() == before
    assert sorted(path.name for path in ground.folder.iterdir()) == [
        "boundary.geojson",
        "field.toml",
        "out",
        "samples.csv",
    ]


def test_stop_holds_the_machine_files_back(ground):
    """A test by another method stops; a reason lets it through and is recorded."""
    ground.change(('"mehlich-3-icp"', '"olsen"'))
    held, out = job.run(ground.write())

    assert codes(held)["soil-test-method"] == "stop"
    assert held.held_back
    assert not (out / "machine").exists()
    assert (out / "map" / "rates.geojson").exists()

    ground.change(("[need]", '[accept]\nsoil-test-method = "trial"\n[need]'))
    through, out = job.run(ground.write())

    assert not through.held_back
    assert (out / "machine").is_dir()
    (finding,) = [
        one for one in record_of(out)["findings"] if one["code"] == "soil-test-method"
    ]
    assert finding["accepted"] == "trial"


def test_confirm_clears_figures_from_memory(ground):
    """A person who compared the figures with print clears the warning."""
    asked, _ = job.run(ground.write())
    ground.change(("[need]", '[confirm]\ntri-state-2020 = "p. 9, me, 2026"\n[need]'))
    confirmed, _ = job.run(ground.write())

    assert codes(asked)["guideline-unconfirmed"] == "warn"
    assert "guideline-unconfirmed" not in codes(confirmed)
    assert confirmed.guideline.status == "confirmed: p. 9, me, 2026"


def test_noise_is_treated_as_one(ground):
    """
    Where the surface does worse than the mean the field gets one rate.

    The composite is 24 ppm by hand: half the samples at 10, half at 38, like a
    chessboard, so that every neighbour misleads. Need 200 × 0.35 = 70 lb.
    """
    column, row = (ground.samples[:, i] // 60.0 for i in (0, 1))
    ground.samples[:, 2] = np.where((column + row) % 2 == 0, 10.0, 38.0)

    prescription, _ = job.run(ground.write())

    assert prescription.surface.verdict == "not supported"
    (zone,) = prescription.zones
    assert (zone.soil_test, zone.need, zone.rate) == (24.0, 70.0, 135.0)
    assert codes(prescription)["verdict-not-supported"] == "warn"

    ground.change(
        ("[need]", '[zones]\non_weak_map = "keep"\nby = "grid"\nside = 800\n[need]')
    )
    kept, _ = job.run(ground.write())
    assert len(kept.zones) == 4


def test_few_samples_cannot_tell(ground):
    """Below 30 samples zones are kept and nobody claims to know."""
    ground.samples = ground.samples[::4]

    prescription, _ = job.run(ground.write())

    assert prescription.surface.verdict == "cannot tell"
    assert codes(prescription)["verdict-cannot-tell"] == "warn"
    assert len(prescription.zones) > 1


@pytest.mark.parametrize("keep", [1, 2, 3])
def test_hardly_any_samples(ground, keep):
    """One, two or three samples give their mean everywhere, and it is said."""
    ground.samples = ground.samples[:keep]

    prescription, _ = job.run(ground.write())

    (zone,) = prescription.zones
    assert zone.soil_test == pytest.approx(ground.samples[:, 2].mean(), abs=0.06)
    assert prescription.surface.method == "field mean"
    assert codes(prescription)["verdict-cannot-tell"] == "warn"


def test_all_samples_alike(ground):
    """Samples that are all alike give one zone at their value: 25 ppm, 70 lb."""
    ground.samples[:, 2] = 25.0

    prescription, _ = job.run(ground.write())

    (zone,) = prescription.zones
    assert (zone.soil_test, zone.need) == (25.0, 70.0)


def test_overrides(ground):
    """A need by hand holds in its own polygons and at its point, credits or not."""
    ground.write_polygons("wet.geojson", [shapely.box(50, 50, 150, 150)])
    lon, lat = shapely.get_coordinates(ground.to_lonlat(shapely.Point(400, 400)))[0]
    ground.change(
        (
            "[need]",
            '[[override]]\np2o5 = 0\nreason = "wet"\nfile = "wet.geojson"\n'
            f'[[override]]\np2o5 = 26\nreason = "bare"\npoint = [{lon}, {lat}]\n'
            '[[credit]]\nname = "starter"\np2o5 = 10\nsource = "plan"\n[need]',
        )
    )

    prescription, _ = job.run(ground.write())

    here = shapely.Point(lon, lat)
    (by_point,) = [z for z in prescription.zones if z.geometry.contains(here)]
    wet = ground.to_lonlat(shapely.box(50, 50, 150, 150))
    (by_file,) = [z for z in prescription.zones if z.geometry.contains(wet.centroid)]
    assert (by_point.need, by_point.rate) == (26.0, 50.0)
    assert by_file.rate == 0.0
    assert by_file.geometry.symmetric_difference(wet).area < 1e-7 * wet.length
    assert "need-by-hand" in by_file.note


def test_yield_goals_by_area(ground):
    """Goals that differ by polygon: 200 and 100 bu remove 70 and 35 lb."""
    halves = [shapely.box(0, 0, 240, 480), shapely.box(240, 0, 480, 480)]
    ground.write_polygons("goals.geojson", halves, [{"goal": 200}, {"goal": 100}])
    ground.samples[:, 2] = 25.0
    ground.change(
        ("yield_goal = 200", 'yield_goal = { file = "goals.geojson", column = "goal" }')
    )

    prescription, _ = job.run(ground.write())

    found = sorted((one.yield_goal, one.need) for one in prescription.zones)
    assert found == [(100.0, 35.0), (200.0, 70.0)]


def test_positions_in_a_table_of_their_own(ground):
    """Results joined by id to a table of positions give what one table gives."""
    together, _ = job.run(ground.write())
    rows = (ground.folder / "samples.csv").read_text().splitlines()[1:]
    cells = [row.split(",") for row in rows]
    results = ["id,P"] + [f"s{i},{one[2]}" for i, one in enumerate(cells)]
    places = ["id,x,y"] + [f"s{i},{one[0]},{one[1]}" for i, one in enumerate(cells)]
    (ground.folder / "results.csv").write_text("\n".join(results))
    (ground.folder / "places.csv").write_text(
        "\n".join(reversed(places[1:] + places[:1]))
    )
    ground.change(
        (
            'file = "samples.csv"',
            'file = "results.csv"\npoints = "places.csv"\nid = "id"',
        )
    )
    apart, _ = job.run(ground.write())

    assert [one.soil_test for one in apart.zones] == [
        one.soil_test for one in together.zones
    ]


def test_pooled_seasons(ground):
    """
    One application serves both seasons from the critical level up, and one below it.

    200 × 0.35 = 70 and 60 × 0.80 = 48: 118 lb at 25 ppm; 70 + 5 × 5 = 95 at 15 ppm.
    """
    ground.change(
        ('guideline = "tri-state-2020"', 'guideline = "tri-state-2020"\npool = true')
    )
    ground.samples[:, 2] = 25.0
    rich, _ = job.run(ground.write())
    ground.samples[:, 2] = 15.0
    poor, _ = job.run(ground.write())

    assert rich.zones[0].need == 118.0
    assert poor.zones[0].need == 95.0
    assert codes(poor)["short-again-next-season"] == "note"


def test_farm_file_supplies(ground):
    """What a field file leaves out comes from the farm file above it."""
    folder = ground.folder / "field"
    folder.mkdir()
    machine = ground.text[ground.text.index("[machine]") :]
    (ground.folder / "farm.toml").write_text('units = "us"\n' + machine)
    ground.change((machine, ""))
    ground.folder, ground.path = folder, folder / "field.toml"

    prescription, out = job.run(ground.write())

    assert prescription.plan.machine.step == 5
    assert "../farm.toml" in {one["name"] for one in record_of(out)["inputs"]}

    (ground.folder.parent / "farm.toml").write_text('units = "metric"\n')
    with pytest.raises(InputError, match="must state the same"):
        job.run(ground.path)


def zones_of(ground, *polygons):
    """Make composites of polygons with soil tests, in place of the samples."""
    shapes, tests = zip(*polygons, strict=True)
    ground.write_polygons("zones.geojson", shapes, [{"P": each} for each in tests])
    ground.change(
        ('file = "samples.csv"', 'file = "zones.geojson"\nkind = "zone"'),
        ('x = "x"\ny = "y"\n', ""),
    )
    ground.text = "\n".join(
        line for line in ground.text.splitlines() if not line.startswith("crs =")
    )


def test_a_composite_keeps_its_own_value(ground):
    """At 40 ppm exactly a composite is maintained, whatever lies beside."""
    slanted = shapely.Polygon([(0, 0), (130.3, 0), (370.7, 480), (0, 480)])
    zones_of(ground, (slanted, 40.0), (ground.outline.difference(slanted), 400.0))

    prescription, _ = job.run(ground.write())

    found = {one.soil_test: one.need for one in prescription.zones}
    assert found == {40.0: 70.0, 400.0: 0.0}


def test_drawn_zones_weigh_composites_by_area(ground):
    """A zone over 300 m of 41 ppm and 180 m of 10 ppm: 29.375, need 0 and 120 lb."""
    west, east = shapely.box(0, 0, 300, 480), shapely.box(300, 0, 480, 480)
    zones_of(ground, (west, 41.0), (east, 10.0))
    ground.write_polygons("drawn.geojson", [ground.outline])
    ground.change(("[need]", '[zones]\nby = "file"\nfile = "drawn.geojson"\n[need]'))

    prescription, _ = job.run(ground.write())

    (zone,) = prescription.zones
    assert zone.soil_test == pytest.approx((300 * 41 + 180 * 10) / 480, abs=0.006)
    assert zone.need == pytest.approx(120.0 * 180 / 480, abs=0.06)


def test_many_small_zones_balance(ground):
    """Squares of 60 ft, 0.08 acres each, carry the product that their sum says."""
    ground.change(("[need]", '[zones]\nby = "grid"\nside = 60\n[need]'))
    # More zones than task data has codes for.
    ground.text += '[files]\nmachine = ["shapefile"]\n'

    prescription, out = job.run(ground.write())

    assert len(prescription.zones) > 600
    area = ground.outline.area / ACRE
    # The outline moves by up to half a step of the lattice, 6 mm on 1,920 m.
    assert record_of(out)["totals"]["area"] == pytest.approx(area, rel=5e-5)


def test_one_rate_has_one_soil_test(ground):
    """A composite of 40.003 counts as the 40.00 that is printed: maintenance, 70 lb."""
    column, row = (ground.samples[:, i] // 60.0 for i in (0, 1))
    ground.samples[:, 2] = np.where((column + row) % 2 == 0, 20.0, 60.0)
    ground.samples[0, 2] += 0.2  # by 64 samples: 0.003

    prescription, _ = job.run(ground.write())

    (zone,) = prescription.zones
    assert prescription.surface.verdict == "not supported"
    assert (zone.soil_test, zone.need, zone.soil_class) == (40.0, 70.0, "maintenance")
    assert {one.need for one in prescription.seasons} == {70.0, 48.0}
    assert zone.expected_need is None


def test_limits_that_are_no_binary_fraction(ground):
    """At a limit of 20.7 a field of 20.7 is maintained: 200 × 0.37 = 74 lb."""
    own = (DATA / "own-guideline.toml").read_text()
    (ground.folder / "own.toml").write_text(own.replace("value = 50,", "value = 20.7,"))
    ground.samples[:, 2] = 20.7
    soybean = '[[season]]\ncrop = "soybean"\nyield_goal = 60'
    ground.change(('"tri-state-2020"', '"own.toml"'), (soybean, ""))

    prescription, _ = job.run(ground.write())

    assert [one.need for one in prescription.zones] == [74.0]


@pytest.mark.parametrize("value", [14.0, 14.3, 0.1])
def test_alike_samples_tell_nothing(ground, value):
    """Samples that are all alike give no verdict, whatever their binary fraction."""
    ground.samples[:, 2] = value

    assert job.run(ground.write())[0].surface.verdict == "cannot tell"


def test_rates_have_two_decimals(ground):
    """A limit that the files cannot hold is refused, naming key and value."""
    ground.change(("max_rate = 400", "max_rate = 123.456"))

    with pytest.raises(InputError, match=r"max_rate = 123\.456: write two decimals"):
        job.run(ground.write())


def test_a_step_that_loses_the_need_is_said(ground):
    """70 lb are 134.6 of product, nearer to 0 than to a step of 300, with a warning."""
    ground.samples[:, 2] = 22.0
    ground.change(("min_rate = 50\nmax_rate = 400\nstep = 5", "step = 300"))

    prescription, _ = job.run(ground.write())

    assert [one.rate for one in prescription.zones] == [0.0]
    assert codes(prescription)["rate-limited-by-machine"] == "warn"


def test_by_hand_is_not_limited_by_the_plan(ground):
    """A need set by hand has no finding of the plan's own limits."""
    lon, lat = shapely.get_coordinates(ground.to_lonlat(shapely.Point(400, 400)))[0]
    by_hand = f'[[override]]\np2o5 = 5\nreason = "r"\npoint = [{lon}, {lat}]\n'
    ground.samples[:, 2] = 22.0
    ground.change(("[need]", by_hand + "[need]\nmax_p2o5 = 60"))

    prescription, _ = job.run(ground.write())

    assert "need-limited-by-plan" not in codes(prescription)
    assert codes(prescription)["need-by-hand"] == "note"


def test_yield_goals_may_not_overlap(ground):
    """Two goals for the same ground are refused."""
    half = shapely.box(0, 0, 240, 480)
    ground.write_polygons(
        "goals.geojson", [ground.outline, half], [{"goal": 150}, {"goal": 220}]
    )
    ground.change(
        ("yield_goal = 200", 'yield_goal = { file = "goals.geojson", column = "goal" }')
    )

    with pytest.raises(InputError, match=r"goals\.geojson feature 1 .* overlap"):
        job.run(ground.write())


def test_seasons_have_their_zones_own_goal(ground):
    """Each zone's seasons show the yield goal that holds there."""
    halves = [shapely.box(0, 0, 240, 480), shapely.box(240, 0, 480, 480)]
    ground.write_polygons("goals.geojson", halves, [{"goal": 200}, {"goal": 100}])
    ground.samples[:, 2] = 25.0
    ground.change(
        ("yield_goal = 200", 'yield_goal = { file = "goals.geojson", column = "goal" }')
    )

    prescription, _ = job.run(ground.write())

    corn = [one for one in prescription.seasons if one.crop == "corn-grain"]
    assert sorted((one.yield_goal, one.need) for one in corn) == [
        (100.0, 35.0),
        (200.0, 70.0),
    ]


def test_units_change_in_a_line(ground):
    """20 kg/ha by a metric guideline are 20 / 1.12085 = 17.8 lb/ac, and it is shown."""
    ground.samples[:, 2] = 25.0
    soybean = '[[season]]\ncrop = "soybean"\nyield_goal = 60'
    ground.change(
        ('"tri-state-2020"', '"ontario-811"'),
        ('"mehlich-3-icp"', '"olsen"'),
        (soybean, ""),
    )

    prescription, _ = job.run(ground.write())

    (zone,) = prescription.zones
    (line,) = [one for one in zone.ledger if one.step == "converted"]
    assert line.arithmetic == "20 × 0.892179 = 17.8"
    assert zone.need == 17.8


@pytest.mark.parametrize("name", ["us", "metric", "creek"])
def test_every_ledger_line_computes(name, sample_fields, tmp_path):
    """What stands before an equals sign gives what stands after it."""
    prescription, _ = job.run(sample_fields / name, out=tmp_path / "out")

    checked = 0
    for zone in prescription.zones:
        for line in zone.ledger:
            for sum_ in line.arithmetic.split("; "):
                left, equals, right = sum_.rpartition(" = ")
                left = re.sub(r"^(N|P2O5) ", "", left)
                if not equals or "mean over" in left:
                    continue
                terms = left.replace("×", "*").replace("−", "-")
                decimals = len(right.partition(".")[2])
                # Half a unit of the last decimal, and what binary fractions add.
                bound = 0.5 * 10.0**-decimals + 1e-9
                assert abs(eval(terms) - float(right.replace("−", "-"))) <= bound
                checked += 1
    assert checked > 4 * len(prescription.zones)


def test_confirm_of_no_guideline(ground):
    """An id that no guideline has is refused; one that another field uses is not."""
    ground.change(("[need]", '[confirm]\nrb209-2023 = "p. 1, me, 2026"\n[need]'))
    job.run(ground.write())
    ground.change(("rb209-2023", "tri-state"))

    with pytest.raises(InputError, match=r"confirm\.tri-state: is no guideline's id"):
        job.run(ground.write())


def test_accept_names_the_nearest_code(ground):
    """A mistyped code is refused with the one that was meant, also of a warning."""
    ground.change(("[need]", '[accept]\nsampling-dept = "fine"\n[need]'))

    with pytest.raises(InputError, match="did you mean sampling-depth"):
        job.run(ground.write())


def test_the_method_is_among_the_figures(ground):
    """That a method only agrees with the guideline is said with its figures."""
    prescription, _ = job.run(ground.write())

    (found,) = [
        one for one in prescription.findings if one.code == "guideline-unconfirmed"
    ]
    assert "method mehlich-3-icp" in found.message


def test_a_farm_accepts_nothing(ground):
    """A stop is taken on field by field: accept in a farm file is refused."""
    farm = 'units = "us"\n[accept]\nsampling-depth = "fine"\n'
    (ground.folder / "farm.toml").write_text(farm)

    with pytest.raises(InputError, match=r"farm\.toml: accept is for one field"):
        job.run(ground.write())


def test_a_decimal_slip_stops(ground):
    """A test a hundred times too high is named by its row, and stops the machine."""
    ground.samples[5, 2] *= 100.0

    prescription, _ = job.run(ground.write())

    assert prescription.held_back
    (found,) = [one for one in prescription.findings if one.severity == "stop"]
    assert (found.code, found.place) == ("soil-test-outlier", "samples.csv row 7")


def test_one_column_for_two_things(ground):
    """The column of the soil test cannot be that of pH."""
    ground.change(('soil_test = "P"', 'soil_test = "P"\nph = "P"'))

    with pytest.raises(InputError, match="'P' cannot be soil_test and ph"):
        job.run(ground.write())


def test_an_override_tells_the_zones_parts(ground):
    """Where a zone has parts, a need by point is set in all, and that is said."""
    ground.samples[:, 2] = 25.0
    lane = shapely.box(230, 0, 250, 480)
    ground.outline = ground.outline.difference(lane)
    lon, lat = shapely.get_coordinates(ground.to_lonlat(shapely.Point(400, 400)))[0]
    by_hand = f'[[override]]\np2o5 = 5\nreason = "r"\npoint = [{lon}, {lat}]\n'
    ground.change(("[need]", by_hand + "[need]"))

    prescription, _ = job.run(ground.write())

    (found,) = [one for one in prescription.findings if one.code == "need-by-hand"]
    assert "in all 2 parts of the zone" in found.message


def test_positions_without_a_result_are_said(ground):
    """A position that no result names is left out, and a note says so."""
    places = ["id,x,y"] + [
        f"s{i},{x},{y}" for i, (x, y, _) in enumerate(ground.samples.tolist())
    ]
    results = ["id,P"] + [f"s{i},{p}" for i, p in enumerate(ground.samples[1:, 2], 1)]
    (ground.folder / "places.csv").write_text("\n".join(places))
    (ground.folder / "results.csv").write_text("\n".join(results))
    ground.change(
        (
            'file = "samples.csv"',
            'file = "results.csv"\npoints = "places.csv"\nid = "id"',
        )
    )

    prescription, _ = job.run(ground.write())

    (found,) = [one for one in prescription.findings if one.code == "files-as-read"]
    assert found.message == "places.csv: positions without a result (1): 's0'"
