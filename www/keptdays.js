// The days that are kept to compare with, A, B and C in the order of keeping, as the core has them. The edited day is no
// part of them; it has the letter after the last.
//
// Which days are kept stands in the store's `compared`. What the core makes of each is made when it is first asked for,
// stands while the day is kept, is freed after it, and is made anew in a core that was loaded anew.
import { isTrap } from "./core.js";
import { textOf } from "./history.js";
import { thinned, timesOf } from "./overlays.js";
import { problemOf } from "./problems.js";
import { isDrawable } from "./scenario.js";

export const LETTERS = ["A", "B", "C", "D"];
/** So many days are kept beside the edited one. */
export const MOST_KEPT = LETTERS.length - 1;

export function createKeptDays({ store, core }) {
  const kinds = core.tables("us").kinds.map(({ key }) => key);
  const made = new Map(); // scenario → what the core made of it
  let dead = null; // a core that stopped

  function compute(scenario) {
    const entry = { instance: core.instance(), day: null, refusal: null, stopped: false, summary: {}, values: {}, line: {} };
    try {
      entry.day = core.simulate(scenario);
      entry.summary.us = entry.day.summary("us");
      entry.times_s = timesOf(entry.summary.us);
    } catch (error) {
      if (isTrap(error)) {
        [entry.stopped, entry.refusal, dead] = [true, "The computation of it stops.", core.instance()];
        core.renew();
      } else if ("limit" in error) {
        entry.refusal = problemOf(error, { scenario, tables: core.tables(store.state.units) }).text;
      } else throw error;
    }
    return entry;
  }

  function entryOf(scenario) {
    const known = made.get(scenario);
    if (known && (known.stopped || known.instance === core.instance())) return known;
    // Nothing more is asked of a core that stopped: a fresh one is on its way.
    if (core.instance() === dead) return { day: null, refusal: "It is not computed at the moment.", summary: {}, values: {}, line: {} };
    const entry = compute(scenario);
    made.set(scenario, entry);
    return entry;
  }

  return {
    list: () => store.state.compared,
    /** Those of a list, from a link or an older visit, that the page can show. */
    usable: (list) => list.filter((scenario) => isDrawable(scenario, kinds)).slice(0, MOST_KEPT),
    /** Why the core does not compute it, or null. */
    refusal: (scenario) => entryOf(scenario).refusal,
    /** In the units asked for; null where it is not computed. */
    summary(scenario, units) {
      const entry = entryOf(scenario);
      return entry.day ? (entry.summary[units] ??= entry.day.summary(units)) : null;
    },
    /** The values that hold in its set-up, in the order of the table; null where it is not computed. */
    values(scenario, units) {
      const entry = entryOf(scenario);
      return entry.day ? (entry.values[units] ??= entry.day.setup(units)) : null;
    },
    /** The curve of a node: { times_s, value_k }; null where it is not computed. */
    line(scenario, node) {
      const entry = entryOf(scenario);
      if (!entry.day) return null;
      return (entry.line[node] ??= thinned(entry.times_s, entry.day.series(node, entry.times_s), entry.summary.us));
    },
    /** Its temperatures at a time, in the order of the nodes; null where it is not computed. */
    temperatures: (scenario, time_s, units) => entryOf(scenario).day?.moment(time_s, units).temperatures ?? null,
    /** Frees what is not kept any more. */
    tidy() {
      for (const [scenario, entry] of made) {
        if (store.state.compared.includes(scenario)) continue;
        made.delete(scenario);
        if (entry.instance === core.instance() && entry.instance !== dead) entry.day?.free();
      }
    },
  };
}

/** The letter of the kept day that a scenario is, or null. */
export function twinOf(list, scenario) {
  const at = list.findIndex((one) => one === scenario || textOf(one) === textOf(scenario));
  return at < 0 ? null : LETTERS[at];
}
