// Wiring: loads the core, opens a day, hands the result of every change to all parts, and brings what comes after the first view.
import { isLink } from "./address.js";
import { axisOf } from "./axis.js";
import { brought, nextTry } from "./brought.js";
import { createChart } from "./chart.js";
import { createComputed, firstMoment } from "./computed.js";
import { createControls } from "./controls.js";
import { isAbsent, isTrap, words as longerWords } from "./core.js";
import { element, setText } from "./element.js";
import { download, jsonOf } from "./files.js";
import { freshWork } from "./freshwork.js";
import { createHead } from "./head.js";
import { createLanes } from "./lanes.js";
import { putOnLateStyles } from "./latestyles.js";
import { createLinked } from "./linked.js";
import { onDisk } from "./onefile.js";
import { createOpening } from "./opening.js";
import { withPlaceFrom } from "./places.js";
import { createResults } from "./results.js";
import { blockFields } from "./scenario.js";
import { createScrollPlace } from "./scrollplace.js";
import { createSeen } from "./seen.js";
import { createSolving } from "./solving.js";
import { createStages } from "./stages.js";
import { createStore } from "./state.js";
import { forget, isAnythingKept, keep, keptLink, keptUnits } from "./storage.js";
import { createUndo } from "./undo.js";

// How long a day is not shown because a link is about to open another.
const LINK_WAIT_MS = 3_000;
// What is waited for longer than this is said.
const SAY_MS = 300;
const LOADING = "Loading…";
const NOT_LOADED = "What is needed for it could not be loaded.";
const TRY_AGAIN = "Try again in a moment, or reload the page: your day is kept in this browser.";

const $ = (id) => document.getElementById(id);
document.documentElement.dataset.begun = ""; // for `first.js`
let computed = null;

// Asked for after the first view, or when it is needed before: what reads and makes links, and what changes the day's blocks,
// with the rest of the tables.
const sharing = brought((tail) => import(`./share.js${tail}`));
const soon = brought((tail) => import(`./soon.js${tail}`));

/** What `load` brings, or an error whose message is for people. */
async function asked(load) {
  try {
    return await load();
  } catch (error) {
    console.warn(error);
    throw new Error(`${NOT_LOADED} ${nextTry(error, TRY_AGAIN)}`);
  }
}

/** Does something, and says meanwhile that it is on its way where it takes longer than a moment. */
async function waited(act) {
  const node = $("elsewhere");
  const before = node.textContent === LOADING ? "" : node.textContent;
  const saying = setTimeout(() => setText(node, LOADING), SAY_MS);
  try {
    return await act();
  } finally {
    clearTimeout(saying);
    if (node.textContent === LOADING) setText(node, before);
  }
}

/** The pass that is shown is that of the cursor's round. */
function followLaunch(store, { result, view: { cursor_s, launch } }) {
  if (!result) return;
  const { events, launches } = result.summary;
  const round = events.find(({ start_s: start, end_s: end }) => cursor_s >= start && cursor_s < end)?.round ?? null;
  const to = round === null
    ? launches.findIndex(({ time_s: time }) => Math.abs(time - cursor_s) < 1e-6)
    : launches.findIndex((one) => one.round === round);
  if (to >= 0 && to !== launch) store.view({ launch: to });
}

/** What the buttons of a message do; `lost` is a kept day that cannot be opened, with what can be done about it. */
function actionsOf({ store, solving, opening, lost }) {
  return {
    /** Takes back what is wrong and nothing else where it can be told, else all since the last good day. */
    takeBack() {
      const { scenario, baseline, problem } = store.state;
      const good = computed.good();
      const from = good.baseline === baseline ? good.scenario : baseline;
      const mended = problem?.field ? withPlaceFrom(scenario, from, problem.field, computed.tables("us")) : null;
      const note = mended ? "The change that could not be computed is taken back." : "Every change since the last computed day is taken back.";
      store.replace(mended ? { scenario: mended } : good, { label: "Change taken back", note });
      // An entry that changed nothing leaves the problem to be computed again.
      solving.schedule();
    },
    startOver: () => opening.openExample(store.state.source ?? computed.examples()[0].key, undefined, { label: "Start over", note: "Started over with the example." }),
    /** Closes a message; what keeps the newest scenario from being computed is then said again. */
    dismiss() {
      store.set({ problem: null });
      if (store.state.scenario !== computed.good().scenario) solving.schedule();
    },
    ...lost?.acts,
  };
}

/**
 * Other example days, °F and °C, files, and what follows the store. `editing()` says whether the second system of units is there.
 * Gives what opens files, one at a time.
 */
function connect({ store, solving, opening, linked, actions, keepWork, editing, readings }) {
  const examples = computed.examples();
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
    waited(() => opening.openExample(key, undefined, { label: `Open ${name}`, note: `Opened ${name}.` }, `${name} cannot be opened; your day is unchanged.`));
  });

  for (const units of ["us", "si"]) {
    $(`units-${units}`).addEventListener("change", async () => {
      try {
        if (units === "si" && !editing()) await waited(() => asked(soon));
      } catch (error) {
        $(`units-${store.state.units}`).checked = true;
        solving.refuse("The day cannot be shown in these units yet.", error);
        return;
      }
      // Meanwhile the other may have been chosen.
      if (!$(`units-${units}`).checked) return;
      solving.showing(() => store.set(computed.day() ? { units, result: computed.result(units) } : { units }));
      $(`units-${store.state.units}`).checked = true;
    });
  }

  function openFile(file) {
    if (!/\.(csv|tsv|txt)$/i.test(file.name)) return opening.openFile(file);
    if (readings()) return readings().open(file);
    return solving.refuse(`${file.name} cannot be opened yet; your day is unchanged.`, { message: `${NOT_LOADED} ${TRY_AGAIN}` });
  }
  function openFiles(files) {
    if (files.length === 1) waited(() => openFile(files[0]));
    else if (files.length > 1) solving.refuse(`${files.length} files cannot be opened at once; your day is unchanged.`, { message: "Drop one scenario file." });
  }
  $("open").addEventListener("click", () => $("file").click());
  $("file").addEventListener("change", () => {
    openFiles([...$("file").files]);
    $("file").value = ""; // so that the same can be chosen again
  });
  $("save").addEventListener("click", () => download(store.state.scenario, "json", "application/json", jsonOf(store.state.scenario)));
  $("start-over").addEventListener("click", actions.startOver);
  $("share-link").hidden = typeof navigator.share !== "function" || onDisk();
  addEventListener("hashchange", () => {
    const { hash } = location;
    if (isLink(hash) && hash !== linked.link()) opening.openLink(hash);
  });

  store.subscribe((state, changed) => {
    if ("units" in changed || "source" in changed) show(state);
    followLaunch(store, state);
    if (["scenario", "baseline", "readings", "units"].some((key) => key in changed)) keepWork();
    if ("scenario" in changed || "baseline" in changed) {
      linked.follow();
      if (!("result" in changed)) solving.schedule();
    }
  });
  function show({ units, source }) {
    $(`units-${units}`).checked = true;
    $("invented").hidden = source === null;
    offer(source);
  }
  show(store.state);
  return openFiles;
}

async function start() {
  // The day of a link, and a kept one, may be any. Without the rest many can be shown; where one cannot, that is said.
  const isWanted = Boolean(ahead ?? restoring);
  computed = await createComputed(isWanted);
  // What may be waited for is to be the first that is seen; where its files are slow, what there is stands meanwhile.
  if (isWanted) await Promise.race([Promise.all([ahead, computed.whole().catch(console.warn)]), new Promise((done) => setTimeout(done, LINK_WAIT_MS))]);
  const { tables, restate, exampleOf, isComputable } = computed;
  const { restoreWork = freshWork } = (await restoring) ?? {};
  const first = await restoreWork({ examples: computed.examples(), exampleOf, kinds: tables("us").kinds.map((kind) => kind.key), isComputable });
  computed.remember(first.good);
  // Chosen before anything heard it.
  if ($("units-si").checked) first.state.units = "si";
  let missing = null;
  try {
    // The second system is in the rest of the tables.
    if (first.state.units === "si") await asked(soon);
  } catch (error) {
    missing = error;
    first.state.units = "us";
  }
  const store = createStore(first.state, first.history);

  /** The newest text is kept with what was last computed of the same day. */
  function keepWork() {
    const good = computed.good();
    keep(store.state, good?.baseline === store.state.baseline ? good.scenario : null, linked.link(), store.entries);
  }
  const linked = createLinked({ store, computed, sharing, asked, wrote: first.link, keepWork }, document);
  const solving = createSolving({ store, computed, keepWork }, document);
  const { attempt, put, refuse, renew } = solving;
  const bring = { words: () => asked(words), sharing: () => asked(sharing), soon: () => asked(soon), whole: () => asked(computed.whole) };
  const opening = createOpening({ store, computed, put, refuse, renew, bring, hold: linked.hold });
  const actions = actionsOf({ store, solving, opening, lost: first.lost });

  /** The longer words, which come after the first view; with them come the cars. */
  async function words() {
    const all = await longerWords();
    // A car may be any.
    computed.whole().then(() => head.offer(all.cars), () => {});
    return all;
  }
  let blocks = [];
  let blocksOf = null;
  const fieldOf = (state, [block, event]) => {
    const written = computed.good()?.scenario ?? state.scenario;
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
      clock: (time_s) => computed.instance().clock(time_s),
      kindLabel: (key) => kinds.get(key)?.label,
      temperature: (kelvin, units) => computed.instance().temperature(kelvin, units),
    },
    fieldOf,
    seen: createSeen(store, document, solving.failed, solving.waits),
  };
  const moment = () => computed.moment(store.state);

  document.body.classList.remove("loading");
  createResults({ ...shared, actions }, document);
  const head = createHead(shared, $("setup-body"));
  const controls = createControls({ ...shared, bring: bringEditing }, $("setup-body"), $("parts-body"));
  let later = null;
  createStages(shared, $("stages"));
  const toSheet = () => later?.sheet.focus();
  const lanes = createLanes({ ...shared, axisOf, bring: bringEditing });
  const choose = (selected, round) => {
    store.view({ selected, round, on: null, refusal: null });
    toSheet();
  };
  const chart = createChart({ ...shared, tables: tables("us"), day: computed.day, moment, lanes, player: $("player"), choose }, $("chart-body"));
  let editing = null;
  /** What changes the day's blocks and parts: { putOff, days }. */
  async function bringEditing() {
    const [{ createEditing }] = await Promise.all([soon(), computed.whole()]);
    return (editing ??= createEditing({ ...shared, attempt, kinds, lanes, controls, toSheet, first: first.state }));
  }
  const openFiles = connect({ store, solving, opening, linked, actions, keepWork, editing: () => editing, readings: () => later?.readings });
  createUndo(shared, document);

  const problem = await firstDay({ store, solving, lost: first.lost, missing });
  const result = computed.result(store.state.units);
  solving.showing(() => {
    store.set({ result, problem, view: { ...store.state.view, cursor_s: firstMoment(result.summary) } });
    // All at once, so that nothing moves a moment later; another day will follow a link.
    if (!ahead) shared.seen.now();
  });
  linked.begin();
  if (ahead) setText($("elsewhere"), "The day of the link is on its way; meanwhile another one stands here.");
  await linked.openAddress(opening.openLink);
  if (ahead) setText($("elsewhere"), "");
  place.back();
  performance.mark("day shown"); // for the bench: what is asked for later is not of the first view

  const more = {
    core: {
      ...shared.core,
      kelvin: (text) => computed.instance().kelvin(text),
      simulate: computed.simulate,
      instance: computed.instance,
      renew,
    },
    day: computed.day,
    good: computed.good,
    moment,
    attempt,
    openExample: opening.openExample,
    openTest: opening.openTest,
    openFiles,
    download: (extension, type, content) => download(computed.good().scenario, extension, type, content),
    saveAs: (name, extension, type, content) => download({ name }, extension, type, content),
  };
  later = await showLater({ ...shared, chart, ...more }, { bringEditing, words, linked });
  shared.seen.now();
  place.back();
  later?.keepOffline();
  $("version").textContent = computed.instance().version();
}

/** Computes the day that was restored, or the last good one; gives what is wrong with it, or null. */
async function firstDay({ store, solving, lost, missing }) {
  const now = store.day;
  try {
    computed.take(computed.compute(now), now);
  } catch (error) {
    if (isTrap(error)) await computed.renew();
    if (isAbsent(error)) return firstDay({ store, solving, lost, missing });
    const good = computed.good() ?? { ...now, scenario: now.baseline };
    computed.take(computed.compute(good), good);
    return solving.problem(error, true);
  }
  if (lost) return lost.problem;
  if (missing) return { title: "The day cannot be shown in °C yet.", text: missing.message, stale: false, actions: [["Close", "dismiss"]] };
  return null;
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
async function showLater(shared, { bringEditing, words, linked }) {
  try {
    // All are asked for at once, in this order.
    const made = bringEditing();
    preloadLater();
    const dressed = putOnLateStyles(document);
    words().catch(() => {}); // whoever needs one asks again
    const coming = import("./later.js");
    linked.bring();
    // Parts without their styles are better than none.
    const undressed = dressed.catch((error) => {
      console.error(error);
      $("sheet").after(element("p", { class: "help", text: "The page may look odd: not all of its styles could be loaded. Reload it; your day is kept in this browser." }));
    });
    const [{ putOff, days }, { createLater }] = await Promise.all([made, coming, undressed]);
    return createLater({ ...shared, putOff, days }, document);
  } catch (error) {
    if (isTrap(error)) throw error;
    console.error(error);
    // Without `drop.js` a file is opened all the same.
    addEventListener("drop", ({ dataTransfer }) => shared.openFiles(dataTransfer?.files ?? []));
    shared.openFiles(document.documentElement.dropped ?? []);
    const text = "This part could not be loaded. Reload the page; your day is kept in this browser.";
    const places = ["player", "sheet", "launch-more", "table", "heat-body", "cutaway-body", "ledger-body", "timeline-body", "what-if"];
    for (const id of places) $(id).append(element("p", { class: "help", text }));
    for (const id of ["fluid-life", "air-text"]) setText($(id), text);
    return null;
  }
}

/** Says why there is no page, and what can be done; the answer that the page came with stays, where it is not another day's. */
function couldNotStart(error) {
  document.body.classList.remove("loading");
  document.body.classList.add("failed");
  setText($("opening"), "Your day is not shown.");
  setText($("problem-title"), "The page could not start.");
  const said = error?.missing ? "A file of it could not be loaded." : String(error?.message ?? error).replace(/[^.!?]$/, "$&.");
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
  // Where a file did not come it is not the kept day that is at fault, and nothing is gained by losing it.
  const isKeptAtFault = computed && !error?.missing;
  setText($("problem-text"), isKeptAtFault
    ? `${said} Reload the page. If that does not help, start over: the day kept in this browser is then forgotten and the example opens.`
    : `${said} Reload the page; the day kept in this browser stays.`);
  $("problem-actions").replaceChildren(reload, ...(isKeptAtFault ? [startOver] : []));
  $("problem").hidden = false;
  console.error(error);
}

const place = createScrollPlace(document);
const restoring = isAnythingKept() ? import("./restore.js") : null;
restoring?.catch((error) => (error.missing = true)); // said by `start`
let ahead = null; // what a link in the address needs, on its way
// On their way while the core is; who needs them hears of a failure.
if (isLink(location.hash)) sharing().catch(() => {});
if (isLink(location.hash) && location.hash !== keptLink()) ahead = Promise.allSettled([sharing(), soon(), longerWords()]);
if (keptUnits() === "si") soon().catch(() => {});
// Seen instead of the answer that the page came with (see `first.js`).
if (ahead) setText($("opening"), "Opening the link…");
try {
  await start();
} catch (error) {
  couldNotStart(error);
}
