// The page: puts the parts together, and what a key does.

import { call, Refused } from "/api.js";
import * as store from "/store.js";
import * as ground from "/ground.js";
import * as pens from "/pens.js";
import { judge, onVerdict, delays } from "/verdict.js";
import * as findings from "/findings.js";
import * as stems from "/stems.js";
import * as profile from "/profile.js";
import * as layerPanel from "/layer_panel.js";
import * as ways from "/ways.js";
import * as planned from "/planned.js";
import * as drawings from "/drawings.js";
import * as treePanel from "/tree_panel.js";

const byId = (id) => document.getElementById(id);
let area = null;
let map = null;

start();

async function start() {
  try {
    area = await call("area");
  } catch (error) {
    banner(error instanceof Refused ? `${error.message} Close this page and start skidway draw again.` : String(error));
    return;
  }
  document.title = `${area.name} – skidway`;
  byId("area-name").textContent = area.name;
  byId("care").textContent = area.care;
  map = ground.build(area);
  if (area.tiles) ground.addTiles(map, area.tiles);
  const held = store.useBrowserStore(area.key);
  if (!held) store.open(area.draft, "", null);
  stems.build(map, area);
  pens.build(map, area);
  tools();
  findings.build(map, area);
  profile.build(map, area);
  planned.build(map);
  ways.build(map);
  treePanel.build(map, area);
  drawings.build(map, area);
  layerPanel.build(area);
  onVerdict((answer, error) => {
    if (error) banner(error.status ? error.message : offline());
    else banner("");
    if (answer) {
      sums(answer.numbers);
      stems.showReach(answer.in_reach);
    }
  });
  store.listen((value) => {
    judge(value);
    bar();
  });
  pens.onPen(penBar);
  keys();
  buttons();
  bar();
  pens.take("look");
  judge(store.draft());
  map.on("pointermove", (event) => {
    byId("place").textContent = ground.placeWords(event.coordinate);
  });
  // what tests and the bench read; nothing of it changes the drawing
  window.skidway = { map, store, pens, stems, planned, delays, area };
}

const offline = () =>
  "The program is stopped. Your drawing is kept in this browser; start skidway draw again and go on here.";

export function banner(words) {
  const bar = byId("banner");
  bar.textContent = words;
  bar.hidden = !words;
}

function tools() {
  const nav = byId("tools");
  for (const pen of pens.PENS) {
    const button = document.createElement("button");
    button.type = "button";
    button.dataset.pen = pen.name;
    button.textContent = pen.words;
    button.title = `${pen.words} (${pen.key.toUpperCase()})`;
    button.setAttribute("aria-pressed", "false");
    button.addEventListener("click", () => {
      pens.take(pen.name);
      byId("map").focus({ preventScroll: true });
    });
    nav.append(button);
  }
}

function penBar({ pen, chosen, corner, drawing }) {
  for (const button of byId("tools").children) {
    button.setAttribute("aria-pressed", String(button.dataset.pen === pen));
  }
  const bar = byId("pen-bar");
  bar.replaceChildren();
  const put = (words, act, off = false) => {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = words;
    button.disabled = off;
    button.addEventListener("click", act);
    bar.append(button);
  };
  const say = (words) => {
    const text = document.createElement("span");
    text.textContent = words;
    bar.append(text);
  };
  if (drawing) {
    say("Double click, or:");
    put("End the line", pens.endLine);
    put("Take back a corner", pens.takeBackCorner);
    put("Give it up", pens.abandon);
  } else if (chosen) {
    say({ trail: `Trail ${chosen.id}`, landing: "Landing", keep_out: `Closed ground ${chosen.id}`, note: "Note", position: "Winch position" }[chosen.kind]);
    if (["trail", "keep_out", "landing"].includes(chosen.kind)) {
      put("Corner before", () => pens.nextCorner(-1));
      put("Corner after", () => pens.nextCorner(1));
      put("Add a corner", pens.addCorner, corner === null);
      put("Remove the corner", pens.removeCorner, corner === null);
    }
    const item = pens.thing(store.draft(), chosen);
    if (chosen.kind === "note") {
      const field = document.createElement("input");
      field.value = item.text;
      field.maxLength = 500;
      field.setAttribute("aria-label", "Words of the note");
      field.addEventListener("change", () => pens.changeChosen({ text: field.value.trim() }));
      bar.append(field);
    }
    if (chosen.kind === "position") {
      put(item.state === "wanted" ? "Forbid parking here" : "Park here", () => pens.changeChosen({ state: item.state === "wanted" ? "forbidden" : "wanted" }));
    }
    put("Remove", pens.removeChosen);
  } else if (pen !== "look") {
    say({
      landing: "Click where its middle is.", outline: "Click its corners; double click ends it.",
      main: "Begin at the landing or on a trail; double click ends it.",
      spur: "Begin on a trail; double click ends it.", way: "Click where the trail should lead.",
      closed: "Click the corners of ground nobody is to enter.", position: "Click beside a trail.",
      note: "Click the place.",
    }[pen]);
  }
  bar.hidden = !bar.childElementCount;
}

function bar() {
  byId("undo").disabled = !store.canUndo();
  byId("redo").disabled = !store.canRedo();
  const { name, version } = store.savedAs();
  const field = byId("drawing-name");
  if (document.activeElement !== field && name) field.value = name;
  byId("save-state").textContent = store.changed() ? "not saved" : version ? `saved, version ${version}` : "";
}

function sums(numbers) {
  const share = numbers.soil_pct === null ? "–" : `${numbers.soil_pct.toFixed(1)} %`;
  byId("sums").replaceChildren(...[
    ["Trails", ground.lengthWords(numbers.trail_m)],
    ["Ground disturbed", share],
    ["Marked trees in reach as drawn", `${numbers.trees_in_reach} of ${numbers.marked}`],
  ].map(([label, text]) => {
    const item = document.createElement("span");
    item.innerHTML = "<b></b> <i></i>";
    item.children[0].textContent = text;
    item.children[1].textContent = label;
    return item;
  }));
}

function buttons() {
  byId("undo").addEventListener("click", store.undo);
  byId("redo").addEventListener("click", store.redo);
  byId("save").addEventListener("click", save);
}

async function save() {
  const { name, version } = store.savedAs();
  const wanted = byId("drawing-name").value.trim();
  if (!wanted) {
    banner("Give the drawing a name first.");
    byId("drawing-name").focus();
    return;
  }
  const value = store.draft();
  try {
    const kept = await call("save", { draft: { ...value, name: "" }, name: wanted, based_on: wanted === name ? version : null });
    if (store.draft() === value) store.markSaved(kept.name, kept.version);
    banner("");
    bar();
  } catch (error) {
    banner(error.status === 0 ? offline() : error.message);
  }
}

function keys() {
  const target = byId("map");
  const cross = byId("cross");
  target.addEventListener("focus", () => cross.classList.toggle("shown", target.matches(":focus-visible")));
  target.addEventListener("blur", () => cross.classList.remove("shown"));
  document.addEventListener("keydown", (event) => {
    const field = event.target.closest("input, textarea, select");
    const word = event.key.toLowerCase();
    if ((event.ctrlKey || event.metaKey) && !field) {
      if (word === "z" && !event.shiftKey) {
        event.preventDefault();
        if (!pens.takeBackCorner()) store.undo();
      } else if (word === "y" || (word === "z" && event.shiftKey)) {
        event.preventDefault();
        store.redo();
      } else if (word === "s") {
        event.preventDefault();
        save();
      }
      return;
    }
    if (field || event.target !== target) return;
    cross.classList.add("shown");
    const step = event.shiftKey ? 5 : 1;
    const moves = { arrowleft: [-step, 0], arrowright: [step, 0], arrowup: [0, step], arrowdown: [0, -step] };
    if (event.altKey && moves[word]) {
      event.preventDefault();
      event.stopPropagation();
      pens.moveCorner(...moves[word]);
    } else if (event.altKey) return;
    else if (word === "enter" || word === " ") { event.preventDefault(); pens.cornerHere(); }
    else if (word === "backspace") { event.preventDefault(); if (!pens.takeBackCorner()) pens.removeCorner(); }
    else if (word === "delete") pens.removeChosen();
    else if (word === "f") pens.endLine();
    else if (word === "escape") pens.abandon();
    else if (word === ",") pens.nextCorner(-1);
    else if (word === ".") pens.nextCorner(1);
    else {
      const pen = pens.PENS.find((p) => p.key === word);
      if (pen) pens.take(pen.name);
    }
  }, true);
}
