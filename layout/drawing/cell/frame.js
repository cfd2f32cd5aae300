// Inside the frame of a notebook cell, before the page: what the page asks of a server and
// of the browser's store is asked of the cell. The page itself does not know.

{
  const calls = new Map();
  const drafts = new Map(); // as the browser's store would hold them
  const session = new Map();
  const me = Math.random().toString(36).slice(2);
  let last = 0;
  let place = ""; // how the page begins the keys of its drafts
  let own = ""; // the key of this cell's
  let opened = false; // the page has a drawing
  let quiet = false; // what comes from the kernel is not told back to it

  const tell = (message) => window.parent.postMessage(message, "*");
  const shadow = (owner, name, value) => Object.defineProperty(owner, name, { value });

  window.fetch = (address, { body, signal } = {}) => new Promise((done, failed) => {
    last += 1;
    const id = `${me}-${last}`;
    const stop = () => {
      calls.delete(id);
      failed(new DOMException("given up", "AbortError"));
    };
    if (signal?.aborted) return stop();
    signal?.addEventListener("abort", stop);
    calls.set(id, done);
    tell({ kind: "call", id, name: address.replace("/api/", ""), body: JSON.parse(body) });
  });

  shadow(navigator, "locks", undefined); // the cell holds one
  shadow(window, "sessionStorage", {
    getItem: (name) => session.get(name) ?? null,
    setItem: (name, text) => session.set(name, text),
  });
  shadow(window, "localStorage", {
    get length() { return drafts.size; },
    key: (k) => [...drafts.keys()][k] ?? null,
    getItem: (key) => drafts.get(key) ?? null,
    setItem: (key, text) => {
      drafts.set(key, text);
      opened ||= key === own;
      if (!quiet) tell({ kind: "keep", tab: key.slice(place.length), text });
    },
    removeItem: (key) => {
      drafts.delete(key);
      tell({ kind: "forget", tab: key.slice(place.length) });
    },
  });

  const answered = ({ id, status, type, bounds, data }) => {
    const headers = { "content-type": type, ...(bounds ? { "x-bounds": bounds } : {}) };
    calls.get(id)?.(new Response(data, { status, headers }));
    calls.delete(id);
  };

  const begin = async ({ area, tab, drafts: given }) => {
    if (own) return;
    place = `skidway:${area}:`;
    own = place + tab;
    session.set("skidway-tab", tab);
    for (const [name, text] of Object.entries(given)) drafts.set(place + name, text);
    if (drafts.has(own)) drafts.set(own, whole(JSON.parse(drafts.get(own))));
    await import("skidway/main.js");
  };

  // The kernel does not know how the page writes what it saved.
  const whole = (held) => {
    const { name, ...bare } = held.draft;
    const text = held.kept.text || (held.unsaved ? "" : JSON.stringify(bare));
    return JSON.stringify({ ...held, kept: { ...held.kept, text } });
  };

  // A draft set in the notebook, or drawn in another cell that shows this map.
  const changed = async ({ held }) => {
    if (!own) return; // it comes with the beginning
    if (!opened) {
      drafts.set(own, whole(held));
      return;
    }
    const store = await import("skidway/store.js");
    quiet = true;
    store.commit(held.draft);
    quiet = false;
  };

  const saved = async ({ held }) => {
    if (!opened) return;
    const store = await import("skidway/store.js");
    store.markSaved(held.kept.name, held.kept.version, held.draft);
  };

  window.addEventListener("message", (event) => {
    if (event.source !== window.parent) return;
    const acts = { answer: answered, begin, draft: changed, saved };
    acts[event.data.kind]?.(event.data);
  });
  window.addEventListener("DOMContentLoaded", () => tell({ kind: "ready" }));
}
