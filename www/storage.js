// Keeps the work of this browser over a reload. Storage may be blocked or full: then nothing is kept and
// nothing breaks.
//
// The day is written within a few frames, what undo goes through a little later, and both when the page is left:
// a slider must not wait for them. Both name the page that wrote them, so that the history of one tab is not taken
// for that of another.
import { textOf } from "./history.js";

const KEY = "stallheat.work.1";
const HISTORY_KEY = "stallheat.history.1";
// A day that this version cannot open, until it was saved as a file or given up.
const ASIDE_KEY = "stallheat.aside.1";
const SOON_MS = 40;
const LATER_MS = 500;
// How much history is kept: entries in each direction, and characters in all.
const MOST_ENTRIES = 20;
const MOST_CHARACTERS = 300_000;

const page = Math.random().toString(36).slice(2);

function read(key) {
  try {
    const kept = JSON.parse(localStorage.getItem(key));
    return kept && typeof kept === "object" ? kept : null;
  } catch {
    return null;
  }
}

function write(key, text) {
  try {
    localStorage.setItem(key, text);
  } catch {
    // Blocked or full: the page works on.
  }
}

function remove(...keys) {
  try {
    for (const key of keys) localStorage.removeItem(key);
  } catch {
    // Blocked: there was nothing.
  }
}

/** The kept work and what undo goes through, as they lie there: see `restore.js`; null where there is none. */
export const keptWork = () => read(KEY);
export const keptHistory = () => read(HISTORY_KEY);

/** The kept work is laid aside, whole, so that other work may be kept; `aside()` gives it, `forgetAside()` gives it up. */
export function layAside() {
  write(ASIDE_KEY, JSON.stringify(read(KEY)));
  forget();
}
export const aside = () => read(ASIDE_KEY);
/** Whether there is anything that `restore.js` has to look at. */
export const isAnythingKept = () => Boolean(keptWork() ?? aside());
export const forgetAside = () => remove(ASIDE_KEY);

/** The units of the kept work and the address written last, if there is any, unchecked. */
export const keptUnits = () => keptWork()?.units;
export const keptLink = () => keptWork()?.link;

let unwritten = null;
let soon = 0;
export function keep(state, good, link, entries) {
  unwritten = { state, good, link };
  soon ||= setTimeout(writeDay, SOON_MS);
  later(entries);
}

function writeDay() {
  clearTimeout(soon);
  soon = 0;
  if (!unwritten) return;
  const { state: { scenario, baseline, source, readings, units }, good, link } = unwritten;
  unwritten = null;
  const rest = JSON.stringify({ source, readings, units, link, page }).slice(1);
  const goodText = good ? textOf(good) : "null";
  write(KEY, `{"scenario":${textOf(scenario)},"good":${goodText},"baseline":${textOf(baseline)},${rest}`);
}

let waiting = null;
let timer;
let written = false;
function later(entries) {
  waiting = entries;
  clearTimeout(timer);
  // The first is written at once: what is stored so far is another page's.
  if (!written) flush();
  else timer = setTimeout(flush, LATER_MS);
}

function flush() {
  clearTimeout(timer);
  if (!waiting) return;
  const { past, future } = waiting;
  [waiting, written] = [null, true];
  const places = new Map();
  const lists = new Map();
  let size = 0;
  const place = (scenario) => {
    if (!places.has(scenario)) {
      places.set(scenario, places.size);
      size += textOf(scenario).length;
    }
    return places.get(scenario);
  };
  const list = (readings) => {
    if (!lists.has(readings)) {
      lists.set(readings, lists.size);
      size += textOf(readings).length;
    }
    return lists.get(readings);
  };
  // Newest first, until there is no more room.
  const some = (entries) => {
    const kept = [];
    for (const { day, label, note } of entries.slice(-MOST_ENTRIES).reverse()) {
      if (size > MOST_CHARACTERS) break;
      kept.unshift({ scenario: place(day.scenario), baseline: place(day.baseline), source: day.source, readings: list(day.readings), label, note });
    }
    return kept;
  };
  const both = JSON.stringify({ past: some(past), future: some(future), page }).slice(1);
  const texts = (map) => [...map.keys()].map(textOf).join(",");
  write(HISTORY_KEY, `{"days":[${texts(places)}],"readings":[${texts(lists)}],${both}`);
}
function left() {
  writeDay();
  flush();
}
addEventListener("pagehide", left);
addEventListener("visibilitychange", () => document.visibilityState === "hidden" && left());

/** Calls when another tab of this browser has kept its work, which replaces what this one kept. */
export function onKeptElsewhere(listener) {
  addEventListener("storage", ({ key, newValue }) => key === KEY && newValue !== null && listener());
}

export function forget() {
  [waiting, written] = [null, true];
  remove(KEY, HISTORY_KEY);
}
