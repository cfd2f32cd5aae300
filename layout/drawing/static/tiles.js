// Background tiles from the address the user gave, bent to the area's own grid.
//
// Tiles are in web mercator. The area gives straight formulas from its grid to that and back,
// which hold to centimetres over a kilometre.

import { layers } from "/ground.js";

const TILES = "EPSG:3857";

const straight = ([a, b, c, d, e, f]) => ([x, y]) => [a * x + b * y + c, d * x + e * y + f];

export function build(map, area) {
  if (!area.tiles || !area.tiles_fit) return;
  const own = map.getView().getProjection();
  ol.proj.addProjection(own);
  ol.proj.addCoordinateTransforms(own, TILES, straight(area.tiles_fit.to), straight(area.tiles_fit.from));
  const layer = new ol.layer.Tile({ source: new ol.source.XYZ({ url: area.tiles, projection: TILES }), visible: false, zIndex: -1 });
  map.addLayer(layer);
  layers.tiles = { layer, words: "Background from the address you gave" };
}
