"""How a GIS draws the map: rates.sld by Symbology Encoding 1.1, QML for QGIS."""

import math
import re
from collections.abc import Mapping
from pathlib import Path
from xml.etree import ElementTree
from xml.etree.ElementTree import Element, SubElement

import numpy as np

from vrp.evidence import shown
from vrp.legend import (
    RateClass,
    cividis,
    plain,
    product_rate_unit,
    rate_classes,
    rate_column,
    soil_test_column,
)
from vrp.prescription import Prescription, SoilTestMap

SLD, QML, SOIL_TEST = "rates.sld", "rates.qml", "soil_test.qml"

# Of letters, with a halo that keeps them readable on any colour of the scale.
INK, HALO = "#000000", "#ffffff"
EDGE = "#404040"

# What the notes of excluded zones hold, and how their hatching is drawn.
_EXCLUDED = "setback"
_HATCH = {
    "color": "27,27,27,255",
    "angle": "45",
    "distance": "2.2",
    "distance_unit": "MM",
    "line_width": "0.3",
    "line_width_unit": "MM",
}

_STEPS = 10  # of the soil test's colours, straight lines between them

_NAMESPACES = {
    "xmlns": "http://www.opengis.net/sld",
    "xmlns:se": "http://www.opengis.net/se",
    "xmlns:ogc": "http://www.opengis.net/ogc",
    "xmlns:xsi": "http://www.w3.org/2001/XMLSchema-instance",
    "xsi:schemaLocation": (
        "http://www.opengis.net/sld "
        "http://schemas.opengis.net/sld/1.1.0/StyledLayerDescriptor.xsd"
    ),
    "version": "1.1.0",
}
# Characters that XML has no way to write, beside those that `plain` spells out.
_NO_XML = re.compile("[\ud800-\udfff\ufffe\uffff]")


def write(folder: Path, prescription: Prescription) -> None:
    """Write rates.sld and rates.qml into a folder."""
    for name, text in ((SLD, sld(prescription)), (QML, zones_qml(prescription))):
        (folder / name).write_text(text, "utf-8", newline="\n")


def write_soil_test(
    folder: Path, prescription: Prescription, surface: SoilTestMap
) -> None:
    """Write soil_test.qml beside the raster of that name."""
    text = soil_test_qml(prescription, surface)
    (folder / SOIL_TEST).write_text(text, "utf-8", newline="\n")


def classes(text: str) -> tuple[tuple[float, float], ...]:
    """Return the rates of each class: above the first and up to the second."""
    root = ElementTree.fromstring(text)
    filters = [rule.get("filter", "") for rule in root.iter("rule")]
    filters = [one for one in filters if _EXCLUDED not in one]
    if not filters:
        se, ogc = "{http://www.opengis.net/se}", "{http://www.opengis.net/ogc}"
        like = f"{ogc}PropertyIsLike"  # of excluded ground, drawn over its class
        signs = {"PropertyIsGreaterThan": ">", "PropertyIsLessThanOrEqualTo": "<="}
        filters = [
            " ".join(
                f"{sign} {bound.findtext(f'{ogc}Literal')}"
                for word, sign in signs.items()
                for bound in rule.iter(f"{ogc}{word}")
            )
            for rule in root.iter(f"{se}Rule")
            if next(rule.iter(like), None) is None
        ]
    return tuple(
        (_bound(r"> ([-\d.]+)", one, -math.inf), _bound(r"<= ([-\d.]+)", one, math.inf))
        for one in filters
    )


def ends(text: str) -> tuple[float, float]:
    """Return the lowest and the highest soil test that a raster's colours reach."""
    drawn = next(ElementTree.fromstring(text).iter("rasterrenderer"))
    return float(drawn.attrib["classificationMin"]), float(
        drawn.attrib["classificationMax"]
    )


def _bound(pattern: str, text: str, absent: float) -> float:
    found = re.search(pattern, text)
    return absent if found is None else float(found[1])


def sld(prescription: Prescription) -> str:
    """
    Return the style of the zones for any GIS that knows the standard.

    It prints no rates: where they stand is left to the program, and those that put them
    at centroids print the rate of one zone on the ground of another.
    """
    column = rate_column(prescription)
    root = Element("StyledLayerDescriptor", _NAMESPACES)
    layer = SubElement(root, "NamedLayer")
    _say(layer, "se:Name", "zones")
    style = SubElement(layer, "UserStyle")
    _say(style, "se:Name", "rates")
    _say(SubElement(style, "se:Description"), "se:Title", title(prescription))
    rules = SubElement(style, "se:FeatureTypeStyle")
    for each in rate_classes(prescription):
        rule = SubElement(rules, "se:Rule")
        _say(rule, "se:Name", each.label)
        _say(SubElement(rule, "se:Description"), "se:Title", each.label)
        bounds = [
            (name, value)
            for name, value in (
                ("ogc:PropertyIsGreaterThan", each.low),
                ("ogc:PropertyIsLessThanOrEqualTo", each.high),
            )
            if math.isfinite(value)
        ]
        if bounds:
            within = SubElement(rule, "ogc:Filter")
            if len(bounds) > 1:
                within = SubElement(within, "ogc:And")
            for name, value in bounds:
                compared = SubElement(within, name)
                _say(compared, "ogc:PropertyName", column)
                _say(compared, "ogc:Literal", shown(value, most=2))
        polygon = SubElement(rule, "se:PolygonSymbolizer")
        fill = SubElement(polygon, "se:Fill")
        _say(fill, "se:SvgParameter", each.colour, name="fill")
        stroke = SubElement(polygon, "se:Stroke")
        _say(stroke, "se:SvgParameter", EDGE, name="stroke")
        _say(stroke, "se:SvgParameter", "1", name="stroke-width")
    if _has_excluded(prescription):
        rule = SubElement(rules, "se:Rule")
        _say(rule, "se:Name", "excluded")
        what = SubElement(rule, "se:Description")
        _say(what, "se:Title", "excluded: kept from water")
        like = SubElement(
            SubElement(rule, "ogc:Filter"),
            "ogc:PropertyIsLike",
            {"wildCard": "*", "singleChar": "?", "escapeChar": "\\"},
        )
        _say(like, "ogc:PropertyName", "note")
        _say(like, "ogc:Literal", f"*{_EXCLUDED}*")
        _crossed(rule)
    return _text(root)


def excluded_sld() -> str:
    """Return the style of excluded ground for any GIS: crosses, and an edge."""
    root = Element("StyledLayerDescriptor", _NAMESPACES)
    layer = SubElement(root, "NamedLayer")
    _say(layer, "se:Name", "excluded")
    style = SubElement(layer, "UserStyle")
    _say(style, "se:Name", "excluded")
    rule = SubElement(SubElement(style, "se:FeatureTypeStyle"), "se:Rule")
    _say(rule, "se:Name", "excluded")
    _crossed(rule)
    return _text(root)


def _crossed(rule: Element) -> None:
    """Fill polygons of a rule with crosses: of the standard's marks the nearest."""
    polygon = SubElement(rule, "se:PolygonSymbolizer")
    graphic = SubElement(
        SubElement(SubElement(polygon, "se:Fill"), "se:GraphicFill"), "se:Graphic"
    )
    mark = SubElement(graphic, "se:Mark")
    _say(mark, "se:WellKnownName", "x")
    drawn = SubElement(mark, "se:Stroke")
    _say(drawn, "se:SvgParameter", INK, name="stroke")
    _say(graphic, "se:Size", "8")
    stroke = SubElement(polygon, "se:Stroke")
    _say(stroke, "se:SvgParameter", INK, name="stroke")
    _say(stroke, "se:SvgParameter", "1", name="stroke-width")


def _has_excluded(prescription: Prescription) -> bool:
    return any(zone.excluded is not None for zone in prescription.zones)


def zones_qml(prescription: Prescription) -> str:
    """Return the style of the zones for QGIS: a rule a class, the rate on each zone."""
    column = rate_column(prescription)
    root = _qgis()
    renderer = SubElement(root, "renderer-v2", {"type": "RuleRenderer"} | _PLAIN)
    rules = SubElement(renderer, "rules", {"key": "{rates}"})
    symbols = SubElement(renderer, "symbols")
    for index, each in enumerate(rate_classes(prescription)):
        rule = {"key": f"{{class-{index}}}", "symbol": str(index), "label": each.label}
        wanted = expression(each, column)
        SubElement(rules, "rule", rule | ({"filter": wanted} if wanted else {}))
        look = {
            "color": _rgba(each.colour),
            "style": "solid",
            "outline_color": _rgba(EDGE),
            "outline_style": "solid",
            "outline_width": "0.3",
            "outline_width_unit": "MM",
        }
        _symbol(symbols, "fill", "SimpleFill", look, name=str(index))
    if _has_excluded(prescription):
        # Over its class, which is that of no rate.
        drawn = str(len(symbols))
        label = "excluded: kept from water"
        rule = {"key": "{excluded}", "symbol": drawn, "label": label}
        SubElement(rules, "rule", rule | {"filter": f"\"note\" LIKE '%{_EXCLUDED}%'"})
        _symbol(symbols, "fill", "LinePatternFill", _HATCH, name=drawn)
    # Every part of a zone says its rate, whatever else is drawn there.
    all_of_them = {"labelPerPart": "1", "displayAll": "1"}
    bold = {"fontSize": "11", "fontWeight": "75"}
    _labels(root, column, bold, {"placement": "4"}, all_of_them)
    _say(root, "layerGeometryType", "2")
    return _text(root)


def samples_qml(prescription: Prescription) -> str:
    """Return the style of the samples for QGIS: a small ring, its soil test beside."""
    root = _qgis()
    look = {
        "name": "circle",
        "color": _rgba(HALO),
        "outline_color": _rgba(INK),
        "outline_width": "0.3",
        "outline_width_unit": "MM",
        "size": "1.6",
        "size_unit": "MM",
    }
    _single(root, "marker", "SimpleMarker", look)
    column = soil_test_column(prescription)
    # Slanted, and left out where it would touch the rate of a zone.
    slanted = {"fontSize": "8", "fontItalic": "1"}
    _labels(root, column, slanted, {"placement": "0", "dist": "0.8"}, {})
    _say(root, "layerGeometryType", "0")
    return _text(root)


def excluded_qml() -> str:
    """Return the style of excluded ground for QGIS: hatched."""
    root = _qgis()
    _single(root, "fill", "LinePatternFill", _HATCH)
    _say(root, "layerGeometryType", "2")
    return _text(root)


def boundary_qml() -> str:
    """Return the style of the boundary for QGIS: a line, nothing filled."""
    root = _qgis()
    look = {
        "style": "no",
        "outline_color": _rgba(INK),
        "outline_style": "solid",
        "outline_width": "0.7",
        "outline_width_unit": "MM",
    }
    _single(root, "fill", "SimpleFill", look)
    _say(root, "layerGeometryType", "2")
    return _text(root)


def soil_test_qml(prescription: Prescription, surface: SoilTestMap) -> str:
    """Return the style of the soil test's raster for QGIS: its first band, by value."""
    unit = prescription.guideline.soil_test_unit
    lowest = math.floor(np.nanmin(surface.estimate))
    highest = max(math.ceil(np.nanmax(surface.estimate)), lowest + 1)
    ends = {"classificationMin": str(lowest), "classificationMax": str(highest)}
    root = _qgis()
    drawn = SubElement(
        SubElement(root, "pipe"),
        "rasterrenderer",
        {"type": "singlebandpseudocolor", "band": "1", "opacity": "1"} | ends,
    )
    kind = {"colorRampType": "INTERPOLATED", "classificationMode": "2", "clip": "0"}
    scale = SubElement(
        SubElement(drawn, "rastershader"),
        "colorrampshader",
        kind | {"minimumValue": str(lowest), "maximumValue": str(highest)},
    )
    for step in range(_STEPS + 1):
        share = step / _STEPS
        value = shown(lowest + share * (highest - lowest), most=2)
        stop = {"value": value, "label": f"{value} {unit}", "alpha": "255"}
        SubElement(scale, "item", stop | {"color": cividis(1.0 - share)})
    return _text(root)


def title(prescription: Prescription) -> str:
    """Return what the map shows, of which field."""
    plan = prescription.plan
    year = "" if plan.field.year is None else f" {plan.field.year}"
    unit = product_rate_unit(prescription)
    return f"{plan.field.name}{year}: rate of {plan.product.grade} [{unit}]"


def expression(each: RateClass, column: str) -> str:
    """Return the condition of a class, as QGIS and SQL write it."""
    return " AND ".join(
        f'"{column}" {sign} {shown(value, most=2)}'
        for sign, value in ((">", each.low), ("<=", each.high))
        if math.isfinite(value)
    )


_PLAIN = {"symbollevels": "0", "forceraster": "0", "enableorderby": "0"}


def _qgis() -> Element:
    return Element(
        "qgis", {"version": "3.22.0", "styleCategories": "Symbology|Labeling"}
    )


def _single(root: Element, kind: str, layer: str, look: Mapping[str, str]) -> None:
    renderer = SubElement(root, "renderer-v2", {"type": "singleSymbol"} | _PLAIN)
    _symbol(SubElement(renderer, "symbols"), kind, layer, look, name="0")


def _symbol(
    parent: Element, kind: str, layer: str, look: Mapping[str, str], *, name: str
) -> None:
    symbol = {"type": kind, "name": name, "alpha": "1", "clip_to_extent": "1"}
    drawn = SubElement(
        SubElement(parent, "symbol", symbol | {"force_rhr": "0"}),
        "layer",
        {"class": layer, "enabled": "1", "locked": "0", "pass": "0"},
    )
    options = SubElement(drawn, "Option", {"type": "Map"})
    for key, value in look.items():
        SubElement(options, "Option", {"type": "QString", "name": key, "value": value})


def _labels(
    root: Element,
    column: str,
    letters: Mapping[str, str],
    placement: Mapping[str, str],
    rendering: Mapping[str, str],
) -> None:
    settings = SubElement(SubElement(root, "labeling", {"type": "simple"}), "settings")
    plain_letters = {
        "fieldName": column,
        "isExpression": "0",
        "fontFamily": "Sans Serif",
        "fontSizeUnit": "Point",
        "textColor": _rgba(INK),
        "textOpacity": "1",
    }
    style = SubElement(settings, "text-style", plain_letters | dict(letters))
    halo = {
        "bufferDraw": "1",
        "bufferSize": "0.8",
        "bufferSizeUnits": "MM",
        "bufferColor": _rgba(HALO),
        "bufferOpacity": "1",
        "bufferNoFill": "0",
    }
    SubElement(style, "text-buffer", halo)
    SubElement(settings, "placement", dict(placement))
    SubElement(settings, "rendering", {"drawLabels": "1", "obstacle": "0", **rendering})


def _rgba(colour: str) -> str:
    return ",".join(str(channel) for channel in (*bytes.fromhex(colour[1:]), 255))


def _say(parent: Element, tag: str, text: str, **attributes: str) -> None:
    SubElement(parent, tag, attributes).text = _NO_XML.sub("\ufffd", plain(text))


def _text(root: Element) -> str:
    ElementTree.indent(root)
    text = ElementTree.tostring(root, encoding="unicode")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{text}\n'
