// Files that are loaded when they are needed: once, and after a failure anew.
import { isSingle } from "./onefile.js";

/** What makes another address of the same file. What lies in memory has no query, only a fragment. */
export const another = (time) => (time === 0 ? "" : `${isSingle() ? "#" : "?"}again=${time}`);

/**
 * Gives what asks for a file: `load(tail)` brings it; a browser keeps to its failure at an address, so each try has its own tail.
 * It fails with the error of `load`, on which `tried` counts the tries.
 */
export function brought(load, again_ms = 0) {
  let coming = null;
  let tried = 0;
  return () => {
    coming ??= load(another(tried++)).catch((error) => {
      setTimeout(() => (coming = null), again_ms);
      throw Object.assign(error, { tried });
    });
    return coming;
  };
}

/**
 * What to do after a failure of what was brought: at first what `otherwise` says. Where a second try failed too it may be a file that
 * the one asked for imports, and of that the browser has a failure which only another page gets rid of.
 */
export const nextTry = (error, otherwise) => (error?.tried > 1 ? "Reload the page to try again; your work is kept." : otherwise);
