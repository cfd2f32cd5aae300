// What the hand holds: a pen, the chosen thing and its corner, a line under way.

export const coarse = window.matchMedia("(pointer: coarse)").matches;
export const NEAR_PX = coarse ? 24 : 12;

const listeners = new Set();
export const hand = {
  pen: "look",
  chosen: null, // { kind: "trail" | "landing" | "keep_out" | "note" | "position", id }
  corner: null, // number of the chosen corner
  drawing: null, // the Draw under way
};

export function onHand(heard) {
  listeners.add(heard);
}

export function current() {
  return { ...hand, drawing: Boolean(hand.drawing) };
}

export function spread() {
  for (const heard of listeners) heard(current());
}
