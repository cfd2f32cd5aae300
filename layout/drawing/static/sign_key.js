// The key: every sign of the map drawn as the map draws it, and what it says.

import { INK, LEVEL, styles } from "/looks.js";
import { drawn } from "/stems.js";
import { element } from "/tabs.js";

const WIDE = 44;
const HIGH = 30;
const DISC = 6;

const tree = (look) => (pen) => drawn[look](pen, WIDE / 2, HIGH / 2, DISC, 1);
const point = (style) => (_, on) => on.drawFeature(new ol.Feature(new ol.geom.Point([WIDE / 2, HIGH / 2])), style);
const line = (style) => (_, on) => {
  const path = new ol.Feature(new ol.geom.LineString([[4, HIGH / 2], [WIDE - 4, HIGH / 2]]));
  for (const one of [style].flat()) on.drawFeature(path, one);
};

function stays(pen) {
  pen.fillStyle = INK.stem;
  pen.beginPath();
  pen.arc(WIDE / 2, HIGH / 2, 2, 0, 7);
  pen.fill();
}

function flag(pen) { // as a finding's mark, lower: its stem would not fit
  pen.fillStyle = LEVEL.caution.colour;
  pen.beginPath();
  pen.arc(WIDE / 2, 10, 8, 0, 7);
  pen.fill();
  pen.fillRect(WIDE / 2 - 1, 10, 2, 19);
}

const signs = (reach) => [
  [tree("hollow"), "Marked tree, out of reach of what is drawn"],
  [tree("full"), "Marked tree in reach; once planned: one the plan serves"],
  [tree("lost"), "Marked tree the plan does not serve"],
  [tree("hold"), "Marked tree to hold, not to be cut as it stands: its card says why"],
  [tree("out"), "Cut and out already"],
  [stays, "Tree that stays"],
  [(_, on) => on.drawFeature(new ol.Feature(new ol.geom.Point([WIDE / 2, HIGH / 2])), styles.hazardTree("")(null, 1)), "Hazard tree that stands"],
  [line(styles.keepOff), "Two tree lengths round one that is not marked: nobody works inside"],
  [point(styles.plannedPosition(false)), "Winch position of the plan"],
  [point(styles.position("wanted", false)), "Winch position you asked for"],
  [point(styles.position("forbidden", false)), "Nobody parks here"],
  [point(styles.note("", false)), "Note"],
  [line(styles.pull("sure")), "Pull of the plan: sure"],
  [line(styles.pull("tight")), "Pull: tight"],
  [line(styles.pull("doubtful")), "Pull: doubtful"],
  [line(styles.trail("main", "", false)), "Drawn main trail or arm"],
  [line(styles.spur), "Spur of the plan"],
  [flag, "Place of a finding, at the foot of the stem"],
  [(pen) => { pen.fillStyle = reach; pen.fillRect(6, 7, WIDE - 12, HIGH - 14); }, "Ground a trail can reach (a layer of its own)"],
];

export function signKey(reach) {
  const held = element("details", undefined, "sign-key");
  const list = element("ul");
  for (const [draw, words] of signs(reach)) {
    const item = element("li", words);
    const canvas = element("canvas");
    canvas.setAttribute("aria-hidden", "true");
    const on = ol.render.toContext(canvas.getContext("2d"), { size: [WIDE, HIGH], pixelRatio: 1 });
    draw(canvas.getContext("2d"), on);
    item.prepend(canvas);
    list.append(item);
  }
  held.append(element("summary", "What the signs mean"), list);
  return held;
}
