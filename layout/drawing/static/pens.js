// Pens: what a click, a finger or a key draws, and how a drawn thing is bent.
//
// The store holds the truth; the features on the map are made anew from it after each
// change, and only the chosen trail or outline can be bent. While something is being bent,
// a draft with the bent line is judged, and only the end of the gesture is kept.

import * as store from "/store.js";
import { styles } from "/looks.js";
import { sources, vector } from "/ground.js";
import { judge } from "/verdict.js";

const coarse = window.matchMedia("(pointer: coarse)").matches;
const NEAR_PX = coarse ? 24 : 12;
const listeners = new Set();

let map = null;
let area = null;
let pen = "look";
let chosen = null; // { kind: "trail" | "landing" | "keep_out" | "note" | "position", id }
let corner = null; // number of the chosen corner
let drawing = null; // the Draw under way
let modify = null;
let extras = []; // interactions to take off with the pen
export const hooks = { pick: null, way: null }; // what else a click may mean

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

export function build(onMap, ofArea) {
  map = onMap;
  area = ofArea;
  vector(map, "drawn_ground", "Drawn: landing and closed ground", [], null, { z: 10 });
  vector(map, "pieces", "Grades and limits of the drawing", [], null, { z: 22 });
  vector(map, "drawn", "Drawn: trails", [], null, { z: 20 });
  vector(map, "marks", "Places of findings", [], null, { z: 40 });
  vector(map, "points", "Drawn: positions and notes", [], null, { z: 30 });
  vector(map, "corners", "Corners", [], null, { z: 50 });
  store.listen(() => {
    if (chosen && !thing(store.draft(), chosen)) choose(null);
    redraw();
  });
  map.on("singleclick", (event) => {
    if (pen === "look") pick(event.coordinate);
    else if (pen === "way" && hooks.way) hooks.way(store.round(event.coordinate));
    else placeAt(event.coordinate);
  });
  redraw();
}

export function onPen(heard) {
  listeners.add(heard);
}

const spread = () => listeners.forEach((heard) => heard({ pen, chosen, corner, drawing: Boolean(drawing) }));

export function current() {
  return { pen, chosen, corner, drawing: Boolean(drawing) };
}

// ---- choosing a pen ----------------------------------------------------------------------

export function take(name) {
  stopDrawing();
  pen = name;
  for (const extra of extras) map.removeInteraction(extra);
  extras = [];
  if (name !== "look") choose(null);
  const kinds = { main: "LineString", spur: "LineString", outline: "Polygon", closed: "Polygon" };
  if (kinds[name]) {
    const draw = new ol.interaction.Draw({
      type: kinds[name], style: styles.sketch, stopClick: true, snapTolerance: NEAR_PX,
    });
    draw.on("drawstart", (event) => {
      drawing = draw;
      event.feature.getGeometry().on("change", () => {
        const next = drawnWith(event.feature.getGeometry(), true);
        if (next) judge(next);
      });
      spread();
    });
    draw.on("drawend", (event) => {
      const next = drawnWith(event.feature.getGeometry(), false);
      drawing = null;
      if (next) store.commit(next);
      else judge(store.draft());
      spread();
    });
    draw.on("drawabort", () => {
      drawing = null;
      judge(store.draft());
      spread();
    });
    add(draw);
    extras.draw = draw;
  }
  snapTo(["drawn", "drawn_ground", "existing"]);
  spread();
}

function add(interaction) {
  map.addInteraction(interaction);
  extras.push(interaction);
}

// Snapping comes after all that draws and bends: interactions are asked last-added first.
function snapTo(names) {
  for (const name of names) {
    const snap = new ol.interaction.Snap({ source: sources[name], pixelTolerance: coarse ? 20 : 10 });
    add(snap);
  }
}

function stopDrawing() {
  if (drawing) drawing.abortDrawing();
  drawing = null;
}

// ---- what a line being drawn makes of the draft ------------------------------------------

function drawnWith(geometry, sketch) {
  const value = store.draft();
  if (geometry instanceof ol.geom.Polygon) {
    let ring = geometry.getCoordinates()[0].slice(0, -1).map(store.round);
    ring = ring.filter((p, k) => k === 0 || String(p) !== String(ring[k - 1]));
    if (ring.length < 3) return null;
    if (pen === "outline") return { ...value, landing: { outline: ring } };
    const id = store.nextId(value.keep_out, "K");
    return { ...value, keep_out: [...value.keep_out, { id, outline: ring }] };
  }
  let line = geometry.getCoordinates().map(store.round);
  line = line.filter((p, k) => k === 0 || String(p) !== String(line[k - 1]));
  if (line.length < 2) return null;
  return withNewTrail(value, pen === "spur" ? "spur" : "main", line, sketch);
}

// A new trail begins at the landing or on the trail it starts near.
export function withNewTrail(value, kind, line) {
  const begun = begins(value, line[0]);
  const first = kind === "main" && !value.trails.some((t) => t.kind === "main");
  const id = first ? "M" : store.nextId(value.trails.map((t) => ({ id: t.id })), kind === "main" ? "M" : "S", "id");
  const name = kind === "main" && !first && id === "M1" ? store.nextId([...value.trails, { id: "M1" }], "M") : id;
  const start = begun.at ? [begun.at, ...line.slice(1)] : line;
  return store.withTrail(value, { id: name, kind, line: onOutline(value, start, begun), joins: begun.joins });
}

function begins(value, place) {
  const near = NEAR_PX * map.getView().getResolution();
  let best = { joins: "", at: null, gap: Math.max(near, 3) };
  for (const trail of value.trails) {
    const found = store.nearestOn(trail.line, place);
    if (found.gap <= best.gap) best = { joins: trail.id, at: store.round(found.at), gap: found.gap };
  }
  const ring = landingRing(value);
  if (ring && best.at) {
    // at the landing's own edge the landing counts, not the trail that starts there too
    const edge = store.nearestOn([...ring, ring[0]], place);
    if (edge.gap <= best.gap + 0.01 && best.gap > 0.5) best = { joins: "", at: null, gap: edge.gap };
  }
  return best;
}

// A line that starts inside the landing, or near its edge, starts on the edge.
function onOutline(value, line, begun) {
  const ring = landingRing(value);
  if (!ring || begun.joins) return line;
  const edge = [...ring, ring[0]];
  const inside = new ol.geom.Polygon([edge]).intersectsCoordinate(line[0]);
  const near = store.nearestOn(edge, line[0]);
  if (!inside) return near.gap <= Math.max(NEAR_PX * map.getView().getResolution(), 1) ? [store.round(near.at), ...line.slice(1)] : line;
  for (let k = 1; k < line.length; k += 1) {
    for (let n = 1; n < edge.length; n += 1) {
      const cut = crossing(line[k - 1], line[k], edge[n - 1], edge[n]);
      if (cut) return [store.round(cut), ...line.slice(k)];
    }
  }
  return line;
}

function crossing(a, b, c, d) {
  const r = [b[0] - a[0], b[1] - a[1]];
  const s = [d[0] - c[0], d[1] - c[1]];
  const size = r[0] * s[1] - r[1] * s[0];
  if (Math.abs(size) < 1e-12) return null;
  const t = ((c[0] - a[0]) * s[1] - (c[1] - a[1]) * s[0]) / size;
  const u = ((c[0] - a[0]) * r[1] - (c[1] - a[1]) * r[0]) / size;
  return t > 0 && t <= 1 && u >= 0 && u <= 1 ? [a[0] + t * r[0], a[1] + t * r[1]] : null;
}

export function landingRing(value) {
  if (!value.landing) return null;
  if (value.landing.outline) return value.landing.outline;
  const half = Math.sqrt(area.limits.landing_m2) / 2;
  const [x, y] = value.landing.point;
  return [[x - half, y - half], [x + half, y - half], [x + half, y + half], [x - half, y + half]].map(store.round);
}

// ---- points ------------------------------------------------------------------------------

function placeAt(coordinate) {
  const value = store.draft();
  const at = store.round(coordinate);
  if (pen === "landing") store.commit({ ...value, landing: { point: at } });
  else if (pen === "note") {
    const id = store.nextId(value.notes, "N");
    store.commit({ ...value, notes: [...value.notes, { id, at, text: "" }] });
    choose({ kind: "note", id });
  } else if (pen === "position") {
    const id = store.nextId(value.positions, "P");
    store.commit({ ...value, positions: [...value.positions, { id, at, state: "wanted" }] });
    choose({ kind: "position", id });
  }
}

// ---- choosing and bending ----------------------------------------------------------------

export function thing(value, what) {
  if (!what) return null;
  if (what.kind === "landing") return value.landing;
  const list = { trail: value.trails, keep_out: value.keep_out, note: value.notes, position: value.positions }[what.kind];
  return list.find((item) => item.id === what.id) || null;
}

// By geometry, not by pixels: the nearest drawn thing within a finger's width.
function thingAt(place) {
  const value = store.draft();
  const near = NEAR_PX * map.getView().getResolution();
  const gapTo = (p) => Math.hypot(p[0] - place[0], p[1] - place[1]);
  let best = { gap: near, what: null };
  const offer = (gap, what) => { if (gap <= best.gap) best = { gap, what }; };
  const ring = landingRing(value);
  if (ring) {
    const closed = [...ring, ring[0]];
    const inside = new ol.geom.Polygon([closed]).intersectsCoordinate(place);
    offer(inside ? near * 0.99 : store.nearestOn(closed, place).gap, { kind: "landing" });
  }
  for (const item of value.keep_out) {
    const closed = [...item.outline, item.outline[0]];
    const inside = new ol.geom.Polygon([closed]).intersectsCoordinate(place);
    offer(inside ? near * 0.98 : store.nearestOn(closed, place).gap, { kind: "keep_out", id: item.id });
  }
  for (const trail of value.trails) offer(store.nearestOn(trail.line, place).gap, { kind: "trail", id: trail.id });
  // a point lies on top of a line: it is meant when both are near
  for (const item of value.positions) offer(gapTo(item.at) * 0.5, { kind: "position", id: item.id });
  for (const item of value.notes) offer(gapTo(item.at) * 0.5, { kind: "note", id: item.id });
  return best.what;
}

function pick(place) {
  const line = chosen && ["trail", "keep_out", "landing"].includes(chosen.kind) ? path(store.draft(), chosen) : null;
  const k = line ? nearestCorner(place) : null;
  if (k !== null && Math.hypot(line[k][0] - place[0], line[k][1] - place[1]) <= NEAR_PX * map.getView().getResolution()) {
    corner = k;
    redraw();
    spread();
    return;
  }
  const what = thingAt(place);
  if (what) choose(what);
  else if (!(hooks.pick && hooks.pick(place))) choose(null);
}

function nearestCorner(place) {
  const line = path(store.draft(), chosen) || [];
  let best = null;
  line.forEach((p, k) => {
    const gap = Math.hypot(p[0] - place[0], p[1] - place[1]);
    if (best === null || gap < best.gap) best = { gap, k };
  });
  return best ? best.k : null;
}

export function choose(what) {
  chosen = what;
  corner = null;
  if (modify) map.removeInteraction(modify);
  modify = null;
  redraw();
  spread();
}

function path(value, what) {
  const found = thing(value, what);
  if (!found) return null;
  if (what.kind === "trail") return found.line;
  if (what.kind === "keep_out") return found.outline;
  if (what.kind === "landing") return found.outline || [found.point];
  return [found.at];
}

function withPath(value, what, places) {
  const found = thing(value, what);
  if (what.kind === "trail") return store.withMovedTrail(value, { ...found, line: places });
  if (what.kind === "landing") {
    return { ...value, landing: found.outline ? { outline: places } : { point: places[0] } };
  }
  const key = { keep_out: "keep_out", note: "notes", position: "positions" }[what.kind];
  const part = what.kind === "keep_out" ? { outline: places } : { at: places[0] };
  return { ...value, [key]: value[key].map((item) => (item.id === what.id ? { ...item, ...part } : item)) };
}

// A trail whose start was dragged joins what it was dragged to.
function rejoined(value, id) {
  const trail = store.trailNamed(value, id);
  const others = { ...value, trails: store.withoutTrail(value, id).trails };
  const begun = begins(others, trail.line[0]);
  const start = begun.at ? [begun.at, ...trail.line.slice(1)] : trail.line;
  const line = onOutline(others, start, begun);
  const joins = begun.joins || "";
  return store.withMovedTrail(value, { ...trail, line, joins });
}

function bendable(feature) {
  const held = new ol.Collection([feature]);
  modify = new ol.interaction.Modify({
    features: held, pixelTolerance: NEAR_PX, style: styles.cornerChosen,
    deleteCondition: (event) => ol.events.condition.altKeyOnly(event) && ol.events.condition.singleClick(event),
  });
  const what = chosen;
  const places = () => {
    const geometry = feature.getGeometry();
    if (geometry instanceof ol.geom.Point) return [store.round(geometry.getCoordinates())];
    if (geometry instanceof ol.geom.Polygon) return geometry.getCoordinates()[0].slice(0, -1).map(store.round);
    return geometry.getCoordinates().map(store.round);
  };
  let heard = null;
  modify.on("modifystart", () => {
    heard = feature.getGeometry().on("change", () => judge(withPath(store.draft(), what, places())));
  });
  modify.on("modifyend", () => {
    if (heard) ol.Observable.unByKey(heard);
    heard = null;
    const before = path(store.draft(), what);
    let next = withPath(store.draft(), what, places());
    if (what.kind === "trail" && before && String(before[0]) !== String(places()[0])) next = rejoined(next, what.id);
    if (what.kind === "landing") next = afterLanding(next);
    store.commit(next);
  });
  map.addInteraction(modify);
  for (const snap of extras) {
    if (snap instanceof ol.interaction.Snap) {
      map.removeInteraction(snap); // and last again
      map.addInteraction(snap);
    }
  }
}

// Trails that began on the landing begin on the moved one.
function afterLanding(value) {
  const ring = landingRing(value);
  if (!ring) return value;
  let next = value;
  for (const trail of value.trails) {
    if (trail.joins) continue;
    const edge = store.nearestOn([...ring, ring[0]], trail.line[0]);
    if (edge.gap < 30) next = store.withMovedTrail(next, { ...trail, line: [store.round(edge.at), ...trail.line.slice(1)] });
  }
  return next;
}

// ---- corners by button and key -----------------------------------------------------------

export function nextCorner(step) {
  const line = path(store.draft(), chosen);
  if (!line) return;
  corner = corner === null ? (step > 0 ? 0 : line.length - 1) : (corner + step + line.length) % line.length;
  redraw();
  spread();
  map.getView().animate({ center: line[corner], duration: 120 });
}

export function moveCorner(dx, dy) {
  const line = path(store.draft(), chosen);
  if (!line || corner === null || corner >= line.length) return;
  const moved = line.map((p, k) => (k === corner ? store.round([p[0] + dx, p[1] + dy]) : p));
  let next = withPath(store.draft(), chosen, moved);
  if (chosen.kind === "landing") next = afterLanding(next);
  store.commit(next);
}

export function moveCornerTo(place) {
  const line = path(store.draft(), chosen);
  if (!line || corner === null) return;
  moveCorner(place[0] - line[corner][0], place[1] - line[corner][1]);
}

export function addCorner() {
  const line = path(store.draft(), chosen);
  if (!line || line.length < 2 || corner === null) return;
  const to = corner + 1 < line.length ? corner : corner - 1;
  const middle = store.round([(line[to][0] + line[to + 1][0]) / 2, (line[to][1] + line[to + 1][1]) / 2]);
  const next = [...line.slice(0, to + 1), middle, ...line.slice(to + 1)];
  store.commit(withPath(store.draft(), chosen, next));
  corner = to + 1;
  redraw();
  spread();
}

export function removeCorner() {
  const line = path(store.draft(), chosen);
  const least = chosen && chosen.kind === "trail" ? 2 : 3;
  if (!line || corner === null || line.length <= least) return false;
  const next = line.filter((_, k) => k !== corner);
  corner = Math.min(corner, next.length - 1);
  store.commit(withPath(store.draft(), chosen, next));
  return true;
}

export function removeChosen() {
  const value = store.draft();
  if (!chosen) return;
  const { kind, id } = chosen;
  chosen = null;
  corner = null;
  if (kind === "trail") store.commit(store.withoutTrail(value, id));
  else if (kind === "landing") store.commit({ ...value, landing: null });
  else {
    const key = { keep_out: "keep_out", note: "notes", position: "positions" }[kind];
    store.commit({ ...value, [key]: value[key].filter((item) => item.id !== id) });
  }
  spread();
}

export function changeChosen(change) {
  const value = store.draft();
  const key = { note: "notes", position: "positions" }[chosen.kind];
  store.commit({ ...value, [key]: value[key].map((item) => (item.id === chosen.id ? { ...item, ...change } : item)) });
}

// ---- drawing by key ----------------------------------------------------------------------

export function cornerHere() {
  const here = map.getView().getCenter();
  if (extras.draw) {
    const snapped = snappedTo(here);
    extras.draw.appendCoordinates([snapped]);
  } else if (pen === "way" && hooks.way) hooks.way(store.round(here));
  else if (pen === "look" && corner !== null) moveCornerTo(store.round(here));
  else if (pen === "look") pick(here);
  else placeAt(here);
}

// The keyboard snaps as the mouse does: to landing and trails within the same few pixels.
function snappedTo(place) {
  const value = store.draft();
  const found = begins(value, place);
  if (found.at) return found.at;
  const ring = landingRing(value);
  if (ring) {
    const edge = store.nearestOn([...ring, ring[0]], place);
    if (edge.gap <= NEAR_PX * map.getView().getResolution()) return store.round(edge.at);
  }
  return store.round(place);
}

export function takeBackCorner() {
  if (!drawing) return false;
  drawing.removeLastPoint();
  return true;
}

export function endLine() {
  if (drawing) drawing.finishDrawing();
}

export function abandon() {
  if (drawing) drawing.abortDrawing();
  else if (pen !== "look") take("look");
  else choose(null);
}

// ---- the features of a draft -------------------------------------------------------------

function redraw() {
  if (modify) map.removeInteraction(modify);
  modify = null;
  const value = store.draft();
  const made = { drawn: [], drawn_ground: [], points: [], corners: [] };
  let bent = null;
  const put = (name, geometry, what, style) => {
    const feature = new ol.Feature(geometry);
    feature.set("what", what);
    feature.setStyle(style);
    made[name].push(feature);
    if (chosen && chosen.kind === what.kind && chosen.id === what.id) bent = feature;
  };
  const ring = landingRing(value);
  if (ring) {
    const geometry = value.landing.point && chosen && chosen.kind === "landing"
      ? new ol.geom.Point(value.landing.point) : new ol.geom.Polygon([[...ring, ring[0]]]);
    put("drawn_ground", geometry, { kind: "landing" }, geometry instanceof ol.geom.Point ? styles.corner : styles.landing);
  }
  for (const item of value.keep_out) put("drawn_ground", new ol.geom.Polygon([[...item.outline, item.outline[0]]]), { kind: "keep_out", id: item.id }, styles.keepOut);
  for (const trail of value.trails) {
    const mine = Boolean(chosen && chosen.kind === "trail" && chosen.id === trail.id);
    put("drawn", new ol.geom.LineString(trail.line), { kind: "trail", id: trail.id }, styles.trail(trail.kind, trail.id, mine));
  }
  for (const item of value.positions) put("points", new ol.geom.Point(item.at), { kind: "position", id: item.id }, styles.position(item.state));
  for (const item of value.notes) put("points", new ol.geom.Point(item.at), { kind: "note", id: item.id }, styles.note(item.text));
  const line = chosen && ["trail", "keep_out", "landing"].includes(chosen.kind) ? path(value, chosen) : null;
  if (line) {
    if (corner !== null && corner >= line.length) corner = line.length - 1;
    line.forEach((p, k) => {
      const feature = new ol.Feature(new ol.geom.Point(p));
      feature.set("what", chosen);
      feature.set("corner", k);
      feature.setStyle(k === corner ? styles.cornerChosen : styles.corner);
      made.corners.push(feature);
    });
  }
  for (const [name, features] of Object.entries(made)) {
    sources[name].clear(true);
    sources[name].addFeatures(features);
  }
  if (bent && pen === "look") bendable(bent);
}
