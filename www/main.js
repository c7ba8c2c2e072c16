// Wiring: loads the core, opens a day, computes it anew on every change and hands the result to all parts.
//
// Changes are gathered until the next animation frame and the newest wins: one solve per frame at most.
// The core's own objects live here and are freed when they are replaced.
import { isLink, MOST_READ } from "./address.js";
import { axisOf } from "./axis.js";
import { brought, nextTry } from "./brought.js";
import { createChart } from "./chart.js";
import { createControls } from "./controls.js";
import { again, core, words as longerWords } from "./core.js";
import { createDrop } from "./drop.js";
import { element, setText } from "./element.js";
import { createHead } from "./head.js";
import { createLanes } from "./lanes.js";
import { putOnLateStyles } from "./latestyles.js";
import { textOf } from "./history.js";
import { onDisk } from "./onefile.js";
import { fieldOfError, placeWords, withPlaceFrom } from "./places.js";
import { createPlayer } from "./player.js";
import { restoreWork } from "./restore.js";
import { createResults } from "./results.js";
import { blockFields, isDrawable } from "./scenario.js";
import { createSeen } from "./seen.js";
import { createStages } from "./stages.js";
import { createStore } from "./state.js";
import { forget, keep, keptLink, keptUnits, onKeptElsewhere } from "./storage.js";
import { createUndo } from "./undo.js";

// The core refuses what is larger; no need to read more than it takes to say so.
const MOST_BYTES = 3_000_000;
// How long what makes links is not asked for anew by edits after a failure.
const SHARE_AGAIN_MS = 1_000;
// How long a day is not shown because a link is about to open another.
const LINK_WAIT_MS = 3_000;
// The stages of a round that a link can show alone.
const STAGES = ["hold", "pass", "soak"];

const $ = (id) => document.getElementById(id);
let wasm;
let day = null;
let openedDay = null;
let openedOf = null; // the baseline that `openedDay` was computed from
let openedSummary = {}; // by units
let good = null; // the day { scenario, baseline, source } of the last good result
let link = null; // the address as this browser wrote it last
let lost = null; // a kept day that cannot be opened, as far as it can be saved as a file
let store;
let share = null; // made later, as all below
let missed_ms = null; // when what makes it could not be loaded last
let held = false; // a link that could not be opened stays in the address until there is `share`, which then sees to it
let shown = null; // { state, good } at first: what the address is in step with until there is `share`
let editing = null;
let readings = null; // the part of the page
let ahead = null; // what a link in the address needs, on its way
let head; // of the set-up

function simulate(scenario) {
  return wasm.Day.simulate(textOf(scenario));
}

/** The core's tables in one system of units. */
function tables(units) {
  return wasm.tables(units);
}

// Asked for after the first view, or when it is needed before: what reads and makes links, and what changes the day's blocks,
// with the rest of the tables.
const sharing = brought((tail) => import(`./share.js${tail}`));
const soon = brought((tail) => import(`./soon.js${tail}`));
const NOT_LOADED = "What is needed for it could not be loaded.";
const TRY_AGAIN = "Try again in a moment, or reload the page: your day is kept in this browser.";

/** What `load` brings, or an error whose message is for people. */
async function asked(load) {
  try {
    return await load();
  } catch (error) {
    console.warn(error);
    throw new Error(`${NOT_LOADED} ${nextTry(error, TRY_AGAIN)}`);
  }
}

/** The longer words, which come after the first view; with them come the cars. */
async function words() {
  const brought = await wasm.words();
  head.offer(brought.cars);
  return brought;
}

function isTrap(error) {
  return error instanceof WebAssembly.RuntimeError;
}

function resultOf(units) {
  openedSummary[units] ??= openedDay.summary(units);
  return { summary: day.summary(units), values: day.setup(units), opened: openedSummary[units] };
}

/** What was computed is shown from now on; `opened` too, where another baseline holds. */
function take(next, opened, { scenario, baseline, source }) {
  // A day as it was opened is its own baseline, computed once.
  if (day !== openedDay) day?.free();
  day = next;
  if (opened) {
    openedDay?.free();
    [openedDay, openedOf, openedSummary] = [opened, baseline, {}];
  }
  good = { scenario, baseline, source };
}

/** The computed day and, where another baseline holds than before, the baseline's. Throws what the core throws. */
function compute({ scenario, baseline }) {
  const next = simulate(scenario);
  if (openedOf === baseline) return [next, null];
  if (scenario === baseline) return [next, next];
  try {
    return [next, simulate(baseline)];
  } catch (error) {
    if (!isTrap(error)) next.free();
    throw error;
  }
}

/** What to say about an error that the core threw about a scenario. */
function problemOf(error, stale, scenario = store.state.scenario) {
  if (error && typeof error === "object" && "limit" in error) {
    const advice = `${error.value} — ${error.limit}. ${error.remedy}`;
    return {
      title: "Not computed.",
      text: `${placeWords(scenario, error.field, tables(store.state.units))}: ${advice}`,
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
/** Everything at the cursor's time, read off the day once however many show it. */
function moment() {
  const { view: { cursor_s }, units } = store.state;
  // Until a fresh core has its day, what was known stands.
  if (day && (known.day !== day || known.cursor_s !== cursor_s || known.units !== units)) {
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

function solve() {
  const now = store.day;
  const { units, view, problem } = store.state;
  let opened;
  try {
    const [next, baseline] = compute(now);
    opened = baseline;
    take(next, opened, now);
  } catch (error) {
    failed(error);
    return;
  }
  showing(() => {
    keepWork();
    const result = resultOf(units);
    store.set({ result, ...(opened ? { view: viewOf(result, view) } : {}), ...(problem ? { problem: null } : {}) });
  });
}

function failed(error) {
  store.set({ problem: problemOf(error, true) });
  if (isTrap(error)) reload();
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

/** After a panic: a fresh core, and in it the last good day. */
async function reload() {
  day = openedDay = openedOf = null;
  openedSummary = {};
  try {
    wasm = await again();
    take(...compute(good), good);
    store.set({ result: resultOf(store.state.units) });
  } catch (error) {
    store.set({ problem: problemOf(error, true) });
  }
}

/** The view of a day that has just been opened. */
function viewOf(result, view) {
  return { ...view, range: null, selected: null, round: null, on: null, refusal: null, launch: 0, cursor_s: firstMoment(result.summary) };
}

/**
 * Opens a day whose text the core accepts, as one entry { label, note } of undo; throws what the core throws and
 * changes nothing otherwise. `baseline` is the day itself where none is given, `shown` as with `put`; readings stay unless others are given.
 */
function open(text, source, entry, baseline = null, shown = {}, readings = store.state.readings) {
  const accepted = wasm.Day.simulate(text);
  accepted.free();
  const scenario = JSON.parse(text.replace(/^\ufeff/, ""));
  put({ scenario, baseline: baseline ?? scenario, source, readings }, entry, shown);
}

/**
 * Computes a day and shows it as one entry of undo, `shown` in other { units, view } where these are given;
 * throws what the core throws and changes nothing otherwise.
 */
function put(now, entry, { units = store.state.units, view = null } = {}) {
  const [next, opened] = compute(now);
  take(next, opened, now);
  const result = resultOf(units);
  const before = opened ? viewOf(result, store.state.view) : store.state.view;
  const another = opened !== null;
  showing(() => store.replace(now, entry, { result, units, problem: null, ...(opened || view ? { view: { ...before, ...view } } : {}) }));
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
    if (isTrap(error)) reload();
    const { title, text, advice = text } = problemOf(error, false, now.scenario);
    return { title, text, advice };
  }
}

/** Where the cursor stands at first: the hottest moment of the converter. */
function firstMoment(summary) {
  return summary.peaks.find((peak) => peak.node === "converter_fluid").time_s;
}

/** Does what may throw: a failure is said under `title` and leaves the day as it was. */
function trying(title, act, scenario) {
  try {
    act();
  } catch (error) {
    refuse(title, error, scenario);
    if (isTrap(error)) reload();
  }
}

/** Says why something was not done; what is shown stays. */
function refuse(title, error, scenario, more = {}) {
  const stale = Boolean(store.state.problem?.stale);
  store.set({ problem: { ...problemOf(error, stale, scenario), title, field: null, actions: [["Close", "dismiss"]], ...more } });
  bringIntoSight($("problem"));
}

/** What was asked for far down the page is answered at its top. */
function bringIntoSight(node) {
  const { top, bottom } = node.getBoundingClientRect();
  if (top < 0 || bottom > innerHeight) node.scrollIntoView({ block: "center" });
}

const actions = {
  /** Takes back what is wrong and nothing else where it can be told, else all since the last good day. */
  takeBack() {
    const { scenario, baseline, problem } = store.state;
    const from = good.baseline === baseline ? good.scenario : baseline;
    const mended = problem?.field ? withPlaceFrom(scenario, from, problem.field, tables("us")) : null;
    const note = mended ? "The change that could not be computed is taken back." : "Every change since the last computed day is taken back.";
    store.replace(mended ? { scenario: mended } : good, { label: "Change taken back", note });
    // An entry that changed nothing leaves the problem to be computed again.
    schedule();
  },
  startOver: () => openExample(store.state.source ?? wasm.examples()[0].key, undefined, { label: "Start over", note: "Started over with the example." }),
  saveLost: () => download({ name: "kept day" }, "json", "application/json", `${JSON.stringify(lost.scenario, null, 2)}\n`),
  /** Closes a message; what keeps the newest scenario from being computed is then said again. */
  dismiss() {
    store.set({ problem: null });
    if (store.state.scenario !== good.scenario) schedule();
  },
};

const opened = new Map();
/** The example of a key as a scenario, one and the same each time; undefined where this version has none, or not yet. */
function exampleOf(key) {
  if (!opened.has(key)) {
    const text = wasm.examples().find((one) => one.key === key)?.text;
    if (text === undefined) return undefined;
    opened.set(key, JSON.parse(text));
  }
  return opened.get(key);
}

/** Sees to it that the text of an example is there: that of the first is, those of the others come with the longer words. */
async function fetchExample(key) {
  const example = wasm.examples().find((one) => one.key === key);
  if (example && example.text === undefined) await asked(words);
}

/** Opens an example, with readings where some are given, as one entry { label, note } of undo. */
async function openExample(key, rows, entry, title = "The example cannot be opened; your day is unchanged.") {
  try {
    await fetchExample(key);
  } catch (error) {
    refuse(title, error);
    return;
  }
  const example = wasm.examples().find((one) => one.key === key) ?? wasm.examples()[0];
  trying(title, () => open(example.text, example.key, entry, null, {}, rows));
}

/** Opens the day of a bench test with its readings, as one entry of undo; throws what the core throws. */
function openTest(scenario, rows, note) {
  open(JSON.stringify(scenario), null, { label: "Record opened", note }, null, {}, rows);
}

/** The part of a link's view that this page can show. */
function viewIn({ hidden, range, axis, launch, cursor_s } = {}) {
  const nodes = tables("us").nodes.map((node) => node.key);
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

/** Opens the day of a link, or says why not and leaves the link where it is. */
async function openLink(hash) {
  let text = "null";
  try {
    const { comparedIn, readLink, unpackReadings } = await asked(sharing);
    const state = await readLink(hash);
    const { scenario, source, units, view } = state;
    await fetchExample(source).catch(() => {}); // without it nothing is marked as changed
    if (units === "si") await asked(soon);
    const compared = comparedIn(state);
    const rows = unpackReadings(state.readings);
    text = JSON.stringify(scenario) ?? text;
    const baseline = exampleOf(source) ?? null; // so that what differs from the example is marked
    const shown = { view: viewIn(view ?? {}), ...(units === "us" || units === "si" ? { units } : {}) };
    open(text, baseline ? source : null, { label: "Open the link", note: "Opened from the link." }, baseline, shown, rows.rows.length > 0 ? rows : undefined);
    if (compared.length > 0) store.set({ compared });
    return true;
  } catch (error) {
    held = true;
    share?.hold();
    // A box with a megabyte in it holds the page up, and nobody copies it: it stays in the address.
    const shown = hash.length > MOST_READ ? {} : { link: new URL(hash, location.href).href };
    refuse("The link cannot be opened; the day on the page is unchanged.", error, readable(text), shown);
    if (isTrap(error)) reload();
    return false;
  }
}

async function openFile(file) {
  if (/\.(csv|tsv|txt)$/i.test(file.name) && readings) {
    await readings.open(file);
    return;
  }
  const text = await file.slice(0, MOST_BYTES).text();
  trying(`${file.name} cannot be opened; your day is unchanged.`, () => {
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
    if (isDrawable(scenario, tables("us").kinds.map((kind) => kind.key))) return scenario;
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
  if (day) download(good.scenario, "csv", "text/csv", day.csv(store.state.units));
}

function download(scenario, extension, type, text) {
  const name = String(scenario.name ?? "day").toLowerCase().replace(/[^a-z0-9]+/g, "-").replace(/^-|-$/g, "") || "day";
  const address = URL.createObjectURL(new Blob([text], { type }));
  element("a", { href: address, download: `${name}.${extension}` }).click();
  setTimeout(() => URL.revokeObjectURL(address), 10_000);
}

/** Whether the core computes a scenario; after a panic in it there is a fresh core. */
async function isComputable(scenario) {
  try {
    simulate(scenario).free();
    return true;
  } catch (error) {
    if (isTrap(error)) wasm = await again();
    return false;
  }
}

function connect(examples) {
  const choose = $("example");
  const offer = (source) => choose.replaceChildren(
    element("option", { value: "", text: "Other example days" }),
    ...examples.filter(({ key }) => key !== source).map(({ key, name }) => element("option", { value: key, text: name })),
  );
  choose.addEventListener("change", () => {
    const example = examples.find((one) => one.key === choose.value);
    choose.value = "";
    if (!example) return;
    const { key, name } = example;
    openExample(key, undefined, { label: `Open ${name}`, note: `Opened ${name}.` }, `${name} cannot be opened; your day is unchanged.`);
  });
  for (const units of ["us", "si"]) {
    $(`units-${units}`).addEventListener("change", async () => {
      try {
        if (units === "si" && !editing) await asked(soon);
      } catch (error) {
        $(`units-${store.state.units}`).checked = true;
        refuse("The day cannot be shown in these units yet.", error);
        return;
      }
      // Meanwhile the other may have been chosen.
      if ($(`units-${units}`).checked) store.set(day ? { units, result: resultOf(units) } : { units });
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
  $("share-link").hidden = typeof navigator.share !== "function" || onDisk();
  for (const [id, act] of [["copy-link", "copyLink"], ["share-link", "shareLink"]]) {
    $(id).addEventListener("click", async () => {
      try {
        await (await createSharing())[act]();
      } catch (error) {
        if (share) throw error;
        setText($("link-said"), error.message);
      }
    });
  }
  // What is made with it fills this part.
  $("put-on-page")?.addEventListener("toggle", () => {
    if (share || !$("put-on-page").open) return;
    setText($("put-on-page-body"), "Loading…");
    createSharing().catch(() => {});
  });
  addEventListener("hashchange", () => {
    const { hash } = location;
    if (isLink(hash) && hash !== link) openLink(hash);
  });
  createDrop({
    openFile,
    several: (count) => refuse(`${count} files cannot be opened at once; your day is unchanged.`, { message: "Drop one scenario file." }),
  }, document);
  onKeptElsewhere(() => setText($("elsewhere"), "This day was changed in another tab; the last change is kept."));

  store.subscribe((state, changed) => {
    if ("units" in changed || "source" in changed) show(state);
    followLaunch(state);
    if (["scenario", "baseline", "readings", "units"].some((key) => key in changed)) keepWork();
    if ("scenario" in changed || "baseline" in changed) {
      shareAgain();
      if (!("result" in changed)) schedule();
    }
  });
  function show({ units, source }) {
    $(`units-${units}`).checked = true;
    $("invented").hidden = source === null;
    offer(source);
  }
  show(store.state);
}

/** The pass that is shown is that of the cursor's round. */
function followLaunch({ result, view: { cursor_s, launch } }) {
  if (!result) return;
  const { events, launches } = result.summary;
  const round = events.find(({ start_s: start, end_s: end }) => cursor_s >= start && cursor_s < end)?.round ?? null;
  const to = round === null
    ? launches.findIndex(({ time_s: time }) => Math.abs(time - cursor_s) < 1e-6)
    : launches.findIndex((one) => one.round === round);
  if (to >= 0 && to !== launch) store.view({ launch: to });
}

/** The newest text is kept with what was last computed of the same day. */
function keepWork() {
  keep(store.state, good?.baseline === store.state.baseline ? good.scenario : null, link, store.entries);
}

async function start() {
  wasm = await core();
  // The day of a link is to be the first that is seen; where its files are slow, another stands meanwhile.
  if (ahead) await Promise.race([ahead, new Promise((done) => setTimeout(done, LINK_WAIT_MS))]);
  const examples = wasm.examples();
  const first = await restoreWork({ examples, exampleOf, kinds: tables("us").kinds.map((kind) => kind.key), isComputable });
  ({ good, link, lost } = first);
  let missing = null;
  try {
    // The second system is in the rest of the tables.
    if (first.state.units === "si") await asked(soon);
  } catch (error) {
    missing = error;
    first.state.units = "us";
  }
  store = createStore(first.state, first.history);
  let blocks = [];
  let blocksOf = null;
  const fieldOf = (state, [block, event]) => {
    const written = good?.scenario ?? state.scenario;
    if (blocksOf !== written) [blocks, blocksOf] = [blockFields(written), written];
    return blocks[block]?.(event) ?? null;
  };
  const kinds = new Map(tables("us").kinds.map((kind) => [kind.key, kind]));
  const shared = {
    store,
    core: {
      tables,
      words,
      restate,
      clock: (time_s) => wasm.clock(time_s),
      kindLabel: (key) => kinds.get(key)?.label,
      temperature: (kelvin, units) => wasm.temperature(kelvin, units),
    },
    fieldOf,
  };

  shared.seen = createSeen(store, document, failed, () => scheduled);

  document.body.classList.remove("loading");
  createResults({ ...shared, actions }, document);
  head = createHead(shared, $("setup-body"));
  const controls = createControls({ ...shared, bring: bringEditing }, $("setup-body"), $("parts-body"));
  let sheet = null; // made later
  createStages(shared, $("stages"));
  const toSheet = () => sheet?.focus();
  const lanes = createLanes({ ...shared, axisOf, bring: bringEditing });
  const choose = (selected, round) => {
    store.view({ selected, round, on: null, refusal: null });
    toSheet();
  };
  const chart = createChart({ ...shared, tables: tables("us"), day: () => day, moment, lanes, player: $("player"), choose }, $("chart-body"));
  /** What changes the day's blocks and parts: { putOff, days }. */
  async function bringEditing() {
    const { createEditing } = await soon();
    return (editing ??= createEditing({ ...shared, attempt, kinds, lanes, controls, toSheet, first: first.state }));
  }
  createPlayer({ store, axisOf }, $("player"));
  connect(examples);
  createUndo(shared, document);

  let problem = null;
  const now = store.day;
  try {
    take(...compute(now), now);
  } catch (error) {
    if (isTrap(error)) wasm = await again();
    good ??= { ...now, scenario: now.baseline };
    take(...compute(good), good);
    problem = problemOf(error, true);
  }
  const result = resultOf(store.state.units);
  if (lost) problem ??= { title: "Not all of the day kept in this browser could be opened.", text: lost.text, stale: false, actions: [["Save it as a file", "saveLost"], ["Close", "dismiss"]] };
  if (missing) problem ??= { title: "The day cannot be shown in °C yet.", text: missing.message, stale: false, actions: [["Close", "dismiss"]] };
  showing(() => {
    store.set({ result, problem, view: { ...store.state.view, cursor_s: firstMoment(result.summary) } });
    // All at once, so that nothing moves a moment later; another day will follow a link.
    if (!ahead) shared.seen.now();
  });
  shown = { state: store.state, good };
  await openAddress();
  performance.mark("day shown"); // for the bench: what is asked for later is not of the first view
  const later = await showLater({ ...shared, chart, bringEditing });
  sheet = later?.sheet ?? null;
  readings = later?.readings ?? null;
  shared.seen.now();
  keepOffline();
  $("version").textContent = wasm.version();
}

/** Nothing of the page waits for this, and nothing is lost without it. */
async function keepOffline() {
  try {
    const { createOffline } = await import("./offline.js");
    await createOffline(document);
  } catch (error) {
    console.warn(error);
  }
}

/** What makes links, made once. */
async function createSharing() {
  let createShare;
  try {
    ({ createShare } = await asked(sharing));
  } catch (error) {
    missed_ms = performance.now();
    // The part that it would have filled.
    if (!share && $("put-on-page")?.open) setText($("put-on-page-body"), error.message);
    throw error;
  }
  share ??= createShare({
    store,
    good: () => good,
    wrote(hash) {
      link = hash;
      keepWork();
    },
    since: { ...(shown ?? { state: store.state, good }), held },
    tables: tables("us"),
  }, document);
  return share;
}

/** Where it could not be loaded it is asked for again by an edit, so that the address follows the day; not by every move of a slider. */
function shareAgain() {
  if (share || missed_ms === null || performance.now() - missed_ms < SHARE_AGAIN_MS) return;
  missed_ms = performance.now();
  createSharing().catch(() => {});
}

/** Kept work gets its address back. */
function toAddress() {
  if (link && !isLink(location.hash)) share.write();
}

/** Asks for what the files of later import, by the list that the build made: a browser would see these file by file. */
function preloadLater() {
  const names = document.querySelector('meta[name="later"]')?.content.split(" ") ?? [];
  document.head.append(...names.map((href) => element("link", { rel: "modulepreload", href })));
}

/**
 * What lies below the first screen; without it the day can be seen and its blocks dragged all the same. Gives { sheet,
 * readings }, or null where it could not be loaded.
 */
async function showLater({ bringEditing, ...shared }) {
  const core = {
    ...shared.core,
    kelvin: (text) => wasm.kelvin(text),
    simulate,
    instance: () => wasm,
    renew: reload,
  };
  const save = (extension, type, content) => download(good.scenario, extension, type, content);
  try {
    // All are asked for at once, in this order.
    const made = bringEditing();
    preloadLater();
    const dressed = putOnLateStyles(document);
    words().catch(() => {}); // whoever needs one asks again
    const coming = import("./later.js");
    createSharing().then(toAddress, () => {}); // as for words
    // Parts without their styles are better than none.
    const undressed = dressed.catch((error) => {
      console.error(error);
      $("sheet").after(element("p", { class: "help", text: "The page may look odd: not all of its styles could be loaded. Reload it; your day is kept in this browser." }));
    });
    const [{ putOff, days }, { createLater }] = await Promise.all([made, coming, undressed]);
    return createLater({ ...shared, putOff, days, core, day: () => day, good: () => good, moment, attempt, openExample, openTest, download: save, saveAs: (name, extension, type, content) => download({ name }, extension, type, content) }, document);
  } catch (error) {
    if (isTrap(error)) throw error;
    console.error(error);
    const text = "This part could not be loaded. Reload the page; your day is kept in this browser.";
    const places = ["sheet", "launch-more", "table", "heat-body", "cutaway-body", "ledger-body", "timeline-body", "what-if"];
    for (const id of places) $(id).append(element("p", { class: "help", text }));
    for (const id of ["fluid-life", "air-text"]) setText($(id), text);
    return null;
  }
}

/**
 * A link in the address goes before the kept work, unless it is what this browser wrote itself: then the work with
 * its history is at least as new, and the link only says how it was seen.
 */
async function openAddress() {
  const { hash } = location;
  if (!isLink(hash)) return;
  if (hash !== link) {
    await openLink(hash);
    return;
  }
  try {
    const { readLink } = await sharing();
    store.view(viewIn((await readLink(hash)).view));
  } catch {
    // It was written by this page; without it the view is the usual one.
  }
}

// On their way while the core is; who needs them hears of a failure.
if (isLink(location.hash)) sharing().catch(() => {});
if (isLink(location.hash) && location.hash !== keptLink()) ahead = Promise.allSettled([sharing(), soon(), longerWords()]);
if (keptUnits() === "si") soon().catch(() => {});
// Instead of the answer that the page came with (see `first.js`).
if (document.documentElement.classList.contains("other")) setText($("opening"), ahead ? "Opening the link…" : "Opening your day…");
try {
  await start();
} catch (error) {
  document.body.classList.remove("loading");
  document.body.classList.add("failed");
  setText($("finding"), "The page could not start.");
  setText($("advice"), "");
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
