// The bench sheet: what is written down of a test, its readings held against what is expected of the unit, and one page for
// the customer.
//
// The readings are those of the page; who, what, steps and pressures are kept here, over a reload, and saved with the day
// as a file. Judged by a button, in a worker. What was judged is marked as old when anything of it changes.
import { createBenchAnswer } from "./benchanswer.js";
import { createBenchForm, emptyBench } from "./benchform.js";
import { element, setText } from "./element.js";
import { textOf } from "./history.js";
import { createJob } from "./job.js";
import { bare } from "./readingrows.js";

const KEY = "stallheat.bench.1";
const MOST_BYTES = 3_000_000;
const [BEGIN, TAKE_BACK] = ["Begin a new one", "Take the old one back"];

function keptHere() {
  try {
    const kept = JSON.parse(localStorage.getItem(KEY));
    return kept && typeof kept === "object" ? { ...emptyBench(), ...kept } : emptyBench();
  } catch {
    return emptyBench();
  }
}

/**
 * `openTest(scenario, readings, note)` puts a test's day on the page, `saveAs(name, extension, type, text)` saves a file. What
 * is folded away is made when it is opened for the first time.
 */
export function createBenchSheet(shared, section) {
  const body = element("div", { class: "bench-body" });
  const part = element("details", { class: "part", id: "bench-part", on: { toggle: () => {
    if (!part.open || body.childElementCount > 0) return;
    document.head.append(element("link", { rel: "stylesheet", href: new URL("./benchsheet.css", import.meta.url).href }));
    createBody(shared, body);
  } } }, element("summary", {}, element("span", { text: "A test record of the unit for the customer" })), body);
  section.append(element("h2", { id: "bench-title", text: "Bench sheet" }), part);
}

function createBody({ store, openTest, saveAs }, root) {
  let bench = keptHere();
  let judged = null; // { us, si, light, dark, sheet, key }
  const job = createJob();

  const says = element("p", { class: "what-if-says", id: "bench-says", role: "status" });
  const progress = element("progress", { hidden: true, "aria-label": "Being judged" });
  const go = element("button", { type: "button", class: "plain", id: "bench-go", text: "Hold against what is expected", on: { click: () => run() } });
  const print = element("button", { type: "button", class: "plain", id: "bench-print", text: "Print the sheet", disabled: true, on: { click: () => printed() } });
  const save = element("button", { type: "button", class: "plain", id: "bench-save", text: "Save the record", on: { click: () => saved() } });
  const file = element("input", { type: "file", accept: ".json,application/json", hidden: true, id: "bench-file", "aria-label": "Record of a bench test", on: { change: () => opened() } });
  const openIt = element("button", { type: "button", class: "plain", id: "bench-open", text: "Open a record", on: { click: () => file.click() } });
  const clear = element("button", { type: "button", class: "plain", id: "bench-new", text: BEGIN, on: { click: () => begun() } });
  const out = element("div", { class: "bench-answer" });
  const answer = createBenchAnswer(out);
  const form = createBenchForm({ changed: (next) => keep(next) });
  const inUse = element("p", { class: "help", id: "bench-readings" });
  let undo = null; // what "Begin a new one", or a file, put away
  let filed = null; // a file's { before, after } with the days before and after it, for undo of the day
  root.append(
    element("p", { class: "help", text: "Who and what, the steps, pressures, and the readings of this page; the day above is the test's timeline, with its times as they were. The sheet supports a technician's judgement and passes or fails no unit." }),
    form.element, inUse,
    element("div", { class: "moves" }, go, progress), says, out,
    element("div", { class: "moves" }, print, save, openIt, file, clear),
  );

  /** The record as its file has it. */
  function record() {
    const { scenario, readings } = store.state;
    const { unit, customer, tested, checks, pressures, remarks } = bench;
    return {
      format: 1,
      record: "bench_test",
      ...(readings?.start && readings.start !== "0 s" ? { start: readings.start } : {}),
      unit, customer, tested, checks,
      pressures: pressures.map((one) => Object.fromEntries(Object.entries(one).filter(([, value]) => value !== ""))),
      // A reading that the fit leaves out was read all the same.
      readings: (readings?.rows ?? []).map(bare),
      remarks,
      scenario,
    };
  }

  const keyOf = () => `${store.state.units} ${textOf(record())}`;

  function keep(next) {
    bench = next;
    try {
      localStorage.setItem(KEY, JSON.stringify(bench));
    } catch {
      // Blocked or full: the page works on.
    }
    show();
  }

  function show() {
    const count = store.state.readings?.rows.length ?? 0;
    setText(inUse, count > 0 ? `With the ${count} temperature ${count === 1 ? "reading" : "readings"} of this page.` : "No temperatures yet: type or paste them in Readings and fit.");
    const old = judged !== null && judged.key !== keyOf();
    out.classList.toggle("old", old);
    progress.hidden = !job.running();
    // What is printed is what stands here, or nothing.
    print.disabled = judged === null || old;
    if (old && !job.running()) setText(says, "Something has changed: hold it against what is expected again.");
  }

  /** Has a record judged; `heard(judged)` or `failed(message)`. */
  function judge(text, heard, failed) {
    const width = Math.round(Math.min(680, Math.max(280, root.clientWidth - 16)));
    job.start({ kind: "bench", record: text, units: store.state.units, width, height: Math.round(Math.max(220, width * 0.4)) }, {
      progress: () => null, finish: (result) => heard(result.judged), fail: failed,
    });
  }

  function put(found, key) {
    judged = { ...found, key };
    const { units } = store.state;
    answer.show(judged, units);
    setText(says, judged[units].headline);
    show();
  }

  function run() {
    const key = keyOf();
    setText(says, "");
    judge(JSON.stringify(record()), (found) => put(found, key), (message) => {
      judged = null;
      answer.show(null);
      setText(says, message);
      show();
    });
    show();
  }

  /** The sheet alone, on paper. */
  function printed() {
    const sheet = new DOMParser().parseFromString(judged.sheet, "text/html").querySelector(".bench-sheet");
    const paper = element("div", { class: "bench-paper" }, document.importNode(sheet, true));
    document.body.append(paper);
    document.body.classList.add("prints-bench");
    addEventListener("afterprint", () => {
      paper.remove();
      document.body.classList.remove("prints-bench");
    }, { once: true });
    window.print();
  }

  function saved() {
    const name = (bench.unit.number || "bench test").replace(/[^\p{L}\p{N}]+/gu, "_").toLowerCase();
    saveAs(name, "json", "application/json", `${JSON.stringify(record(), null, 2)}\n`);
  }

  async function opened() {
    const [chosen] = file.files;
    file.value = "";
    if (!chosen) return;
    try {
      if (chosen.size > MOST_BYTES) throw new Error(`${chosen.name} has ${(chosen.size / 1e6).toFixed(1)} MB: a record has at most 3 MB. Check that this is the right file.`);
      const text = await chosen.text();
      const read = JSON.parse(text);
      if (read?.record !== "bench_test") throw new Error(`${chosen.name} is not the record of a bench test. Days are opened further down, in the file part.`);
      const found = await new Promise((go, no) => judge(text, go, (message) => no(new Error(message))));
      const { scenario, readings = [], start = "0 s", format: _format, record: _record, ...rest } = read;
      const [before, dayBefore] = [bench, textOf(store.state.scenario)];
      openTest(scenario, { start, rows: readings }, `The day and the readings of ${chosen.name} are on the page.`);
      keep({ ...emptyBench(), ...rest });
      undo = before;
      filed = { before, after: bench, dayBefore, dayAfter: textOf(store.state.scenario) };
      setText(clear, TAKE_BACK);
      form.fill(bench);
      put(found, keyOf());
    } catch (error) {
      setText(says, error instanceof SyntaxError ? `${chosen.name} is not JSON: it may be cut short. Save or copy it again.` : error.message);
    }
  }

  function begun() {
    if (undo) {
      [bench, undo] = [undo, null];
    } else {
      undo = bench;
      bench = emptyBench();
    }
    setText(clear, undo ? TAKE_BACK : BEGIN);
    keep(bench);
    form.fill(bench);
  }

  /** Where undo or redo of the day goes back over a file that was opened, its words go with it, unless they were changed since. */
  function follow(day) {
    if (!filed) return;
    const { before, after, dayBefore, dayAfter } = filed;
    const back = textOf(day) === dayBefore && bench === after;
    if (!back && !(textOf(day) === dayAfter && bench === before)) return;
    undo = back ? null : before;
    setText(clear, undo ? TAKE_BACK : BEGIN);
    keep(back ? before : after);
    form.fill(bench);
  }

  // Its words come from the core, once; nothing else may end that.
  createJob().start({ kind: "bench", record: null, units: "us", width: 0, height: 0 }, {
    progress: () => null,
    finish: ({ words }) => {
      form.words(words);
      form.fill(bench);
      show();
    },
    fail: (message) => setText(says, message),
  });
  store.subscribe((state, changed) => {
    if ("scenario" in changed) follow(state.scenario);
    if (["scenario", "readings", "units"].some((key) => key in changed)) show();
  });
  show();
}
