"""rates.sld and rates.qml: every zone in one class, in the colours of the legend."""

import operator
from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pyogrio
import pytest

from vrp import job
from vrp.io import style
from vrp.legend import rate_classes

SLD = "{http://www.opengis.net/sld}"
SE = "{http://www.opengis.net/se}"
OGC = "{http://www.opengis.net/ogc}"

# Comparisons of OGC Filter Encoding 1.1.
COMPARED = {
    "PropertyIsGreaterThan": operator.gt,
    "PropertyIsLessThanOrEqualTo": operator.le,
}


@pytest.fixture
def written(ground):
    ground.change(("[need]", '[zones]\nby = "grid"\nside = 330\n[need]'))
    prescription, out = job.run(ground.write())
    assert len({zone.rate for zone in prescription.zones}) > 3
    return prescription, out / "map"


def holds(rule, rate):
    """Return whether the filter of a rule holds for a rate, by the standard."""
    filters = rule.findall(f"{OGC}Filter")
    if not filters:
        return True
    inner = filters[0].findall(f"{OGC}And") or filters
    return all(
        COMPARED[one.tag.removeprefix(OGC)](rate, float(one.findtext(f"{OGC}Literal")))
        for one in inner[0]
    )


def test_sld_by_the_standard(written):
    """Names, order and version are those of SLD 1.1 with Symbology Encoding 1.1."""
    _, folder = written

    root = ElementTree.parse(folder / "rates.sld").getroot()

    assert root.tag == f"{SLD}StyledLayerDescriptor"
    assert root.get("version") == "1.1.0"
    (rules,) = root.iter(f"{SE}FeatureTypeStyle")
    for rule in rules:
        # The standard's sequence, of what may stand in a rule.
        assert [one.tag for one in rule] == [
            f"{SE}Name",
            f"{SE}Description",
            f"{OGC}Filter",
            f"{SE}PolygonSymbolizer",
        ]


def test_every_zone_is_in_one_class_of_the_sld(written):
    """The filters of the rules hold for each zone's rate once, by a column it has."""
    prescription, folder = written
    rules = list(ElementTree.parse(folder / "rates.sld").iter(f"{SE}Rule"))

    for zone in prescription.zones:
        assert sum(holds(rule, zone.rate) for rule in rules) == 1
    named = {one.text for rule in rules for one in rule.iter(f"{OGC}PropertyName")}
    assert named == {"rate_lb_ac"}


def test_every_zone_is_in_one_class_of_the_qml(written):
    """GDAL selects each zone by the filter of one rule, and by no other."""
    prescription, folder = written
    rules = list(ElementTree.parse(folder / "rates.qml").iter("rule"))

    found = [
        number
        for rule in rules
        for number in pyogrio.read_dataframe(
            folder / "rates.gpkg", layer="zones", where=rule.get("filter")
        )["zone"]
    ]

    assert sorted(found) == [zone.number for zone in prescription.zones]


def test_colours_and_words_are_those_of_the_legend(written):
    """Both files show the classes that pages show, each with its colour and label."""
    prescription, folder = written
    wanted = [(one.label, one.colour) for one in rate_classes(prescription)]

    rules = list(ElementTree.parse(folder / "rates.sld").iter(f"{SE}Rule"))
    by_sld = [
        (
            rule.findtext(f"{SE}Description/{SE}Title"),
            rule.findtext(f"{SE}PolygonSymbolizer/{SE}Fill/{SE}SvgParameter"),
        )
        for rule in rules
    ]
    qml = ElementTree.parse(folder / "rates.qml")
    fills = {
        symbol.get("name"): symbol.find(".//Option[@name='color']").get("value")
        for symbol in qml.iter("symbol")
    }
    by_qml = [
        (rule.get("label"), fills[rule.get("symbol")]) for rule in qml.iter("rule")
    ]

    assert by_sld == wanted
    assert by_qml == [
        (label, ",".join(map(str, (*bytes.fromhex(colour[1:]), 255))))
        for label, colour in wanted
    ]


def test_the_rate_stands_on_the_zones(written):
    """
    QGIS prints the rate on every part of a zone, within it.

    The SLD prints none: a program that put it at a centroid would print it on the
    ground of another zone.
    """
    _, folder = written
    qml = ElementTree.parse(folder / "rates.qml")

    (text,) = qml.iter("text-style")
    (placement,) = qml.iter("placement")
    (rendering,) = qml.iter("rendering")

    assert text.get("fieldName") == "rate_lb_ac"
    assert placement.get("placement") == "4"  # horizontal, in the polygon
    assert (rendering.get("labelPerPart"), rendering.get("displayAll")) == ("1", "1")
    assert "TextSymbolizer" not in (folder / "rates.sld").read_text("utf-8")


def test_a_single_rate(written):
    """One rate is one class, which holds everything: no filter leaves a zone out."""
    prescription, _ = written
    alike = replace(prescription, zones=prescription.zones[:1])

    (rule,) = ElementTree.fromstring(style.sld(alike)).iter(f"{SE}Rule")
    (other,) = ElementTree.fromstring(style.zones_qml(alike)).iter("rule")

    assert rule.find(f"{OGC}Filter") is None
    assert other.get("filter") is None


def test_hostile_names(ground):
    """Whatever a field is called, the style is XML and says the name."""
    ground.change(('name = "Test Ground"', "name = '''<b>&]]>\"\ufffe'''"))

    _, out = job.run(ground.write())

    root = ElementTree.parse(out / "map" / "rates.sld")
    (style_,) = root.iter(f"{SLD}UserStyle")
    shown = style_.findtext(f"{SE}Description/{SE}Title")
    # XML 1.0 has no way to write U+FFFE.
    assert shown == '<b>&]]>"\ufffd 2027: rate of 11-52-0 [lb/ac]'


def test_read(tmp_path):
    """What is read of a style are its classes, as they stand there."""
    (tmp_path / "a.qml").write_text(
        '<qgis><rules><rule filter="&quot;r&quot; &lt;= 0"/>'
        '<rule filter="&quot;r&quot; &gt; 0 AND &quot;r&quot; &lt;= 62.5"/>'
        '<rule filter="&quot;r&quot; &gt; 62.5"/></rules></qgis>'
    )

    infinity = float("inf")
    assert style.classes((tmp_path / "a.qml").read_text("utf-8")) == (
        (-infinity, 0.0),
        (0.0, 62.5),
        (62.5, infinity),
    )


def test_style_of_the_raster(written):
    """The soil test is drawn from its lowest to its highest value, light to dark."""
    prescription, folder = written

    (shader,) = ElementTree.parse(folder / "soil_test.qml").iter("colorrampshader")

    stops = [(float(one.get("value")), one.get("color")) for one in shader]
    estimate = prescription.soil_test_map.estimate
    inside = estimate[np.isfinite(estimate)]
    assert stops[0][0] <= inside.min() < stops[1][0]
    assert stops[-2][0] < inside.max() <= stops[-1][0]
    assert (stops[0][1], stops[-1][1]) == ("#fee838", "#00224e")
    assert shader[0].get("label").endswith(" ppm")
