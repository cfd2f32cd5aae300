// What is found, as sentences; each leads to its place.

import { LEVEL } from "/looks.js";
import { onVerdict } from "/verdict.js";
import { panel as tabPanel, refill } from "/tabs.js";
import { glide } from "/ground.js";

let map = null;
let list = null;
let title = null;
let rows = new Map(); // what is listed: the finding as told -> its row

export function build(onMap) {
  map = onMap;
  const panel = tabPanel("findings", "Findings");
  title = document.createElement("h2");
  title.id = "findings-title";
  title.tabIndex = -1;
  title.textContent = "Findings";
  list = document.createElement("ol");
  list.className = "findings";
  panel.append(title, list);
  onVerdict((answer) => (answer ? show(answer.findings) : unjudged()));
}

function show(found) {
  const count = {};
  for (const finding of found) count[finding.level] = (count[finding.level] || 0) + 1;
  const words = ["stop", "caution", "unknown"].filter((l) => count[l]).map((l) => `${count[l]} ${LEVEL[l].word}`).join(", ") || "Nothing found against it";
  if (title.textContent !== words) title.textContent = words;
  const items = new Map();
  for (const finding of found) {
    if (finding.level === "ok") continue;
    let key = JSON.stringify(finding);
    while (items.has(key)) key += "+"; // the same said twice
    items.set(key, rows.get(key) || findingItem(finding));
  }
  rows = items;
  const wanted = [...items.values()];
  if (list.contains(document.activeElement)) refill(list, ...wanted);
  else arrange(wanted);
}

// Only rows that are new or moved are touched: while a line is dragged most stay as they are.
function arrange(wanted) {
  wanted.forEach((row, k) => {
    if (list.children[k] !== row) list.insertBefore(row, list.children[k] || null);
  });
  while (list.children.length > wanted.length) list.lastChild.remove();
}

function unjudged() {
  title.textContent = "Not judged since your last change";
  rows = new Map();
  refill(list);
}

export function findingItem(finding) {
  const row = document.createElement("li");
  row.className = finding.level;
  const go = document.createElement(finding.at ? "button" : "div");
  if (finding.at) {
    go.type = "button";
    go.addEventListener("click", () => glide(map, { center: finding.at, resolution: Math.min(map.getView().getResolution(), 0.4) }));
  }
  const sign = document.createElement("b");
  sign.textContent = LEVEL[finding.level].sign;
  sign.setAttribute("role", "img");
  sign.setAttribute("aria-label", LEVEL[finding.level].word);
  const words = document.createElement("span");
  words.textContent = finding.message + (finding.confirmed ? "" : " (unverified – check local rule)");
  go.append(sign, words);
  row.append(go);
  return row;
}
