// The panels beside the map: one is shown, arrow keys go from tab to tab.

const made = [];

// Give an empty panel under a tab of that name.
export function panel(name, words) {
  const bar = document.getElementById("tabs");
  const tab = document.createElement("button");
  tab.type = "button";
  tab.id = `tab-${name}`;
  tab.setAttribute("role", "tab");
  tab.setAttribute("aria-controls", `panel-${name}`);
  tab.textContent = words;
  tab.addEventListener("click", () => show(name));
  tab.addEventListener("keydown", (event) => {
    const at = made.findIndex((m) => m.name === name);
    const to = { ArrowRight: at + 1, ArrowLeft: at - 1, Home: 0, End: made.length - 1 }[event.key];
    if (to === undefined) return;
    event.preventDefault();
    const next = made[(to + made.length) % made.length];
    show(next.name);
    next.tab.focus();
  });
  const held = document.createElement("section");
  held.id = `panel-${name}`;
  held.className = "panel";
  held.setAttribute("role", "tabpanel");
  held.setAttribute("aria-labelledby", tab.id);
  held.tabIndex = 0;
  bar.append(tab);
  document.getElementById("panels").append(held);
  made.push({ name, tab, held, heard: null });
  if (made.length === 1) show(name);
  else show(made.find((m) => !m.held.hidden).name);
  return held;
}

export function onShow(name, heard) {
  made.find((m) => m.name === name).heard = heard;
}

export function show(name) {
  for (const one of made) {
    const mine = one.name === name;
    one.held.hidden = !mine;
    one.tab.setAttribute("aria-selected", String(mine));
    one.tab.tabIndex = mine ? 0 : -1;
    if (mine && one.heard) one.heard();
  }
}

export function shown(name) {
  return made.some((m) => m.name === name && !m.held.hidden);
}

const nameOf = (one) => one.dataset.act || one.getAttribute("aria-label") || one.textContent;

// New parts for a place: who had the focus in it keeps it, on the same control where it is there
// still, or else on the panel around.
export function refill(held, ...parts) {
  const on = document.activeElement;
  const name = on !== held && held.contains(on) ? nameOf(on) : null;
  held.replaceChildren(...parts);
  if (name === null || held.contains(document.activeElement)) return;
  const again = [...held.querySelectorAll("button:not(:disabled), input:not(:disabled), select, [tabindex]")].find((one) => nameOf(one) === name);
  (again || held.closest("[role=tabpanel]") || document.getElementById("map")).focus({ preventScroll: true });
}

export function element(kind, words, name) {
  const made = document.createElement(kind);
  if (words !== undefined) made.textContent = words;
  if (name) made.className = name;
  return made;
}

export function button(words, act) {
  const made = element("button", words);
  made.type = "button";
  made.addEventListener("click", act);
  return made;
}
