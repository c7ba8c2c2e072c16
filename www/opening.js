// Opens another day: an example, a file, a link, the day of a bench test. Each is one entry of undo; what cannot be opened is
// said, and the day on the page stays.
import { MOST_READ } from "./address.js";
import { firstMoment } from "./computed.js";
import { isTrap } from "./core.js";
import { isDrawable } from "./scenario.js";

// The core refuses what is larger; no need to read more than it takes to say so.
const MOST_BYTES = 3_000_000;
// The stages of a round that a link can show alone.
const STAGES = ["hold", "pass", "soak"];

/** The view of a day that has just been opened. */
export function viewOf(result, view) {
  return { ...view, range: null, selected: null, round: null, on: null, refusal: null, launch: 0, cursor_s: firstMoment(result.summary) };
}

/** The part of a link's view that this page can show. */
export function viewIn({ hidden, range, axis, launch, cursor_s } = {}, known) {
  const nodes = known.map((node) => node.key);
  const whole = (value) => Number.isInteger(value) && value >= 0;
  const rangeOf = () => {
    if (whole(range?.round) && range.round > 0) return { round: range.round, ...(STAGES.includes(range.stage) ? { stage: range.stage } : {}) };
    return Number.isFinite(range?.start_s) && Number.isFinite(range?.end_s) ? { start_s: range.start_s, end_s: range.end_s } : null;
  };
  return {
    ...(Array.isArray(hidden) ? { hidden: nodes.filter((node) => hidden.includes(node)) } : {}),
    ...(range === undefined ? {} : { range: rangeOf() }),
    ...(axis === "room" || axis === "true" ? { axis } : {}),
    ...(whole(launch) ? { launch } : {}),
    ...(Number.isFinite(cursor_s) && cursor_s >= 0 ? { cursor_s } : {}),
  };
}

/**
 * `put(day, entry, shown)` computes and shows a day, `refuse(title, error, scenario, more)` says why not, `renew()` loads a
 * core anew; `bring` { words, sharing, soon, whole } loads what comes later; `hold()` keeps a link that could not be opened in the address.
 */
export function createOpening({ store, computed, put, refuse, renew, bring, hold }) {
  const { exampleOf } = computed;
  const exampleRow = (key) => computed.examples().find((one) => one.key === key);

  let newest = 0;
  /** Gives whether this is still the newest that was asked for: an older one that comes later is not opened. */
  function claim() {
    const mine = (newest += 1);
    return () => mine === newest;
  }

  /** Does what may throw: a failure is said under `title` and leaves the day as it was. */
  function trying(title, act, scenario) {
    try {
      act();
    } catch (error) {
      refuse(title, error, scenario);
      if (isTrap(error)) renew();
    }
  }

  /**
   * Opens a day whose text the core accepts, as one entry { label, note } of undo; throws what the core throws and
   * changes nothing otherwise. `baseline` is the day itself where none is given, `shown` as with `put`; readings stay unless others are given.
   */
  function open(text, source, entry, baseline = null, shown = {}, readings = store.state.readings) {
    computed.check(text);
    const scenario = JSON.parse(text.replace(/^\ufeff/, ""));
    put({ scenario, baseline: baseline ?? scenario, source, readings }, entry, shown);
  }

  /** Sees to it that an example's text is there, and the core for it: those of the first are, the others' texts come with the longer words. */
  async function fetchExample(key) {
    const example = exampleRow(key);
    if (example && example !== computed.examples()[0]) await Promise.all([bring.words(), bring.whole()]);
  }

  /** Opens an example, with readings where some are given, as one entry { label, note } of undo. */
  async function openExample(key, rows, entry, title = "The example cannot be opened; your day is unchanged.") {
    const isNewest = claim();
    try {
      await fetchExample(key);
    } catch (error) {
      refuse(title, error);
      return;
    }
    if (!isNewest()) return;
    const example = exampleRow(key) ?? computed.examples()[0];
    trying(title, () => open(example.text, example.key, entry, null, {}, rows));
  }

  /** Opens the day of a bench test with its readings, as one entry of undo; throws what the core throws. */
  function openTest(scenario, rows, note) {
    open(JSON.stringify(scenario), null, { label: "Record opened", note }, null, {}, rows);
  }

  /** Opens the day of a link, or says why not and leaves the link where it is. */
  async function openLink(hash) {
    const isNewest = claim();
    let text = "null";
    try {
      const [{ comparedIn, readLink, unpackReadings }] = await Promise.all([bring.sharing(), bring.whole()]);
      const state = await readLink(hash);
      const { scenario, source, units, view } = state;
      await fetchExample(source).catch(() => {}); // without it nothing is marked as changed
      if (units === "si") await bring.soon();
      if (!isNewest()) return false;
      const compared = comparedIn(state);
      const rows = unpackReadings(state.readings);
      text = JSON.stringify(scenario) ?? text;
      const baseline = exampleOf(source) ?? null; // so that what differs from the example is marked
      const shown = { view: viewIn(view ?? {}, computed.tables("us").nodes), ...(units === "us" || units === "si" ? { units } : {}) };
      open(text, baseline ? source : null, { label: "Open the link", note: "Opened from the link." }, baseline, shown, rows.rows.length > 0 ? rows : undefined);
      if (compared.length > 0) store.set({ compared });
      return true;
    } catch (error) {
      hold();
      // A box with a megabyte in it holds the page up, and nobody copies it: it stays in the address.
      const shown = hash.length > MOST_READ ? {} : { link: new URL(hash, location.href).href };
      refuse("The link cannot be opened; the day on the page is unchanged.", error, readable(text), shown);
      if (isTrap(error)) renew();
      return false;
    }
  }

  /** Opens a scenario file, or says why not. */
  async function openFile(file) {
    const title = `${file.name} cannot be opened; your day is unchanged.`;
    const isNewest = claim();
    let text;
    try {
      text = await file.slice(0, MOST_BYTES).text();
      await bring.whole();
    } catch (error) {
      refuse(title, error);
      return;
    }
    if (!isNewest()) return;
    trying(title, () => {
      try {
        open(text, null, { label: `Open ${file.name}`, note: `Opened ${file.name}.` });
      } catch (error) {
        // The core saw the beginning only and names its size.
        const cut = file.size > MOST_BYTES && "limit" in error;
        throw cut ? Object.assign(error, { value: `${(file.size / 1e6).toFixed(1)} MB` }) : error;
      }
    }, readable(text));
  }

  /** The scenario of a file that may be anything, as far as it can name the places in it. */
  function readable(text) {
    try {
      const scenario = JSON.parse(text.replace(/^\ufeff/, ""));
      if (isDrawable(scenario, computed.tables("us").kinds.map((kind) => kind.key))) return scenario;
    } catch {
      // Not JSON: nothing in it has a name.
    }
    return { timeline: [] };
  }

  return { openExample, openFile, openLink, openTest };
}
