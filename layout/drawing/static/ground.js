// The map itself and all that lies on it before anything is drawn.

import { picture } from "/api.js";
import * as store from "/store.js";
import { FOOT_M, onLengths } from "/lengths.js";
import { placeWords } from "/place_words.js";
import { styles, INK } from "/looks.js";
import { keepsPicture, sheetOf } from "/still.js";

export const sources = {};
export const layers = {}; // name -> { layer, words, group }
let projection = null;
let area = null;

const polygon = (rings) => new ol.Feature(new ol.geom.Polygon(rings));
const lineOf = (path) => new ol.Feature(new ol.geom.LineString(path));
const shapeReader = new ol.format.GeoJSON();

export function build(given) {
  area = given;
  projection = new ol.proj.Projection({ code: given.crs, units: "m", extent: given.bounds });
  const extent = ol.extent.buffer(given.bounds, 300);
  const scale = new ol.control.ScaleLine({ minWidth: 56 }) // at most 140 px: the coordinates stand beside it;
  onLengths((feet) => scale.setUnits(feet ? "us" : "metric"));
  const map = new ol.Map({
    target: "map",
    controls: [
      new ol.control.Zoom({ zoomInTipLabel: "Larger (+)", zoomOutTipLabel: "Smaller (−)", zoomOutLabel: "−", duration: still.matches ? 0 : 250 }),
      scale,
    ],
    view: new ol.View({
      projection, extent, constrainOnlyCenter: true, center: ol.extent.getCenter(given.bounds),
      minResolution: 0.02, maxResolution: 40, enableRotation: false, smoothResolutionConstraint: true,
    }),
  });
  pictureLayer(map, "hillshade", "Shaded ground", 0.85, true);
  pictureLayer(map, "slope", "Slope classes", 0.8, true);
  pictureLayer(map, "reach", "Ground a trail can reach", 0.9, false);
  contours(map, given);
  vector(map, "may_use", "Ground you may use", given.may_use.map(polygon), styles.mayUse);
  vector(map, "strips", "Water strips", given.strips.flatMap((s) => s.polygons.map(polygon)), styles.strip);
  vector(map, "keep_out", "Closed ground", given.keep_out.map(polygon), styles.keepOut);
  vector(map, "water", "Water", given.water.map((w) => new ol.Feature(shapeReader.readGeometry(w.geometry))), styles.water);
  vector(map, "hazards", "Wires, walls and other hazards", given.hazards.map((h) => new ol.Feature(shapeReader.readGeometry(h.geometry))), styles.hazard);
  vector(map, "existing", "Old trails", given.existing.map((t) => lineOf(t.line)), styles.old);
  vector(map, "access_road", "Access road", given.access_road.map(lineOf), styles.road);
  vector(map, "stand", "Stand", given.stand.map(polygon), styles.stand);
  store.listen(tellOlder);
  showWhole(map);
  tellPlaces(map);
  return map;
}

// The whole stand in the map's room, with room for the buttons that lie over it.
export function showWhole(map) {
  const places = area.stand.flatMap((rings) => rings[0]);
  map.updateSize();
  map.getView().fit(places.length ? ol.extent.boundingExtent(places) : area.bounds, { padding: [60, 40, 50, 40] });
}

// Every fifth line is drawn stronger and says its height, in feet or metres as lengths are said.
function contours(map, given) {
  const { lines, step_m } = given.contours;
  // drawn at whole feet, or at whole or half metres; told in the other unit a height is no sharper than that
  const half = given.units === "us" ? 1 : 0.5;
  const said = (metres, feet) => (feet ? `${Math.round(metres / FOOT_M)} ft` : `${Math.round(metres / half) * half} m`);
  const drawn = lines.map((c) => [lineOf(c.line), c]);
  const words = lines.length ? `Contours, every ${said(step_m, given.units === "us")}` : "Contours";
  vector(map, "contours", words, drawn.map(([feature]) => feature), styles.contour);
  const strong = drawn.filter(([, c]) => c.index);
  onLengths((feet) => {
    for (const [feature, { z_m }] of strong) feature.setStyle(styles.contourIndex(said(z_m, feet)));
  });
}

export function vector(map, name, words, features, style, { shown = true, z } = {}) {
  const source = new ol.source.Vector({ features, wrapX: false });
  const layer = new ol.layer.Vector({ source, style, visible: shown, zIndex: z, updateWhileInteracting: true, className: sheetOf(z) });
  keepsPicture(layer);
  map.addLayer(layer);
  sources[name] = source;
  layers[name] = { layer, words };
  return layer;
}

function pictureLayer(map, name, words, opacity, shown) {
  const layer = new ol.layer.Image({ visible: shown, opacity, className: sheetOf() });
  keepsPicture(layer);
  map.addLayer(layer);
  layers[name] = { layer, words, picture: true };
  const load = () => {
    // what hangs on the drawing is asked for each time it is switched on
    if (layer.getVisible() && (name === "reach" || !layer.getSource())) showPicture(name);
  };
  layer.on("change:visible", load);
  load();
}

const WAS = "Of an earlier drawing; count it again.";
let pictures = 0;
let countedFor = null; // what the picture of reach was counted from

function tellOlder() {
  const { layer } = layers.reach;
  if (!layer.getSource()) return;
  layer.set("told", store.countedFrom(store.draft()) === countedFor ? "" : WAS);
}

// A picture that is refused is taken off, and the layer keeps the words that say why ("told").
export async function showPicture(name) {
  const { layer } = layers[name];
  pictures += 1;
  const mine = pictures;
  layer.set("asked", mine);
  let got;
  const value = store.draft();
  try {
    got = await picture({ name, draft: value });
  } catch (error) {
    if (layer.get("asked") !== mine) return;
    layer.setSource(null);
    layer.set("told", error.message);
    return;
  }
  if (layer.get("asked") !== mine) return;
  layer.set("told", "");
  layer.setSource(new ol.source.ImageStatic({
    url: got.url, imageExtent: got.bounds || area.bounds, projection, interpolate: name === "hillshade",
  }));
  if (name !== "reach") return;
  countedFor = store.countedFrom(value);
  tellOlder();
}

const still = window.matchMedia("(prefers-reduced-motion: reduce)");

// Bring a place into view; at once for those who want nothing to move.
export function glide(map, where) {
  map.getView().animate({ ...where, duration: still.matches ? 0 : 200 });
  document.getElementById("map").scrollIntoView({ block: "nearest" });
}

// Where the place lies that is under the pointer, or else in the middle of the map.
function tellPlaces(map) {
  const held = document.getElementById("place");
  const say = (place) => { held.textContent = placeWords(area, place); };
  map.on("pointermove", (event) => say(event.coordinate));
  map.on("moveend", () => say(map.getView().getCenter()));
}

export { INK };
