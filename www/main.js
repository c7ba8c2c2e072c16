// Wiring: loads the core, opens a day, computes it anew on every change and hands the result to all parts.
//
// Changes are gathered until the next animation frame and the newest wins: one solve per frame at most.
// The core's own objects live here and are freed when they are replaced.
import { again, core } from "./core.js";
import { createChart } from "./chart.js";
import { createControls } from "./controls.js";
import { createCutaway } from "./cutaway.js";
import { element, setText } from "./element.js";
import { createHappened } from "./happened.js";
import { createLedger } from "./ledger.js";
import { createPassHeat } from "./passheat.js";
import { fieldOfError, placeWords, withPlaceFrom } from "./places.js";
import { createPlayer, evenAxis } from "./player.js";
import { createResults } from "./results.js";
import { blockFields, isDrawable } from "./scenario.js";
import { createStore } from "./state.js";
import { forget, keep, onKeptElsewhere, restore } from "./storage.js";
import { createStrip } from "./strip.js";
import { createTimeline } from "./timeline.js";

// The core refuses what is larger; no need to read more than it takes to say so.
const MOST_BYTES = 3_000_000;

const $ = (id) => document.getElementById(id);
let wasm;
let day = null;
let openedDay = null;
let store;

function simulate(scenario) {
  return wasm.Day.simulate(JSON.stringify(scenario));
}

function isTrap(error) {
  return error instanceof WebAssembly.RuntimeError;
}

function resultOf(units) {
  return { summary: day.summary(units), values: day.setup(units), opened: openedDay.summary(units) };
}

/** What to say about an error that the core threw about a scenario. */
function problemOf(error, stale, scenario = store.state.scenario) {
  if (error && typeof error === "object" && "limit" in error) {
    const advice = `${error.value} — ${error.limit}. ${error.remedy}`;
    return {
      title: "Not computed.",
      text: `${placeWords(scenario, error.field, wasm.tables(store.state.units))}: ${advice}`,
      advice,
      field: fieldOfError(scenario, error.field),
      stale,
      actions: [["Take the change back", "takeBack"]],
    };
  }
  return {
    title: "The computation stopped.",
    text: isTrap(error)
      ? "This is a fault of the program, not of your numbers. Your inputs are kept and the core is loaded anew."
      : String(error?.message ?? error),
    stale,
    actions: [["Take the change back", "takeBack"], ["Start over", "startOver"]],
  };
}

let known = { day: null, cursor_s: NaN, units: "", moment: null };
/** Everything at the cursor's time, read off the day once however many show it. */
function moment() {
  const { view: { cursor_s }, units } = store.state;
  if (known.day !== day || known.cursor_s !== cursor_s || known.units !== units) {
    known = { day, cursor_s, units, moment: day.moment(cursor_s, units) };
  }
  return known.moment;
}

let scheduled = false;
function schedule() {
  if (scheduled) return;
  scheduled = true;
  requestAnimationFrame(() => {
    scheduled = false;
    solve();
  });
}

let good = null; // the scenario of the last good result, kept in the browser with the newest
function solve() {
  const { scenario, units } = store.state;
  try {
    const next = simulate(scenario);
    day?.free();
    day = next;
    good = scenario;
    keep(store.state, good);
    store.set({ result: resultOf(units), ...(store.state.problem ? { problem: null } : {}) });
  } catch (error) {
    store.set({ problem: problemOf(error, true) });
    if (isTrap(error)) reload();
  }
}

/** After a panic: a fresh core, and in it the last good day. */
async function reload() {
  day = openedDay = null;
  try {
    wasm = await again();
    openedDay = simulate(store.state.baseline);
    day = simulate(good);
    store.set({ result: resultOf(store.state.units) });
  } catch (error) {
    store.set({ problem: problemOf(error, true) });
  }
}

/** Opens a day whose text the core accepts; throws what the core throws and changes nothing otherwise. */
function open(text, source, why) {
  const [opened, same] = [wasm.Day.simulate(text), wasm.Day.simulate(text)];
  const scenario = JSON.parse(text.replace(/^\ufeff/, ""));
  const { scenario: was, baseline, source: from, view } = store.state;
  const edited = JSON.stringify(was) !== JSON.stringify(baseline);
  day?.free();
  openedDay?.free();
  day = opened;
  openedDay = same;
  good = scenario;
  const result = resultOf(store.state.units);
  store.set({
    scenario,
    baseline: scenario,
    source,
    kept: edited ? { scenario: was, baseline, source: from, why, what: "my edited day" } : null,
    view: { ...view, range: null, selected: null, launch: 0, cursor_s: firstMoment(result.summary) },
    result,
    problem: null,
  });
}

/** Where the cursor stands at first: the hottest moment of the converter. */
function firstMoment(summary) {
  return summary.peaks.find((peak) => peak.node === "converter_fluid").time_s;
}

/** Does what may throw: a failure is said under `title` and leaves the day as it was. */
function attempt(title, act, scenario) {
  try {
    act();
  } catch (error) {
    const stale = Boolean(store.state.problem?.stale);
    store.set({ problem: { ...problemOf(error, stale, scenario), title, field: null, actions: [["Close", "dismiss"]] } });
    if (isTrap(error)) reload();
  }
}

const actions = {
  /** Takes back what is wrong and nothing else where it can be told, else all since the last good day. */
  takeBack() {
    if (!good) return;
    const { scenario, baseline, source, problem, kept } = store.state;
    const mended = problem?.field ? withPlaceFrom(scenario, good, problem.field, wasm.tables("us")) : null;
    const why = mended ? "The change that could not be computed is taken back." : "Every change since the last computed day is taken back.";
    store.set({
      scenario: mended ?? good,
      kept: { scenario, baseline, source, why, what: "my change", passing: Boolean(mended), before: kept?.passing ? kept.before : kept && { ...kept, before: null } },
    });
  },
  startOver() {
    const key = store.state.source ?? wasm.examples()[0].key;
    const example = wasm.examples().find((one) => one.key === key) ?? wasm.examples()[0];
    attempt("The example cannot be opened; your day is unchanged.", () =>
      open(example.text, example.key, "Started over with the example."));
  },
  bringBack() {
    const { kept } = store.state;
    if (!kept) return;
    attempt("Your edited day cannot be brought back.", () => {
      const opened = simulate(kept.baseline);
      openedDay?.free();
      openedDay = opened;
      store.set({ scenario: kept.scenario, baseline: kept.baseline, source: kept.source, kept: kept.before ?? null });
    });
  },
  /** Closes a message; what keeps the newest scenario from being computed is then said again. */
  dismiss() {
    store.set({ problem: null });
    if (store.state.scenario !== good) schedule();
  },
};

async function openFile(file) {
  const text = await file.slice(0, MOST_BYTES).text();
  attempt(`${file.name} cannot be opened; your day is unchanged.`, () => {
    try {
      open(text, null, `Opened ${file.name}.`);
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
    if (isDrawable(scenario, wasm.tables("us").kinds.map((kind) => kind.key))) return scenario;
  } catch {
    // Not JSON: nothing in it has a name.
  }
  return { timeline: [] };
}

function save() {
  const { scenario } = store.state;
  download(scenario, "json", "application/json", `${JSON.stringify(scenario, null, 2)}\n`);
}

/** The temperatures of the last good result, in the units shown. */
function saveTemperatures() {
  if (day) download(good, "csv", "text/csv", day.csv(store.state.units));
}

function download(scenario, extension, type, text) {
  const name = String(scenario.name ?? "day").toLowerCase().replace(/[^a-z0-9]+/g, "-").replace(/^-|-$/g, "") || "day";
  const address = URL.createObjectURL(new Blob([text], { type }));
  element("a", { href: address, download: `${name}.${extension}` }).click();
  setTimeout(() => URL.revokeObjectURL(address), 10_000);
}

/**
 * The kept work, or the first example. What was kept may come from another version of the page or be
 * damaged: each of its parts is taken only if it can be used.
 */
function firstState(examples) {
  const view = { range: null, hidden: ["gear_train", "engine"], cursor_s: 0, selected: null, launch: 0 };
  const example = JSON.parse(examples[0].text);
  const fresh = { scenario: example, baseline: example, source: examples[0].key, units: "us", view, result: null, problem: null, kept: null };
  const kept = restore();
  if (!kept) return fresh;
  const units = kept.units === "si" ? "si" : "us";
  const kinds = wasm.tables("us").kinds.map((kind) => kind.key);
  const { baseline } = kept;
  if (!isDrawable(baseline, kinds) || !isComputable(baseline)) {
    forget();
    return { ...fresh, units };
  }
  const scenario = isDrawable(kept.scenario, kinds) ? kept.scenario : baseline;
  const known = (key) => (examples.some((one) => one.key === key) ? key : null);
  good = isDrawable(kept.good, kinds) && isComputable(kept.good) ? kept.good : null;
  const offer = (one, more) =>
    one && isDrawable(one.scenario, kinds) && isDrawable(one.baseline, kinds)
      ? {
          scenario: one.scenario, baseline: one.baseline, source: known(one.source),
          why: String(one.why), what: String(one.what), passing: Boolean(one.passing), before: more && offer(one.before, false),
        }
      : null;
  return { ...fresh, scenario, baseline, source: known(kept.source), units, kept: offer(kept.kept, true) };
}

function isComputable(scenario) {
  try {
    simulate(scenario).free();
    return true;
  } catch (error) {
    if (isTrap(error)) throw error;
    return false;
  }
}

function connect(examples) {
  const choose = $("example");
  const offered = examples.map(({ key, text }) => ({ key, name: JSON.parse(text).name }));
  const offer = (source) => choose.replaceChildren(
    element("option", { value: "", text: "Other example days" }),
    ...offered.filter(({ key }) => key !== source).map(({ key, name }) => element("option", { value: key, text: name })),
  );
  choose.addEventListener("change", () => {
    const example = examples.find((one) => one.key === choose.value);
    choose.value = "";
    if (!example) return;
    const { name } = JSON.parse(example.text);
    attempt(`${name} cannot be opened; your day is unchanged.`, () => open(example.text, example.key, `Opened ${name}.`));
  });
  for (const units of ["us", "si"]) {
    $(`units-${units}`).addEventListener("change", () => {
      store.set(day ? { units, result: resultOf(units) } : { units });
    });
  }
  $("open").addEventListener("click", () => $("file").click());
  $("file").addEventListener("change", async () => {
    const [file] = $("file").files;
    if (file) await openFile(file);
    $("file").value = "";
  });
  $("save").addEventListener("click", save);
  $("save-csv").addEventListener("click", saveTemperatures);
  $("start-over").addEventListener("click", actions.startOver);
  $("bring-back").addEventListener("click", actions.bringBack);
  onKeptElsewhere(() => setText($("elsewhere"), "This day was changed in another tab; the last change is kept."));

  store.subscribe((state, changed) => {
    if ("units" in changed || "source" in changed) show(state);
    if ("kept" in changed) showKept(state);
    if (["scenario", "baseline", "units", "kept"].some((key) => key in changed)) keep(state, good);
    if ("scenario" in changed && !("result" in changed)) schedule();
    // What was taken back is offered until the next change; bringing it back would undo that one.
    if ("scenario" in changed && !("kept" in changed) && state.kept?.passing) store.set({ kept: state.kept.before });
  });
  function showKept({ kept }) {
    $("kept").hidden = !kept;
    setText($("kept-text"), kept?.why ?? "");
    setText($("bring-back"), `Bring back ${kept?.what ?? "my edited day"}`);
  }
  function show({ units, source }) {
    $(`units-${units}`).checked = true;
    $("invented").hidden = source === null;
    offer(source);
  }
  show(store.state);
  showKept(store.state);
}

async function start() {
  wasm = await core();
  const examples = wasm.examples();
  store = createStore(firstState(examples));
  let blocks = [];
  let blocksOf = null;
  const fieldOf = (state, [block, event]) => {
    const written = good ?? state.scenario;
    if (blocksOf !== written) [blocks, blocksOf] = [blockFields(written), written];
    return blocks[block]?.(event) ?? null;
  };
  const shared = { store, core: { tables: (units) => wasm.tables(units), restate: (...words) => wasm.restate(...words), clock: (time_s) => wasm.clock(time_s) }, fieldOf };

  document.body.classList.remove("loading");
  createResults({ ...shared, actions }, document);
  createPassHeat({ store }, $("pass-heat"));
  createLedger({ store }, $("ledger-body"));
  createHappened(shared, document);
  createControls(shared, $("setup-body"), $("parts-body"));
  const reveal = createTimeline(shared, $("timeline-body"));
  const strip = createStrip(shared);
  createChart({ ...shared, tables: wasm.tables("us"), day: () => day, moment, strip, reveal }, $("chart-body"));
  createPlayer({ store, axisOf: evenAxis }, $("player"));
  createCutaway({ ...shared, moment }, $("cutaway-body"));
  connect(examples);

  openedDay = simulate(store.state.baseline);
  let problem = null;
  try {
    day = simulate(store.state.scenario);
    good = store.state.scenario;
  } catch (error) {
    if (isTrap(error)) throw error;
    good ??= store.state.baseline;
    day = simulate(good);
    problem = problemOf(error, true);
  }
  const result = resultOf(store.state.units);
  store.set({ result, problem, view: { ...store.state.view, cursor_s: firstMoment(result.summary) } });
  $("version").textContent = wasm.version();
}

setText($("finding"), "Computing an example day…");
try {
  await start();
} catch (error) {
  document.body.classList.remove("loading");
  document.body.classList.add("failed");
  setText($("finding"), "The page could not start.");
  const said = String(error?.message ?? error).replace(/[^.!?]$/, "$&.");
  const reload = element("button", { type: "button", class: "plain", text: "Reload", on: { click: () => location.reload() } });
  const startOver = element("button", {
    type: "button", class: "plain", id: "forget", text: "Start over",
    on: {
      click: () => {
        forget();
        location.reload();
      },
    },
  });
  // Without a core it is not the kept day that is at fault, and nothing is gained by losing it.
  setText($("finding-more"), wasm
    ? `${said} Reload the page. If that does not help, start over: the day kept in this browser is then forgotten and the example opens.`
    : `${said} Reload the page; the day kept in this browser stays.`);
  $("finding-more").after(element("div", { class: "moves" }, reload, wasm ? startOver : null));
  console.error(error);
}
