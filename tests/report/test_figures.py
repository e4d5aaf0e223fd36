"""Drawings: well-formed, to scale, legible in black and white, no text on another."""

import re
from itertools import combinations, pairwise
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vrp.agronomy.comparison import compare
from vrp.agronomy.guidelines import shipped
from vrp.report import figures
from vrp.report.compare_view import drawing

SVG = "{http://www.w3.org/2000/svg}"
HOSTILE = "<script>alert('x')</script> & \"quoted\" \x1b[31m\ufffe\ud800"


def line(label="one", *, start=100.0, tip="A guideline, nobody, 2026"):
    """Return a line that falls to 40 at 20 and steps to 0 at 30."""
    sloping = ((0.0, start), (20.0, 40.0), (30.0, 40.0))
    return figures.Line(
        label, "2026, 0–8 in", tip, (sloping, ((30.0, 0.0), (40.0, 0.0)))
    )


def parsed(*lines, notes=("A note.",), title="corn, yield goal 200 bu/ac"):
    panel = figures.Panel(title, "soil test (ppm)", "need (lb P2O5/ac)", lines)
    return ET.fromstring(figures.chart([panel], notes))


def corn(system="us", goal=200.0, crop="corn-grain", **options):
    found = compare(shipped(), crop, yield_goal=goal, system=system, **options)
    return ET.fromstring(drawing(found))


def scale(panel, kind, axis):
    """Return what turns a place on an axis into its value, from the marks alone."""
    marks = [
        (float(text.get(axis)), float(text.text))
        for text in panel
        if text.tag == f"{SVG}text" and text.get("class") == kind
    ]
    (low, first), (high, last) = min(marks), max(marks)
    return lambda place: first + (place - low) * (last - first) / (high - low)


def lines_of(svg):
    """Return the points of each line by its label, on the scale of the axes."""
    across, up = scale(svg, "across", "x"), scale(svg, "up", "y")
    found = {}
    for group in svg.iter(f"{SVG}g"):
        (path,) = [
            one for one in group.iter(f"{SVG}path") if one.get("data-part") == "need"
        ]
        label = " / ".join(text.text for text in group.iter(f"{SVG}text"))
        # The marks of the upright axis stand 4 below the height that they name.
        found[label] = [
            [
                (across(float(x)), up(float(y) + 4.0))
                for x, y in re.findall(r"([\d.]+) ([\d.]+)", part)
            ]
            for part in path.get("d").split("M")
            if part
        ]
    return found


def value(stretches, soil_test):
    """Return where a drawn line stands at a soil test between its steps."""
    for part in stretches:
        for (x, y), (after, end) in pairwise(part):
            if x <= soil_test <= after:
                return y + (end - y) * (soil_test - x) / (after - x)
    raise AssertionError(soil_test)


def boxes(svg):
    """Return the box of each text, at 0.6 of its size a letter."""
    found = []
    for text in svg.iter(f"{SVG}text"):
        size = float(text.get("font-size"))
        width = 0.6 * size * len(text.text)
        share = {"start": 0.0, "middle": 0.5, "end": 1.0}[text.get("text-anchor")]
        left = float(text.get("x")) - share * width
        y = float(text.get("y"))
        found.append((text.text, left, left + width, y - 0.75 * size, y + 0.2 * size))
    return found


# By hand at 200 bu/ac, in lb/ac: what each guideline's own figures give.
POINTS = [
    # 5 × (20 − 10) + 200 × 0.35; 200 × 0.35
    ("mehlich-3-icp", "tri-state-2020", 10.0, 120.0),
    ("mehlich-3-icp", "tri-state-2020", 30.0, 70.0),
    ("mehlich-3-icp", "tri-state-2020", 42.0, 0.0),
    # 110 kg and 50 kg, × 0.892179
    ("olsen", "ontario-811", 2.0, 98.1397),
    ("olsen", "ontario-811", 11.0, 44.6090),
    # 5 × (15 − 10) + 200 × 0.37; above 30 half way to 40
    ("bray-p1", "tri-state-1995", 10.0, 99.0),
    ("bray-p1", "tri-state-1995", 35.0, 37.0),
    # (0.7 − 0.035 × 10) × 200
    ("bray-p1", "south-dakota-ec750", 10.0, 70.0),
    # 50 + 0.2 × 200 − 2.5 × 10 − 0.01 × 200 × 10
    ("bray-p1", "kansas-mf-2586-2003-sufficiency", 10.0, 45.0),
    # 20 lb/ac in the low region: 9 × (50 − 20) / 4 + 200 × 0.37
    ("bray-p1", "illinois-2009* / low", 10.0, 141.5),
    # 18 × (20 − 10) / 4 + 200 × 0.33
    ("bray-p1", "kansas-mf-2586-2003-build* / 4 years", 10.0, 111.0),
    ("bray-p1", "iowa-pm-1688-2013", 5.0, 100.0),
]


@pytest.mark.parametrize(("method", "guideline", "soil_test", "need"), POINTS)
def test_lines_pass_through_points(method, guideline, soil_test, need):
    """Read off the axes, each line is where its guideline's figures put it by hand."""
    drawn = lines_of(corn(method=method))
    (found,) = [line for label, line in drawn.items() if label.startswith(guideline)]

    assert value(found, soil_test) == pytest.approx(need, abs=0.15)


def test_wheat_is_drawn_in_steps():
    """RB209 winter wheat, 8 t/ha: 110, 80, 50 and 0 kg, stepping at 9.5, 15.5, 25.5."""
    drawn = lines_of(
        corn("metric", 8.0, "winter-wheat", method="olsen", residue="left")
    )

    (wheat,) = [line for label, line in drawn.items() if label.startswith("rb209")]

    assert [part[0][0] for part in wheat] == pytest.approx(
        [0, 9.5, 15.5, 25.5], abs=0.05
    )
    assert [part[0][1] for part in wheat] == pytest.approx([110, 80, 50, 0], abs=0.15)
    assert all(part[0][1] == part[-1][1] for part in wheat)


def test_steps_are_dotted_and_upright():
    """Each jump of a line is a rule of its own, upright, between the two needs."""
    svg = parsed(line())

    (step,) = [
        one for one in svg.iter(f"{SVG}line") if "step" in one.get("class").split()
    ]

    assert step.get("x1") == step.get("x2")
    up = scale(svg, "up", "y")
    ends = [up(float(step.get(end)) + 4.0) for end in ("y1", "y2")]
    assert ends == pytest.approx([40.0, 0.0], abs=0.1)
    (style,) = svg.iter(f"{SVG}style")
    assert re.search(r"\.step\{[^}]*stroke-dasharray", style.text)


@pytest.mark.parametrize("place", ["label", "tip", "note", "title"])
def test_hostile_text_is_text(place):
    """Markup in a name, title or note is shown, and makes no element."""
    plain = parsed(line())
    svg = parsed(
        line(
            HOSTILE if place == "label" else "x", tip=HOSTILE if place == "tip" else ""
        ),
        notes=(HOSTILE if place == "note" else "",),
        title=HOSTILE if place == "title" else "",
    )

    assert {one.tag for one in svg.iter()} == {one.tag for one in plain.iter()}
    said = " ".join(one.text or "" for one in svg.iter()) + svg.get("aria-label")
    assert "<script>alert('x')</script>" in said
    assert "\x1b" not in said


def test_drawing_is_utf_8():
    """What cannot be written as UTF-8 is spelled out."""
    panel = figures.Panel(HOSTILE, "x", "y", (line(HOSTILE),))

    assert figures.chart([panel], []).encode("utf-8")


@pytest.mark.parametrize("count", [1, 3, 10, 20])
@pytest.mark.parametrize("apart", [0.0, 0.5, 25.0])
def test_no_text_on_another(count, apart):
    """Labels of lines that begin near each other, or at one need, do not overlap."""
    lines = [
        line(f"a-guideline-with-a-long-name-{number}", start=100.0 + apart * number)
        for number in range(count)
    ]

    svg = parsed(*lines)

    _, _, width, height = map(float, svg.get("viewBox").split())
    for text, left, right, top, bottom in boxes(svg):
        assert left >= 0.0, text
        assert right <= width, text
        assert top >= 0.0, text
        assert bottom <= height, text
    for one, other in combinations(boxes(svg), 2):
        beside = one[2] <= other[1] or other[2] <= one[1]
        assert beside or one[4] <= other[3] or other[4] <= one[3], (one, other)


@pytest.mark.parametrize("crop", ["corn-grain", "winter-wheat", "soybean"])
def test_no_text_on_another_in_shipped(crop):
    """Nor do the labels of the guidelines that ship, in any of their blocks."""
    svg = corn(crop=crop, goal=60.0)

    for one, other in combinations(boxes(svg), 2):
        beside = one[2] <= other[1] or other[2] <= one[1]
        assert beside or one[4] <= other[3] or other[4] <= one[3], (one, other)


def test_lines_differ_without_colour():
    """Sixteen lines have sixteen looks by dashes and width alone."""
    svg = parsed(*(line(f"line {number}") for number in range(16)))

    looks = [
        (one.get("stroke-dasharray"), one.get("stroke-width"))
        for one in svg.iter(f"{SVG}path")
        if one.get("data-part") == "need"
    ]
    assert len(set(looks)) == len(looks) == 16


def test_leaders_do_not_cross():
    """Labels stand in the order in which their lines begin, from the top."""
    starts = [150.0, 90.0, 120.0, 119.0, 60.0]
    svg = parsed(*(line(f"{start:g}", start=start) for start in starts))

    labels = [
        (float(text.get("y")), float(text.text))
        for text in svg.iter(f"{SVG}text")
        if text.get("class") == "label" and text.get("font-size") == "12"
    ]
    assert [start for _, start in sorted(labels)] == [150, 120, 119, 90, 60]


def _luminance(tone):
    """Return the relative luminance of a colour, by WCAG 2.1."""
    parts = [int(tone[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [
        one / 12.92 if one <= 0.03928 else ((one + 0.055) / 1.055) ** 2.4
        for one in parts
    ]
    return sum(
        share * one for share, one in zip((0.2126, 0.7152, 0.0722), linear, strict=True)
    )


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_tones_stand_out(scheme):
    """On either ground every line has 3 to 1 (WCAG 2.1, 1.4.11), text 4.5 to 1."""
    style = next(parsed(line()).iter(f"{SVG}style")).text
    rules = style.split("@media")
    part = rules[0] if scheme == "light" else rules[1]
    assert ("prefers-color-scheme:dark" in part) == (scheme == "dark")
    (ground,) = re.findall(r"\.ground\{fill:(#[0-9a-f]{6})\}", part)
    (ink,) = re.findall(r"\{color:(#[0-9a-f]{6})\}", part)
    tones = re.findall(r"\.tone-\d\{stroke:(#[0-9a-f]{6})\}", part)

    def contrast(tone):
        low, high = sorted((_luminance(tone), _luminance(ground)))
        return (high + 0.05) / (low + 0.05)

    assert len(tones) == 4
    assert min(map(contrast, tones)) >= 3.0
    assert contrast(ink) >= 4.5


def test_many_low_lines_below_one_high():
    """Eleven lines that begin near 0 leave the label of a high one where it is."""
    svg = parsed(
        line("high", start=200.0), *(line("low", start=45.0) for _ in range(11))
    )

    tops = {text: top for text, _, _, top, _ in boxes(svg)}
    assert tops["high"] > tops["corn, yield goal 200 bu/ac"] + 14.0


@given(st.lists(st.floats(0.0, 400.0), min_size=1, max_size=14).map(sorted))
def test_labels_are_spread(wanted):
    """Labels rise, stand a pitch apart and within both ends, in the order given."""
    places = figures.spread(wanted, pitch=30.0, top=50.0, bottom=450.0)

    assert len(places) == len(wanted)
    assert min(places) >= 50.0 - 1e-6
    assert max(places) <= 450.0 + 1e-6
    assert all(b - a >= 30.0 - 1e-6 for a, b in pairwise(places))


def test_labels_with_room_stay():
    """What is far enough apart is not moved; two at one place part evenly."""
    ends = {"pitch": 30.0, "top": 50.0, "bottom": 300.0}
    assert figures.spread([60.0, 100.0, 200.0], **ends) == [60, 100, 200]
    assert figures.spread([100.0, 100.0], **ends) == [85.0, 115.0]


@pytest.mark.parametrize(
    ("upto", "most", "marks"),
    [
        (170.0, 6, (0, 50, 100, 150, 200)),
        (45.0, 10, (0, 5, 10, 15, 20, 25, 30, 35, 40, 45)),
        (0.0, 6, (0, 1)),
        (7.0, 5, (0, 2, 4, 6, 8)),
    ],
)
def test_marks_are_round(upto, most, marks):
    """Marks are 1, 2, 2.5 or 5 times a power of ten apart, and reach the value."""
    assert figures.ticks(upto, most=most) == marks
