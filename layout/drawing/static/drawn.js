// The features of a drawing, made anew from the store after each change.

import { hand } from "/hand.js";
import { styles } from "/looks.js";
import { sources, vector } from "/ground.js";
import { landingRing } from "/mouths.js";
import { BENT, path, same } from "/things.js";
import { shownCorners } from "/corners.js";

let map = null;

export function build(onMap) {
  map = onMap;
  vector(map, "drawn_ground", "Drawn: landing and closed ground", [], null, { z: 10 });
  vector(map, "drawn", "Drawn: trails", [], null, { z: 20 });
  vector(map, "pieces", "Grades and limits of the drawing", [], null, { z: 22 });
  vector(map, "points", "Drawn: positions and notes", [], null, { z: 30 });
  vector(map, "marks", "Places of findings", [], null, { z: 40 });
  vector(map, "corners", "Corners", [], null, { z: 50 });
}

// Paint a drawing; gives the feature of the chosen thing.
export function paint(value) {
  const made = { drawn: [], drawn_ground: [], points: [] };
  let bent = null;
  const put = (name, geometry, what, style) => {
    const feature = new ol.Feature(geometry);
    feature.setStyle(style);
    made[name].push(feature);
    if (same(hand.chosen, what)) bent = feature;
  };
  const ring = landingRing(value);
  if (ring) {
    const held = Boolean(value.landing.point && hand.chosen && hand.chosen.kind === "landing");
    const square = new ol.geom.Polygon([[...ring, ring[0]]]);
    if (held) put("drawn_ground", square, { kind: "none" }, styles.landing);
    put("drawn_ground", held ? new ol.geom.Point(value.landing.point) : square, { kind: "landing" }, held ? styles.corner : styles.landing);
  }
  for (const item of value.keep_out) {
    put("drawn_ground", new ol.geom.Polygon([[...item.outline, item.outline[0]]]), { kind: "keep_out", id: item.id }, styles.keepOut);
  }
  for (const trail of value.trails) {
    const what = { kind: "trail", id: trail.id };
    put("drawn", new ol.geom.LineString(trail.line), what, styles.trail(trail.kind, trail.id, same(hand.chosen, what)));
  }
  for (const item of value.positions) {
    const what = { kind: "position", id: item.id };
    put("points", new ol.geom.Point(item.at), what, styles.position(item.state, same(hand.chosen, what)));
  }
  for (const item of value.notes) {
    const what = { kind: "note", id: item.id };
    put("points", new ol.geom.Point(item.at), what, styles.note(item.text, same(hand.chosen, what)));
  }
  for (const [name, features] of Object.entries(made)) {
    sources[name].clear(true);
    sources[name].addFeatures(features);
  }
  paintCorners(value);
  return bent;
}

// The corners of the chosen thing; which are shown hangs on how large the map is shown.
export function paintCorners(value) {
  const line = hand.chosen && BENT.has(hand.chosen.kind) ? path(value, hand.chosen) : null;
  sources.corners.clear(true);
  if (!line) return;
  const features = [];
  for (const k of shownCorners(line, map.getView().getResolution(), hand.corner)) {
    const feature = new ol.Feature(new ol.geom.Point(line[k]));
    feature.set("corner", k);
    feature.setStyle(k === hand.corner ? styles.cornerChosen : styles.corner);
    features.push(feature);
  }
  sources.corners.addFeatures(features);
}
