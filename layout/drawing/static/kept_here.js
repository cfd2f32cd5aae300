// What this browser keeps: drawings left from last time are offered, and it is said where it
// keeps nothing at all.

import * as store from "/store.js";
import { leave } from "/drawings.js";
import { button, element } from "/tabs.js";

const NOTHING = "This browser keeps nothing: what you draw is gone when this page is closed or loaded anew. Save often.";
let offer = null;
let warning = null;

export async function build() {
  offer = document.getElementById("left-behind");
  warning = document.getElementById("keeps-nothing");
  store.listen((_, why) => {
    warn();
    if (why === "open" && !offer.hidden) show();
  });
  warn();
  await show();
}

const toMap = () => document.getElementById("map").focus({ preventScroll: true }); // the button is gone

function warn() {
  const words = store.isKept() ? "" : NOTHING;
  if (warning.textContent !== words) warning.textContent = words;
  warning.hidden = !words;
}

async function show() {
  const [newest, ...more] = await store.leftBehind();
  offer.hidden = !newest;
  if (!newest) return;
  const name = newest.aside?.name || newest.kept.name || "a drawing without a name";
  const others = more.length ? ` (${more.length} more under Drawings)` : "";
  offer.replaceChildren(
    element("span", `Not saved from last time: ${name}, last changed ${new Date(newest.when).toLocaleString()}${others}.`),
    button("Take up what was not saved", () => leave(() => { store.takeOver(newest.key); toMap(); })),
    button("Leave it", () => { offer.hidden = true; toMap(); }), // it stays under Drawings
  );
}
