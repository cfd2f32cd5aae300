// Corners of a line: which of them are shown, how a bend is carried along, and a line with fewer.
//
// A line that was walked or routed has a corner every metre or two. It is kept exactly as it
// is; only those corners are shown that can be told apart and that shape the line, and
// those between them go along when one is dragged.

import { coarse } from "/hand.js";

export const APART_PX = coarse ? 24 : 14;
const SHAPES_PX = 1.5; // a corner that bends the line by less than this is not seen to bend it
export const FEWER_WITHIN_M = 0.5;

const gap = (p, q) => Math.hypot(p[0] - q[0], p[1] - q[1]);

function offLine(p, a, b) {
  const [dx, dy] = [b[0] - a[0], b[1] - a[1]];
  const size = dx * dx + dy * dy;
  const share = size ? Math.max(0, Math.min(1, ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / size)) : 0;
  return Math.hypot(p[0] - a[0] - share * dx, p[1] - a[1] - share * dy);
}

// Numbers of the corners that hold a line within a distance of its full self (Ramer 1972,
// Douglas and Peucker 1973), first and last always among them.
function telling(line, within) {
  const held = new Set([0, line.length - 1]);
  const spans = [[0, line.length - 1]];
  while (spans.length) {
    const [a, b] = spans.pop();
    let worst = { off: within, k: null };
    for (let k = a + 1; k < b; k += 1) {
      const off = offLine(line[k], line[a], line[b]);
      if (off > worst.off) worst = { off, k };
    }
    if (worst.k === null) continue;
    held.add(worst.k);
    spans.push([a, worst.k], [worst.k, b]);
  }
  return held;
}

// The corners to show at a map size of so many metres a pixel.
export function shownCorners(line, resolution, chosen = null) {
  const apart = APART_PX * resolution;
  const shapes = telling(line, SHAPES_PX * resolution);
  const last = line.length - 1;
  const out = [0];
  for (let k = 1; k < last; k += 1) {
    const alone = gap(line[k], line[k - 1]) >= apart && gap(line[k], line[k + 1]) >= apart;
    const clear = gap(line[k], line[out[out.length - 1]]) >= apart && gap(line[k], line[last]) >= apart;
    if (clear && (alone || shapes.has(k))) out.push(k);
  }
  if (last > 0) out.push(last);
  const shown = new Set(out);
  if (chosen !== null && chosen <= last) shown.add(chosen);
  return shown;
}

// A line with one corner moved; those not shown between it and the next shown ones go along,
// each by its share of the way. A shown one too near to be told from it goes along as well.
export function carried(line, k, to, shown, resolution) {
  const apart = APART_PX * resolution;
  const moved = line.map((p) => p);
  const [dx, dy] = [to[0] - line[k][0], to[1] - line[k][1]];
  moved[k] = to;
  for (const step of [-1, 1]) {
    let end = k + step;
    const goes = (n) => !shown.has(n) || gap(line[n], line[k]) < apart;
    while (end > 0 && end < line.length - 1 && goes(end)) end += step;
    if (end < 0 || end >= line.length) continue;
    let whole = 0;
    for (let n = k; n !== end; n += step) whole += gap(line[n], line[n + step]);
    let gone = 0;
    for (let n = k + step; n !== end; n += step) {
      gone += gap(line[n], line[n - step]);
      const share = whole ? 1 - gone / whole : 0;
      moved[n] = [line[n][0] + share * dx, line[n][1] + share * dy];
    }
  }
  return moved;
}

// The same line, or outline, with fewer corners and nowhere farther off than half a metre.
export function fewer(line, closed) {
  if (!closed) {
    const held = telling(line, FEWER_WITHIN_M);
    return line.filter((_, k) => held.has(k));
  }
  const ring = [...line, line[0]];
  let far = 0;
  line.forEach((p, k) => { if (gap(p, line[0]) > gap(line[far], line[0])) far = k; });
  const one = fewer(ring.slice(0, far + 1), false);
  const other = fewer(ring.slice(far), false);
  const out = [...one, ...other.slice(1, -1)];
  return out.length < 3 ? line : out;
}
