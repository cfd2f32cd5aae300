// Drawn things, found and changed by kind and name.

import * as store from "/store.js";

const LISTS = { trail: "trails", keep_out: "keep_out", note: "notes", position: "positions" };
export const BENT = new Set(["trail", "keep_out", "landing"]); // have corners

export function thing(value, what) {
  if (!what) return null;
  if (what.kind === "landing") return value.landing;
  return value[LISTS[what.kind]].find((item) => item.id === what.id) || null;
}

export function same(one, other) {
  return Boolean(one && other && one.kind === other.kind && one.id === other.id);
}

// The places a thing is made of.
export function path(value, what) {
  const found = thing(value, what);
  if (!found) return null;
  if (what.kind === "trail") return found.line;
  if (what.kind === "keep_out") return found.outline;
  if (what.kind === "landing") return found.outline || [found.point];
  return [found.at];
}

export function withPath(value, what, places) {
  const found = thing(value, what);
  if (what.kind === "trail") return store.withMovedTrail(value, { ...found, line: places });
  if (what.kind === "landing") {
    return { ...value, landing: found.outline ? { outline: places } : { point: places[0] } };
  }
  return changed(value, what, what.kind === "keep_out" ? { outline: places } : { at: places[0] });
}

export function changed(value, what, change) {
  const key = LISTS[what.kind];
  return { ...value, [key]: value[key].map((item) => (item.id === what.id ? { ...item, ...change } : item)) };
}

export function without(value, what) {
  if (what.kind === "trail") return store.withoutTrail(value, what.id);
  if (what.kind === "landing") return { ...value, landing: null };
  const key = LISTS[what.kind];
  return { ...value, [key]: value[key].filter((item) => item.id !== what.id) };
}
