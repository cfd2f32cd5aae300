// The page: puts the parts together, saves, and says how the drawing stands.

import { call, Refused } from "/api.js";
import * as store from "/store.js";
import * as ground from "/ground.js";
import * as tiles from "/tiles.js";
import * as pens from "/pens.js";
import * as penBar from "/pen_bar.js";
import * as picked from "/picked.js";
import * as bending from "/bending.js";
import * as mouths from "/mouths.js";
import * as keys from "/keys.js";
import * as lengths from "/lengths.js";
import { hand } from "/hand.js";
import { LEVEL } from "/looks.js";
import { build as buildVerdict, judge, onVerdict, idle, delays } from "/verdict.js";
import * as findings from "/findings.js";
import * as stems from "/stems.js";
import * as hazardTrees from "/hazard_trees.js";
import * as profile from "/profile.js";
import * as layerPanel from "/layer_panel.js";
import * as ways from "/ways.js";
import * as planned from "/planned.js";
import * as drawings from "/drawings.js";
import * as treePanel from "/tree_panel.js";
import * as naming from "/naming.js";
import * as keptHere from "/kept_here.js";
import { show as showTab } from "/tabs.js";

const TOLD_AFTER_MS = 1200; // read out once the hand rests, not at every step of a drag
const OUTLINES = new Set(["outline", "closed"]);
const byId = (id) => document.getElementById(id);

start();

async function start() {
  let area;
  try {
    area = await call("area");
  } catch (error) {
    banner(error instanceof Refused ? `${error.message} Close this page and start skidway draw again.` : String(error));
    return;
  }
  document.title = `${area.name} – skidway`;
  byId("area-name").textContent = area.name;
  byId("care").textContent = [...(area.note || []), area.care].join(" ");
  lengths.build(area);
  buildVerdict(area);
  const map = ground.build(area);
  tiles.build(map, area);
  const held = await store.useBrowserStore(area.key);
  if (!held) store.open(area.draft, "", null);
  mouths.build(map, area);
  stems.build(map, area);
  hazardTrees.build(map, area);
  bending.build(map);
  pens.build(map);
  penBar.build();
  picked.build();
  findings.build(map, area);
  profile.build(map, area);
  planned.build(map);
  ways.build(map);
  treePanel.build(map, area);
  drawings.build(map, area);
  layerPanel.build(area);
  keys.build(save);
  keys.help();
  onVerdict(verdict);
  lengths.onLengths(() => judged && judge(pens.sketch() || store.draft()));
  store.listen((value) => {
    judge(value);
    bar();
  });
  naming.build(bar, save);
  buttons();
  bar();
  pens.take("look");
  ground.showWhole(map); // now that the panels have taken their room
  judge(store.draft());
  keptHere.build();
  pens.goOn(); // with a line that was under way
  store.listen((_, why) => why === "open" && pens.goOn());
  // what tests and the bench read; nothing of it changes the drawing
  window.skidway = { map, store, pens, bending, hand, stems, planned, delays, idle, area };
}

const offline = () =>
  "The program is stopped. Your drawing is kept in this browser; start skidway draw again and go on here.";

function banner(words) {
  const bar = byId("banner");
  if (bar.textContent !== words) bar.textContent = words;
  bar.hidden = !words;
}

let telling = null;
let judged = null; // the verdict that stands
let summed = ""; // its numbers, as they stand on the page

function verdict(answer, error) {
  // an outline crosses itself at every other move of the hand until it is ended
  const unfinished = error && error.status && OUTLINES.has(hand.pen) && hand.drawing;
  if (!error) banner("");
  else if (!unfinished) banner(error.status ? error.message : offline());
  judged = answer;
  if (answer) sums(answer.numbers, answer.findings);
  else unjudged();
  stems.showReach(answer ? answer.in_reach : []);
  clearTimeout(telling);
  telling = setTimeout(() => {
    byId("told").textContent = `${byId("findings-title").textContent}. ${byId("sums").textContent}`;
  }, TOLD_AFTER_MS);
}

function bar() {
  byId("undo").disabled = !store.canUndo();
  byId("redo").disabled = !store.canRedo();
  const { name, version } = store.savedAs();
  const as = version ? `version ${version}${naming.isOther() ? ` of ${name}` : ""}` : "";
  byId("save-state").textContent = store.changed() ? "not saved" : as;
}

function sums(numbers, found) {
  const share = numbers.soil_pct === null ? "–" : `${numbers.soil_pct.toFixed(1)} %`;
  const said = [
    ["Trails", lengths.lengthWords(numbers.trail_m)],
    ["Ground disturbed", share],
    ["Marked trees in reach as drawn", `${numbers.trees_in_reach} of ${numbers.marked}`],
  ];
  if (String(said) !== summed) byId("sums").replaceChildren(...said.map(([label, text]) => {
    const item = document.createElement("span");
    const figure = document.createElement("b");
    const words = document.createElement("i");
    figure.textContent = text;
    words.textContent = label;
    item.append(figure, " ", words, " ");
    return item;
  }));
  summed = String(said);
  const worst = ["stop", "caution", "unknown"].find((level) => found.some((f) => f.level === level));
  const down = byId("to-findings");
  down.className = `to-panels ${worst || "ok"}`;
  down.textContent = worst
    ? `${LEVEL[worst].sign} ${found.filter((f) => f.level === worst).length} ${LEVEL[worst].word}`
    : `${LEVEL.ok.sign} nothing found`;
}

function unjudged() {
  byId("sums").textContent = "not judged";
  summed = "";
  const down = byId("to-findings");
  down.className = "to-panels unknown";
  down.textContent = `${LEVEL.unknown.sign} not judged`;
}

function buttons() {
  byId("undo").addEventListener("click", store.undo);
  byId("redo").addEventListener("click", store.redo);
  byId("save").addEventListener("click", save);
  const toFindings = (event) => {
    event.preventDefault();
    showTab("findings");
    const title = byId("findings-title");
    byId("side").scrollIntoView({ block: "start" });
    title.focus({ preventScroll: true });
  };
  byId("to-findings").addEventListener("click", toFindings);
  byId("skip-findings").addEventListener("click", toFindings);
  byId("skip-map").addEventListener("click", (event) => {
    event.preventDefault();
    byId("map").focus();
  });
}

let saving = false;

async function save() {
  if (saving) return; // a second click of a double click
  const { name, version } = store.savedAs();
  const wanted = naming.wanted();
  if (!wanted) {
    banner("Give the drawing a name first.");
    return;
  }
  const value = store.draft();
  saving = true;
  try {
    const kept = await call("save", { draft: { ...value, name: "" }, name: wanted, based_on: wanted === name ? version : null });
    store.markSaved(kept.name, kept.version, value);
    banner("");
  } catch (error) {
    banner(error.status === 0 ? offline() : error.message);
  } finally {
    saving = false;
  }
}
