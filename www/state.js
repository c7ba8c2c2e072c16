// The one store of the page. Everything shown is a function of it.
//
//   scenario   the day as written: plain JSON in the reader's own words ("95 °F"), replaced, never mutated
//   baseline   the same as it was opened; "changed" and "reset" refer to it
//   source     the key of an example, or null for a file
//   readings   { start, rows } of a test, as typed: see readingrows; they stay when the day is changed
//   units      "us" or "si": how things are shown, never how they are stored
//   view       { range: null | {start_s, end_s} | {round, stage}, axis: "room" | "true", hidden: [node], cursor_s,
//              selected: null | "field", round: in which it is chosen, on: null | {lane, place} of a chosen on-time,
//              refusal: why the last change of the day was not made, held: the axis while a block is dragged,
//              launch: whose heat is shown }
//   result     the last good { summary, values, opened }, or null before the first
//   problem    what keeps the newest scenario from being computed, or null
//   compared   the days A, B, C that the scenario is compared with, up to three; undo leaves them alone
//   history    { undo, redo: what the button would do or null, note: a sentence about the newest change or
//              null, said: what was just undone or redone, or null }
//
// `set(patch)` replaces some of these and tells every listener which. What undo goes back over is changed
// by `edit` and `replace` only.
import { createHistory, sameDay } from "./history.js";

export function createStore(initial, kept = {}) {
  const history = createHistory(kept);
  const words = (said) => ({
    undo: history.past.at(-1)?.label ?? null,
    redo: history.future.at(-1)?.label ?? null,
    note: history.past.at(-1)?.note ?? null,
    said,
  });
  let state = { ...initial, history: words(null) };
  const listeners = [];
  const day = () => ({ scenario: state.scenario, baseline: state.baseline, source: state.source, readings: state.readings });

  function go(entry, said) {
    if (!entry) return null;
    const changed = Object.entries(entry.day).filter(([key, value]) => state[key] !== value);
    store.set({ ...Object.fromEntries(changed), history: words(said) });
    return entry.label;
  }

  const store = {
    get state() {
      return state;
    },
    /** The day that undo goes through: { scenario, baseline, source, readings }. */
    get day() {
      return day();
    },
    /** The entries behind and ahead, for whoever keeps them over a reload. */
    get entries() {
      return { past: history.past, future: history.future };
    },
    set(patch) {
      state = { ...state, ...patch };
      for (const listener of listeners) listener(state, patch);
    },
    /** Changes part of the view. */
    view(patch) {
      this.set({ view: { ...state.view, ...patch } });
    },
    /** A copy of the scenario with a change. */
    changed(change) {
      const scenario = structuredClone(state.scenario);
      change(scenario);
      return scenario;
    },
    /**
     * Changes a copy of the scenario and stores it: one entry of undo under a label, a noun as in "Undone:
     * Air temperature". Edits in a row with the same `gesture` (anything but null) are one entry.
     */
    edit(change, gesture = null, label = "Change") {
      this.replace({ scenario: this.changed(change) }, { gesture, label });
    },
    /**
     * Puts a scenario or a whole day ({ scenario, baseline, source, readings } or some of these) in place of the present
     * one, as one entry { label, note, gesture } of undo. `more` is set with it.
     */
    replace(patch, entry, more = {}) {
      const before = day();
      const after = { ...before, ...patch };
      if (sameDay(before, after)) {
        if (Object.keys(more).length > 0) this.set(more);
        return;
      }
      history.record(before, after, entry);
      const changed = Object.fromEntries(Object.entries(patch).filter(([key, value]) => state[key] !== value));
      this.set({ ...changed, ...more, history: words(null) });
    },
    /** Goes back, or forth again; gives the label of what was undone or redone, or null. */
    undo: () => go(history.undo(day()), `Undone: ${state.history.undo}.`),
    redo: () => go(history.redo(day()), `Redone: ${state.history.redo}.`),
    subscribe(listener) {
      listeners.push(listener);
    },
    /** Runs what subscribes late, and tells its listeners all that they missed. */
    late(create) {
      const before = listeners.length;
      create();
      for (const listener of listeners.slice(before)) listener(state, state);
    },
  };
  return store;
}
