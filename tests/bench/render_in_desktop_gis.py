"""Open a plan.gpkg in the desktop GIS with the styles it carries, and keep a picture.

Run with the Python that sees the GIS's own bindings (Debian: python3-qgis):

    export QT_QPA_PLATFORM=offscreen
    /usr/bin/python3 tests/bench/render_in_desktop_gis.py PLAN.gpkg OUT.png

Every layer must load, be valid and find its default style in the file; the
script fails otherwise. It is run by hand before a release; the last picture of the
sample area is kept beside it.
"""

import sqlite3
import sys
from contextlib import closing
from pathlib import Path

from qgis.core import (
    QgsApplication,
    QgsMapRendererSequentialJob,
    QgsMapSettings,
    QgsVectorLayer,
)
from qgis.PyQt.QtCore import QSize
from qgis.PyQt.QtGui import QColor

WIDTH, HEIGHT = 1600, 1200


def layer_names(path: Path) -> list[str]:
    """Read the spatial layers of a GeoPackage in the order they were written."""
    with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as db:
        rows = db.execute(
            "select table_name from gpkg_contents where data_type = 'features' order by rowid"
        )
        return [name for (name,) in rows]


def main(source: Path, picture: Path) -> int:
    """Draw all layers, first written lowest."""
    gis = QgsApplication([], False)
    gis.initQgis()
    faults, layers = [], []
    for name in layer_names(source):
        layer = QgsVectorLayer(f"{source}|layername={name}", name, "ogr")
        if not layer.isValid():
            faults.append(f"{name}: does not load")
            continue
        _, found = layer.loadDefaultStyle()
        style = layer.renderer().type() if layer.renderer() is not None else "none"
        print(f"{name}: {layer.featureCount()} features, style from file {found}, {style}")
        if not found:
            faults.append(f"{name}: no default style in the file")
        layers.append(layer)
    settings = QgsMapSettings()
    settings.setLayers(list(reversed(layers)))
    settings.setBackgroundColor(QColor("white"))
    settings.setOutputSize(QSize(WIDTH, HEIGHT))
    settings.setDestinationCrs(layers[0].crs())
    extent = next(layer for layer in layers if layer.name() == "stand").extent()
    extent.scale(1.15)
    settings.setExtent(extent)
    job = QgsMapRendererSequentialJob(settings)
    job.start()
    job.waitForFinished()
    job.renderedImage().save(str(picture))
    for fault in faults:
        print(fault, file=sys.stderr)
    return 1 if faults else 0


if __name__ == "__main__":
    raise SystemExit(main(Path(sys.argv[1]).resolve(), Path(sys.argv[2])))
