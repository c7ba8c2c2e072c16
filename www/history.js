// What undo and redo go through: days as they were, with the words for what was done to each.
//
// A day is { scenario, baseline, source, readings }. Days are replaced and never mutated, so an entry shares what it
// did not change. Knows no page and no storage.
import { sameReadings } from "./readingrows.js";

const MOST = 200;
// A button tapped again within this time goes on with what it did.
const AGAIN_MS = 1000;

/**
 * `past` and `future` are lists of { day, label, note }, newest last: the day before a change, or after one
 * that was undone. `note` is a sentence to show while the change is the newest, or null.
 */
export function createHistory({ past = [], future = [] } = {}) {
  past = past.slice(-MOST);
  let gesture = null;

  const step = (from, onto, now) => {
    const entry = from.at(-1);
    if (!entry) return null;
    from.pop();
    onto.push({ ...entry, day: now });
    gesture = null;
    return entry;
  };

  return {
    get past() {
      return past;
    },
    get future() {
      return future;
    },
    /**
     * Takes down that `before` was changed. Changes in a row with the same gesture are one; one that ends
     * where it began is none.
     */
    record(before, after, { label, note = null, gesture: by = null }) {
      future = [];
      if (by === null || by !== gesture || past.length === 0) {
        past.push({ day: before, label, note });
        if (past.length > MOST) past.shift();
        gesture = by;
        return;
      }
      if (sameDay(past.at(-1).day, after)) {
        past.pop();
        gesture = null;
      }
    },
    /** The entry whose `day` is to be shown now, or null; `now` is the day that it takes the place of. */
    undo: (now) => step(past, future, now),
    redo: (now) => step(future, past, now),
  };
}

const texts = new WeakMap();
/** A scenario as text. It is never mutated, so it is written once. */
export function textOf(scenario) {
  if (!texts.has(scenario)) texts.set(scenario, JSON.stringify(scenario));
  return texts.get(scenario);
}

export const sameScenario = (a, b) => a === b || textOf(a) === textOf(b);

export function sameDay(a, b) {
  return sameScenario(a.scenario, b.scenario) && sameScenario(a.baseline, b.baseline) && a.source === b.source && sameReadings(a.readings, b.readings);
}

/** A gesture for what is done by repeated taps or keys: the same as long as it is asked for soon again. */
export function repeated(now = () => performance.now()) {
  let [gesture, last] = [null, -Infinity];
  return () => {
    if (now() - last > AGAIN_MS) gesture = Symbol("repeated");
    last = now();
    return gesture;
  };
}
