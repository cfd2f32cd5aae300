// Layers that lie still while something is drawn or bent keep the picture they have.
//
// The map library draws every layer anew whenever one of them changes. Neighbours in the
// stack that share a class name share a canvas, and a sheet of them is drawn anew only
// when the view or one of them has changed.

const LIVE_Z = 20; // from there up lies what changes at every move of the hand
const sheets = new Map(); // class name -> { members, frame, key, kept, element }

// The class name for a layer at that height: the ground has none, what is planned and what
// stands lies over it; live layers have the library's own name.
export function sheetOf(z) {
  if (z === undefined) return "ground-sheet";
  return z < LIVE_Z ? "plan-sheet" : undefined;
}

// What the picture of a sheet hangs on.
function keyOf(frame, members) {
  const { center, resolution, rotation } = frame.viewState;
  const layers = members.map((l) => `${l.getRevision()} ${l.getVisible()} ${l.getOpacity()}`);
  return [...center, resolution, rotation, ...frame.size, frame.pixelRatio, ...frame.viewHints, ...layers].join();
}

// Take a layer into the sheet its class name says.
export function keepsPicture(layer) {
  const name = layer.getClassName();
  if (!name.endsWith("-sheet")) return;
  if (!sheets.has(name)) sheets.set(name, { members: [], frame: null, key: "", kept: false, element: null });
  const sheet = sheets.get(name);
  sheet.members.push(layer);
  const draw = layer.render.bind(layer);
  layer.render = (frame, target) => {
    if (sheet.frame !== frame) begin(sheet, frame);
    if (sheet.kept) return sheet.element;
    const element = draw(frame, target);
    if (element && element !== sheet.element) {
      sheet.element = element;
      whole(sheet, layer);
    }
    return element;
  };
}

function begin(sheet, frame) {
  sheet.frame = frame;
  const key = keyOf(frame, sheet.members);
  sheet.kept = key === sheet.key && sheet.element !== null;
  if (!sheet.kept) sheet.element = null;
  sheet.key = key;
}

// A browser that is short of memory may take a canvas away, and gives it back empty.
function whole(sheet, layer) {
  const canvas = sheet.element.querySelector("canvas");
  if (canvas) canvas.oncontextrestored = () => layer.changed();
}
