// The pens' buttons, and beside the map what can be done with the pen or the chosen thing.

import * as pens from "/pens.js";
import * as bending from "/bending.js";
import * as store from "/store.js";
import { coarse, onHand } from "/hand.js";
import { BENT, thing } from "/things.js";
import { button, element } from "/tabs.js";

const HOW = {
  landing: "Click where its middle is.",
  outline: "Click its corners; double click ends it.",
  main: "Begin at the landing or on a trail; double click ends it.",
  spur: "Begin on a trail; double click ends it.",
  way: "Click where the trail should lead.",
  closed: "Click the corners of ground nobody is to enter.",
  position: "Click beside a trail.",
  note: "Click the place.",
};
const LINES = new Set(["main", "spur", "outline", "closed"]);
let bar = null;
let nav = null;
let said = "";

export function build() {
  bar = document.getElementById("pen-bar");
  nav = document.getElementById("tools");
  const map = document.getElementById("map");
  for (const pen of pens.PENS) {
    const one = button(pen.words, () => {
      pens.take(pen.name);
      map.focus({ preventScroll: true });
      map.scrollIntoView({ block: "nearest" });
    });
    one.dataset.pen = pen.name;
    one.title = `${pen.words} (key ${pen.key.toUpperCase()})`;
    one.setAttribute("aria-pressed", "false");
    one.setAttribute("aria-keyshortcuts", pen.key.toUpperCase());
    nav.append(one);
  }
  for (const seen of [window, nav]) {
    for (const moved of ["resize", "scroll"]) seen.addEventListener(moved, hint, { passive: true });
  }
  hint();
  onHand(show);
  store.listen(() => show(null));
}

// Pens that lie off the edge of a phone are pointed at.
function hint() {
  nav.classList.toggle("more", nav.scrollLeft + nav.clientWidth < nav.scrollWidth - 4);
}

let held = { pen: "look", chosen: null, corner: null, drawing: false };

function show(now) {
  if (now) held = now;
  const { pen, chosen, corner, drawing } = held;
  for (const one of nav.children) one.setAttribute("aria-pressed", String(one.dataset.pen === pen));
  document.getElementById("cross").classList.toggle("aimed", coarse && pen !== "look");
  const parts = drawing ? underWay() : chosen ? ofChosen(chosen, corner) : pen !== "look" ? toBegin(pen) : [];
  const words = JSON.stringify(parts.map((p) => [p.tagName, p.textContent, p.disabled]));
  if (words === said && !parts.some((p) => p.tagName === "INPUT")) return; // what has the focus keeps it
  const again = bar.contains(document.activeElement) ? document.activeElement.textContent : null;
  said = words;
  bar.replaceChildren(...parts);
  bar.hidden = !parts.length;
  if (again === null) return;
  const there = [...bar.querySelectorAll("button:not(:disabled)")].find((b) => b.textContent === again);
  (there || document.getElementById("map")).focus({ preventScroll: true });
}

const aimed = (words) => (coarse ? [button(words, pens.cornerHere)] : []);

function underWay() {
  return [
    ...aimed("Corner at the cross"),
    button("End the line", pens.endLine),
    button("Take back a corner", pens.takeBackCorner),
    button("Give it up", pens.abandon),
  ];
}

function toBegin(pen) {
  const how = coarse ? HOW[pen].replace("Click", "Tap").replace("double click ends", "two taps end") : HOW[pen];
  return [element("span", how), ...(pen === "way" ? wayKind() : []), ...aimed(LINES.has(pen) ? "Begin at the cross" : "Put it at the cross")];
}

// What the best way is to be, once there is a main trail.
function wayKind() {
  if (!store.draft().trails.some((t) => t.kind === "main")) return [];
  const choice = element("select");
  choice.id = "way-kind";
  choice.setAttribute("aria-label", "What it is to be");
  for (const [value, words] of [["spur", "as a spur"], ["arm", "as an arm of the main trail"]]) {
    const one = element("option", words);
    one.value = value;
    choice.append(one);
  }
  return [choice];
}

function ofChosen(chosen, corner) {
  const item = thing(store.draft(), chosen);
  if (!item) return [];
  const out = [element("span", {
    trail: `Trail ${chosen.id}`, landing: "Landing", keep_out: `Closed ground ${chosen.id}`,
    note: "Note", position: "Winch position",
  }[chosen.kind])];
  const act = (words, go, off = false) => {
    const one = button(words, go);
    one.disabled = off;
    out.push(one);
  };
  const count = BENT.has(chosen.kind) ? bending.cornerCount() : null;
  if (count) {
    act("Corner before", () => bending.nextCorner(-1));
    act("Corner after", () => bending.nextCorner(1));
    act("Add a corner", bending.addCorner, corner === null);
    act("Remove the corner", bending.removeCorner, corner === null);
    if (coarse) act("Corner to the cross", pens.cornerHere, corner === null);
    if (count.fewer < count.now) act(`Fewer corners: ${count.fewer} for ${count.now}`, bending.fewerCorners);
  }
  if (chosen.kind === "note") {
    const field = element("input");
    field.value = item.text;
    field.maxLength = 500;
    field.placeholder = "What is to be known here";
    field.setAttribute("aria-label", "Words of the note");
    field.addEventListener("change", () => bending.changeChosen({ text: field.value.trim() }));
    out.push(field);
  }
  if (chosen.kind === "position") {
    const wanted = item.state === "wanted";
    act(wanted ? "Forbid parking here" : "Park here", () => bending.changeChosen({ state: wanted ? "forbidden" : "wanted" }));
  }
  const whole = { trail: "the trail", landing: "the landing", keep_out: "it", note: "the note", position: "it" }[chosen.kind];
  act(`Remove ${whole}`, bending.removeChosen);
  return out;
}
