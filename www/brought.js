// Files that are loaded when they are needed: once, and after a failure anew.
import { isSingle } from "./onefile.js";

/** What makes another address of the same file. What lies in memory has no query, only a fragment. */
export const another = (time) => (time === 0 ? "" : `${isSingle() ? "#" : "?"}again=${time}`);

/** Gives what asks for a file: `load(tail)` brings it; a browser keeps to its failure at an address, so each try has its own tail. */
export function brought(load, again_ms = 0) {
  let coming = null;
  let tried = 0;
  return () => {
    coming ??= load(another(tried++)).catch((error) => {
      setTimeout(() => (coming = null), again_ms);
      throw error;
    });
    return coming;
  };
}
