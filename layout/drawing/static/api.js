// Calls to the program that serves this page; the key stands behind the # of the address.

const token = decodeURIComponent(location.hash.slice(1));

export class Refused extends Error {
  constructor(status, words) {
    super(words);
    this.status = status; // 0: the program does not answer
  }
}

let units; // of what is said; the area's own until the page knows better

export function speakIn(us) {
  units = us ? "us" : "metric";
}

const SILENT = "The program does not answer.";

async function ask(name, body, signal) {
  let answer;
  try {
    answer = await fetch(`/api/${name}`, {
      method: "POST",
      headers: { "Content-Type": "application/json", "X-Skidway-Token": token },
      body: JSON.stringify({ units, ...body }),
      signal,
    });
  } catch (error) {
    if (error.name === "AbortError") throw error;
    throw new Refused(0, SILENT);
  }
  if (!answer.ok) {
    let words = `The program said ${answer.status}.`;
    try {
      words = (await answer.json()).error || words;
    } catch {
      // not ours: the number has to do
    }
    if (answer.status === 404) words = "The program that runs is older than this page and cannot do that; start skidway draw again.";
    throw new Refused(answer.status, words);
  }
  return answer;
}

// The program may end in the middle of an answer.
async function whole(reading) {
  try {
    return await reading;
  } catch (error) {
    if (error.name === "AbortError") throw error;
    throw new Refused(0, SILENT);
  }
}

export async function call(name, body, { signal } = {}) {
  return unrefused(await whole((await ask(name, body, signal)).json()));
}

// What the program refuses in words comes as an answer with the status in it: a browser would
// put anything else on its console as a fault of the page.
function unrefused(told) {
  if (told.error && told.status) throw new Refused(told.status, told.error);
  return told;
}

export async function picture(body, { signal } = {}) {
  const answer = await ask("picture", body, signal);
  if (answer.headers.get("content-type") !== "image/png") unrefused(await whole(answer.json()));
  const bounds = answer.headers.get("x-bounds");
  return {
    url: URL.createObjectURL(await whole(answer.blob())),
    bounds: bounds ? bounds.split(" ").map(Number) : null,
  };
}
