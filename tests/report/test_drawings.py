"""All drawings of a run: they say what the prescription says, inside their frame."""

import re
from dataclasses import replace
from itertools import combinations
from xml.etree import ElementTree as ET

import numpy as np
import pytest
import shapely
from pyproj import CRS, Geod, Transformer

from vrp import job
from vrp.report.drawings import drawings
from vrp.report.map_frame import Ground
from vrp.report.svg import breadth, cut
from vrp.report.zone_map import rate_map, shades_of, soil_test_zones

SVG = "{http://www.w3.org/2000/svg}"
HOSTILE = "<script>alert('x')</script> & \"quoted\" </title>\u202e\u200f\x1b[31m"


def thirds(folder, ground, tests=(50.0, 25.0, 10.0)):
    """Return a field of three composites side by side, 160 m each, from the west."""
    shapes = [shapely.box(160.0 * at, 0, 160.0 * (at + 1), 480) for at in range(3)]
    ground.write_polygons("zones.geojson", shapes, [{"P": test} for test in tests])
    points = re.search(r'file = "samples.csv"\n.*?(?=soil_test)', ground.text, re.S)[0]
    ground.change((points, 'file = "zones.geojson"\nkind = "zone"\n'))
    return job.run(ground.write(), out=folder)[0]


@pytest.fixture
def composites(ground, tmp_path):
    return thirds(tmp_path / "out", ground)


@pytest.fixture(scope="module")
def us(sample_fields, tmp_path_factory):
    folder = tmp_path_factory.mktemp("drawn")
    return job.run(sample_fields / "us", out=folder / "out")[0]


@pytest.fixture(scope="module")
def drawn(us):
    return {name: ET.fromstring(text) for name, text in drawings(us).items()}


def with_rates(prescription, *rates):
    pairs = zip(prescription.zones, rates, strict=True)
    return replace(
        prescription, zones=tuple(replace(zone, rate=rate) for zone, rate in pairs)
    )


def fills(svg):
    """Return the colour of each zone."""
    return {
        int(path.get("data-zone")): path.get("fill")
        for path in svg.iter(f"{SVG}path")
        if path.get("data-zone")
    }


def texts(svg, kind):
    return [
        text
        for text in svg.iter(f"{SVG}text")
        if kind in (text.get("class") or "").split()
    ]


def box_of(text):
    """Return the ground of a text: figures are wider on average than sentences."""
    size, x, y = (float(text.get(each)) for each in ("font-size", "x", "y"))
    width = (0.62 if len(text.text) < 20 else 0.55) * size * len(text.text)
    left = (
        x - {"start": 0.0, "middle": 0.5, "end": 1.0}[text.get("text-anchor")] * width
    )
    return shapely.box(left, y - 0.74 * size, left + width, y + 0.05 * size)


def test_names(us, drawn, composites):
    """A field of points has eleven drawings, one of composites no surface's."""
    seasons = {"soil test after", "balance"}
    both = {"rates", "soil test", "against one rate"} | seasons
    of_surface = {"error", "shortage", "skill", "left out", "variogram", "zones"}
    assert set(drawn) == both | of_surface
    assert set(drawings(composites)) == both


def test_said_aloud(drawn):
    """Each drawing is an image with a title and a description of its own."""
    for name, svg in drawn.items():
        title, description = svg[0], svg[1]
        assert (title.tag, description.tag) == (f"{SVG}title", f"{SVG}desc"), name
        assert svg.get("role") == "img"
        assert svg.get("aria-label") == title.text
        assert "Rook Bottom 2027" in title.text
        assert len(description.text) > 40
    assert len({svg[0].text for svg in drawn.values()}) == len(drawn)


def test_nothing_from_outside(us):
    """No drawing asks for anything: no address, image, script or reference."""
    for text in drawings(us).values():
        bare = text.replace('xmlns="http://www.w3.org/2000/svg"', "")
        assert not re.search(r"http|url\(|href|<image|<script|@import", bare)


def test_same_bytes(us):
    """The same prescription is drawn alike twice."""
    assert drawings(us) == drawings(us)


def test_text_within_frame(us, drawn):
    """No text leaves its drawing, of points or of composites."""
    for name, svg in drawn.items():
        _, _, width, height = map(float, svg.get("viewBox").split())
        frame = shapely.box(0.0, 0.0, width, height)
        for text in svg.iter(f"{SVG}text"):
            assert shapely.covers(frame, box_of(text)), (name, text.text)


def test_no_text_on_another(drawn):
    """No two texts of a drawing lie on each other."""
    for name, svg in drawn.items():
        boxes = [(box_of(text), text.text) for text in svg.iter(f"{SVG}text")]
        for (one, said), (other, also) in combinations(boxes, 2):
            assert shapely.area(shapely.intersection(one, other)) < 0.5, (
                name,
                said,
                also,
            )


def test_colours_by_hand(composites):
    """Grey for 0; of 100 and 200 the lightest and the darkest of cividis."""
    svg = ET.fromstring(rate_map(with_rates(composites, 0.0, 100.0, 200.0)))

    assert fills(svg) == {1: "#dcdcdc", 2: "#fee838", 3: "#00224e"}
    (nothing, _swatch) = [
        one for one in svg.iter(f"{SVG}path") if one.get("data-part") == "nothing"
    ]
    # Paper without colour: dots, on the west third alone.
    x = [float(each) for each in re.findall(r"M([\d.]+)", nothing.get("d"))]
    assert len(x) > 100
    assert max(x) < 10.0 + 380.0 / 3.0


def test_rates_printed(composites):
    """Each zone says its own rate, once, with its number below it."""
    svg = ET.fromstring(rate_map(with_rates(composites, 0.0, 137.5, 200.0)))

    said = [text.text for text in texts(svg, "value")]
    assert said == ["0", "zone 1", "137.5", "zone 2", "200", "zone 3"]
    legend = [text.text for text in svg.iter(f"{SVG}text") if "·" in text.text]
    # A third of 480 m × 480 m is 7.68 ha, or 18.98 acres.
    assert legend == [
        "0 lb/ac: nothing applied · 19.0 ac",
        "137.5 lb/ac · 19.0 ac",
        "200 lb/ac · 19.0 ac",
    ]


def test_figures_stand_on_their_zones(us, drawn):
    """Every figure lies on a part of a zone of that rate; each zone has one."""
    ground = Ground.of(us, width=400.0, top=48.0)
    shapes = [(zone, ground.drawn(zone.geometry)) for zone in us.zones]
    named = set()
    for text in texts(drawn["rates"], "value"):
        if text.text.startswith("zone"):
            continue
        (zone,) = [
            zone for zone, shape in shapes if shapely.contains(shape, box_of(text))
        ]
        assert text.text == f"{zone.rate:g}"
        named.add(zone.number)
    assert named == {zone.number for zone in us.zones}


def test_no_room_is_said(composites):
    """A strip of 4 m has no room for its figure, and the drawing says so."""
    first, second, third = composites.zones
    west, south, _, north = first.geometry.bounds
    sliver = shapely.box(west, south, west + 5e-5, north)
    zones = (replace(first, geometry=sliver), second, third)
    svg = ET.fromstring(rate_map(replace(composites, zones=zones)))

    assert len(texts(svg, "value")) == 4
    assert "On 1 of 3 zones there is no room for the figure" in svg[1].text + " ".join(
        text.text for text in svg.iter(f"{SVG}text")
    )


@pytest.mark.parametrize(("units", "said"), [("us", "500 ft"), ("metric", "200 m")])
def test_scale_bar(composites, units, said):
    """The bar is as long as the geodesic that it names, to 1 in 1,000."""
    plan = replace(composites.plan, units=units)
    svg = ET.fromstring(rate_map(replace(composites, plan=plan)))
    (group,) = [one for one in svg.iter(f"{SVG}g") if one.get("data-part") == "scale"]
    lines = [one for one in group if one.tag == f"{SVG}line"]
    length = float(lines[0].get("x2")) - float(lines[0].get("x1"))
    outline = Ground.of(composites, width=400.0, top=48.0)
    shape = outline.drawn(outline.outline)
    west, south, east, north = outline.outline.bounds
    middle = (south + north) / 2.0
    _, _, across = Geod(ellps="WGS84").inv(west, middle, east, middle)

    left, _, right, _ = shape.bounds
    metres = length * across / (right - left)
    number, unit = said.split()
    assert said in [text.text for text in svg.iter(f"{SVG}text")]
    wanted = float(number) * {"ft": 0.3048, "m": 1.0}[unit]
    assert metres == pytest.approx(wanted, rel=1e-3)


def test_north_is_up(us):
    """Of two places on the meridian in the middle one stands above the other."""
    ground = Ground.of(us, width=400.0, top=48.0)
    west, south, east, north = ground.outline.bounds
    middle = (west + east) / 2.0
    line = ground.drawn(shapely.LineString([(middle, south), (middle, north)]))

    (x, low), (other, high) = shapely.get_coordinates(line)
    assert x == pytest.approx(other, abs=0.01)
    assert high < low


def test_cells_stand_where_they_lie(us):
    """The matrix of the cells puts a corner where its longitude and latitude are."""
    cells, ground = us.soil_test_map, Ground.of(us, width=400.0, top=48.0)
    back = Transformer.from_crs(CRS(cells.crs), "EPSG:4326", always_xy=True)
    for column, row in [(0, 0), (40, 7), (98, 98)]:
        place = back.transform(
            cells.west + cells.cell * column, cells.north - cells.cell * row
        )
        wanted = shapely.get_coordinates(ground.drawn(shapely.Point(place)))[0]
        found = ground.of_cells(cells) @ [column, row, 1.0]
        assert found == pytest.approx(wanted, abs=0.05)


def cells_in(path):
    """Return how many cells a path of whole steps holds."""
    total = 0.0
    for ring in re.findall(r"M[^z]+z", path):
        x, y = map(float, re.match(r"M(\d+) (\d+)", ring).groups())
        for way, step in re.findall(r"([hv])(-?\d+)", ring):
            after = (x + float(step), y) if way == "h" else (x, y + float(step))
            total += x * after[1] - after[0] * y
            x, y = after
        start = tuple(map(float, re.match(r"M(\d+) (\d+)", ring).groups()))
        total += x * start[1] - start[0] * y
    return abs(total) / 2.0


@pytest.mark.parametrize(
    ("name", "band"),
    [("soil test", "estimate"), ("error", "error"), ("shortage", "short")],
)
def test_classes_hold_their_cells(us, drawn, name, band):
    """Each class covers the cells above its lower limit, the lowest all cells."""
    values = getattr(us.soil_test_map, band)
    (group,) = [
        one for one in drawn[name].iter(f"{SVG}g") if one.get("data-part") == "cells"
    ]

    counts = [(float(one.get("data-above")), cells_in(one.get("d"))) for one in group]
    assert len(counts) > 1
    assert counts[0][1] == np.count_nonzero(np.isfinite(values))
    for above, count in counts[1:]:
        assert count == np.count_nonzero(values > above)
    assert group[0].get("fill") == "#fee838"


def test_samples_say_what_was_found(us, drawn):
    """Every sample has its ring; a figure is one that the laboratory found."""
    svg = drawn["soil test"]
    rings = [one for one in svg.iter(f"{SVG}circle") if one.get("data-sample")]
    found = [f"{sample.soil_test:.10g}" for sample in us.samples]

    assert len(rings) == len(us.samples)
    assert {one.get("data-sample") for one in rings} == {
        str(sample.row) for sample in us.samples
    }
    said = [text.text for text in texts(svg, "sample")]
    assert len(said) > 0.9 * len(found)
    assert not set(said) - set(found)


def test_critical_level_is_drawn(us, drawn):
    """The dashed line runs where the estimate crosses 20 ppm, and is named."""
    svg = drawn["soil test"]
    assert us.guideline.critical == 20.0
    assert [one for one in svg.iter(f"{SVG}path") if one.get("data-part") == "limit"]
    assert "the critical level, 20 ppm" in svg[1].text


def test_composites_by_zone(composites):
    """Composites are drawn by zone: light for 10, dark for 50 ppm."""
    svg = ET.fromstring(soil_test_zones(composites))

    assert fills(svg)[1] == "#00224e"
    assert fills(svg)[3] == "#fee838"
    said = [text.text for text in texts(svg, "value")]
    assert said == ["50", "zone 1", "25", "zone 2", "10", "zone 3"]


def test_classes_are_round():
    """From 8 to 52 the classes are ten wide; alike values are one class."""
    wide = shades_of([8.0, 52.0], "ppm")
    assert [one.label for one in wide] == [
        "0–10 ppm",
        "10–20 ppm",
        "20–30 ppm",
        "30–40 ppm",
        "40–50 ppm",
        "50–60 ppm",
    ]
    assert [one.label for one in shades_of([23.4, 23.4], "ppm")] == ["23.4 ppm"]


def test_left_out_is_the_candidates(us):
    """The errors of the samples left out are those that the first candidate states."""
    facts = us.surface
    for kind in ("leave_one_out", "blocked"):
        errors = [getattr(one, kind) - one.observed for one in facts.left_out]
        wanted = getattr(facts.candidates[0], kind)
        assert np.sqrt(np.mean(np.square(errors))) == pytest.approx(wanted, abs=0.01)
    assert len(facts.left_out) == facts.samples


def test_bins_hold_pairs(us):
    """Bins rise in distance, and hold no more pairs than there are."""
    bins, samples = us.surface.variogram.bins, us.surface.samples
    distances = [one.distance_m for one in bins]

    assert len(bins) > 5
    assert distances == sorted(distances)
    assert sum(one.pairs for one in bins) <= samples * (samples - 1) / 2


def values_on(svg, circles, anchor, *, kind=None):
    """Return the values of circles, read off the axis marks."""
    marks = [
        text
        for text in svg.iter(f"{SVG}text")
        if text.get("font-size") == "10.5"
        and text.get("text-anchor") == anchor
        and re.fullmatch(r"[−\d.,]+", text.text)
        and text.get("class") is None
    ]
    along, off = ("x", 0.0) if anchor == "middle" else ("y", -3.7)
    places = [
        (float(text.get(along)) + off, float(text.text.replace(",", "")))
        for text in marks
    ]
    first, last = min(places), max(places)
    slope = (last[1] - first[1]) / (last[0] - first[0])
    at = {"x": "cx", "y": "cy"}[along]
    return [first[1] + slope * (float(one.get(at)) - first[0]) for one in circles]


def test_variogram_to_scale(us, drawn):
    """Read off the axes, the dots are the bins, in feet."""
    svg, facts = drawn["variogram"], us.surface.variogram
    dots = [one for one in svg.iter(f"{SVG}circle") if one.get("data-part") == "bin"]

    feet = [one.distance_m / 0.3048 for one in facts.bins]
    heights = [one.semivariance for one in facts.bins]
    assert values_on(svg, dots, "middle") == pytest.approx(feet, abs=1.0)
    assert values_on(svg, dots, "end") == pytest.approx(heights, abs=0.001)
    assert f"range {facts.range_m / 0.3048:,.0f} ft" in svg[1].text


def test_variogram_of_a_smooth_model_with_a_direction(us):
    """The drawing names smoothness and direction, and its line is a Matern model's."""
    facts = replace(
        us.surface.variogram, model="matern", smoothness=1.5, angle=30.0, ratio=2.0
    )
    found = drawings(replace(us, surface=replace(us.surface, variogram=facts)))
    svg = ET.fromstring(found["variogram"])

    assert "Model: Matérn, smoothness 1.5." in svg[1].text
    assert "The longest range is 30° clockwise from north" in svg[1].text
    assert "distances across it count 2 times" in svg[1].text
    [line] = [one for one in svg.iter(f"{SVG}path") if one.get("data-part") == "model"]
    plain = ET.fromstring(drawings(us)["variogram"])
    [other] = [
        one for one in plain.iter(f"{SVG}path") if one.get("data-part") == "model"
    ]
    assert line.get("d") != other.get("d")


def test_robust_semivariances_stand_beside(us):
    """Each bin has a robust semivariance, of the same size as the other."""
    share = [one.robust / one.semivariance for one in us.surface.variogram.bins]

    assert len(share) > 5
    assert all(0.3 < one < 2.0 for one in share)


def test_skills_beside_their_limits(us, drawn):
    """The bars are the skills, the verdict is in the heading, 0 and 0.1 are drawn."""
    svg, skill = drawn["skill"], us.surface.skill
    bars = [one.get("data-skill") for one in svg.iter(f"{SVG}rect")]

    wanted = [
        skill.soil_test.leave_one_out,
        skill.soil_test.blocked,
        skill.need.leave_one_out,
        skill.need.blocked,
    ]
    assert [float(one) for one in bars if one] == pytest.approx(wanted)
    assert [text.text for text in texts(svg, "value")] == [
        f"{one:.2f}" for one in wanted
    ]
    assert (
        len([one for one in svg.iter(f"{SVG}line") if one.get("class") == "limit"]) == 2
    )
    assert f"Verdict: {us.surface.verdict}" in svg[1].text


def test_balance_bars(composites):
    """The bars are the balances, by zone and season, to the side of their sign."""
    svg = ET.fromstring(drawings(composites)["balance"])

    bars = [one for one in svg.iter(f"{SVG}rect") if one.get("data-value")]
    values = [float(one.get("data-value")) for one in bars]
    assert values == [one.balance for one in composites.seasons]
    # At 50 ppm nothing is applied: corn's 70 lb are lost, then soybean's 48.
    assert values[:2] == [-70.0, -118.0]
    said = [text.text for text in texts(svg, "value")]
    assert said[:2] == ["−70", "−118"]
    assert float(bars[1].get("width")) == pytest.approx(
        float(bars[0].get("width")) * 118.0 / 70.0, abs=0.05
    )


def test_against_uniform(composites):
    """The bars add up to what the zones get in all less what one rate carries."""
    svg = ET.fromstring(drawings(composites)["against one rate"])
    totals = composites.totals

    values = [
        float(one.get("data-value"))
        for one in svg.iter(f"{SVG}rect")
        if one.get("data-value")
    ]
    difference = totals.zones.p2o5_applied - totals.uniform.p2o5_applied
    assert sum(values) == pytest.approx(difference, abs=1.0)
    # The west third gets nothing: all that one rate would have carried there.
    assert values[0] == pytest.approx(-totals.uniform.p2o5_applied / 3.0, rel=0.001)


def test_bands_after_the_crops(composites):
    """Each zone has its band over now and two seasons, six corners in all."""
    svg = ET.fromstring(drawings(composites)["soil test after"])

    bands = [one for one in svg.iter(f"{SVG}path") if one.get("data-part") == "band"]
    assert [one.get("data-zone") for one in bands] == ["1", "2", "3"]
    for band in bands:
        assert len(re.findall(r"[\d.]+ [\d.]+", band.get("d"))) == 6
    assert "the critical level, 20 ppm" in svg[1].text


def test_season_without_figure(composites):
    """Where no figure was found there is no bar and no band, and that is said."""
    seasons = tuple(
        replace(one, stp_low=None, stp_mid=None, stp_high=None, balance=None)
        if one.zone == 1
        else one
        for one in composites.seasons
    )
    found = drawings(replace(composites, seasons=seasons))

    after = ET.fromstring(found["soil test after"])
    assert "no published figure was found" in after[1].text
    balance = ET.fromstring(found["balance"])
    assert (
        len([one for one in balance.iter(f"{SVG}rect") if one.get("data-value")]) == 4
    )
    assert "no figure for the removal was found" in balance[1].text


def test_hostile_names_stay_text(ground, tmp_path):
    """Markup, hidden marks and 200 letters of a name make no element."""
    bare = thirds(tmp_path / "plain", ground)
    field = replace(bare.plan.field, name=HOSTILE + "W" * 120)
    hostile = replace(bare, plan=replace(bare.plan, field=field))
    for name, text in drawings(hostile).items():
        svg = ET.fromstring(text)
        plain = ET.fromstring(drawings(bare)[name])
        assert [one.tag for one in svg.iter()] == [one.tag for one in plain.iter()]
        said = " ".join(one.text or "" for one in svg.iter())
        assert "<script>alert('x')</script>" in said
        assert not set(said + svg.get("aria-label")) & set("\u202e\u200f\x1b")
        _, named, *_ = svg.iter(f"{SVG}text")
        assert named.text.endswith("…")


@pytest.mark.parametrize("name", ["W" * 1000, "🌾" * 1000, "a" * 1000, "حقل " * 250])
def test_long_names_are_cut(name):
    """A name of 1,000 letters is cut to its room, and says so."""
    short = cut(name, size=14.0, room=380.0)

    assert short.endswith("…")
    assert 5 < len(short) < 100
    assert breadth(short) * 14.0 <= 380.0 + 1e-9


def test_many_zones(us):
    """250 zones are drawn, the figures on those that have room, 24 in the plots."""
    ground = us.zones[0].geometry.bounds
    west, south = ground[:2]
    zones = tuple(
        replace(
            us.zones[at % len(us.zones)],
            number=at + 1,
            area=0.5,
            geometry=shapely.box(
                west + 4e-4 * (at % 16),
                south + 3e-4 * (at // 16),
                west + 4e-4 * (at % 16 + 1),
                south + 3e-4 * (at // 16 + 1),
            ),
        )
        for at in range(250)
    )
    seasons = tuple(
        replace(one, zone=at + 1) for at in range(250) for one in us.seasons[:2]
    )
    found = drawings(replace(us, zones=zones, seasons=seasons, soil_test_map=None))

    rates = ET.fromstring(found["rates"])
    assert len(fills(rates)) == 250
    figures = [
        text for text in texts(rates, "value") if not text.text.startswith("zone")
    ]
    assert len(figures) == 250
    for one, other in combinations([box_of(text) for text in figures], 2):
        assert not shapely.intersects(one, other)
    balance = ET.fromstring(found["balance"])
    bars = [one for one in balance.iter(f"{SVG}rect") if one.get("data-value")]
    assert len(bars) == 48
    assert "The 24 largest of 250 zones" in balance[1].text


def test_one_sample(ground, tmp_path):
    """One sample has a map of one class, and no error, skill or variogram."""
    ground.samples = ground.samples[:1]
    found = drawings(job.run(ground.write(), out=tmp_path / "out")[0])

    assert "error" not in found
    assert "variogram" not in found
    assert "left out" not in found
    assert ET.fromstring(found["soil test"]).get("role") == "img"


def test_many_samples_stay_light(us):
    """1,000 samples are two paths of dots, and the drawing says that none is named."""
    samples = tuple(us.samples[at % len(us.samples)] for at in range(1000))
    facts = replace(us.surface, left_out=us.surface.left_out * 20)
    found = drawings(replace(us, samples=samples, surface=facts))

    surface = ET.fromstring(found["soil test"])
    points = [
        one for one in surface.iter(f"{SVG}path") if one.get("data-part") == "samples"
    ]
    assert [one.get("d").count("h0") for one in points] == [1000, 1000]
    assert "On 1000 of 1000 there is no room for the figure." in surface[1].text
    left_out = ET.fromstring(found["left out"])
    panels = [
        one for one in left_out.iter(f"{SVG}path") if one.get("data-part") == "left-out"
    ]
    count = 20 * len(us.surface.left_out)
    assert [one.get("d").count("h0") for one in panels] == [count, count]


@pytest.mark.parametrize("sides", [(2400, 60), (60, 2400)])
def test_strips(ground, tmp_path, sides):
    """On a strip 60 m wide the samples' figures stay off heading, scale and legend."""
    ground.outline = shapely.box(0, 0, *sides)
    along, beside = np.arange(30.0, 2400, 60), np.full(40, 30.0) + np.arange(40) % 3
    x, y = (along, beside) if sides[0] == 2400 else (beside, along)
    ground.samples = np.column_stack([x, y, 8.0 + along / 50])
    found = drawings(job.run(ground.write(), out=tmp_path / "out")[0])

    for name in ("rates", "soil test"):
        boxes = [box_of(text) for text in ET.fromstring(found[name]).iter(f"{SVG}text")]
        for one, other in combinations(boxes, 2):
            assert shapely.area(shapely.intersection(one, other)) < 0.5


def test_hole_is_hatched(composites):
    """Ground that the boundary leaves out is hatched inside the hole alone."""
    first, *others = composites.zones
    middle = first.geometry.representative_point()
    hole = middle.buffer(3e-4)
    zone = replace(first, geometry=first.geometry.difference(hole))
    changed = replace(composites, zones=(zone, *others))
    svg = ET.fromstring(rate_map(changed))

    (hatching,) = [
        one for one in svg.iter(f"{SVG}path") if one.get("data-part") == "left-out"
    ]
    places = re.findall(r"([\d.]+) ([\d.]+)", hatching.get("d"))
    ground = Ground.of(changed, width=400.0, top=48.0)
    inside = ground.drawn(hole).buffer(0.2)
    assert len(places) > 10
    assert all(shapely.contains_xy(inside, float(x), float(y)) for x, y in places)
    assert "Hatched: left out of the field." in [
        text.text for text in svg.iter(f"{SVG}text")
    ]
