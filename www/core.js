// The only importer of the WebAssembly core. `core/` is made by the build, and so is `known.js`: what needs no core.
//
// `core()` gives its functions; `again()` throws the instance away and loads a new one, which is the only
// way on after a panic inside it. Both answer with the module of the moment, so nobody keeps one.
import { known } from "./known.js";
import { isSingle } from "./onefile.js";

let loading;
let times = 0;
/** What makes another address of the same file. What lies in memory has no query, only a fragment. */
const another = (time) => (time === 0 ? "" : `${isSingle() ? "#" : "?"}again=${time}`);

/** Loads the core once and gives its functions. */
export function core() {
  loading ??= load(another(times));
  return loading;
}

/** Loads a fresh instance of the core; the old one and everything made by it must not be used any more. */
export function again() {
  times += 1;
  loading = load(another(times));
  return loading;
}

// Another address is another instance.
async function load(tail) {
  const module = await import(`./core/stallheat.js${tail}`);
  await module.default();
  return { ...module, ...facts };
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

let si;
const tables = (units) => (units === "si" ? (si ??= tableOf(known.us, known.si)) : known.us);

/** Puts what came later into its places, by key or number. */
function put(into, places) {
  for (const [place, value] of Object.entries(places)) {
    if (value !== null && typeof value === "object") put(into[place], value);
    else into[place] = value;
  }
}

// After a failure it is tried again, but not by every line of help at once.
const AGAIN_MS = 3_000;
let coming = null;
let tried = 0;
/**
 * Brings what no first view needs and gives it: { cars }, typical ones. Rows of the tables have their `sentence`, `source` and
 * `description` from then on; before, and where this fails, they have none.
 */
function words() {
  coming ??= bring();
  return coming;
}

async function bring() {
  // A browser keeps to its failure at an address.
  const tail = another(tried);
  tried += 1;
  try {
    const module = await import(`./words.js${tail}`);
    for (const units of ["us", "si"]) put(tables(units), module.words.us);
    return module.words;
  } catch (error) {
    setTimeout(() => (coming = null), AGAIN_MS);
    throw error;
  }
}

/** Beside the core: parameters, kinds of events, routes, fluids, nodes and pictures in units `us` or `si`; examples { key, text }. */
const facts = { tables, words, examples: () => known.examples };
