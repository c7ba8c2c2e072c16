// The only importer of the WebAssembly core. `core/` is made by the build.
import init, * as wasm from "./core/stallheat.js";

let loading;

/** Loads the core once and gives its functions. */
export function core() {
  loading ??= init().then(() => wasm);
  return loading;
}
