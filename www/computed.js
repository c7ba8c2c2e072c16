// What the core has computed: the day, the day as it was opened, and what is read off them.
//
// The core's own objects live here alone and are freed when they are replaced.
import { again, firstCore, isAbsent, isTrap } from "./core.js";
import { textOf } from "./history.js";

/** The hottest moment of the converter, at which a day is looked at first. */
export const firstMoment = (summary) => summary.peaks.find((peak) => peak.node === "converter_fluid").time_s;

/**
 * A day is { scenario, baseline, source } here; all that computes throws what the core throws. At first there is the core's first
 * part, with the rest on its way where it `isWanted`.
 */
export async function createComputed(isWanted) {
  let wasm = await firstCore(isWanted);
  let day = null;
  let opened = null; // the day as it was opened
  let openedOf = null; // the baseline that it was computed from
  let openedSummary = {}; // by units
  let good = null; // the day of the last good result

  const simulate = (scenario) => wasm.Day.simulate(textOf(scenario));

  /** Whether a scenario is one that the core computes. */
  async function isComputable(scenario) {
    try {
      simulate(scenario).free();
      return true;
    } catch (error) {
      if (!isTrap(error)) return false;
      wasm = await again();
      // What was absent is there now.
      return isAbsent(error) ? isComputable(scenario) : false;
    }
  }

  const examples = new Map();
  /** The example of a key as a scenario, one and the same each time; undefined where this version has none, or not yet. */
  function exampleOf(key) {
    if (!examples.has(key)) {
      const text = wasm.examples().find((one) => one.key === key)?.text;
      if (text === undefined) return undefined;
      examples.set(key, JSON.parse(text));
    }
    return examples.get(key);
  }

  const restated = new Map();
  /** A quantity in the reader's units, or null: one answer to the same words, however many boxes ask at every move. */
  function restate(path, text, units) {
    const words = `${units}\n${path}\n${text}`;
    if (!restated.has(words)) {
      // A drag asks for a new number at every move; the old ones need not be kept.
      if (restated.size >= 1_000) restated.clear();
      restated.set(words, wasm.restate(path, text, units));
    }
    return restated.get(words);
  }

  let known = { day: null, cursor_s: NaN, units: "", moment: null };

  return {
    simulate,
    exampleOf,
    restate,
    /** Brings all of the core, for days that may be any; a second try is for a connection that just came back. */
    whole: () => wasm.more().catch(() => wasm.more()),
    /** The core of the moment: nobody keeps it. */
    instance: () => wasm,
    /** The core's day, or null. */
    day: () => day,
    /** The day of the last good result, or null. */
    good: () => good,
    /** Says what was good before anything is computed. */
    remember(was) {
      good = was;
    },
    /** The core's tables in one system of units. */
    tables: (units) => wasm.tables(units),
    examples: () => wasm.examples(),

    /** The computed day and, where another baseline holds than before, the baseline's. */
    compute({ scenario, baseline }) {
      const next = simulate(scenario);
      if (openedOf === baseline) return [next, null];
      if (scenario === baseline) return [next, next];
      try {
        return [next, simulate(baseline)];
      } catch (error) {
        if (!isTrap(error)) next.free();
        throw error;
      }
    },

    /** What was computed is shown from now on; the second of the two where another baseline holds. */
    take([next, nextOpened], { scenario, baseline, source }) {
      // A day as it was opened is its own baseline, computed once.
      if (day !== opened) day?.free();
      day = next;
      if (nextOpened) {
        opened?.free();
        [opened, openedOf, openedSummary] = [nextOpened, baseline, {}];
      }
      good = { scenario, baseline, source };
    },

    result(units) {
      openedSummary[units] ??= opened.summary(units);
      return { summary: day.summary(units), values: day.setup(units), opened: openedSummary[units] };
    },

    /** Everything at the cursor's time, read off the day once however many show it. */
    moment({ view: { cursor_s }, units }) {
      // Until a fresh core has its day, what was known stands.
      if (day && (known.day !== day || known.cursor_s !== cursor_s || known.units !== units)) {
        known = { day, cursor_s, units, moment: day.moment(cursor_s, units) };
      }
      return known.moment;
    },

    /** A fresh core in the place of one that panicked, without a day. */
    async renew() {
      day = opened = openedOf = null;
      openedSummary = {};
      wasm = await again();
    },

    /** Whether a text is a scenario that the core computes, or why not: throws. */
    check: (text) => wasm.Day.simulate(text).free(),

    isComputable,
  };
}
