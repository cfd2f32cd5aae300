// A notebook cell: the page stands in a frame of its own and is passed what it asks for.
//
// The frame has no origin and may ask the net for nothing; this script takes its calls to
// the kernel as messages, and keeps what is drawn and not saved in the browser, apart for
// each area, so that a kernel that was started anew does not cost a drawing.

const SLOW_MS = 4000; // a cell that computes keeps the kernel from answering
const LOCK = "skidway-cell:";
const SLOW = "No answer from the kernel yet: it is busy, or it was stopped. What you draw is kept; after a " +
  "new start run this cell again and look under Drawings.";

function render({ model, el }) {
  const frame = document.createElement("iframe");
  frame.setAttribute("sandbox", "allow-scripts allow-modals");
  frame.title = "Map to draw on";
  frame.style.cssText = `display:block;width:100%;border:0;height:${model.get("height")}px`;
  const told = document.createElement("p");
  told.setAttribute("role", "status");
  told.style.cssText = "margin:0;padding:6px 0;font-weight:600";
  told.hidden = true;
  told.textContent = SLOW;
  el.append(told, frame);

  const view = Math.random().toString(36).slice(2);
  const waiting = new Map(); // of this view's calls: their clocks
  let about = null; // { area, scope, tab }: where the browser keeps drafts of this area, and ours
  let release = null;

  const toFrame = (message) => frame.contentWindow?.postMessage(message, "*");
  const ask = (id, message) => {
    waiting.set(id, setTimeout(() => { told.hidden = false; }, SLOW_MS));
    model.send({ ...message, id, view });
  };

  // From the kernel; other cells that show the same map get it too.
  const fromKernel = (message, buffers) => {
    const mine = message.view === view;
    if (mine && message.id && waiting.has(message.id)) {
      clearTimeout(waiting.get(message.id));
      waiting.delete(message.id);
      if (!waiting.size) told.hidden = true;
    }
    if (message.kind === "page" && mine) {
      about = { area: message.area, scope: message.scope, tab: message.tab };
      release = hold(LOCK + about.tab);
      frame.srcdoc = new TextDecoder().decode(buffers[0]);
    } else if (message.kind === "begin" && mine) {
      begin(message.held);
    } else if (message.kind === "answer" && mine) {
      const { id, status, type, bounds } = message;
      const bytes = buffers[0];
      const data = bytes.buffer.slice(bytes.byteOffset, bytes.byteOffset + bytes.byteLength);
      toFrame({ kind: "answer", id, status, type, bounds, data });
    } else if ((message.kind === "draft" || message.kind === "saved") && !mine) {
      toFrame(message);
    }
  };

  const fromFrame = (event) => {
    if (event.source !== frame.contentWindow || !about) return;
    const { kind, id, name, body, tab, text } = event.data;
    if (kind === "ready") ask(`${view}-begin`, { kind: "begin" });
    else if (kind === "call") ask(id, { kind, name, body });
    else if (kind === "keep") {
      keep(tab, text);
      if (tab === about.tab) model.send({ kind: "held", view, held: JSON.parse(text) });
    } else if (kind === "forget") keep(tab, null);
  };

  const begin = async (held) => {
    const drafts = await leftBehind(about);
    if (held) drafts[about.tab] = JSON.stringify(held);
    toFrame({ kind: "begin", area: about.area, tab: about.tab, drafts });
  };

  const keep = (tab, text) => {
    try {
      if (text && JSON.parse(text).unsaved) localStorage.setItem(about.scope + tab, text);
      else localStorage.removeItem(about.scope + tab);
    } catch {
      // the browser's store is full or shut: the kernel has it
    }
  };

  const resized = () => { frame.style.height = `${model.get("height")}px`; };
  model.on("msg:custom", fromKernel);
  model.on("change:height", resized);
  window.addEventListener("message", fromFrame);
  ask(`${view}-page`, { kind: "page" });
  return () => {
    model.off("msg:custom", fromKernel);
    model.off("change:height", resized);
    window.removeEventListener("message", fromFrame);
    for (const clock of waiting.values()) clearTimeout(clock);
    if (release) release();
  };
}

// Hold a lock while the cell stands, so that other cells do not offer its draft. Browsers
// give none to a notebook that comes over plain http from another machine.
function hold(name) {
  let release = () => {};
  navigator.locks?.request(name, { mode: "shared" }, () => new Promise((done) => { release = done; }));
  return () => release();
}

// Drafts of this area whose cells are gone, by their tab.
async function leftBehind({ scope }) {
  const out = {};
  try {
    const { held } = navigator.locks ? await navigator.locks.query() : { held: [] };
    const shown = new Set(held.map((lock) => lock.name));
    for (const key of Object.keys(localStorage)) {
      const tab = key.slice(scope.length);
      if (key.startsWith(scope) && !shown.has(LOCK + tab)) out[tab] = localStorage.getItem(key);
    }
  } catch {
    // no store to look in
  }
  return out;
}

export default { render };
