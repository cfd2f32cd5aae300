// What is measured, in metric or US units: as the area has them, or as this browser was last set.

import { speakIn } from "/api.js";

const KEY = "skidway-lengths";
export const FOOT_M = 0.3048;
const listeners = new Set();
let feet = false;

export function build(area) {
  feet = area.units === "us";
  try {
    const kept = localStorage.getItem(KEY);
    if (kept) feet = kept === "feet";
  } catch {
    // this browser keeps nothing
  }
  const choice = document.getElementById("lengths");
  choice.value = feet ? "feet" : "metres";
  speakIn(feet);
  choice.addEventListener("change", () => set(choice.value));
}

function set(unit) {
  feet = unit === "feet";
  speakIn(feet);
  try {
    localStorage.setItem(KEY, unit);
  } catch {
    // it holds until the page is closed
  }
  for (const heard of listeners) heard(feet);
}

// Tell `heard(inFeet)` now, and whenever it is changed.
export function onLengths(heard) {
  listeners.add(heard);
  heard(feet);
}

export const unitsNow = () => (feet ? "us" : "metric");

export function lengthWords(metres) {
  if (metres === null || metres === undefined) return "–";
  const whole = Math.round(feet ? metres / FOOT_M : metres);
  return `${whole.toLocaleString("en-US")} ${feet ? "ft" : "m"}`; // as the plan writes it, on the page and on paper
}
