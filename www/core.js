// The only importer of the WebAssembly core. `core/` is made by the build, and so are `known.js`, what needs no core, and
// `rest.js` and `words.js`, what the first view does without of that.
//
// `core()` gives its functions; `again()` throws the instance away and loads a new one, which is the only
// way on after a panic inside it. All answer with the module of the moment, so nobody keeps one.
//
// The core comes in two parts. `firstCore()` waits for the first alone, with which days can be computed and their temperatures
// drawn and told why not; `more()` of what it gives brings the other. Until then days are asked for of which it is known that they
// need nothing of that, or where it could not be had; one that does throws an error that is `isAbsent`. `again()` brings both.
import { another, brought } from "./brought.js";
import { known } from "./known.js";

let loading;
let times = 0;

/** Whether the core panicked: what it had made must not be used any more. */
export const isTrap = (error) => error instanceof WebAssembly.RuntimeError;

/** Whether it stopped because something of its later part was needed; it is left in the middle, as by a panic, and better not asked again. */
export const isAbsent = (error) => isTrap(error) && error.absent === true;

/**
 * Loads the first part of the core once and gives its functions; `more()` of these brings the rest, which is asked for
 * together with the first where it `isWanted`.
 */
export function firstCore(isWanted = false) {
  loading ??= load(another(times), isWanted);
  return loading;
}

/** Loads all of the core once and gives its functions. */
export const core = () => whole(firstCore(true));

/** Loads a fresh instance of the core; the old one and everything made by it must not be used any more. */
export function again() {
  times += 1;
  loading = load(another(times), true);
  return whole(loading);
}

// Another address is another instance. Who could not load it knows by `missing` that nothing else is at fault.
async function load(tail, isWanted) {
  try {
    const module = await import(`./core/stallheat.js${tail}`);
    if (isWanted) module.more().catch(() => {}); // told to whoever waits for it
    await module.default();
    return { ...module, ...facts };
  } catch (error) {
    throw Object.assign(error, { missing: true });
  }
}
async function whole(coming) {
  const module = await coming;
  try {
    await module.more();
  } catch (error) {
    throw Object.assign(error, { missing: true });
  }
  return module;
}

/** Another system's table: the first, but for the places that are written down of it. */
function tableOf(first, other) {
  if (other === undefined) return first;
  if (first === null || other === null || typeof first !== "object" || typeof other !== "object") return other;
  // A list of another length is written whole.
  if (Array.isArray(other)) return other;
  if (Array.isArray(first)) return first.map((one, at) => tableOf(one, other[at]));
  return Object.fromEntries(Object.keys(first).map((key) => [key, tableOf(first[key], other[key])]));
}

let si = null;
let difference = null;
/** The tables of a system of units; of the second there are none before the rest has come. */
const tables = (units) => (units === "si" ? (si ??= tableOf(known.us, difference)) : known.us);

/** Puts what came later into its places, by key or number. */
function put(into, places) {
  for (const [place, value] of Object.entries(places)) {
    if (value !== null && typeof value === "object" && into[place]) put(into[place], value);
    else into[place] = value;
  }
}

/** Takes the rest of the tables, as `rest.js` has it: the numbers of controls that do not stand open at first, the second system. */
export function complete(rest) {
  if (difference) return;
  put(known.us, rest.us);
  difference = rest.si;
}

// After a failure it is tried again, but not by every line of help at once.
const AGAIN_MS = 3_000;
/**
 * Brings what no first view needs and gives it: { cars }, typical ones. Rows of the tables have their `sentence`, `source` and
 * `description` from then on, examples their `text`; before, and where this fails, they have none, but for the first example.
 * It does not need the core itself.
 */
export const words = brought(async (tail) => {
  const module = await import(`./words.js${tail}`);
  for (const table of si ? [known.us, si] : [known.us]) put(table, module.words.us);
  module.words.examples.forEach((text, at) => (known.examples[at + 1].text = text));
  return module.words;
}, AGAIN_MS);

/** Beside the core: parameters, kinds of events, routes, fluids, nodes and pictures in units `us` or `si`; examples { key, name, text }. */
const facts = { tables, words, examples: () => known.examples };
