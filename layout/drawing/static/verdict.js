// Judged while drawing: one call under way, the newest drawing wins.

import { call, Refused } from "/api.js";
import { styles } from "/looks.js";
import { gradeLook } from "/grade_looks.js";
import { sources } from "/ground.js";

const listeners = new Set();
let waiting = null;
let busy = false;
let number = 0;
let retry = null;
const AGAIN_MS = 4000;
export const delays = []; // milliseconds from a change to its verdict, newest last

// Nothing is being judged, and nothing waits for it.
export const idle = () => !busy && !waiting;

let limits = null;

export function build(area) {
  limits = area.limits;
}

export function onVerdict(heard) {
  listeners.add(heard);
}

export function judge(draft) {
  clearTimeout(retry);
  waiting = { draft, since: performance.now() };
  if (!busy) run();
}

async function run() {
  busy = true;
  try {
    let asked = ask();
    while (asked) {
      const got = await asked;
      asked = ask(); // first of all: what is found of one drawing is shown while the next is judged
      tell(got);
      asked ??= ask();
    }
  } finally {
    busy = false;
  }
}

// Have what waits judged; null where nothing does.
function ask() {
  if (!waiting) return null;
  const mine = waiting;
  waiting = null;
  number += 1;
  return call("judge", { draft: mine.draft, seq: number }).then((answer) => ({ mine, answer }), (error) => ({ mine, error }));
}

function tell({ mine, answer, error }) {
  if (error) {
    if (!(error instanceof Refused)) throw error;
    // the verdict that stands is of another drawing: it goes
    sources.pieces.clear();
    sources.marks.clear();
    for (const heard of listeners) heard(null, error);
    if (error.status === 0) again(mine.draft);
    return;
  }
  show(answer);
  delays.push(performance.now() - mine.since);
  if (delays.length > 1000) delays.shift();
  for (const heard of listeners) heard(answer, null);
}

// The program may be started again while this page stays open.
function again(draft) {
  clearTimeout(retry);
  retry = setTimeout(() => { if (!waiting && !busy) judge(draft); }, AGAIN_MS);
}

function show(answer) {
  const pieces = sources.pieces;
  pieces.clear(true);
  pieces.addFeatures(answer.pieces.map((p) => {
    const feature = new ol.Feature(new ol.geom.LineString(p.line));
    feature.setStyle(gradeLook(p, limits));
    return feature;
  }));
  const marks = sources.marks;
  marks.clear(true);
  const seen = new Set();
  for (const finding of answer.findings) {
    if (!finding.at || !["stop", "caution"].includes(finding.level)) continue;
    const key = finding.at.map((v) => Math.round(v / 4)).join();
    if (seen.has(key)) continue;
    seen.add(key);
    const feature = new ol.Feature(new ol.geom.Point(finding.at));
    feature.setStyle(styles.placeMark(finding.level));
    marks.addFeature(feature);
  }
}
