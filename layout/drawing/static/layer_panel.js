// Layers on and off, how strong each is, and what the tints mean.

import { layers, showPicture } from "/ground.js";
import { panel, element, button } from "/tabs.js";
import { signKey } from "/sign_key.js";

const GRADES = "Within the limits: a white core up to half of the limit on the grade, a dashed yellow one above. "
  + "Made larger, arrows go the way of the load: filled downhill, hollow uphill. What is not within the limits lies over it broad and dashed.";
const HIDDEN = new Set(["corners"]);

export function build(area) {
  const held = panel("layers", "Layers");
  held.append(element("h2", "What the map shows"));
  held.append(signKey(area.legend.reach));
  const list = element("ul", undefined, "layers");
  for (const [name, one] of Object.entries(layers)) {
    if (HIDDEN.has(name)) continue;
    list.append(row(name, one, area));
  }
  held.append(list);
}

function row(name, one, area) {
  const item = element("li");
  const label = element("label");
  const box = element("input");
  box.type = "checkbox";
  box.checked = one.layer.getVisible();
  box.addEventListener("change", () => one.layer.setVisible(box.checked));
  one.layer.on("change:visible", () => { box.checked = one.layer.getVisible(); });
  label.append(box, element("span", one.words));
  const strength = element("input");
  strength.type = "range";
  strength.min = "10";
  strength.max = "100";
  strength.value = String(Math.round(one.layer.getOpacity() * 100));
  strength.setAttribute("aria-label", `${one.words}: how strong, percent`);
  strength.addEventListener("input", () => one.layer.setOpacity(Number(strength.value) / 100));
  item.append(label, strength);
  if (name === "slope") item.append(legend(area.legend.slope));
  if (name === "reach") {
    item.append(button("Count it again from the drawing", () => {
      if (one.layer.getVisible()) showPicture("reach");
      else one.layer.setVisible(true); // asks by itself
    }));
    document.getElementById("older").prepend(olderReach(one.layer));
  }
  if (name === "pieces") item.append(element("p", GRADES, "quiet"));
  if (one.picture) item.append(told(one.layer));
  return item;
}

// Over the map, while what is tinted there was counted from an earlier drawing.
function olderReach(layer) {
  const box = element("div", undefined, "older");
  const words = element("span");
  box.append(words, button("Count it again", () => showPicture("reach")));
  const say = () => {
    const told = layer.getSource() && layer.getVisible() ? layer.get("told") : "";
    words.textContent = told ? "Reach is of an earlier drawing." : "";
    box.hidden = !told;
  };
  layer.on(["change:told", "change:visible", "change:source"], say);
  say();
  return box;
}

// Why a picture is not there, or that it no longer holds.
function told(layer) {
  const words = element("p", "", "told");
  words.setAttribute("role", "status");
  const say = () => { words.textContent = layer.get("told") || ""; };
  layer.on("change:told", say);
  say();
  return words;
}

function legend(classes) {
  const list = element("ul", undefined, "legend");
  let from = 0;
  for (const one of classes) {
    const item = element("li", one.upto === null ? `over ${from} %` : `${from} to ${one.upto} %`);
    const patch = element("i");
    patch.style.background = one.colour;
    item.prepend(patch);
    list.append(item);
    from = one.upto;
  }
  return list;
}
