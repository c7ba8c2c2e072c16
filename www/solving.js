// Every change of the day is computed and shown: changes are gathered until the next animation frame and the newest wins, one
// solve per frame at most. What cannot be computed is said, and the last good result stays.
import { isAbsent, isTrap } from "./core.js";
import { viewOf } from "./opening.js";
import { afterPress } from "./press.js";
import { problemOf } from "./problems.js";

const AGAIN_AND_AGAIN = "The program met the same fault again and again. Your inputs are kept: take the change back, or save the day as a file and reload the page.";
const NOT_ANEW = "The program could not be loaded anew. Your inputs are kept: try again in a moment, or reload the page.";
// A core that panics again and again is not loaded anew without end: so many times in such a while.
const FRESH_MOST = 4;
const FRESH_WITHIN_MS = 20_000;

/** What was asked for far down the page is answered at its top. */
function bringIntoSight(node) {
  const { top, bottom } = node.getBoundingClientRect();
  if (top < 0 || bottom > innerHeight) node.scrollIntoView({ block: "center" });
}

/** `keepWork()` keeps in the browser what was computed. */
export function createSolving({ store, computed, keepWork }, document) {
  const $ = (id) => document.getElementById(id);
  const problem = (error, stale, scenario = store.state.scenario) =>
    problemOf(error, { stale, scenario, tables: computed.tables(store.state.units) });

  let scheduled = false;
  function schedule() {
    if (scheduled) return;
    scheduled = true;
    requestAnimationFrame(() => {
      scheduled = false;
      solve();
    });
  }

  function solve() {
    if (broken) {
      renew().then(() => broken || schedule());
      return;
    }
    const now = store.day;
    const { units, view, problem: before } = store.state;
    let made;
    try {
      made = computed.compute(now);
      computed.take(made, now);
    } catch (error) {
      failed(error);
      return;
    }
    const [, opened] = made;
    showing(() => {
      keepWork();
      const result = computed.result(units);
      store.set({ result, ...(opened ? { view: viewOf(result, view) } : {}) });
      if (before) afterPress(() => store.state.problem === before && store.set({ problem: null }));
    });
  }

  function failed(error) {
    const { scenario } = store.state;
    const say = () => {
      // It may have been taken back meanwhile.
      if (store.state.scenario === scenario) store.set({ problem: problem(error, true) });
    };
    // What stopped in the middle is not asked anew, but a fresh core.
    if (isAbsent(error)) computed.whole().then(() => renew().then(() => broken || schedule()), say);
    else if (isTrap(error)) {
      say();
      renew();
    } else afterPress(say);
  }

  /** Tells all parts; what one of them throws is said, and is no reason to take a computed day for a refused one. */
  function showing(tell) {
    try {
      tell();
    } catch (error) {
      // The core writes its own.
      if (!isTrap(error)) console.error(error);
      failed(error);
    }
  }

  const fresh_ms = []; // when a core was loaded anew
  let broken = false; // the core panicked, and there is no fresh one yet

  let renewing = null;
  /** After a panic: a fresh core, and in it the last good day. Who asks while it is on its way gets that one. */
  async function renew() {
    if (renewing) return renewing;
    const now_ms = performance.now();
    while (fresh_ms.length > 0 && now_ms - fresh_ms[0] > FRESH_WITHIN_MS) fresh_ms.shift();
    broken = true;
    if (fresh_ms.length >= FRESH_MOST) {
      store.set({ problem: problem(new Error(AGAIN_AND_AGAIN), true) });
      return null;
    }
    fresh_ms.push(now_ms);
    const mine = renewOnce().finally(() => renewing === mine && (renewing = null));
    return (renewing = mine);
  }
  async function renewOnce() {
    try {
      await computed.renew();
      [broken, renewing] = [false, null]; // this one may have a fault of its own
      // Meanwhile another may have been opened.
      const good = computed.good();
      computed.take(computed.compute(good), good);
      const result = computed.result(store.state.units);
      showing(() => store.set({ result }));
    } catch (error) {
      const cannot = broken ? new Error(NOT_ANEW) : error;
      store.set({ problem: problem(cannot, true) });
    }
  }

  // What a button or the window's size asks of the core may panic as well.
  const heard = (error, event) => {
    if (!isTrap(error)) return;
    event.preventDefault();
    failed(error);
  };
  addEventListener("error", (event) => heard(event.error, event));
  addEventListener("unhandledrejection", (event) => heard(event.reason, event));

  /**
   * Computes a day and shows it as one entry of undo, `shown` in other { units, view } where these are given;
   * throws what the core throws and changes nothing otherwise.
   */
  function put(now, entry, { units = store.state.units, view = null } = {}) {
    const made = computed.compute(now);
    computed.take(made, now);
    const result = computed.result(units);
    const another = made[1] !== null;
    const before = another ? viewOf(result, store.state.view) : store.state.view;
    showing(() => store.replace(now, entry, { result, units, problem: null, ...(another || view ? { view: { ...before, ...view } } : {}) }));
    if (another && entry.note) bringIntoSight($("day-name"));
  }

  /**
   * Tries a change of the scenario at once: null where it is made, as one entry of undo with its result, or
   * { title, text, advice } of the core's refusal, and then nothing is changed. `viewAfter()` is asked once the change is
   * made on a copy: what of the view goes with it. `note` is a sentence about the change.
   */
  function attempt(change, gesture = null, label = "Change", viewAfter = () => null, note = null) {
    const now = { ...store.day, scenario: store.changed(change) };
    try {
      put(now, { gesture, label, note }, { view: viewAfter() });
      return null;
    } catch (error) {
      if (isTrap(error)) renew();
      const { title, text, advice = text } = problem(error, false, now.scenario);
      return { title, text, advice };
    }
  }

  /** Says why something was not done; what is shown stays. */
  function refuse(title, error, scenario, more = {}) {
    const stale = Boolean(store.state.problem?.stale);
    store.set({ problem: { ...problem(error, stale, scenario), title, field: null, actions: [["Close", "dismiss"]], ...more } });
    bringIntoSight($("problem"));
  }

  /** Whether a change waits for its frame. */
  const waits = () => scheduled;
  return { attempt, failed, problem, put, refuse, renew, schedule, showing, waits };
}
