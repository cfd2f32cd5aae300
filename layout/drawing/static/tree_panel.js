// One stem: what it is, its mark, and what the plan says of it; and the stand as it would be left.

import { call } from "/api.js";
import * as store from "/store.js";
import * as stems from "/stems.js";
import * as bending from "/bending.js";
import { onLengths, unitsNow } from "/lengths.js";
import { busy, isOfNow, onFollow, onPlan } from "/planned.js";
import { button, element, panel, refill, show, shown, onShow } from "/tabs.js";
import * as picked from "/picked.js";
import { findingItem } from "/findings.js";
import { glide } from "/ground.js";

const HOLD = "HOLD: not to be cut as it stands.";
let area = null;
let map = null;
let held = null;
let standHeld = null;
let row = null;
let network = null;
let card = null;
let asked = 0;
let standAsked = 0;

export function build(onMap, ofArea) {
  map = onMap;
  area = ofArea;
  held = panel("tree", "Tree");
  standHeld = panel("stand", "Stand");
  blank();
  bending.hooks.pick = (place) => {
    const found = stems.at(place, map.getView().getResolution());
    if (found === null) return false;
    bending.choose(null);
    choose(found);
    return true;
  };
  store.listen((_, why) => {
    if (why === "open") letGo();
    else if (row !== null) ask();
    if (shown("stand")) stand();
  });
  onShow("stand", stand);
  onLengths(() => {
    if (row !== null) ask();
    if (shown("stand")) stand();
  });
  onPlan((plan) => {
    network = plan;
    if (row !== null) paint();
  });
  let planning = false;
  onFollow(() => {
    if (planning !== busy() && row !== null && shown("tree")) paint();
    planning = busy();
  });
}

function blank() {
  const field = element("input");
  field.setAttribute("aria-label", "Number of a tree");
  field.placeholder = "Number of a tree";
  const go = () => {
    const found = area.trees.id.indexOf(field.value.trim());
    if (found >= 0) {
      glide(map, { center: [area.trees.x[found], area.trees.y[found]] });
      choose(found);
    } else field.setCustomValidity("No such tree");
    field.reportValidity();
    field.setCustomValidity("");
  };
  field.addEventListener("keydown", (event) => event.key === "Enter" && go());
  const line = element("div", undefined, "acts-row");
  line.append(field, button("Find it", go));
  refill(held, element("h2", "A tree"), element("p", "Click a tree on the map, or:"), line);
}

export function choose(number) {
  row = number;
  card = null;
  stems.choose(number);
  show("tree");
  picked.say("tree", `Tree ${area.trees.id[row]}`);
  wait(element("p", "Looking it up …", "quiet"));
  ask();
}

// No tree is chosen; what was asked of the last one no longer counts.
function letGo() {
  asked += 1;
  row = null;
  card = null;
  stems.choose(null);
  picked.clear("tree");
  blank();
}

const another = () => button("Another tree", letGo);

// Chosen, and nothing is known of it yet: never the words or buttons of another tree.
function wait(words) {
  const acts = element("div", undefined, "acts-row");
  acts.append(another());
  refill(held, element("h2", `Tree ${area.trees.id[row]}`), words, acts);
}

async function ask() {
  asked += 1;
  const mine = asked;
  let got;
  try {
    got = await call("tree", { draft: store.draft(), tree: area.trees.id[row] });
  } catch (error) {
    if (mine !== asked) return;
    card = null;
    wait(element("p", error.message, "told"));
    return;
  }
  if (mine !== asked) return;
  card = got;
  paint();
}

function paint() {
  if (!card || row === null || card.id !== area.trees.id[row]) return;
  const list = element("dl", undefined, "figures");
  for (const [label, text] of card.lines) list.append(element("dt", label), element("dd", text));
  const cut = card.mark === "cut";
  const acts = element("div", undefined, "acts-row");
  const turn = button(cut ? "Take its mark off" : "Mark it to be cut", () => setMark(cut ? "leave" : "cut"));
  turn.dataset.act = "mark"; // the same button, whatever it says
  turn.disabled = !card.may_mark;
  acts.append(turn, another());
  const title = `Tree ${card.id}: ${area.trees.done[row] ? "out already" : cut ? "marked to be cut" : "stays"}`;
  const { hold } = (network && network.cards[card.id]) || {};
  picked.update("tree", [title, ...card.care, ...(hold ? [HOLD] : [])].map((words) => words.replace(/\.$/, "")).join(". "));
  refill(
    held, element("h2", title), list,
    ...card.care.map((words) => element("p", words, "told")), acts, ...planWords(),
  );
}

function setMark(mark) {
  const value = store.draft();
  const marks = { ...value.marks };
  const own = area.trees.marked[row] === 1 ? "cut" : "leave";
  if (mark === own) delete marks[card.id];
  else marks[card.id] = mark;
  store.commit({ ...value, marks });
}

function planWords() {
  const said = network && network.cards && network.cards[card.id];
  const older = !isOfNow();
  if (card.mark === "leave" && older) return []; // that plan had it cut, or cleared a trail of then
  if (!said) {
    const words = busy() ? "It is being planned: its pull is told when the plan is made." : "Plan to see how it comes out.";
    return card.mark === "cut" ? [element("p", words, "quiet")] : [];
  }
  const list = element("dl", undefined, "figures");
  for (const [label, text] of said.lines[unitsNow()]) list.append(element("dt", label), element("dd", text));
  const out = [element("h3", said.title), list];
  if (said.orders.length) {
    const ways = element("ul");
    ways.append(...said.orders.map((words) => element("li", words)));
    out.splice(1, 0, ...(said.hold ? [element("p", HOLD, "told")] : []), ways);
  }
  if (older) out.splice(1, 0, element("p", "By the plan of an earlier drawing; plan again for this one.", "told"));
  if (said.serve.length) {
    const ways = element("ul");
    ways.append(...said.serve.map((words) => element("li", words)));
    out.push(element("p", "What can be done:"), ways);
  }
  return out;
}

async function stand() {
  standAsked += 1;
  const mine = standAsked;
  if (!standHeld.firstChild) standHeld.append(element("p", "Counting …", "quiet"));
  let got;
  try {
    got = await call("stand", { draft: store.draft() });
    if (mine !== standAsked) return;
  } catch (error) {
    if (mine !== standAsked) return;
    refill(standHeld, element("h2", "The stand"), element("p", error.message, "told"));
    return;
  }
  const found = element("ol", undefined, "findings");
  found.append(...got.findings.filter((f) => f.level !== "ok").map(findingItem));
  refill(
    standHeld, element("h2", "What marks and lines take, and leave"),
    ...(got.sentences.length ? got.sentences : ["Nothing is marked."]).map((words) => element("p", words)), found,
  );
}
