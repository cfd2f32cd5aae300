// Drawings kept in the area's folder: open, compare, and lay one over the other.

import { call } from "/api.js";
import * as store from "/store.js";
import { onLengths } from "/lengths.js";
import { landingRing } from "/mouths.js";
import { styles } from "/looks.js";
import { sources, vector } from "/ground.js";
import { button, element, onShow, panel, refill } from "/tabs.js";

let held = null;
let rows = [];
let folderDraft = null;
let trees = null;
const AGAIN_MS = 700;
const POSITION_M = 3; // a winch position of a drawing laid beside, as a ring
let compare = null; // the button
const ticked = new Set();
// made once: what stands in them outlives each painting of the list
const told = element("div", undefined, "compared");
const written = element("div", undefined, "written");
const refused = element("p", "", "told"); // a wish that was not taken up
refused.setAttribute("role", "alert");
let writing = 0;
let comparing = 0;
let compared = []; // the names in the table that is shown

export function build(map, area) {
  rows = area.drawings;
  folderDraft = area.draft;
  trees = area.trees;
  vector(map, "other", "Another drawing, laid beside", [], styles.proposed, { z: 14 });
  held = panel("drawings", "Drawings");
  onShow("drawings", refresh);
  onLengths(() => told.querySelector("table") && showCompared(compared));
  store.listen((_, why) => {
    if (why === "saved") refresh();
    if (why === "open") paint(); // one left behind may have been taken up
  });
  paint();
}

async function refresh() {
  try {
    rows = (await call("drawings")).drawings;
  } catch {
    return; // the list as it was
  }
  paint();
}

async function paint() {
  const left = await orphans();
  const list = element("ul", undefined, "kept");
  for (const row of rows) list.append(item(row));
  const acts = element("div", undefined, "acts-row");
  compare = button("Compare the ticked ones", () => showCompared([...ticked]));
  compare.disabled = ticked.size < 2;
  acts.append(compare, button("A new drawing from the files", () => leave(() => store.open(folderDraft, "", null))));
  refill(
    held, element("h2", "Kept in the area's folder"),
    rows.length ? list : element("p", "None yet: give this drawing a name above and save it."),
    acts, told, written, ...left,
  );
}

function item(row) {
  const line = element("li");
  const label = element("label");
  const box = element("input");
  box.type = "checkbox";
  box.setAttribute("aria-label", `Compare ${row.name}`);
  box.checked = ticked.has(row.name);
  box.disabled = Boolean(row.error);
  box.addEventListener("change", () => {
    if (box.checked) ticked.add(row.name);
    else ticked.delete(row.name);
    compare.disabled = ticked.size < 2;
  });
  label.append(box, element("span", row.name));
  line.append(label, element("span", row.error || `version ${row.version}, ${row.saved.slice(0, 16).replace("T", " ")} UTC`, "quiet"));
  if (!row.error) {
    for (const [words, act] of [["Open", open], ["Lay beside", beside], ["Make the crew's files", outputs]]) {
      const one = button(words, () => act(row.name));
      one.setAttribute("aria-label", `${words}: ${row.name}`);
      line.append(one);
    }
    const before = row.versions.filter((n) => n !== row.version).reverse();
    if (before.length) line.append(earlier(row.name, before));
  }
  return line;
}

// A list of the versions before the newest, to take one up again.
function earlier(name, numbers) {
  const choice = element("select");
  choice.setAttribute("aria-label", `An earlier version of ${name}`);
  choice.append(new Option("Earlier versions …", ""), ...numbers.map((n) => new Option(`version ${n}`, n)));
  choice.addEventListener("change", () => {
    const version = Number(choice.value);
    choice.value = "";
    if (version) takeUp(name, version);
  });
  return choice;
}

// The newest is opened and the earlier one laid over it as one change, so that it can be
// undone, and saving it makes a version of its own: none is written over.
function takeUp(name, version) {
  leave(async () => {
    try {
      const [newest, old] = [await call("load", { name }), await call("load", { name, version })];
      store.open(newest.draft, newest.name, newest.version);
      store.commit(old.draft);
      told.replaceChildren(element("p", `Version ${version} of ${name} is on the map. Save it to keep it as the newest; Undo gives version ${newest.version} back.`));
    } catch (error) {
      told.replaceChildren(element("p", error.message, "told"));
    }
  });
}

// Nothing unsaved is thrown away without a word.
export function leave(go) {
  if (!store.changed() || window.confirm("This drawing is not saved. Leave it?")) go();
}

function open(name) {
  leave(async () => {
    try {
      const got = await call("load", { name });
      store.open(got.draft, got.name, got.version);
    } catch (error) {
      told.replaceChildren(element("p", error.message, "told"));
    }
  });
}

async function beside(name) {
  let got;
  try {
    got = await call("load", { name });
  } catch (error) {
    told.replaceChildren(element("p", error.message, "told"));
    return;
  }
  sources.other.clear();
  const ring = landingRing(got.draft);
  const shapes = [
    ...got.draft.trails.map((t) => new ol.geom.LineString(t.line)),
    ...(ring ? [ring] : []).concat(got.draft.keep_out.map((k) => k.outline))
      .map((outline) => new ol.geom.Polygon([[...outline, outline[0]]])),
    ...got.draft.positions.map((p) => new ol.geom.Circle(p.at, POSITION_M)),
  ];
  sources.other.addFeatures(shapes.map((shape) => new ol.Feature(shape)));
  const put = (shape, style) => {
    const feature = new ol.Feature(shape);
    feature.setStyle(style);
    sources.other.addFeature(feature);
  };
  for (const line of got.spurs || []) put(new ol.geom.LineString(line), styles.besideSpur);
  for (const note of got.draft.notes) put(new ol.geom.Point(note.at), styles.besideNote(note.text));
  for (const [id, mark] of Object.entries(got.draft.marks)) {
    const row = trees.id.indexOf(id);
    if (row >= 0) put(new ol.geom.Point([trees.x[row], trees.y[row]]), styles.besideMark(mark === "cut"));
  }
  const words = [`${name} lies beside yours, dashed.`];
  if (got.draft.notes.length) words.push("Its notes are open triangles.");
  if (Object.keys(got.draft.marks).length) words.push("Open squares are trees it marks (+) or unmarks (−).");
  words.push(got.spurs ? "Dotted lines are the spurs planned on it." : "No planned spurs: it was not planned as it stands since the map was opened.");
  told.replaceChildren(
    element("p", words.join(" ")),
    button("Take it off", () => { sources.other.clear(); refill(told); }),
  );
}

// Plans the kept drawing and writes the files `skidway plan` writes, into the area's folder.
async function outputs(name) {
  let job;
  try {
    ({ job } = await call("outputs", { name }));
  } catch (error) {
    refused.textContent = error.message; // what is under way goes on, and its end is still told
    written.append(refused);
    showWritten();
    return;
  }
  writing += 1;
  const mine = writing;
  const words = element("p", "Planning, then writing …");
  words.setAttribute("role", "status");
  written.replaceChildren(words);
  showWritten();
  try {
    let state;
    do {
      await new Promise((go) => setTimeout(go, AGAIN_MS));
      state = await call("replan_state", { job, seen: Number.MAX_SAFE_INTEGER });
      if (state.step) words.textContent = `${state.step} …`;
    } while (["waiting", "running"].includes(state.state));
    if (state.state !== "done") throw new Error(state.error || "Another planning took its place.");
    if (mine !== writing) return; // asked for anew meanwhile
    refused.remove();
    const [folder, files, stops] = state.written;
    words.textContent = `Written to the folder ${folder}:`;
    if (stops) {
      const one = stops === 1;
      const bad = element("p", `${stops} finding${one ? " says" : "s say"} stop: nobody is to work by these files as they are. The report in them says what and why; mend the drawing and make them again.`, "told");
      bad.setAttribute("role", "alert");
      written.prepend(bad);
    }
    const list = element("ul");
    list.append(...files.map((file) => element("li", file)));
    written.append(list);
  } catch (error) {
    if (mine === writing) written.replaceChildren(element("p", error.message, "told"));
  }
  showWritten();
}

// Below a long list and a table nobody would see what came of it.
function showWritten() {
  written.scrollIntoView({ block: "nearest" });
}

async function showCompared(names) {
  compared = names;
  comparing += 1;
  const mine = comparing;
  told.replaceChildren(element("p", "Counting …"));
  let got;
  try {
    got = await call("compare", { names });
    if (mine !== comparing) return;
  } catch (error) {
    if (mine !== comparing) return;
    told.replaceChildren(element("p", error.message, "told"));
    return;
  }
  const table = element("table");
  const head = element("tr");
  head.append(...got.columns.map((words) => {
    const cell = element("th", words);
    cell.scope = "col";
    return cell;
  }));
  table.append(head, ...got.rows.map((row) => {
    const line = element("tr");
    row.forEach((words, k) => {
      const cell = element(k ? "td" : "th", words);
      if (!k) cell.scope = "row";
      line.append(cell);
    });
    return line;
  }));
  const wide = element("div", undefined, "wide");
  wide.tabIndex = 0;
  wide.append(table);
  told.replaceChildren(wide);
}

// Drafts other tabs were closed on without saving.
async function orphans() {
  const left = await store.leftBehind();
  if (!left.length) return [];
  const list = element("ul", undefined, "kept");
  for (const one of left) {
    const line = element("li");
    const when = new Date(one.when).toLocaleString();
    line.append(
      element("span", `${one.kept.name || "without a name"}, last changed ${when}`),
      button("Take it up", () => leave(() => store.takeOver(one.key))),
      button("Throw it away", () => {
        if (!window.confirm("Throw this drawing away? It is kept nowhere else.")) return;
        store.forget(one.key);
        paint();
      }),
    );
    list.append(line);
  }
  return [element("h2", "Not saved, from other tabs"), list];
}
