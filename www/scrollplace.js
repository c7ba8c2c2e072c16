// Where somebody was on the page, over a reload and on coming back: the browser alone would look for it on a page that is not
// whole yet. A place is what stands at the top of the window, and how far from it: what lies above may have changed.
const KEY = "stallheat.place.1";
// What stays where it is on the page; made anew with each page are ids that end in a number.
const LASTING = ":is(.results, .inputs, .safety) [id]:not(.hidden, svg *)";
const MOVES = ["wheel", "touchmove", "pointerdown", "keydown"];

/** Gives `back()`, to be called whenever the page has become longer. */
export function createScrollPlace(document) {
  let left = false; // somebody went on by himself
  const leave = () => (left = true);
  for (const type of MOVES) addEventListener(type, leave, { capture: true, passive: true, once: true });

  function write() {
    let best = null;
    for (const node of document.querySelectorAll(LASTING)) {
      if (/\d$/.test(node.id)) continue;
      const { top, height } = node.getBoundingClientRect();
      if (height > 0 && top <= 0 && (!best || top >= best.top)) best = { id: node.id, top };
    }
    try {
      sessionStorage.setItem(KEY, JSON.stringify({ ...best, inside: document.getElementById("inputs").scrollTop }));
    } catch {
      // Blocked: the page opens at its top.
    }
  }
  addEventListener("pagehide", write);

  function read() {
    const [{ type } = {}] = performance.getEntriesByType("navigation");
    if (type !== "reload" && type !== "back_forward") return null;
    try {
      return JSON.parse(sessionStorage.getItem(KEY));
    } catch {
      return null;
    }
  }
  const kept = read();
  const asked = kept ? null : location.hash.slice(1);

  return {
    back() {
      if (left) return;
      const node = document.getElementById(kept?.id ?? asked ?? "");
      if (kept?.inside) document.getElementById("inputs").scrollTop = kept.inside;
      if (kept?.id && node) scrollBy({ top: node.getBoundingClientRect().top - kept.top, behavior: "instant" });
      else if (asked && node) node.scrollIntoView({ behavior: "instant" });
    },
  };
}
