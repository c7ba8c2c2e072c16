// The one store of the page. Everything shown is a function of it.
//
//   scenario   the day as written: plain JSON in the reader's own words ("95 °F"), replaced, never mutated
//   baseline   the same as it was opened; "changed" and "reset" refer to it
//   source     the key of an example, or null for a file
//   units      "us" or "si": how things are shown, never how they are stored
//   view       { range: null | {key, start_s, end_s}, hidden: [node], cursor_s, selected: null | "field",
//              launch: whose heat is shown }
//   result     the last good { summary, values, opened }, or null before the first
//   problem    what keeps the newest scenario from being computed, or null
//   kept       { scenario, baseline, source, why, what } that "Bring back" returns to, or null; `passing` is
//              offered until the next change, then `before` again
//
// `set(patch)` replaces some of these and tells every listener which.

export function createStore(initial) {
  let state = { ...initial };
  const listeners = [];
  return {
    get state() {
      return state;
    },
    set(patch) {
      state = { ...state, ...patch };
      for (const listener of listeners) listener(state, patch);
    },
    /** Changes part of the view. */
    view(patch) {
      this.set({ view: { ...state.view, ...patch } });
    },
    /** Changes a copy of the scenario and stores it. */
    edit(change) {
      const scenario = structuredClone(state.scenario);
      change(scenario);
      this.set({ scenario });
    },
    subscribe(listener) {
      listeners.push(listener);
    },
  };
}
