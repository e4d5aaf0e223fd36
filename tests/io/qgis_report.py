"""
Say as JSON how QGIS draws a layer that it was only told to open.

Run by the Python that QGIS belongs to, which needs none of vrp's packages:

    python3 qgis_report.py SOURCE [STYLE.sld]
"""

import json
import os
import sys

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from qgis.core import (
    QgsApplication,
    QgsExpressionContext,
    QgsExpressionContextUtils,
    QgsRasterLayer,
    QgsRenderContext,
    QgsVectorLayer,
)


def report(source, style=None):
    """Return what QGIS makes of a layer, with the classes of each feature."""
    if source.endswith(".tif"):
        layer = QgsRasterLayer(source, "layer")
        provider, bands = layer.dataProvider(), []
        for number in range(1, layer.bandCount() + 1):
            found = provider.bandStatistics(number)
            bands.append([found.minimumValue, found.maximumValue, found.mean])
        drawn = {"renderer": layer.renderer().type(), "bands": bands}
        return {"valid": layer.isValid()} | drawn
    layer = QgsVectorLayer(source, "layer", "ogr")
    loaded = layer.loadSldStyle(style)[1] if style else True
    renderer = layer.renderer().clone()
    context = QgsRenderContext()
    scopes = QgsExpressionContextUtils.globalProjectLayerScopes(layer)
    context.setExpressionContext(QgsExpressionContext(scopes))
    renderer.startRender(context, layer.fields())
    classes = []
    for feature in layer.getFeatures():
        context.expressionContext().setFeature(feature)
        drawn = renderer.symbolsForFeature(feature, context)
        classes.append([symbol.color().name() for symbol in drawn])
    renderer.stopRender(context)
    return {
        "valid": layer.isValid() and loaded,
        "crs": layer.crs().authid(),
        "renderer": renderer.type(),
        "legend": [
            [one.label(), one.symbol().color().name()]
            for one in renderer.legendSymbolItems()
        ],
        "classes": classes,
        "labels": sorted(set(labels(layer))),
    }


def labels(layer):
    """Return the fields that the labels of a layer show."""
    found = layer.labeling()
    if found is None:
        return []
    if found.type() == "rule-based":
        rules = found.rootRule().children()
        return [one.settings().fieldName for one in rules]
    return [found.settings().fieldName]


if __name__ == "__main__":
    application = QgsApplication([], False)
    application.initQgis()
    sys.stdout.write(json.dumps(report(*sys.argv[1:])))
    sys.stdout.flush()
    os._exit(0)  # without the order in which Qt would take things down
