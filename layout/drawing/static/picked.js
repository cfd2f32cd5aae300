// What was picked on the map, in words: over the map where its card lies out of view, and read
// aloud everywhere.

import { hand, onHand } from "/hand.js";
import { button, element, show } from "/tabs.js";

let held = null;
let owner = "";
const words = element("span");
const acts = element("span", undefined, "picked-acts");

export function build() {
  held = element("div", undefined, "picked");
  words.setAttribute("role", "status");
  held.append(words, acts);
  held.hidden = true;
  document.querySelector(".ground").append(held);
  onHand(paint);
}

// Say what is picked; `tab` is the panel its card is in, `more` are further buttons.
export function say(tab, text, more = []) {
  owner = tab;
  if (words.textContent !== text) words.textContent = text;
  acts.replaceChildren(button("See its card", () => see(tab)), ...more);
  paint();
}

// What was picked last is told anew; what was picked before it no longer is.
export function update(tab, text) {
  if (owner === tab && words.textContent !== text) words.textContent = text;
}

export function clear(tab) {
  if (owner !== tab) return;
  owner = "";
  words.textContent = "";
  acts.replaceChildren();
  paint();
}

function paint() {
  held.hidden = !owner || Boolean(hand.chosen) || hand.pen !== "look";
}

function see(tab) {
  show(tab);
  const card = document.getElementById(`panel-${tab}`);
  card.scrollIntoView({ block: "start" });
  card.focus({ preventScroll: true });
}
