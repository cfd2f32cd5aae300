// Colours and marks of the map: those of the printed maps, so that one legend serves both.

export const INK = {
  stand: "#3f4a3c", setback: "#7c867a", mayUse: "#7b8f3a", water: "#1667a8", keepOut: "#5c5f66",
  hazard: "#8a1c62", old: "#6b6f75", road: "#4a4d52", contour: "#8a5a2b", stem: "#7b827b",
  cut: "#0b6b58", unserved: "#c0281b", landing: "#f4d35e", trail: "#15191c", pull: "#5b3a8c",
  position: "#f2a516", turning: "#d9cfe8", paper: "#ffffff", pen: "#0d5fb8", note: "#7a5c00",
};
export const LEVEL = {
  ok: { colour: "#0b6b58", sign: "✓", word: "within" },
  caution: { colour: "#a86400", sign: "!", word: "caution" },
  stop: { colour: "#c0281b", sign: "■", word: "stop" },
  unknown: { colour: "#5c5f66", sign: "?", word: "not known" },
};

const { Style, Stroke, Fill, Circle, RegularShape, Text } = ol.style;

const stroke = (color, width, lineDash) => new Stroke({ color, width, lineDash, lineCap: "round" });
const fill = (color, share = 1) => {
  const n = parseInt(color.slice(1), 16);
  return new Fill({ color: `rgba(${n >> 16},${(n >> 8) & 255},${n & 255},${share})` });
};

// Slanted bars, so that closed ground shows without colour.
function hatched(color, gap) {
  const held = document.createElement("canvas");
  held.width = gap;
  held.height = gap;
  const pen = held.getContext("2d");
  pen.strokeStyle = color;
  pen.lineWidth = 1.4;
  for (const shift of [-gap, 0, gap]) {
    pen.beginPath();
    pen.moveTo(shift, gap);
    pen.lineTo(shift + gap, 0);
    pen.stroke();
  }
  return new Fill({ color: pen.createPattern(held, "repeat") });
}

const lettering = (text, color = INK.trail, size = 13, offsetY = -12) =>
  new Text({
    text, font: `600 ${size}px system-ui, sans-serif`, fill: new Fill({ color }),
    stroke: new Stroke({ color: "#ffffff", width: 3 }), offsetY, overflow: true,
  });

const NAMED_BELOW = 0.7; // metres a pixel: from there on there is room for a tree's words
const RAISED_PX = 26; // clear of the largest tree's disc

// An upright from a place to the mark over it: a shape of two corners.
const stalk = (color, width) => new Style({
  image: new RegularShape({ points: 2, radius: RAISED_PX / 2, stroke: stroke(color, width), displacement: [0, RAISED_PX / 2] }),
  zIndex: 5,
});

export const styles = {
  stand: new Style({ stroke: stroke(INK.stand, 2.5) }),
  mayUse: new Style({ stroke: stroke(INK.mayUse, 2, [8, 5]) }),
  strip: new Style({ stroke: stroke(INK.water, 1.2, [2, 4]), fill: fill(INK.water, 0.14) }),
  keepOut: new Style({ stroke: stroke(INK.keepOut, 1.5), fill: hatched(INK.keepOut, 9) }),
  water: new Style({ stroke: stroke(INK.water, 2.5), fill: fill(INK.water, 0.35) }),
  hazard: new Style({
    stroke: stroke(INK.hazard, 2.5, [1, 6]), fill: fill(INK.hazard, 0.15),
    image: new RegularShape({ points: 4, radius: 7, fill: fill(INK.hazard) }),
  }),
  // As on the printed maps: an open upright triangle, a dashed ring.
  hazardTree: (text) => {
    const mark = new Style({
      image: new RegularShape({ points: 3, radius: 8, fill: fill("#ffffff"), stroke: stroke(INK.hazard, 2.5) }),
    });
    const named = mark.clone();
    if (text) named.setText(lettering(text, INK.hazard, 13, 18));
    return (_, resolution) => (text && resolution < NAMED_BELOW ? named : mark);
  },
  keepOff: [
    new Style({ stroke: stroke("#ffffff", 4) }),
    new Style({ stroke: stroke(INK.hazard, 2, [8, 6]), fill: fill(INK.hazard, 0.06) }),
  ],
  old: new Style({ stroke: stroke(INK.old, 2, [3, 7]) }),
  road: new Style({ stroke: stroke(INK.road, 4) }),
  contour: new Style({ stroke: stroke(INK.contour, 0.7) }),
  contourIndex: (height) => new Style({
    stroke: stroke(INK.contour, 1.5),
    text: new Text({
      text: height, font: "600 12px system-ui, sans-serif", placement: "line", repeat: 500,
      fill: new Fill({ color: INK.contour }), stroke: new Stroke({ color: "#ffffff", width: 3 }),
    }),
  }),
  landing: new Style({ stroke: stroke(INK.trail, 2), fill: fill(INK.landing, 0.75) }),
  note: (text, chosen) => new Style({
    image: new RegularShape({ points: 3, radius: chosen ? 12 : 9, fill: fill(INK.note), stroke: stroke(chosen ? INK.pen : "#fff", chosen ? 3 : 1.5) }),
    text: lettering(text.slice(0, 24), INK.note),
  }),
  position: (state, chosen) => new Style({
    image: state === "forbidden"
      ? new RegularShape({ points: 4, radius: chosen ? 13 : 10, radius2: 2.5, angle: Math.PI / 4, fill: fill(chosen ? INK.pen : INK.unserved) })
      : new RegularShape({ points: 4, radius: chosen ? 12 : 9, angle: 0, fill: fill(INK.position), stroke: stroke(chosen ? INK.pen : INK.trail, chosen ? 3 : 1.5) }),
  }),
  trail: (kind, name, chosen) => [
    new Style({ stroke: stroke("#ffffff", kind === "main" ? 9 : 6.5) }),
    new Style({
      stroke: stroke(chosen ? INK.pen : INK.trail, kind === "main" ? 4.5 : 2.6),
      text: lettering(name, chosen ? INK.pen : INK.trail),
    }),
  ],
  corner: new Style({
    image: new Circle({ radius: 6, fill: fill("#ffffff"), stroke: stroke(INK.pen, 2.5) }),
  }),
  cornerChosen: new Style({
    image: new Circle({ radius: 8, fill: fill(INK.pen), stroke: stroke("#ffffff", 2.5) }),
  }),
  sketch: [
    new Style({ stroke: stroke("#ffffff", 7), fill: fill(INK.pen, 0.12) }),
    new Style({ stroke: stroke(INK.pen, 3), image: new Circle({ radius: 6, fill: fill(INK.pen) }) }),
  ],
  proposed: [
    new Style({ stroke: stroke("#ffffff", 9) }),
    new Style({ stroke: stroke(INK.pen, 4, [10, 8]) }),
  ],
  // Of a drawing laid beside: all open, dashed or dotted, whatever the colour.
  besideSpur: [
    new Style({ stroke: stroke("#ffffff", 7) }),
    new Style({ stroke: stroke(INK.pen, 3, [1, 7]) }),
  ],
  besideNote: (text) => new Style({
    image: new RegularShape({ points: 3, radius: 10, fill: fill("#ffffff", 0.4), stroke: stroke(INK.pen, 2.5) }),
    text: lettering(text.slice(0, 24), INK.pen),
  }),
  besideMark: (cut) => new Style({
    image: new RegularShape({ points: 4, radius: 13, angle: Math.PI / 4, stroke: stroke(INK.pen, 2.5) }),
    text: lettering(cut ? "+" : "−", INK.pen, 16, -16),
  }),
  // A judged piece: colour says it, the form of the line says it again.
  piece: (level) => new Style({
    stroke: stroke(LEVEL[level].colour, level === "stop" ? 7 : 5, { ok: undefined, caution: [8, 6], stop: [2, 7], unknown: [1, 9] }[level]),
    zIndex: 2,
  }),
  // Above its place, on a stem: a tree it speaks of stays in sight.
  placeMark: (level) => [
    stalk("#ffffff", 4.5), stalk(LEVEL[level].colour, 2),
    new Style({
      image: new Circle({ radius: 9, fill: fill(LEVEL[level].colour), stroke: stroke("#ffffff", 2), displacement: [0, RAISED_PX] }),
      text: new Text({ text: LEVEL[level].sign, fill: new Fill({ color: "#fff" }), font: "700 12px system-ui, sans-serif", offsetY: 1 - RAISED_PX }),
      zIndex: 5,
    }),
  ],
  spur: [
    new Style({ stroke: stroke("#ffffff", 5) }),
    new Style({ stroke: stroke(INK.trail, 2, [9, 4]) }),
  ],
  plannedMain: [
    new Style({ stroke: stroke("#ffffff", 8) }),
    new Style({ stroke: stroke(INK.trail, 4, [14, 5]) }),
  ],
  pull: (sure) => new Style({
    stroke: stroke(INK.pull, sure === "sure" ? 1.4 : 1.2, { sure: undefined, tight: [6, 4], doubtful: [2, 5] }[sure]),
  }),
  plannedPosition: (chosen) => new Style({
    image: new RegularShape({
      points: 3, radius: chosen ? 10 : 6, fill: fill(INK.position), stroke: stroke(chosen ? INK.pen : INK.trail, chosen ? 3 : 1),
    }),
  }),
  turning: new Style({ stroke: stroke(INK.pull, 1.2), fill: fill(INK.turning, 0.7) }),
};
