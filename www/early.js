// What pointer and keys did in the lanes before there is a hand for it. It is kept until then, and forgotten when the
// lanes show something else meanwhile: it was meant for what stood there.
import { nextTry } from "./brought.js";

const SAY_MS = 300;
const LOADING = "Loading…";
const GONE = "The picture changed before this could be done: do it again.";

const ACTS = /^(Arrow.*|Home|End|Delete|Backspace|Enter|Escape)$/;
const removes = ({ type, key }) => type === "keydown" && (key === "Delete" || key === "Backspace");

/** Whether a hand may do something at a key. */
function acts({ key, altKey, ctrlKey, metaKey }) {
  return ACTS.test(key) ? !altKey || key === "Escape" : !altKey && (ctrlKey || metaKey) && /^[dcv]$/i.test(key);
}

/**
 * `bring()` asks for the hand; `drawn()` gives what the lanes stand for as they are drawn and `now()` what they should, a
 * list each, of which the first `lying` places say where things lie; `say(text)` says how it stands.
 */
export function createEarly({ bring, drawn, now, lying, say }) {
  let kept = [];
  let meant = null; // what was drawn at the first of them
  let timer = 0;

  const changed = (count = meant.length) => now().slice(0, count).some((part, at) => part !== meant[at]);
  const has = (type) => kept.some(({ event }) => event.type === type);

  function drop(text) {
    clearTimeout(timer);
    // Who only came by with the Tab key has lost nothing.
    const any = kept.some(({ event }) => event.type !== "focus");
    kept = [];
    if (any) say(text);
  }

  return {
    /** Keeps an event of a lane. */
    keep(event, key) {
      const { type } = event;
      if (type === "keydown") {
        if (!acts(event)) return;
        // These would scroll the page, or do something of the browser's.
        if (event.key !== "Enter" && event.key !== "Escape") event.preventDefault();
        // Pressed again because nothing is to be seen yet.
        if (removes(event) && kept.some((one) => removes(one.event))) return;
      } else if (type !== "focus" && type !== "pointerdown" && !has("pointerdown")) return;
      // Of moves in a row the last says where it went.
      if (type === "pointermove" && kept.at(-1).event.type === type) kept.pop();
      if (kept.length === 0) {
        meant = drawn();
        timer = setTimeout(() => kept.some((one) => one.event.type !== "focus") && say(LOADING), SAY_MS);
      }
      kept.push({ event, key });
      bring().catch((error) => drop(`Changing the day here could not be loaded. ${nextTry(error, "Try again in a moment.")}`));
    },
    /** Whether something is kept. */
    get waits() {
      return kept.length > 0;
    },
    /** To be called whenever something else may be shown. */
    check() {
      if (kept.length > 0 && changed()) drop(GONE);
    },
    /** Has the hand do what was kept, as far as it is still what was meant. */
    pass(hand) {
      clearTimeout(timer);
      this.check();
      if (kept.length === 0) return;
      say("");
      for (const { event, key } of kept.splice(0)) {
        // What was done just now may have moved what the pointer meant.
        if (event.type === "pointerdown" && changed(lying)) {
          say(GONE);
          return;
        }
        hand[event.type](event, key);
      }
    },
  };
}
