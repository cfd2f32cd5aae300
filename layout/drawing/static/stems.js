// Stems that stay and marked trees: a canvas each, drawn anew as the map moves, so that ten
// thousand stay light.

import * as store from "/store.js";
import { INK, LEVEL } from "/looks.js";
import { layers } from "/ground.js";
import { keepsPicture, sheetOf } from "/still.js";

const NEAR_PX = 14;
let trees = null;
const sheets = []; // stems, then marked trees: {layer, source}
let inReach = new Set();
let status = {}; // tree id -> status of the plan
let held = new Set(); // trees of the plan that are not to be cut as they stand
let chosen = null;

export function build(map, area) {
  trees = area.trees;
  sheet(map, "stems", "Stems that stay", 15, (k) => !marked(k));
  sheet(map, "marked", "Marked trees", 15.5, marked);
  store.listen(changed);
}

function sheet(map, name, words, zIndex, holds) {
  const canvas = document.createElement("canvas"); // one for good: a new one each time is dear
  const source = new ol.source.ImageCanvas({
    canvasFunction: (...view) => paint(canvas, holds, ...view),
    ratio: 1,
    projection: map.getView().getProjection(),
  });
  const layer = new ol.layer.Image({ source, zIndex, className: sheetOf(zIndex) });
  keepsPicture(layer);
  map.addLayer(layer);
  layers[name] = { layer, words };
  sheets.push({ layer, source });
}

function changed() {
  for (const { source } of sheets) source.changed();
}

const shown = (k) => sheets[marked(k) ? 1 : 0].layer.getVisible();

export function showReach(rows) {
  if (rows.length === inReach.size && rows.every((row) => inReach.has(row))) return; // as it was
  const before = inReach;
  inReach = new Set(rows);
  const other = [...rows.filter((row) => !before.has(row)), ...[...before].filter((row) => !inReach.has(row))];
  // a tree the plan speaks of looks as the plan says
  if (other.some((row) => !status[trees.id[row]])) sheets[1].source.changed();
}

export function showStatus(byTree, toHold) {
  status = byTree || {};
  held = new Set(toHold);
  sheets[1].source.changed();
}

export function choose(row) {
  chosen = row;
  changed();
}

export function marked(row) {
  if (trees.done[row]) return false;
  const mark = store.draft().marks[trees.id[row]];
  return mark ? mark === "cut" : trees.marked[row] === 1;
}

// The row of the stem nearest to a place, or null where none is near enough.
export function at(place, resolution) {
  let best = null;
  let least = NEAR_PX * resolution;
  for (let k = 0; k < trees.x.length; k += 1) {
    if (!shown(k)) continue; // what is not on the map is not meant
    const gap = Math.hypot(trees.x[k] - place[0], trees.y[k] - place[1]);
    // a marked tree is meant rather than a stem beside it
    const worth = marked(k) ? gap : gap + 3 * resolution;
    if (worth < least) {
      least = worth;
      best = k;
    }
  }
  return best;
}

const SERVED = new Set(["served", "with_trail"]);

function paint(canvas, holds, extent, resolution, ratio, size) {
  const pen = canvas.getContext("2d");
  if (canvas.width !== size[0] || canvas.height !== size[1]) [canvas.width, canvas.height] = size;
  else pen.clearRect(0, 0, ...size);
  const scale = ratio / resolution;
  const plain = Math.max(1.1, Math.min(3, 0.35 / resolution)) * ratio;
  const large = Math.max(3, Math.min(8, 1.1 / resolution)) * ratio;
  const cut = [];
  pen.fillStyle = INK.stem;
  for (let k = 0; k < trees.x.length; k += 1) {
    if (!holds(k)) continue;
    const x = (trees.x[k] - extent[0]) * scale;
    const y = (extent[3] - trees.y[k]) * scale;
    if (x < -20 || y < -20 || x > size[0] + 20 || y > size[1] + 20) continue;
    if (trees.done[k]) drawn.out(pen, x, y, plain + 1.2 * ratio, ratio);
    else if (marked(k)) cut.push([k, x, y]);
    else {
      pen.beginPath();
      pen.arc(x, y, plain, 0, 7);
      pen.fill();
    }
  }
  for (const [k, x, y] of cut) drawn[look(k)](pen, x, y, large, ratio);
  if (chosen !== null && holds(chosen)) {
    const x = (trees.x[chosen] - extent[0]) * scale;
    const y = (extent[3] - trees.y[chosen]) * scale;
    pen.strokeStyle = INK.pen;
    pen.lineWidth = 3 * ratio;
    pen.beginPath();
    pen.arc(x, y, large + 5 * ratio, 0, 7);
    pen.stroke();
  }
  return canvas;
}

// Out already: a small open ring.
function ring(pen, x, y, size, ratio) {
  pen.lineWidth = ratio;
  pen.strokeStyle = INK.stem;
  pen.beginPath();
  pen.arc(x, y, size, 0, 7);
  pen.stroke();
}

// To be held, whatever else. In reach as drawn, or served by the plan: full. Not served by it: lost. Neither known: hollow.
function look(k) {
  if (held.has(trees.id[k])) return "hold";
  const said = status[trees.id[k]];
  if (said && !SERVED.has(said) && said !== "leave") return "lost";
  return inReach.has(k) || said ? "full" : "hollow";
}

// How each tree that bears a sign is drawn; the key draws them the same.
export const drawn = {
  out: ring,
  full: (...where) => disc(INK.cut, false, ...where),
  hollow: (...where) => disc("#ffffff", false, ...where),
  lost: (...where) => disc("#ffffff", true, ...where), // a cross in a ring
  hold: barred,
};

// A bar across a full disc.
function barred(pen, x, y, size, ratio) {
  disc(LEVEL.caution.colour, false, pen, x, y, size, ratio);
  pen.fillStyle = "#ffffff";
  pen.fillRect(x - size * 0.7, y - size * 0.22, size * 1.4, size * 0.44);
}

function disc(colour, lost, pen, x, y, size, ratio) {
  pen.lineWidth = 1.6 * ratio;
  pen.beginPath();
  pen.arc(x, y, size, 0, 7);
  pen.fillStyle = colour;
  pen.fill();
  pen.strokeStyle = lost ? LEVEL.stop.colour : INK.cut;
  pen.stroke();
  if (lost) {
    const arm = size * 0.62;
    pen.beginPath();
    pen.moveTo(x - arm, y - arm);
    pen.lineTo(x + arm, y + arm);
    pen.moveTo(x - arm, y + arm);
    pen.lineTo(x + arm, y - arm);
    pen.stroke();
  }
}
