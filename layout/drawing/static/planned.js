// Planning in the background: the newest drawing wins, what is found is shown as it comes.

import { call } from "/api.js";
import * as store from "/store.js";
import * as stems from "/stems.js";
import { onLengths, unitsNow } from "/lengths.js";
import { styles } from "/looks.js";
import { sources, vector } from "/ground.js";
import { button, element, panel, refill, show as showTab } from "/tabs.js";
import * as spotCard from "/spot_card.js";
import { findingItem } from "/findings.js";

const AGAIN_MS = 400;
const SETTLED_MS = 500; // after the last of several changes: each that is planned ends the one before
const MISSED = 4; // answers that do not come, before it is said
const ASK = "Draw a landing and a main trail, or neither, and plan: spurs, winch positions and pulls are laid out for every marked tree.";
const REPLACED = "Given up: a newer drawing, another tab or the crew's files took its place. Plan again to go on.";
let held = null;
// made once, so that focus and the place read stay while a plan is followed
const title = element("h2", "Plan");
const told = element("p", "", "told");
const line = element("p", "", "busy");
const stopIt = button("Stop planning", stop);
const result = element("div");
const found = { of: null, drawing: null, head: element("h3"), words: element("p", "", "quiet"), list: element("ol", undefined, "findings") };
const chip = element("div", undefined, "planning"); // over the map where the panel is out of view
const chipWords = element("span");
const chipStop = button("Stop", stop);
const chipSee = button("See the plan", see);
let rendered = [];
let waiting = null;
let spot = null; // the card of one winch position
let job = null;
let network = null;
let last = { state: "none" }; // how far the planning was, when it was last told
let auto = false; // planned again after each change, once asked for
let since = 0;
let asked = 0;
let madeFor = null; // the drawing the shown plan is of
let standing = null; // the drawing as it stood at the last change
let pending = false; // it is about to be planned anew
const older = element("div", undefined, "older"); // over the map while the plan there is of an earlier drawing
export const delays = { first: [], done: [] };
const listeners = new Set();
const followers = new Set();
let seen = null; // the state whose end has been looked at

export function build(map) {
  const of = { z: 12 };
  vector(map, "turning", "Plan: turning places", [], styles.turning, of);
  vector(map, "pulls", "Plan: pulls", [], null, { z: 13 });
  vector(map, "spurs", "Plan: trails", [], null, { z: 16 });
  vector(map, "planned_positions", "Plan: winch positions", [], null, { z: 17 });
  spot = spotCard.build(paintPositions);
  held = panel("plan", "Plan");
  line.setAttribute("role", "status");
  chip.append(chipWords, chipStop, chipSee);
  document.getElementById("older").before(chip);
  older.append(element("span", "The plan shown is of an earlier drawing."), button("Plan again", planNow));
  document.getElementById("older").append(older);
  held.append(title, spot, told, line, stopIt, result, found.head, found.words, found.list);
  say(ASK);
  document.getElementById("plan").addEventListener("click", planNow);
  onLengths(() => tell(last));
  standing = store.draft();
  store.listen((_, why) => {
    if (why === "saved") return;
    const noted = store.countsAs(standing, store.draft());
    standing = store.draft();
    if (why === "open") {
      giveUp();
      hide();
      say(ASK);
      return;
    }
    if (noted) return; // a note changes nothing a plan hangs on
    pending = auto;
    mark();
    if (auto) {
      clearTimeout(waiting);
      since = performance.now();
      waiting = setTimeout(start, SETTLED_MS);
    }
  });
}

function planNow() {
  auto = true;
  showTab("plan");
  since = performance.now();
  start();
  if (document.activeElement === older.lastChild) document.getElementById("map").focus({ preventScroll: true });
}

export function onPlan(heard) {
  listeners.add(heard);
}

export function current() {
  return network;
}

// Whether the plan shown is of the drawing as it stands.
export function isOfNow() {
  return network !== null && store.countsAs(madeFor, store.draft());
}

async function start() {
  clearTimeout(waiting);
  pending = true;
  tellOlder();
  asked += 1;
  const mine = asked;
  const value = store.draft();
  const before = job;
  job = null; // the one before is given up
  let answer;
  try {
    answer = await call("replan", { draft: value, seq: mine });
  } catch (error) {
    if (before !== null) drop(before);
    if (mine === asked) pending = false;
    if (mine === asked) say(error.message, true);
    return;
  }
  if (mine !== asked) { // stopped, or a newer drawing is on its way
    drop(answer.job);
    return;
  }
  pending = false;
  job = answer.job;
  follow(job, value);
}

async function follow(mine, value) {
  let seen = 0;
  let first = true;
  let missed = 0; // requests in a row that nobody answered
  while (mine === job) {
    let state;
    try {
      state = await call("replan_state", { job: mine, seen });
      missed = 0;
    } catch (error) {
      if (mine !== job) return;
      missed += 1;
      if (error.status || missed > MISSED) {
        say(error.message, true);
        return;
      }
      await new Promise((go) => setTimeout(go, AGAIN_MS * missed));
      continue;
    }
    if (mine !== job) return;
    if (state.network) {
      seen = state.version;
      network = state.network;
      madeFor = value;
      if (first) delays.first.push(performance.now() - since);
      first = false;
      paint();
    }
    tell(state);
    if (!["waiting", "running"].includes(state.state)) {
      if (state.state === "replaced") auto = false; // else two tabs would take turns for good
      if (state.state === "done") delays.done.push(performance.now() - since);
      return;
    }
    await new Promise((go) => setTimeout(go, AGAIN_MS));
  }
}

function tell(state) {
  const place = found.list.getBoundingClientRect().top;
  last = state;
  const now = busy();
  const fault = state.state === "failed" ? state.error : state.state === "replaced" ? REPLACED : "";
  write(title, now ? "Planning" : "Plan");
  write(told, state.told || fault);
  told.className = state.told && !state.fault ? "" : "told";
  write(line, now ? state.step || "Planning …" : "");
  if (!now && document.activeElement === stopIt) held.focus();
  stopIt.hidden = !now;
  const shown = [network, unitsNow(), isOfNow(), now];
  if (shown.some((part, k) => part !== rendered[k])) {
    rendered = shown;
    result.replaceChildren(...(network ? figures() : []));
  }
  tellFound(now);
  stay(found.list.getBoundingClientRect().top - place);
  const [first] = network ? network.lines[unitsNow()] : [["", ""]];
  write(chipWords, now ? line.textContent : fault || (state.fault && state.told) || `${first[0]}: ${first[1]}`);
  chipStop.hidden = !now;
  chipSee.hidden = now;
  chip.hidden = !now && (state.state === "none" || seen === state);
  tellOlder();
  for (const heard of followers) heard();
}

// Only what is new is written: a line that is read aloud is not to be said again and again.
function write(where, words) {
  if (where.textContent !== words) where.textContent = words;
  where.hidden = !words;
}

function tellOlder() {
  older.hidden = network === null || isOfNow() || pending || busy();
}

export const busy = () => ["waiting", "running"].includes(last.state);

export function onFollow(heard) {
  followers.add(heard);
}

function see() {
  seen = last;
  chip.hidden = true;
  showTab("plan");
  held.scrollIntoView({ block: "start" });
  held.focus({ preventScroll: true });
}

function figures() {
  const out = [];
  const list = element("dl", undefined, "figures");
  for (const [label, text] of network.lines[unitsNow()]) list.append(element("dt", label), element("dd", text));
  out.push(list);
  if (network.words) out.push(element("p", network.words, "quiet"));
  if (!network.final) out.push(element("p", busy() ? "Not the last word: the plan still gets better." : "Stopped before it was proved: plan again for the last word.", "quiet"));
  if (!isOfNow()) out.push(element("p", "This plan is of the drawing before your last change.", "told"));
  return out;
}

// What is told above the findings grows and shrinks: whoever reads them keeps the line.
function stay(moved) {
  const side = held.parentElement;
  const roll = side.scrollHeight > side.clientHeight ? side : document.scrollingElement;
  if (moved && found.of && roll.scrollTop > 0) roll.scrollTop += moved;
}

// Findings stay until there are newer ones, and say which plan they are of: a first look has none,
// and whoever reads them is not to lose the place.
function tellFound(now) {
  if (network && network.final && found.of !== network) {
    found.of = network;
    found.drawing = madeFor;
    refill(found.list, ...network.findings.filter((f) => f.level !== "ok").map(findingItem));
  }
  if (!network) {
    found.of = null;
    refill(found.list);
  }
  const earlier = Boolean(found.of) && (found.of !== network || !isOfNow());
  const said = [];
  const same = found.drawing !== null && store.countsAs(found.drawing, store.draft());
  if (earlier && now) said.push("Of the plan made before. Those of the new plan take their place when it is proved.");
  else if (earlier && same) said.push("Of the plan made before, of the drawing as it stands: the new plan was not proved.");
  else if (earlier) said.push("Of a plan made before, not of the drawing as it stands.");
  if (found.of && found.of.units !== unitsNow()) said.push("As they were told when it was planned; plan again to have them in the other units.");
  write(found.head, found.of ? `Findings of the ${earlier ? "earlier " : ""}plan` : "");
  write(found.words, said.join(" "));
  found.list.classList.toggle("earlier", earlier);
}

function mark() {
  if (network) tell(busy() ? last : { state: "none" });
}

function stop() {
  giveUp();
  tell({ state: "none" });
}

function giveUp() {
  auto = false;
  pending = false;
  clearTimeout(waiting);
  asked += 1;
  if (job !== null) drop(job);
  job = null;
}

async function drop(one) {
  try {
    await call("replan_stop", { job: one });
  } catch {
    // it is stopped for the page either way
  }
}

export function hide() {
  network = null;
  tellOlder();
  spotCard.setNetwork(null);
  for (const name of ["turning", "pulls", "spurs", "planned_positions"]) sources[name].clear();
  stems.showStatus({}, []);
  for (const heard of listeners) heard(null);
}

export function paint() {
  const drawn = new Set(store.draft().trails.map((t) => t.id));
  fill("turning", network.turning.map((t) => new ol.Feature(new ol.geom.Polygon([t.outline]))));
  fill("pulls", network.pulls.map((p) => styled(new ol.geom.LineString(p.line), styles.pull(p.sure))));
  fill("spurs", network.trails.filter((t) => !drawn.has(t.id) || t.source === "routed").map((t) =>
    styled(new ol.geom.LineString(t.line), t.kind === "main" ? styles.plannedMain : styles.spur)));
  spotCard.setNetwork(network);
  paintPositions();
  stems.showStatus(network.trees, network.held);
  for (const heard of listeners) heard(network);
}

function paintPositions() {
  fill("planned_positions", (network ? network.positions : []).map((p) =>
    styled(new ol.geom.Point(p.at), styles.plannedPosition(spotCard.isChosen(p)))));
}

function styled(geometry, style) {
  const feature = new ol.Feature(geometry);
  feature.setStyle(style);
  return feature;
}

function fill(name, features) {
  sources[name].clear(true);
  sources[name].addFeatures(features);
}

function say(words, fault = false) {
  tell({ state: fault ? "failed" : "none", told: words, fault });
}
