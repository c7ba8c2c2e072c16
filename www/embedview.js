// A view of one day to stand in a page of somebody else: wires address, store, what is shown and what is said.
//
// It keeps nothing, neither storage nor cookies, and asks for nothing but its own files. The day is the link in the
// hash, else an example. Changes by the reader and by the page around are gathered until the next frame: one solve
// each, and what the page around sets holds wholly or not at all.
import { again, complete, firstCore, isAbsent, isTrap } from "./core.js";
import { element, setText } from "./element.js";
import { controlsOf, exampleOf, readAddress } from "./embedaddress.js";
import { createLook } from "./embedlook.js";
import { createShow } from "./embedshow.js";
import { createTalk, followHeight, Refusal } from "./embedtalk.js";
import { told } from "./embedtold.js";
import { sameScenario, textOf } from "./history.js";
import { linkOf, readLink } from "./link.js";
import { fieldOfError, placeWords } from "./places.js";
import { afterPress } from "./press.js";
import { shown } from "./quantity.js";
import { rest } from "./rest.js";
import { createSliders } from "./sliders.js";
import { createStore } from "./state.js";
import { createWays } from "./ways.js";

const $ = (id) => document.getElementById(id);
const UNSEEN_MS = 100;
const NOT_LOADED = "a part of the program could not be loaded";
const NO_READINGS = { start: "", rows: [] };
const VIEW = { range: null, axis: "room", hidden: ["gear_train", "engine"], cursor_s: 0, launch: 0 };

complete(rest);
const asked = readAddress(location.search);
let wasm;
let examples;
let tables;
let store;
let ways;
let day = null; // the core's, of `good`
let good = null; // the scenario of the last good result
let refused = null; // the newest scenario that could not be computed
let requests = []; // of the page around, since the last frame
let answered = []; // ids whose state is still to be told
let turn = 0; // of what is told; one overtaken by a newer is not
let reported = 0; // the newest turn that was told
let opening = 0; // of the address's day; the newest counts
let isWhole = false; // whether all of the core is there, without which nothing is done for the page around
let bringing = null; // a promise of the rest of it
let lacking = false; // the address's day could not be opened without
let held = 0; // while a day is opened or the core is loaded anew all else waits
let renewing = null; // a promise of the fresh core
let tellHeight;

const talk = createTalk({
  origin: asked.origin,
  obey(request) {
    requests.push(request);
    schedule();
  },
});

const isObject = (value) => value !== null && typeof value === "object" && !Array.isArray(value);
/** What the page around is told of an error: of a fault in the core what it means here. */
const toldOf = (error) => (isTrap(error) ? new Refusal("view", "stopped", "the computation stopped, a fault of the program", "Send other values; the last good day is shown.") : error);
const restate = (path, text, units) => wasm.restate(path, text, units);
const resultOf = (units) => ({ summary: day.summary(units), values: day.setup(units) });

let undue = null; // calls off what is due
function schedule() {
  if (undue || !store) return;
  // No frame comes where nothing is painted: a tab behind, a view out of sight. There a timer does it.
  const frame = requestAnimationFrame(act);
  const timer = setTimeout(act, UNSEEN_MS);
  undue = () => {
    cancelAnimationFrame(frame);
    clearTimeout(timer);
    undue = null;
  };
}

function act() {
  undue();
  if (held > 0) return;
  // The reader's own first: what the page around asks for does not fail by it.
  const { scenario } = store.state;
  if (scenario && scenario !== good && scenario !== refused) solve(scenario);
  if (held > 0 || requests.length === 0) return;
  if (isWhole) answer(requests.splice(0));
  else bringRest();
}

/** Does something during which nothing else is computed; what is asked for meanwhile is done then. */
async function hold(doing) {
  held += 1;
  try {
    await doing();
  } finally {
    held -= 1;
    schedule();
  }
}

/** Computes a scenario and takes it for the day that is shown; throws what the core throws and changes nothing then. */
function compute(scenario) {
  const next = wasm.Day.simulate(textOf(scenario));
  day?.free();
  [day, good, refused] = [next, scenario, null];
}

function solve(scenario) {
  try {
    compute(scenario);
  } catch (error) {
    failed(error, scenario);
    return;
  }
  store.set({ result: resultOf(store.state.units), problem: null });
  report();
}

/** Says what the core refused of the reader's own change; what was shown stays. */
function failed(error, scenario) {
  refused = scenario;
  afterPress(() => {
    // The press may have been on what takes the change back.
    if (store.state.scenario === scenario && refused === scenario) store.set({ problem: { error, scenario } });
  });
  talk.refuse(toldOf(error));
  if (isTrap(error)) renew(error);
}

/** Brings what of the core the reader's changes do not need, and the page around may: what that asks for waits, or is refused. */
function bringRest() {
  bringing ??= wasm.more().then(() => {
    isWhole = true;
    if (lacking) hold(() => open());
  }, (error) => {
    console.warn(error);
    talk.refuse(new Refusal("view", "not loaded", NOT_LOADED, "Send it again in a moment."), requests.splice(0).map(({ id }) => id));
  }).finally(() => {
    bringing = null;
    schedule();
  });
}

/** After a panic: a fresh core and in it the last good day. What brought the panic about is not tried again; what was absent is there now. */
function renew(error) {
  day = null;
  renewing = hold(async () => {
    try {
      wasm = await again();
      isWhole = true;
      if (!good) return;
      const culprit = isAbsent(error) ? null : refused;
      compute(good);
      refused = culprit;
      store.set({ result: resultOf(store.state.units) });
      if (answered.length > 0) report();
    } catch (cause) {
      // Such as no connection: the next change traps in the old core and tries anew.
      console.error(cause);
    }
  });
}

/** Does what the page around asked for in one frame. */
function answer(batch) {
  const { state } = store;
  const [count, shown] = [answered.length, good];
  const before = { scenario: state.problem || state.scenario === refused ? good : state.scenario, baseline: state.baseline, source: state.source, units: state.units };
  const now = doneAll(batch, before);
  if (answered.length === count) return;
  const isSameDay = now.scenario === before.scenario && now.baseline === before.baseline;
  if (isSameDay && good === shown && now.units === state.units) {
    // Nothing is changed, so nothing is told anew but the answer: who sets on every result ends here. Where a change
    // is still to be told, that answers this, too.
    if (reported === turn) tellState(true);
    return;
  }
  // A number of the reader's that could not be computed stands on where the page around does not touch the day.
  if (!isSameDay) refused = null;
  store.set({ units: now.units, ...(isSameDay ? {} : { ...now, problem: null }), ...(day ? { result: resultOf(now.units) } : {}) });
  document.body.classList.remove("without");
  report();
}

/**
 * What holds after requests, { scenario, baseline, source, units }, from the same on. Where all together cannot be
 * computed each half is tried by itself, so that none fails by the fault of another.
 */
function doneAll(batch, before) {
  if (held > 0) {
    // The core was lost on the way here.
    requests.unshift(...batch);
    return before;
  }
  let now = before;
  const understood = [];
  for (const request of batch) {
    try {
      now = changedBy(request, now);
      understood.push(request);
    } catch (error) {
      talk.refuse(error, [request.id]);
      if (!(error instanceof Refusal)) console.error(error);
    }
  }
  if (understood.length === 0) return before;
  try {
    if (!day || !good || !sameScenario(now.scenario, good)) compute(now.scenario);
    else now = { ...now, scenario: good };
  } catch (error) {
    const half = understood.length >> 1;
    if (half > 0 && !isTrap(error)) return doneAll(understood.slice(half), doneAll(understood.slice(0, half), before));
    talk.refuse(toldOf(error), understood.map(({ id }) => id));
    if (isTrap(error)) renew(error);
    return before;
  }
  answered.push(...understood.map(({ id }) => id));
  return now;
}

/** A day { scenario, baseline, source, units } as a request has it; throws a `Refusal`. */
function changedBy({ type, parameters, scenario, units }, now) {
  if (!now.scenario && !scenario) throw new Refusal(type, "no day", "the view shows no day", "Set a scenario first.");
  if (type === "reset") return { ...now, scenario: now.baseline };
  const next = { ...now, ...(scenario ? { scenario, baseline: scenario, source: null } : {}), units: units ?? now.units };
  const stated = Object.entries(parameters ?? {});
  if (stated.length === 0) return next;
  const copy = structuredClone(next.scenario);
  for (const [path, value] of stated) {
    const row = tables.us.parameters.find(({ part, key }) => `${part}.${key}` === path);
    const refuse = (limit, remedy) => {
      throw new Refusal(`parameters.${path.slice(0, 60)}`, String(value), limit, remedy);
    };
    if (!row) refuse("no parameter has this name", "docs/parameters.md lists all.");
    if (value !== null && !restate(path, String(value), "us")) {
      refuse(row.unit ? "not understood as a quantity with its unit" : "not understood as a number", `Send a text such as "${`${shown(row.default)} ${row.unit}`.trim()}".`);
    }
    for (const [name, part] of [["setup", copy.setup], [`setup.${row.part}`, copy.setup?.[row.part]]]) {
      if (part !== undefined && !isObject(part)) refuse(`the scenario’s ${name} is no object`, "Correct the scenario.");
    }
    ways.stateParameter(copy, row.part, row.key, value ?? undefined);
  }
  return { ...next, scenario: copy };
}

/** Link to the full page and, to whom it may concern, state and result of what was computed last. */
async function report() {
  turn += 1;
  const mine = turn;
  const { scenario, source, units } = { ...store.state, scenario: good };
  // Without the core there is nothing to tell: once there is, that is done.
  if (!scenario || !day) return;
  const hash = await linkOf({ scenario, source, units, view: VIEW });
  if (mine !== turn || !day) return;
  reported = mine;
  $("full").href = new URL(`./${hash}`, document.baseURI.split(/[?#]/)[0]).href;
  tellState(false, hash);
  // Also where it is not seen yet: it is as tall as it will be before it is scrolled to.
  tellHeight();
}

let lastHash = null;
function tellState(unchanged, hash = lastHash) {
  lastHash = hash;
  const reply_to = answered.splice(0);
  if (!talk.trusted || !good) return;
  const { units, source, baseline } = store.state;
  talk.tell("state", { reply_to, name: store.state.result.summary.name, units, example: source, changed: !sameScenario(good, baseline), scenario: good, hash });
  if (!unchanged) talk.tell("result", { reply_to, ...told(units === "si" ? store.state.result.summary : day.summary("si"), store.state.result.summary) });
}

function notLoaded() {
  lacking = true;
  throw new Refusal("view", "not loaded", NOT_LOADED, "Load the view anew.");
}
/** All of the core, for a day that may be any. */
const whole = () => wasm.more().catch(notLoaded);

/** The day of the address: { scenario, source, units }, or throws why its link cannot be read. */
async function dayOfAddress() {
  if (location.hash.length > 1) {
    const [{ scenario, source, units }] = await Promise.all([readLink(location.hash), whole()]);
    const known = examples.some(({ key }) => key === source);
    return { scenario, source: known ? source : null, units: ["us", "si"].includes(units) ? units : null };
  }
  const example = exampleOf(asked.example, examples, asked.problems);
  // The text of another than the first comes with the longer words.
  if (example.text === undefined) {
    await Promise.all([wasm.words().catch(notLoaded), whole()]);
  }
  const { key, text } = example;
  return { scenario: JSON.parse(text), source: key, units: null };
}

/** Opens the day of the address; where it cannot be opened no numbers are shown that are not its. */
async function open() {
  opening += 1;
  lacking = false;
  const mine = opening;
  try {
    const { scenario, source, units } = await dayOfAddress();
    await renewing;
    if (mine !== opening) return;
    compute(scenario);
    const read = asked.units ?? units ?? store.state.units;
    store.set({ scenario, baseline: scenario, source, units: read, result: resultOf(read), problem: null });
    document.body.classList.remove("without");
    report();
  } catch (error) {
    if (mine !== opening) return;
    const said = "limit" in error ? `${error.field}: ${error.value} — ${error.limit}. ${error.remedy}` : isTrap(error) ? "The computation stopped." : error.message;
    close(isTrap(error));
    $("day").before($("problem"));
    showProblem($("problem"), "The day of this view cannot be opened.", said);
    // What was set of the day before is gone with it.
    talk.refuse("limit" in error ? error : { field: "day", value: location.hash.slice(0, 80), limit: said.replace(/\.$/, ""), remedy: "Copy the link anew from the full page." }, answered.splice(0));
    if (isTrap(error)) renew(error);
  }
}

/** Shows no day: nothing of an earlier one stands beside an address that cannot be opened. */
function close(isLost) {
  if (!isLost) day?.free();
  [day, good, refused] = [null, null, null];
  turn += 1;
  store.set({ scenario: null, baseline: null, source: null, result: null, problem: null });
  document.body.classList.add("without");
  setText($("day-name"), "Heat of a race day");
  $("full").href = new URL("./", document.baseURI.split(/[?#]/)[0]).href;
}

function showProblem(node, title, text, ...actions) {
  node.replaceChildren(element("p", {}, element("strong", { text: title }), ` ${text}`), ...actions);
  node.hidden = false;
}

/** The core's refusal of the reader's change, below its control, so that nothing moves under the finger; else at the top. */
function showRefusal({ problem }) {
  for (const box of document.querySelectorAll("[aria-invalid]")) box.removeAttribute("aria-invalid");
  document.body.classList.toggle("stale", Boolean(problem));
  if (!problem) {
    $("problem").hidden = true;
    return;
  }
  const { error, scenario } = problem;
  const box = "limit" in error ? document.querySelector(`[data-field="${CSS.escape(fieldOfError(scenario, error.field))}"]`) : null;
  const control = box?.closest(".control");
  if (control) control.after($("problem"));
  else $("day").before($("problem"));
  const back = element("button", {
    type: "button", class: "plain", text: "Take the change back",
    on: { click: () => store.set({ scenario: good, problem: null }) },
  });
  if (!("limit" in error)) {
    showProblem($("problem"), "The computation stopped.", "This is a fault of the program, not of your numbers.", back);
    return;
  }
  const words = placeWords(scenario, error.field, tables[store.state.units]);
  showProblem($("problem"), "Not computed; the last good day is shown.", `${words}: ${error.value} — ${error.limit}. ${error.remedy}`, back);
  box?.setAttribute("aria-invalid", "true");
}

function createInputs(places) {
  $("units").hidden = asked.locked;
  for (const units of ["us", "si"]) {
    $(`units-${units}`).addEventListener("change", async () => {
      store.set({ units, ...(day ? { result: resultOf(units) } : {}) });
      await renewing;
      report();
    });
  }
  $("controls").hidden = places.length === 0;
  document.body.classList.toggle("open", places.length > 0);
  const sliders = createSliders({ store, restate, tables, ways, words: wasm.words });
  const controls = places.map((place) => sliders.parameter(place));
  $("controls-body").append(...controls.map((control) => control.element));
  $("reset-all").addEventListener("click", () => store.set({ scenario: store.state.baseline, problem: null }));
  $("controls").inert = true;
  store.subscribe((state) => {
    $("controls").inert = !state.scenario;
    if (!state.scenario) return;
    for (const control of controls) control.update(state);
    $(`units-${state.units}`).checked = true;
    $("reset-all").disabled = sameScenario(state.scenario, state.baseline) && document.activeElement !== $("reset-all");
    setText($("invented"), state.source ? "Example data, invented." : "What this day does not state is an invented default.");
  });
}

async function start() {
  wasm = await firstCore(location.hash.length > 1);
  tables = { us: wasm.tables("us"), si: wasm.tables("si") };
  ways = createWays(tables.us);
  const { problems } = asked;
  const places = controlsOf(asked, tables.us, problems);
  store = createStore({ scenario: null, baseline: null, source: null, readings: NO_READINGS, units: asked.units ?? "us", view: VIEW, result: null, problem: null, compared: [] });
  let chart = null;
  const look = createLook(asked, tables.us.nodes, problems, () => chart?.redraw(), document.documentElement);
  document.body.classList.remove("loading");
  chart = createShow({ store, core: { clock: (time_s) => wasm.clock(time_s) }, tables, show: asked.show, day: () => day, isDark: look.isDark }, document);
  createInputs(places);
  store.subscribe((state, changed) => {
    if ("problem" in changed) showRefusal(state);
    if ("scenario" in changed) schedule();
  });
  examples = wasm.examples();
  tellHeight = followHeight($("view"), talk);
  addEventListener("hashchange", () => hold(() => open()));
  talk.tell("ready", { version: wasm.version() });
  await hold(() => open());
  performance.mark("day shown"); // what is asked for later is not of the first view
  if (problems.length > 0) {
    showProblem($("address-problems"), "Not all that the address of this view asks for can be had.", "", element("ul", {}, ...problems.map(({ field, value, limit, remedy }) =>
      element("li", { text: `${field}: ${value} — ${limit}. ${remedy}` }))));
    for (const problem of problems) talk.refuse(problem);
  }
  bringRest();
}

setText($("finding"), "Computing the day…");
try {
  await start();
} catch (error) {
  document.body.classList.add("without");
  showProblem($("problem"), "The view could not start.", String(error?.message ?? error));
  talk.refuse({ field: "view", value: "not started", limit: String(error?.message ?? error), remedy: "Load the page anew." });
  console.error(error);
}
