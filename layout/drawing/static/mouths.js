// Where trails begin: at the landing's edge, or on the trail they leave.

import * as store from "/store.js";
import { NEAR_PX } from "/hand.js";

const LEAST_M = 3; // as near as this a line is meant to join, however large the map is shown
const MOUTH_M = 1; // a trail that begins this near to another's mouth leaves the landing beside it
const WITH_LANDING_M = 30; // trails this near to a landing that is moved go with it
let map = null;
let square_m2 = 0;

export function build(onMap, area) {
  map = onMap;
  square_m2 = area.limits.landing_m2;
}

export const nearM = () => NEAR_PX * map.getView().getResolution();

export function landingRing(value) {
  if (!value.landing) return null;
  if (value.landing.outline) return value.landing.outline;
  const half = Math.sqrt(square_m2) / 2;
  const [x, y] = value.landing.point;
  return [[x - half, y - half], [x + half, y - half], [x + half, y + half], [x - half, y + half]].map(store.round);
}

const edgeOf = (ring) => [...ring, ring[0]];

// What a line begins on that starts at a place: { joins, at }; at null: on nothing drawn.
export function begins(value, place) {
  let best = { joins: "", at: null, gap: Math.max(nearM(), LEAST_M), along: 0 };
  for (const trail of value.trails) {
    const found = store.nearestOn(trail.line, place);
    if (found.gap <= best.gap) best = { joins: trail.id, at: store.round(found.at), gap: found.gap, along: found.along };
  }
  const ring = landingRing(value);
  if (ring && best.at) {
    const edge = store.nearestOn(edgeOf(ring), place);
    const atMouth = best.along <= MOUTH_M && !store.trailNamed(value, best.joins).joins;
    if (edge.gap < best.gap || (atMouth && edge.gap <= best.gap + MOUTH_M)) return { joins: "", at: null };
  }
  return best;
}

// A line that starts inside the landing, or near its edge, starts on the edge.
export function onOutline(value, line, begun) {
  const ring = landingRing(value);
  if (!ring || begun.joins) return line;
  const edge = edgeOf(ring);
  const inside = new ol.geom.Polygon([edge]).intersectsCoordinate(line[0]);
  if (!inside) {
    const near = store.nearestOn(edge, line[0]);
    return near.gap <= Math.max(nearM(), 1) ? [store.round(near.at), ...line.slice(1)] : line;
  }
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

// The name a new trail gets: M for the first main trail, M2, M3 … and S1, S2 … after it.
export function newName(value, kind) {
  const first = kind === "main" && !value.trails.some((t) => t.kind === "main");
  if (first && !store.trailNamed(value, "M")) return "M";
  return store.nextId(kind === "main" ? [...value.trails, { id: "M1" }] : value.trails, kind === "main" ? "M" : "S");
}

// A new trail begins at the landing or on the trail it starts near.
export function withNewTrail(value, kind, line) {
  const begun = begins(value, line[0]);
  const start = begun.at ? [begun.at, ...line.slice(1)] : line;
  return store.withTrail(value, {
    id: newName(value, kind), kind, line: onOutline(value, start, begun), joins: begun.joins,
  });
}

// A trail whose start was dragged joins what it was dragged to.
export function rejoined(value, id) {
  const trail = store.trailNamed(value, id);
  const others = { ...value, trails: store.withoutTrail(value, id).trails };
  const begun = begins(others, trail.line[0]);
  const start = begun.at ? [begun.at, ...trail.line.slice(1)] : trail.line;
  return store.withMovedTrail(value, { ...trail, line: onOutline(others, start, begun), joins: begun.joins });
}

// The line of a trail whose first corner is gone: the new first one moves onto what it left.
export function onItsHost(value, id, line) {
  const trail = store.trailNamed(value, id);
  const host = store.trailNamed(value, trail.joins);
  const ring = landingRing(value);
  const left = host ? host.line : ring && edgeOf(ring);
  // one that began on open ground does so still
  if (!left || store.nearestOn(left, trail.line[0]).gap > MOUTH_M) return line;
  const start = store.round(store.nearestOn(left, line[0]).at);
  const same = line.length > 2 && String(start) === String(line[1]);
  return same ? line.slice(1) : [start, ...line.slice(1)];
}

// Trails that began on the landing begin on the moved one.
export function afterLanding(value) {
  const ring = landingRing(value);
  if (!ring) return value;
  let next = value;
  for (const trail of value.trails) {
    if (trail.joins) continue;
    const edge = store.nearestOn(edgeOf(ring), trail.line[0]);
    if (edge.gap < WITH_LANDING_M) {
      next = store.withMovedTrail(next, { ...trail, line: [store.round(edge.at), ...trail.line.slice(1)] });
    }
  }
  return next;
}

// The keyboard snaps as the mouse does: to landing and trails within the same few pixels.
export function snapped(value, place) {
  const found = begins(value, place);
  if (found.at) return found.at;
  const ring = landingRing(value);
  if (ring) {
    const edge = store.nearestOn(edgeOf(ring), place);
    if (edge.gap <= nearM()) return store.round(edge.at);
  }
  return store.round(place);
}
