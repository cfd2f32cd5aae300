// "Best way to here": the routed line to a place, shown first, kept only when accepted.

import { call } from "/api.js";
import * as store from "/store.js";
import * as pens from "/pens.js";
import * as bending from "/bending.js";
import { onHand } from "/hand.js";
import { newName } from "/mouths.js";
import { styles } from "/looks.js";
import { sources, vector } from "/ground.js";
import { lengthWords } from "/lengths.js";
import { button, element } from "/tabs.js";

const CHANGED = "The drawing has changed: click once more where the trail should lead.";
let bar = null;
let number = 0;

export function build(map) {
  vector(map, "proposed", "Proposed way", [], styles.proposed, { z: 21 });
  bar = element("div", undefined, "offer");
  bar.setAttribute("role", "status");
  bar.hidden = true;
  bar.addEventListener("keydown", (event) => {
    if (event.key !== "Escape") return;
    clear();
    toMap();
  });
  document.querySelector(".ground").append(bar);
  pens.hooks.way = ask;
  onHand(({ pen }) => pen !== "way" && clear());
  store.listen((_, why) => {
    if (why === "saved" || bar.hidden) return;
    clear(); // also what is still being looked for
    say(CHANGED);
  });
}

async function ask(place) {
  number += 1;
  const mine = number;
  const value = store.draft();
  const kind = value.trails.some((t) => t.kind === "main") ? chosenKind() : "main";
  say("Looking for the best way …");
  let answer;
  try {
    answer = await call("way", { draft: value, to: place, kind });
  } catch (error) {
    if (mine === number) say(error.message);
    return;
  }
  if (mine !== number) return;
  if (!answer.line) {
    say(answer.words);
    return;
  }
  say(`${answer.words} ${lengthWords(answer.length_m)}.`, [
    button("Keep it", () => { keep(answer, kind, value); toMap(); }),
    button("Not this", () => { clear(); toMap(); }),
  ]);
  sources.proposed.addFeature(new ol.Feature(new ol.geom.LineString(answer.line)));
  bar.querySelector("button").focus();
}

const toMap = () => document.getElementById("map").focus({ preventScroll: true }); // the button is gone

const chosenKind = () => document.getElementById("way-kind")?.value || "spur";

function keep(answer, kind, value) {
  clear();
  if (value !== store.draft()) { // it may join a trail that is gone
    say(CHANGED);
    return;
  }
  const drawn = kind === "spur" ? "spur" : "main";
  const id = newName(value, drawn);
  store.commit(store.withTrail(value, { id, kind: drawn, line: answer.line, joins: answer.joins }));
  pens.take("look");
  bending.choose({ kind: "trail", id });
}

function clear() {
  number += 1;
  sources.proposed.clear();
  bar.hidden = true;
  bar.replaceChildren();
}

function say(words, acts = []) {
  sources.proposed.clear();
  bar.replaceChildren(element("span", words), ...acts);
  bar.hidden = false;
}
