// One winch position of the plan: what it takes, nobody to park there, or another place for it.

import * as store from "/store.js";
import * as bending from "/bending.js";
import { coarse, hand, onHand } from "/hand.js";
import { nearM } from "/mouths.js";
import { button, element, refill, show as showTab } from "/tabs.js";
import * as picked from "/picked.js";

const SAME_M = 0.5; // as near as this it is the same position in a later plan
const SAID_TREES = 40;
const held = element("section", undefined, "spot");
let network = null;
let chosen = null; // the position, as the plan has it
let repaint = null;

// Give the place in the page; `painted` is called when another position is chosen.
export function build(painted) {
  repaint = painted;
  bending.hooks.spot = (place) => {
    const found = nearest(place, nearM());
    if (!found) return false;
    bending.choose(null);
    choose(found);
    showTab("plan");
    return true;
  };
  onHand(() => {
    if (hand.chosen || hand.pen !== "look") choose(null);
    else paint(); // a move may have been given up
  });
  return held;
}

export const isChosen = (position) => position === chosen;

export function setNetwork(next) {
  network = next;
  choose(chosen && nearest(chosen.at, SAME_M));
}

function nearest(place, within) {
  let best = { gap: within, found: null };
  for (const one of network ? network.positions : []) {
    const gap = Math.hypot(one.at[0] - place[0], one.at[1] - place[1]);
    if (gap <= best.gap) best = { gap, found: one };
  }
  return best.found;
}

function choose(position) {
  const other = position !== chosen;
  chosen = position;
  paint();
  if (other) repaint();
}

function paint() {
  if (!chosen) {
    picked.clear("plan");
    refill(held);
    return;
  }
  const trees = network.pulls.filter((p) => p.position === chosen.id).map((p) => p.tree);
  const list = element("dl", undefined, "figures");
  if (chosen.trail) list.append(element("dt", "On trail"), element("dd", chosen.trail));
  list.append(element("dt", "Trees it takes"), element("dd", String(chosen.trees)));
  const names = trees.slice(0, SAID_TREES).join(", ") + (trees.length > SAID_TREES ? " …" : "");
  const acts = element("div", undefined, "acts-row");
  const moving = bending.hooks.next;
  const leave = () => button("Leave it where it is", () => bending.choose(null));
  const where = `${coarse ? "Tap" : "Click"} where it is to be.`;
  picked.say("plan", `Winch position ${chosen.id}, trees it takes: ${chosen.trees}.${moving ? ` ${where}` : ""}`, moving ? [leave()] : []);
  if (moving) acts.append(leave());
  else acts.append(button("Nobody parks here", () => keep([forbidden()])), button("Move it", move));
  refill(
    held, element("h3", `Winch position ${chosen.id}`), list,
    ...(names ? [element("p", `Numbers: ${names}`, "quiet")] : []),
    ...(moving ? [element("p", where, "told")] : []), acts,
  );
}

const forbidden = () => ({ at: store.round(chosen.at), state: "forbidden" });

function move() {
  const old = forbidden();
  bending.hooks.next = (place) => keep([old, { at: store.round(place), state: "wanted" }]);
  paint();
  const map = document.getElementById("map");
  map.focus({ preventScroll: true });
  map.scrollIntoView({ block: "nearest" }); // on a phone the card lies below it
}

// One step of the drawing, so that one undo takes it back.
function keep(positions) {
  const value = store.draft();
  let all = value.positions;
  for (const one of positions) all = [...all, { id: store.nextId(all, "P"), ...one }];
  choose(null);
  store.commit({ ...value, positions: all });
}
