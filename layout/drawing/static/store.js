// What is drawn, and every step of it: undo, redo, and a copy in this browser.
//
// A draft is never changed in place: whoever edits hands in a new one. A copy of it
// lies in the browser's own store, one for each tab, so that neither a reload nor a
// stop of the program loses anything.

const EMPTY = {
  format: 1, name: "", landing: null, trails: [], keep_out: [], notes: [], marks: {}, positions: [],
};
const MOST_STEPS = 500;

const listeners = new Set();
let steps = [EMPTY];
let at = 0;
let kept = { name: "", version: null, text: JSON.stringify(EMPTY) }; // as saved in the folder
let aside = {}; // what the page holds beside the drawing: { name: as typed, sketch: a line under way }
let place = null; // key of the browser's store
let keeping = true; // the browser's store takes what it is given

let tab = "";
const LOCK = "skidway-tab:";
const DAY_MS = 86_400_000;

const freshName = () => (crypto.randomUUID ? crypto.randomUUID() : String(Math.random()).slice(2));

// Each tab has a name of its own. A tab that was duplicated comes with the name of the first,
// and takes another.
async function nameTab() {
  tab = sessionStorage.getItem("skidway-tab") || freshName();
  if (navigator.locks && !(await holdLock(LOCK + tab))) {
    tab = freshName();
    await holdLock(LOCK + tab);
  }
  sessionStorage.setItem("skidway-tab", tab);
}

// Take a lock that lasts as long as the page; false where another page has it.
function holdLock(name) {
  return new Promise((told) => {
    navigator.locks.request(name, { ifAvailable: true }, (lock) => {
      told(Boolean(lock));
      return lock ? new Promise(() => {}) : undefined;
    });
  });
}

// Names of the tabs that are open now.
async function openTabs() {
  if (!navigator.locks) return new Set();
  const { held } = await navigator.locks.query();
  return new Set(held.filter((l) => l.name.startsWith(LOCK)).map((l) => l.name.slice(LOCK.length)));
}

export function draft() {
  return steps[at];
}

// What is counted from a drawing, a plan or the ground in reach, hangs on all of it but its notes
// and its name.
export const countedFrom = ({ name, notes, ...rest }) => JSON.stringify(rest);

export function countsAs(one, other) {
  return one === other || countedFrom(one) === countedFrom(other);
}

export function savedAs() {
  return { name: kept.name, version: kept.version };
}

export function changed() {
  return JSON.stringify(bare(draft())) !== kept.text;
}

export function canUndo() {
  return at > 0;
}

export function canRedo() {
  return at < steps.length - 1;
}

// Tell `heard(draft, why)` of every change; why: "edit", "undo", "redo", "open", "saved".
export function listen(heard) {
  listeners.add(heard);
  return () => listeners.delete(heard);
}

export function commit(next) {
  if (JSON.stringify(next) === JSON.stringify(draft())) return;
  steps = steps.slice(Math.max(0, at + 1 - MOST_STEPS), at + 1);
  steps.push(next);
  at = steps.length - 1;
  spread("edit");
}

export function undo() {
  if (!canUndo()) return false;
  at -= 1;
  spread("undo");
  return true;
}

export function redo() {
  if (!canRedo()) return false;
  at += 1;
  spread("redo");
  return true;
}

// What was typed or begun and is no part of the drawing yet; kept with it, `undefined` takes it away.
export function keepAside(part) {
  aside = { ...aside, ...part };
  keep();
}

export function keptAside() {
  return aside;
}

// Whether a reload would bring back what is drawn.
export function isKept() {
  return keeping;
}

// Begin anew with a draft that stands in the folder, or (version null) nowhere yet.
export function open(next, name, version) {
  steps = [next];
  at = 0;
  aside = {};
  kept = { name, version, text: JSON.stringify(bare(next)) };
  spread("open");
}

// What was saved may be older than what is drawn by now.
export function markSaved(name, version, value) {
  kept = { name, version, text: JSON.stringify(bare(value)) };
  spread("saved");
}

// Where the browser keeps drafts of this area; gives what this tab held, or null.
export async function useBrowserStore(areaKey) {
  try {
    await nameTab();
    localStorage.length; // a browser that is told to keep nothing throws here
  } catch {
    keeping = false; // the drawing lives in the page alone
    return null;
  }
  place = `skidway:${areaKey}:`;
  for (const key of keysHere()) {
    const old = read(key);
    if (!old || (!old.unsaved && Date.now() - old.when > DAY_MS)) localStorage.removeItem(key);
  }
  const held = read(place + tab);
  if (held) goOn(held);
  return held;
}

// Drafts of other tabs that were closed without saving, newest first.
export async function leftBehind() {
  if (!place) return [];
  const open = await openTabs();
  const out = [];
  for (const key of keysHere()) {
    const held = read(key);
    if (held && held.unsaved && !open.has(key.slice(place.length))) out.push({ key, ...held });
  }
  return out.sort((a, b) => b.when - a.when);
}

export function takeOver(key) {
  const held = read(key);
  if (!held) return;
  localStorage.removeItem(key);
  goOn(held);
}

function goOn(held) {
  steps = [held.draft];
  at = 0;
  kept = held.kept;
  aside = held.aside || {};
  spread("open");
}

export function forget(key) {
  localStorage.removeItem(key);
}

// Keys of what other tabs hold of this area.
function keysHere() {
  if (!place) return [];
  const all = Array.from({ length: localStorage.length }, (_, k) => localStorage.key(k));
  return all.filter((key) => key.startsWith(place) && key !== place + tab);
}

function bare(value) {
  const { name, ...rest } = value;
  return rest;
}

function read(key) {
  try {
    const held = JSON.parse(localStorage.getItem(key));
    return held && held.draft && held.draft.format === 1 && held.kept ? held : null;
  } catch {
    return null;
  }
}

function keep() {
  if (!place) return;
  const unsaved = changed() || Boolean(aside.sketch);
  try {
    localStorage.setItem(place + tab, JSON.stringify({ draft: draft(), kept, aside, when: Date.now(), unsaved }));
    keeping = true;
  } catch {
    keeping = false; // full, or shut: the drawing lives on in the page
  }
}

function spread(why) {
  keep();
  for (const heard of listeners) heard(draft(), why);
}

// ---- small edits, each giving a new draft ------------------------------------------------

export function nextId(items, letter, key = "id") {
  const used = new Set(items.map((item) => item[key]));
  let number = 1;
  while (used.has(`${letter}${number}`)) number += 1;
  return `${letter}${number}`;
}

export function trailNamed(value, id) {
  return value.trails.find((trail) => trail.id === id) || null;
}

export function withTrail(value, trail) {
  const there = value.trails.some((t) => t.id === trail.id);
  const trails = there
    ? value.trails.map((t) => (t.id === trail.id ? trail : t))
    : [...value.trails, trail];
  return { ...value, trails };
}

export function withoutTrail(value, id) {
  const gone = new Set([id]);
  let size = 0;
  while (gone.size !== size) {
    size = gone.size;
    for (const trail of value.trails) if (gone.has(trail.joins)) gone.add(trail.id);
  }
  return { ...value, trails: value.trails.filter((trail) => !gone.has(trail.id)) };
}

// A trail changed: what hangs on it keeps its mouth on it, at the same share of its length.
export function withMovedTrail(value, trail) {
  const before = trailNamed(value, trail.id);
  let next = withTrail(value, trail);
  for (const other of value.trails) {
    if (other.joins !== trail.id || !before) continue;
    const mouth = nearestOn(before.line, other.line[0]);
    const there = nearestOn(trail.line, mouth.at);
    const line = [round(there.at), ...other.line.slice(1)];
    next = withMovedTrail(next, { ...other, line });
  }
  return next;
}

export function round(place) {
  return [Math.round(place[0] * 100) / 100, Math.round(place[1] * 100) / 100];
}

// The nearest place on a line: { at, gap, along }.
export function nearestOn(line, place) {
  let best = { at: line[0], gap: Infinity, along: 0 };
  let along = 0;
  for (let k = 1; k < line.length; k += 1) {
    const [ax, ay] = line[k - 1];
    const [bx, by] = line[k];
    const dx = bx - ax;
    const dy = by - ay;
    const size = Math.hypot(dx, dy);
    const share = size ? Math.max(0, Math.min(1, ((place[0] - ax) * dx + (place[1] - ay) * dy) / (size * size))) : 0;
    const at = [ax + share * dx, ay + share * dy];
    const gap = Math.hypot(place[0] - at[0], place[1] - at[1]);
    if (gap < best.gap) best = { at, gap, along: along + share * size };
    along += size;
  }
  return best;
}
