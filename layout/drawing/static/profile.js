// The long section of the chosen trail, with the limits it is held to; the pointer on it shows
// the place on the map, the pointer on the trail shows the place in it.

import { call } from "/api.js";
import * as store from "/store.js";
import { current, onHand } from "/hand.js";
import { INK, LEVEL, styles } from "/looks.js";
import { vector, sources } from "/ground.js";
import { lengthWords, onLengths } from "/lengths.js";
import { onVerdict } from "/verdict.js";
import { button, element } from "/tabs.js";

const HIGH = 112;
const LEFT = 52;
const BELOW = 22;
const DASH = { ok: [], caution: [8, 7], stop: [2, 7], unknown: [1, 9] }; // the form says it again
let area = null;
let map = null;
let shown = null; // the profile as answered
let pieces = null; // of all trails, as judged; null while they are not
let canvas = null;
let words = null;
let asked = 0;
let at = null; // metres from the landing end
let fold = null;
let painted = ""; // the levels that are on the canvas
let wide = 0; // of the canvas, as last measured
let folded = window.matchMedia("(max-width: 47.5em)").matches; // on a phone the map comes first
let last = "";

export function build(onMap, ofArea) {
  map = onMap;
  area = ofArea;
  vector(map, "pointer", "Place in the profile", [], styles.cornerChosen, { z: 60 });
  const held = document.getElementById("profile");
  words = element("p", "", "profile-words");
  canvas = element("canvas");
  canvas.tabIndex = 0;
  canvas.setAttribute("role", "slider");
  canvas.setAttribute("aria-label", "Place along the trail");
  canvas.setAttribute("aria-valuemin", "0");
  fold = button("Hide the profile", () => {
    folded = !folded;
    canvas.hidden = folded;
    fold.textContent = folded ? "Show the profile" : "Hide the profile";
    paint(at);
    if (shown) say(at);
  });
  const head = element("div", undefined, "profile-head");
  head.append(words, fold);
  held.append(head, canvas);
  canvas.hidden = folded;
  if (folded) fold.textContent = "Show the profile";
  canvas.addEventListener("pointermove", (event) => point(stationAt(event.offsetX)));
  canvas.addEventListener("pointerleave", () => point(null));
  canvas.addEventListener("keydown", (event) => {
    const step = { ArrowLeft: -10, ArrowRight: 10 }[event.key];
    if (!step || !shown) return;
    event.preventDefault();
    at = Math.max(0, Math.min(shown.at_m[shown.at_m.length - 1], (at ?? 0) + step));
    point(at);
  });
  map.on("pointermove", (event) => {
    const trail = shown && store.trailNamed(store.draft(), shown.trail);
    if (!trail || event.dragging) return;
    const near = store.nearestOn(trail.line, event.coordinate);
    if (near.gap < 12 * map.getView().getResolution()) point(near.along);
  });
  onVerdict((answer) => {
    pieces = answer ? answer.pieces : null;
    // as wide as it was: to measure it now the page would have to be laid out anew
    if (String(levels()) !== painted) paint(at, wide);
  });
  store.listen(ask);
  onHand(ask);
  window.addEventListener("resize", () => paint(null));
  onLengths(() => {
    paint(at);
    if (shown) say(at);
  });
}

async function ask() {
  const { chosen } = current();
  const held = document.getElementById("profile");
  if (!chosen || chosen.kind !== "trail") {
    held.hidden = true;
    shown = null;
    last = "";
    sources.pointer.clear();
    return;
  }
  const value = store.draft();
  const key = JSON.stringify([chosen.id, store.trailNamed(value, chosen.id)]);
  if (key === last) return;
  last = key;
  asked += 1;
  const mine = asked;
  let answer;
  try {
    answer = await call("profile", { draft: value, trail: chosen.id });
  } catch {
    return; // the findings say what is wrong
  }
  if (mine !== asked) return;
  shown = answer;
  held.hidden = false;
  paint(null);
  say(null);
}

function scales() {
  const far = shown.at_m[shown.at_m.length - 1] || 1;
  const known = shown.z_m.filter((z) => z !== null);
  const low = Math.min(...known);
  const high = Math.max(...known);
  const room = Math.max(high - low, far * 0.05, 1);
  return {
    far, low, high,
    x: (m) => LEFT + (m / far) * (wide - LEFT - 12),
    y: (z) => HIGH - BELOW - ((z - low) / room) * (HIGH - BELOW - 16),
  };
}

// What the line's colours hang on.
const levels = () => shown && runs().map(({ level, from, to }) => [level, from, to]);

function paint(station, width = canvas.clientWidth) {
  if (!shown || folded || document.getElementById("profile").hidden) return;
  const ratio = window.devicePixelRatio || 1;
  wide = width || canvas.clientWidth;
  const size = [Math.floor(wide * ratio), Math.floor(HIGH * ratio)];
  if (canvas.width !== size[0] || canvas.height !== size[1]) [canvas.width, canvas.height] = size;
  const pen = canvas.getContext("2d");
  pen.setTransform(ratio, 0, 0, ratio, 0, 0);
  pen.clearRect(0, 0, wide, HIGH);
  const { far, low, high, x, y } = scales();
  pen.lineWidth = 4;
  pen.lineCap = "round";
  painted = String(levels());
  for (const { level, from, to } of runs()) {
    pen.strokeStyle = level === "ok" ? INK.trail : LEVEL[level].colour;
    pen.setLineDash(DASH[level]);
    pen.beginPath();
    for (let k = from; k <= to; k += 1) pen.lineTo(x(shown.at_m[k]), y(shown.z_m[k]));
    pen.stroke();
  }
  pen.setLineDash([]);
  pen.fillStyle = INK.trail;
  pen.font = "13px system-ui, sans-serif";
  pen.fillText(lengthWords(high), 4, y(high) + 4);
  if (y(low) - y(high) > 18) pen.fillText(lengthWords(low), 4, y(low) + 4);
  pen.fillText("landing end", LEFT, HIGH - 5);
  const end = lengthWords(far);
  pen.fillText(end, wide - 12 - pen.measureText(end).width, HIGH - 5);
  if (station !== null) {
    pen.strokeStyle = INK.pen;
    pen.lineWidth = 2;
    pen.beginPath();
    pen.moveTo(x(station), 4);
    pen.lineTo(x(station), HIGH - BELOW);
    pen.stroke();
  }
}

// Stretches of one level, each from station to station; none where the height is not known.
function runs() {
  const mine = (pieces || []).filter((p) => p.trail === shown.trail);
  const otherwise = pieces ? "ok" : "unknown";
  const out = [];
  let n = 0; // pieces lie one behind the other, as stations do
  for (let k = 1; k < shown.at_m.length; k += 1) {
    if (shown.z_m[k - 1] === null || shown.z_m[k] === null) continue;
    const middle = (shown.at_m[k - 1] + shown.at_m[k]) / 2;
    while (n < mine.length && mine[n].to_m < middle) n += 1;
    const level = n < mine.length && mine[n].from_m <= middle ? mine[n].level : otherwise;
    const before = out[out.length - 1];
    if (before && before.to === k - 1 && before.level === level) before.to = k;
    else out.push({ level, from: k - 1, to: k });
  }
  return out;
}

function stationAt(px) {
  if (!shown) return null;
  const { far } = scales();
  return Math.max(0, Math.min(far, ((px - LEFT) / (wide - LEFT - 12)) * far));
}

function point(station) {
  at = station;
  sources.pointer.clear(true);
  if (!shown) return;
  if (station !== null) {
    const k = nearest(station);
    sources.pointer.addFeature(new ol.Feature(new ol.geom.Point([shown.x[k], shown.y[k]])));
  }
  paint(station);
  say(station);
}

function nearest(station) {
  let k = 0;
  while (k + 1 < shown.at_m.length && shown.at_m[k + 1] <= station) k += 1;
  return k;
}

function say(station) {
  const { favourable_pct: down, adverse_pct: up, cross_pct: cross } = area.limits;
  const limits = folded ? "" : `; limits: ${down} % downhill loaded, ${up} % uphill loaded, ${cross} % cross slope`;
  if (station === null) {
    words.textContent = `Trail ${shown.trail}, ${lengthWords(shown.at_m[shown.at_m.length - 1])}${limits}`;
  } else {
    const k = nearest(station);
    words.textContent = `${lengthWords(shown.at_m[k])} from its landing end: ${gradeWords(shown.grade_pct[k])}, cross slope ${share(shown.cross_pct[k])}${limits}`;
  }
  const far = shown.at_m[shown.at_m.length - 1];
  canvas.setAttribute("aria-valuemax", String(Math.round(far)));
  canvas.setAttribute("aria-valuenow", String(Math.round(station ?? 0)));
  canvas.setAttribute("aria-valuetext", words.textContent);
}

const share = (value) => (value === null ? "not known" : `${Math.round(value)} %`);

function gradeWords(value) {
  if (value === null) return "grade not known";
  if (Math.abs(value) < 0.5) return "level";
  return `${share(Math.abs(value))} ${value > 0 ? "uphill" : "downhill"} loaded`;
}
