// Pens: what a click, a finger or a key draws.
//
// The store holds the truth. While a line is being drawn, a draft with it is judged; only the
// whole line is kept.

import * as store from "/store.js";
import * as bending from "/bending.js";
import { styles } from "/looks.js";
import { sources } from "/ground.js";
import { judge } from "/verdict.js";
import { NEAR_PX, coarse, hand, spread } from "/hand.js";
import { snapped, withNewTrail } from "/mouths.js";

let map = null;
let draw = null; // the interaction of a pen that draws lines or outlines
let sketched = null; // the drawing with the line under way in it
let extras = []; // interactions to take off with the pen
export const hooks = { way: null }; // what a click of the way pen means

export const PENS = [
  { name: "look", words: "Choose and bend", key: "v" },
  { name: "landing", words: "Landing", key: "l" },
  { name: "outline", words: "Landing outline", key: "o" },
  { name: "main", words: "Main trail or arm", key: "m" },
  { name: "spur", words: "Spur", key: "s" },
  { name: "way", words: "Best way to here", key: "b" },
  { name: "closed", words: "Close ground", key: "k" },
  { name: "position", words: "Winch position", key: "w" },
  { name: "note", words: "Note", key: "n" },
];
const KINDS = { main: "LineString", spur: "LineString", outline: "Polygon", closed: "Polygon" };
const SNAP_TO = ["drawn", "drawn_ground", "existing"];
const EDGES_ONLY = new Set(["drawn_ground"]); // a corner would pull a finger along the edge it means

export function build(onMap) {
  map = onMap;
  bending.hooks.last = snapLast;
  map.on("singleclick", (event) => {
    if (hand.pen === "look") bending.pick(event.coordinate);
    else placeAt(event.coordinate);
  });
}

// What is judged while a line is drawn; null where none is.
export const sketch = () => sketched;

// ---- choosing a pen ----------------------------------------------------------------------

export function take(name) {
  if (hand.drawing) hand.drawing.abortDrawing();
  hand.drawing = null;
  sketched = null;
  draw = null;
  for (const extra of extras) map.removeInteraction(extra);
  extras = [];
  hand.pen = name;
  if (name !== "look") bending.choose(null);
  if (KINDS[name]) drawing(KINDS[name]);
  for (const source of SNAP_TO) {
    add(new ol.interaction.Snap({ source: sources[source], vertex: !EDGES_ONLY.has(source), pixelTolerance: coarse ? 20 : 10 }));
  }
  spread();
}

function drawing(type) {
  draw = new ol.interaction.Draw({ type, style: styles.sketch, stopClick: true, snapTolerance: NEAR_PX });
  const mine = draw;
  mine.on("drawstart", (event) => {
    hand.drawing = mine;
    const geometry = event.feature.getGeometry();
    keepSketch(geometry);
    geometry.on("change", () => {
      keepSketch(geometry);
      const next = drawnWith(geometry);
      if (!next) return;
      sketched = next;
      judge(next);
    });
    spread();
  });
  mine.on("drawend", (event) => {
    const next = drawnWith(event.feature.getGeometry());
    hand.drawing = null;
    sketched = null;
    store.keepAside({ sketch: undefined });
    if (next) store.commit(next);
    else judge(store.draft());
    spread();
  });
  mine.on("drawabort", () => {
    hand.drawing = null;
    sketched = null;
    store.keepAside({ sketch: undefined });
    judge(store.draft());
    spread();
  });
  add(mine);
}

// The corners put so far, without the place under the pointer.
function keepSketch(geometry) {
  const places = geometry.getCoordinates();
  const line = (geometry instanceof ol.geom.Polygon ? places[0].slice(0, -2) : places.slice(0, -1)).map(store.round);
  const { sketch } = store.keptAside();
  if (!sketch || String(sketch.line) !== String(line)) store.keepAside({ sketch: { pen: hand.pen, line } });
}

// Go on with a line that was under way when the page was left.
export function goOn() {
  const { sketch } = store.keptAside();
  if (!sketch || !KINDS[sketch.pen] || !sketch.line.length) return;
  take(sketch.pen);
  draw.appendCoordinates(sketch.line);
}

function add(interaction) {
  map.addInteraction(interaction);
  extras.push(interaction);
}

// Snapping comes after all that draws and bends: interactions are asked last-added first.
// What is bent must not snap to where it was.
function snapLast(bent) {
  for (const snap of extras) {
    if (!(snap instanceof ol.interaction.Snap)) continue;
    map.removeInteraction(snap);
    map.addInteraction(snap);
    snap.removeFeature(bent);
  }
}

// ---- what a line being drawn makes of the draft ------------------------------------------

function drawnWith(geometry) {
  const value = store.draft();
  const ring = geometry instanceof ol.geom.Polygon;
  const places = (ring ? geometry.getCoordinates()[0].slice(0, -1) : geometry.getCoordinates()).map(store.round);
  const line = places.filter((p, k) => k === 0 || String(p) !== String(places[k - 1]));
  if (line.length < (ring ? 3 : 2)) return null;
  if (!ring) return withNewTrail(value, hand.pen, line);
  if (hand.pen === "outline") return { ...value, landing: { outline: line } };
  const id = store.nextId(value.keep_out, "K");
  return { ...value, keep_out: [...value.keep_out, { id, outline: line }] };
}

function placeAt(coordinate) {
  const value = store.draft();
  const at = store.round(coordinate);
  if (hand.pen === "way") {
    if (hooks.way) hooks.way(at);
  } else if (hand.pen === "landing") {
    store.commit({ ...value, landing: { point: at } });
  } else if (hand.pen === "note") {
    const id = store.nextId(value.notes, "N");
    store.commit({ ...value, notes: [...value.notes, { id, at, text: "" }] });
    bending.choose({ kind: "note", id });
  } else if (hand.pen === "position") {
    const id = store.nextId(value.positions, "P");
    store.commit({ ...value, positions: [...value.positions, { id, at, state: "wanted" }] });
    bending.choose({ kind: "position", id });
  }
}

// ---- drawing at the cross in the middle of the map ---------------------------------------

export function cornerHere() {
  const here = map.getView().getCenter();
  if (draw) draw.appendCoordinates([snapped(store.draft(), here)]);
  else if (hand.pen === "look" && hand.corner !== null) bending.moveCornerTo(store.round(here));
  else if (hand.pen === "look") bending.pick(here);
  else placeAt(here);
}

export function takeBackCorner() {
  if (!hand.drawing) return false;
  hand.drawing.removeLastPoint();
  return true;
}

export function endLine() {
  if (hand.drawing) hand.drawing.finishDrawing();
}

export function abandon() {
  if (hand.drawing) hand.drawing.abortDrawing();
  else if (hand.pen !== "look") take("look");
  else bending.choose(null);
}
