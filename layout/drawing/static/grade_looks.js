// How a judged piece of a trail looks: its grade as colour and form, and which way the load goes.

import { INK, styles } from "/looks.js";

const { Style, Stroke, Fill, RegularShape } = ol.style;
const TICKS_BELOW = 0.5; // metres a pixel: from there on an arrow has room on 10 m
const STEEP_SHARE = 0.5; // of the limit in force
const TURNS = 72; // arrows are turned by fives of a degree, so that few pictures of them do

const cores = {
  gentle: new Style({ stroke: new Stroke({ color: INK.paper, width: 1.2 }), zIndex: 1 }),
  steep: new Style({ stroke: new Stroke({ color: INK.landing, width: 2, lineDash: [6, 4], lineCap: "butt" }), zIndex: 1 }),
};
const arrows = new Map();

// Trails begin at their landing end: the load goes from the end of a piece to its start.
function arrow(line, way) {
  const [x1, y1] = line[0];
  const [x2, y2] = line[line.length - 1];
  const turn = Math.round((Math.atan2(x1 - x2, y1 - y2) / (2 * Math.PI)) * TURNS);
  const key = `${way} ${turn}`;
  if (!arrows.has(key)) {
    arrows.set(key, new RegularShape({
      points: 3, radius: 6.5, rotation: (turn / TURNS) * 2 * Math.PI, rotateWithView: true,
      fill: new Fill({ color: way === "down" ? INK.trail : INK.paper }),
      stroke: new Stroke({ color: way === "down" ? INK.paper : INK.trail, width: 1.5 }),
    }));
  }
  return arrows.get(key);
}

export function gradeClass(piece, limits) {
  if (piece.level !== "ok") return piece.level;
  const limit = piece.way === "up" ? limits.adverse_pct : limits.favourable_pct;
  return Math.abs(piece.grade_pct) > STEEP_SHARE * limit ? "steep" : "gentle";
}

export function gradeLook(piece, limits) {
  const look = cores[gradeClass(piece, limits)] || styles.piece(piece.level);
  if (piece.way !== "down" && piece.way !== "up") return look;
  const tick = new Style({
    geometry: (feature) => new ol.geom.Point(feature.getGeometry().getCoordinateAt(0.5)),
    image: arrow(piece.line, piece.way), zIndex: 3,
  });
  return (_, resolution) => (resolution < TICKS_BELOW ? [look, tick] : look);
}
