// Background tiles from the address the user gave, bent to the area's own grid.
//
// Tiles are in web mercator. The area gives longitude and latitude of its four corners; between
// them the way from the one to the other is so near to straight that centimetres are missed.

import { layers } from "/ground.js";
import { lonLat, placeAtLonLat } from "/place_words.js";

const TILES = "EPSG:3857";

export function build(map, area) {
  if (!area.tiles || !area.lonlat) return;
  const own = map.getView().getProjection();
  ol.proj.addProjection(own);
  ol.proj.addCoordinateTransforms(
    own, TILES,
    (place) => ol.proj.fromLonLat(lonLat(area, place)),
    (place) => placeAtLonLat(area, ol.proj.toLonLat(place)),
  );
  const layer = new ol.layer.Tile({ source: new ol.source.XYZ({ url: area.tiles, projection: TILES }), visible: false, zIndex: -1 });
  map.addLayer(layer);
  layers.tiles = { layer, words: "Background from the address you gave" };
}
