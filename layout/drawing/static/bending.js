// Choosing a drawn thing, and bending it: by dragging, by button, by key.
//
// While something is being bent, a draft with the bent line is judged; only the end of the
// gesture is kept.

import * as store from "/store.js";
import * as drawn from "/drawn.js";
import { styles } from "/looks.js";
import { judge } from "/verdict.js";
import { NEAR_PX, hand, spread } from "/hand.js";
import { BENT, changed, path, thing, withPath, without } from "/things.js";
import { afterLanding, landingRing, nearM, onItsHost, rejoined } from "/mouths.js";
import { carried, fewer, shownCorners } from "/corners.js";
import { glide } from "/ground.js";

let map = null;
let modify = null;
// What else a click may mean (the very next one; a position of the plan; a tree), and to put
// snapping last again.
export const hooks = { next: null, spot: null, pick: null, last: null };

export function build(onMap) {
  map = onMap;
  drawn.build(map);
  store.listen((value, why) => {
    if (why === "open" || (hand.chosen && !thing(value, hand.chosen))) choose(null);
    redraw();
  });
  map.on("moveend", () => drawn.paintCorners(store.draft()));
  redraw();
}

function redraw() {
  if (modify) map.removeInteraction(modify);
  modify = null;
  const line = path(store.draft(), hand.chosen);
  if (hand.corner !== null && (!line || hand.corner >= line.length)) hand.corner = line ? line.length - 1 : null;
  const bent = drawn.paint(store.draft());
  if (bent && hand.pen === "look") bendable(bent);
}

export function choose(what) {
  hooks.next = null;
  hand.chosen = what;
  hand.corner = null;
  redraw();
  spread();
}

function chooseCorner(k) {
  hand.corner = k;
  redraw();
  spread();
}

const cornered = () => (hand.chosen && BENT.has(hand.chosen.kind) ? path(store.draft(), hand.chosen) : null);
const shown = (line) => shownCorners(line, map.getView().getResolution(), hand.corner);

// ---- what a click chooses ----------------------------------------------------------------

export function pick(place) {
  if (hooks.next) {
    const go = hooks.next;
    hooks.next = null;
    go(place);
    return;
  }
  const line = cornered();
  let best = { gap: nearM(), k: null };
  if (line) {
    for (const k of shown(line)) {
      const gap = Math.hypot(line[k][0] - place[0], line[k][1] - place[1]);
      if (gap <= best.gap) best = { gap, k };
    }
  }
  if (best.k !== null) {
    chooseCorner(best.k);
    return;
  }
  const what = thingAt(place);
  const isPoint = what && ["position", "note"].includes(what.kind);
  if (!isPoint && hooks.spot && hooks.spot(place)) return; // it lies on top of a line
  if (what) choose(what);
  else if (!(hooks.pick && hooks.pick(place))) choose(null);
}

// By geometry, not by pixels: the nearest drawn thing within a finger's width.
function thingAt(place) {
  const value = store.draft();
  const near = nearM();
  const gapTo = (p) => Math.hypot(p[0] - place[0], p[1] - place[1]);
  let best = { gap: near, what: null };
  const offer = (gap, what) => { if (gap <= best.gap) best = { gap, what }; };
  const ground = (ring, what, share) => {
    const closed = [...ring, ring[0]];
    const inside = new ol.geom.Polygon([closed]).intersectsCoordinate(place);
    offer(inside ? near * share : store.nearestOn(closed, place).gap, what);
  };
  const ring = landingRing(value);
  if (ring) ground(ring, { kind: "landing" }, 0.99);
  for (const item of value.keep_out) ground(item.outline, { kind: "keep_out", id: item.id }, 0.98);
  for (const trail of value.trails) offer(store.nearestOn(trail.line, place).gap, { kind: "trail", id: trail.id });
  // a point lies on top of a line: it is meant when both are near
  for (const item of value.positions) offer(gapTo(item.at) * 0.5, { kind: "position", id: item.id });
  for (const item of value.notes) offer(gapTo(item.at) * 0.5, { kind: "note", id: item.id });
  return best.what;
}

// ---- dragging ----------------------------------------------------------------------------

function bendable(feature) {
  modify = new ol.interaction.Modify({
    features: new ol.Collection([feature]), pixelTolerance: NEAR_PX, style: styles.cornerChosen,
    deleteCondition: (event) => ol.events.condition.altKeyOnly(event) && ol.events.condition.singleClick(event),
  });
  const what = hand.chosen;
  const geometry = feature.getGeometry();
  const places = () => {
    if (geometry instanceof ol.geom.Point) return [store.round(geometry.getCoordinates())];
    if (geometry instanceof ol.geom.Polygon) return geometry.getCoordinates()[0].slice(0, -1).map(store.round);
    return geometry.getCoordinates().map(store.round);
  };
  let heard = null;
  let setting = false;
  modify.on("modifystart", () => {
    const before = path(store.draft(), what);
    const held = what.kind === "trail" ? shown(before) : null;
    let last = before;
    heard = geometry.on("change", () => {
      if (setting) return;
      const now = geometry.getCoordinates();
      if (held && now.length === before.length) {
        const k = now.findIndex((p, n) => p[0] !== last[n][0] || p[1] !== last[n][1]);
        if (k >= 0) {
          last = carried(before, k, now[k], held, map.getView().getResolution());
          setting = true;
          geometry.setCoordinates(last);
          setting = false;
        }
      }
      judge(withPath(store.draft(), what, places()));
    });
  });
  modify.on("modifyend", () => {
    if (heard) ol.Observable.unByKey(heard);
    heard = null;
    const before = path(store.draft(), what);
    const after = places();
    const mouthGone = what.kind === "trail" && after.length < before.length && String(before[1]) === String(after[0]);
    let next = withPath(store.draft(), what, mouthGone ? onItsHost(store.draft(), what.id, after) : after);
    if (what.kind === "trail" && !mouthGone && String(before[0]) !== String(after[0])) next = rejoined(next, what.id);
    if (what.kind === "landing") next = afterLanding(next);
    if (BENT.has(what.kind)) hand.corner = furthest(before, after);
    store.commit(next);
    spread();
  });
  map.addInteraction(modify);
  if (hooks.last) hooks.last(feature);
}

// The corner a gesture moved or put in, so that the buttons then mean that one.
function furthest(before, after) {
  if (before.length !== after.length) {
    const k = after.findIndex((p, n) => String(p) !== String(before[n]));
    return after.length > before.length && k >= 0 ? k : null;
  }
  let best = { gap: 0, k: null };
  after.forEach((p, k) => {
    const gap = Math.hypot(p[0] - before[k][0], p[1] - before[k][1]);
    if (gap > best.gap) best = { gap, k };
  });
  return best.k;
}

// ---- corners by button and key -----------------------------------------------------------

export function nextCorner(step) {
  const line = cornered();
  if (!line) return;
  const among = [...shown(line)].sort((a, b) => a - b);
  const at = hand.corner === null ? (step > 0 ? -1 : 0) : among.indexOf(hand.corner);
  chooseCorner(among[(at + step + among.length) % among.length]);
  glide(map, { center: line[hand.corner] });
}

export function moveCorner(dx, dy) {
  const line = path(store.draft(), hand.chosen);
  const k = line && line.length === 1 ? 0 : hand.corner; // a point needs no corner chosen
  if (!line || k === null || k >= line.length) return;
  const to = store.round([line[k][0] + dx, line[k][1] + dy]);
  const moved = hand.chosen.kind === "trail"
    ? carried(line, k, to, shown(line), map.getView().getResolution()).map(store.round) : line.map((p, n) => (n === k ? to : p));
  let next = withPath(store.draft(), hand.chosen, moved);
  if (hand.chosen.kind === "landing") next = afterLanding(next);
  if (hand.chosen.kind === "trail" && k === 0) next = rejoined(next, hand.chosen.id);
  store.commit(next);
}

export function moveCornerTo(place) {
  const line = cornered();
  if (!line || hand.corner === null) return;
  moveCorner(place[0] - line[hand.corner][0], place[1] - line[hand.corner][1]);
}

export function addCorner() {
  const line = cornered();
  if (!line || line.length < 2 || hand.corner === null) return;
  const to = hand.corner + 1 < line.length ? hand.corner : hand.corner - 1;
  const middle = store.round([(line[to][0] + line[to + 1][0]) / 2, (line[to][1] + line[to + 1][1]) / 2]);
  hand.corner = to + 1;
  store.commit(withPath(store.draft(), hand.chosen, [...line.slice(0, to + 1), middle, ...line.slice(to + 1)]));
  spread();
}

export function removeCorner() {
  const line = cornered();
  const least = hand.chosen && hand.chosen.kind === "trail" ? 2 : 3;
  if (!line || hand.corner === null || line.length <= least) return false;
  const places = line.filter((_, k) => k !== hand.corner);
  const mouth = hand.chosen.kind === "trail" && hand.corner === 0;
  hand.corner = Math.min(hand.corner, places.length - 1);
  const next = mouth ? onItsHost(store.draft(), hand.chosen.id, places) : places;
  store.commit(withPath(store.draft(), hand.chosen, next));
  spread();
  return true;
}

// How many corners the chosen line has, and how many would do within half a metre.
export function cornerCount() {
  const line = cornered();
  if (!line || line.length < 2) return null;
  return { now: line.length, fewer: fewer(line, hand.chosen.kind !== "trail").length };
}

export function fewerCorners() {
  const line = cornered();
  if (!line) return;
  hand.corner = null;
  store.commit(withPath(store.draft(), hand.chosen, fewer(line, hand.chosen.kind !== "trail")));
  spread();
}

export function removeChosen() {
  const what = hand.chosen;
  if (!what) return;
  hand.chosen = null;
  hand.corner = null;
  store.commit(without(store.draft(), what));
  spread();
}

export function changeChosen(change) {
  store.commit(changed(store.draft(), hand.chosen, change));
  spread();
}
