// The only importer of the WebAssembly core. `core/` is made by the build.
//
// `core()` gives its functions; `again()` throws the instance away and loads a new one, which is the only
// way on after a panic inside it. Both answer with the module of the moment, so nobody keeps one.
import { isSingle } from "./onefile.js";

let loading;
let times = 0;

/** Loads the core once and gives its functions. */
export function core() {
  loading ??= load("");
  return loading;
}

/** Loads a fresh instance of the core; the old one and everything made by it must not be used any more. */
export function again() {
  times += 1;
  loading = load(`${isSingle() ? "#" : "?"}again=${times}`);
  return loading;
}

// Another address is another instance. What lies in memory has no query, only a fragment.
async function load(tail) {
  const module = await import(`./core/stallheat.js${tail}`);
  await module.default();
  return module;
}
