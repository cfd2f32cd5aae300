// What a key does while the map has the focus, and the few keys that work everywhere.

import * as pens from "/pens.js";
import * as bending from "/bending.js";
import * as store from "/store.js";
import { element, panel } from "/tabs.js";

const TEXT = "textarea, input:not([type=checkbox], [type=radio], [type=range])"; // undo their own words
const LIST = [
  ["Arrow keys, + and −", "move the map, make it larger or smaller"],
  ["Enter or Space", "put a corner at the cross in the middle; without a pen: choose what lies under it, or bring the chosen corner there"],
  ["F", "end the line"],
  ["Backspace", "take back the last corner; without a pen: remove the chosen corner"],
  [", and .", "corner before, corner after"],
  ["Alt and an arrow key", "move the chosen corner, note or winch position by 1 m, with Shift by 5 m"],
  ["Delete", "remove the chosen thing"],
  ["Escape", "give up the line or the offered way, lay the pen down, choose nothing"],
  ["Ctrl+Z, Ctrl+Y, Ctrl+S", "undo, redo, save"],
];

export function build(save) {
  const map = document.getElementById("map");
  const cross = document.getElementById("cross");
  map.addEventListener("focus", () => cross.classList.toggle("shown", map.matches(":focus-visible")));
  map.addEventListener("blur", () => cross.classList.remove("shown"));
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey) everywhere(event, event.target.matches(TEXT), save);
    else if (event.target === map) onMap(event, cross);
  }, true);
}

// The keys in words; last among the panels.
export function help() {
  const held = panel("how", "How to");
  const list = element("dl", undefined, "keys");
  for (const [key, words] of [...pens.PENS.map((p) => [p.key.toUpperCase(), `pen: ${p.words}`]), ...LIST]) {
    list.append(element("dt", key), element("dd", words));
  }
  held.append(
    element("h2", "By mouse"),
    element("p", "Take a pen and click; a double click ends a line. With “Choose and bend”, click a thing to choose it, drag a corner to bend it, drag between two corners to put one in, Alt and a click to take one out. Corners too near to be told apart are not shown and go along; make the map larger to see them."),
    element("h2", "By finger"),
    element("p", "Tap as you would click. Where a finger hides the place, move the map until the cross is on it and press the button that puts a corner at the cross."),
    element("h2", "By key, while the map has the focus"), list,
  );
}

function everywhere(event, field, save) {
  const word = event.key.toLowerCase();
  if (word === "s") {
    event.preventDefault();
    save();
  } else if (field) return; // a field undoes its own words
  else if (word === "z" && !event.shiftKey) {
    event.preventDefault();
    if (!pens.takeBackCorner()) store.undo();
  } else if (word === "y" || (word === "z" && event.shiftKey)) {
    event.preventDefault();
    store.redo();
  }
}

function onMap(event, cross) {
  const word = event.key.toLowerCase();
  if (!["tab", "shift"].includes(word)) cross.classList.add("shown");
  const step = event.shiftKey ? 5 : 1;
  const moves = { arrowleft: [-step, 0], arrowright: [step, 0], arrowup: [0, step], arrowdown: [0, -step] };
  if (event.altKey) {
    if (!moves[word]) return;
    event.preventDefault();
    event.stopPropagation();
    bending.moveCorner(...moves[word]);
  } else if (word === "enter" || word === " ") {
    event.preventDefault();
    pens.cornerHere();
  } else if (word === "backspace") {
    event.preventDefault();
    if (!pens.takeBackCorner()) bending.removeCorner();
  } else if (word === "delete") bending.removeChosen();
  else if (word === "f") pens.endLine();
  else if (word === "escape") pens.abandon();
  else if (word === ",") bending.nextCorner(-1);
  else if (word === ".") bending.nextCorner(1);
  else {
    const pen = pens.PENS.find((p) => p.key === word);
    if (pen) pens.take(pen.name);
  }
}
