// The field with the drawing's name: what is typed stays until it is saved or a drawing is opened.

import * as store from "/store.js";

let field = null;
let asked = null; // the name last handed to be saved

export function build(heard, save) {
  field = document.getElementById("drawing-name");
  field.addEventListener("input", () => {
    store.keepAside({ name: field.value });
    heard();
  });
  field.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || event.isComposing) return;
    event.preventDefault();
    save();
  });
  store.listen((_, why) => {
    if (why === "saved" && (!typed() || clean(typed()) === asked)) store.keepAside({ name: undefined });
    if (why !== "open" && why !== "saved") return;
    show();
    heard();
  });
  show();
}

const typed = () => store.keptAside().name;
// as the folder keeps it: one letter for an accented one
const clean = (name) => name.trim().normalize("NFC");

function show() {
  field.value = typed() ?? store.savedAs().name;
}

// The name to save under; empty where there is none, and then the field waits for it.
export function wanted() {
  asked = clean(field.value);
  if (!asked) field.focus();
  return asked;
}

// A name is typed that is not the one the drawing was saved under.
export function isOther() {
  return clean(field.value) !== store.savedAs().name;
}
