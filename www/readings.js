// The section "Readings and fit": readings typed with a stopwatch or taken from a table, and the set-up fitted to them.
//
// What is typed is kept in the store, so that it is undone, kept over a reload and part of a link. What thermometers and
// the model make of it is said by the core in a worker, which is loaded when the section is first opened.
import { element, setText } from "./element.js";
import { createFitPanel } from "./fitpanel.js";
import { textOf } from "./history.js";
import { createJob } from "./job.js";
import { createReadingCheck } from "./readingcheck.js";
import { createReadingForm } from "./readingform.js";
import { createReadingList } from "./readinglist.js";
import { bare } from "./readingrows.js";
import { createReadingTable } from "./readingtable.js";
import { tableOfReadings } from "./readingtext.js";

/** `openExample(key, readings, entry)` opens an example day with readings; `download(extension, type, text)` saves. */
export function createReadings({ store, core, attempt, openExample, download }, root) {
  const calibration = element("div", { class: "kept", id: "calibration-note", hidden: true });
  const body = element("div", { class: "readings-body" });
  const parts = element("details", { class: "part", id: "readings-part", on: { toggle: () => parts.open && make() } },
    element("summary", {}, element("span", { text: "Take readings, fit the set-up" }), element("span", { class: "count", id: "readings-count" })), body);
  root.append(
    element("h2", { id: "readings-title", text: "Readings and fit" }),
    element("p", { class: "help", text: "Type what a gauge or an infrared thermometer showed, on the bench or in the car: the set-up is fitted to your unit, and you see how well." }),
    calibration, parts,
  );
  let made = null; // once the words have come
  let asked = false;

  function make() {
    if (asked) return;
    asked = true;
    const status = element("p", { class: "help", role: "status", text: "Loading…" });
    body.replaceChildren(status);
    createJob().start({ kind: "words" }, {
      progress: () => {},
      finish: (words) => {
        status.remove();
        made = create(words);
        made.show(store.state, store.state);
        for (const resolve of waiting.splice(0)) resolve();
      },
      fail: (message) => {
        asked = false;
        setText(status, `This part could not be loaded: ${message} Close and open it again.`);
      },
    });
  }
  const waiting = [];

  function create(words) {
    const check = createReadingCheck();
    let checked = null;
    const unit = () => store.state.result?.summary.temperature_unit ?? "°F";
    const inUnits = (text) => core.restate("temperature", String(text), store.state.units);
    const number = (text) => { const one = inUnits(text); return one ? String(Number(one.value.toFixed(2))) : String(text); };

    function put(change, label, note = null) {
      const { readings } = store.state;
      store.replace({ readings: { ...readings, ...change(readings) } }, { label, note });
    }
    const replaceRow = (at, row) => (readings) => ({ rows: readings.rows.map((one, place) => (place === at ? row(one) : one)) });
    const leaveOut = (at, out) => put(replaceRow(at, ({ out: was, ...row }) => (out ? { ...row, out: true } : row)), out ? "Reading left out" : "Reading taken in");

    const form = createReadingForm({
      words, unit, look: () => look(),
      save(reading, at, said) {
        check.look({ kind: "check", rows: [reading], start: store.state.readings.start, day: textOf(store.state.scenario), units: store.state.units }, (answer, message) => {
          const error = answer ? answer.rows[0].error : { key: "", value: "The reading", limit: message, remedy: "Try again." };
          if (!error) put(at === null ? ({ rows }) => ({ rows: [...rows, reading] }) : replaceRow(at, ({ out }) => (out ? { ...reading, out } : reading)), at === null ? "Reading" : "Reading changed");
          said(error);
          look();
        });
      },
    });
    const list = createReadingList({
      edit: (at) => form.edit(store.state.readings.rows[at], at, number),
      remove(at) {
        form.forget();
        put(({ rows }) => ({ rows: rows.filter((row, place) => place !== at) }), "Reading deleted");
      },
      leaveOut,
    });
    const table = createReadingTable({
      units: () => store.state.units,
      take: (rows, all) => put((readings) => ({ rows: all ? rows : [...readings.rows, ...rows].slice(0, 500) }), `${rows.length} readings`),
    });

    const start = element("select", { id: "readings-start", on: { change: () => put(() => ({ start: start.value }), "Start of the stopwatch") } });
    const startSays = element("p", { class: "field-error" });
    const save = element("button", { type: "button", class: "plain", id: "readings-save", text: "Save the readings (CSV)", on: { click: () =>
      download("readings.csv", "text/csv", tableOfReadings(store.state.readings.rows.map(bare), unit(), number)) } });
    const clear = element("button", { type: "button", class: "plain", id: "readings-clear", text: "Delete all readings", on: { click: () => put(() => ({ rows: [] }), "All readings deleted", "All readings are deleted.") } });
    const example = element("button", { type: "button", class: "plain", id: "readings-example", text: "Try it with invented readings", on: { click: () => tryExample() } });
    const fitBody = element("div", { class: "readings-fit" });
    body.append(
      element("div", { class: "moves" }, example),
      element("h3", { text: "Take a reading" }),
      element("div", { class: "field" }, element("label", { class: "field-name", for: start.id, text: "The stopwatch starts with" }), start, startSays),
      form.element,
      element("h3", { text: "Readings" }),
      list.element,
      element("div", { class: "moves" }, save, clear),
      element("details", { class: "part", id: "readings-table" }, element("summary", {}, element("span", { text: "Paste or open a table" })), table.element),
      element("h3", { text: "Fit" }),
      fitBody,
    );
    createFitPanel({ store, attempt, parameters: words.parameters, leaveOut }, fitBody);

    function tryExample() {
      const key = "dyno_bench_session";
      check.look({ kind: "table", text: words.example, units: store.state.units }, (answer) => {
        if (!answer) return;
        openExample(key, { start: "0 s", rows: answer.rows.flatMap(({ reading }) => (reading ? [reading] : [])) },
          { label: "Invented readings", note: "Opened the bench session with invented readings. Undo brings your day and readings back." });
      });
    }

    let turn = 0;
    /** Asks the core about every row and the one being typed. */
    function look() {
      const { readings, scenario, units } = store.state;
      const draft = form.reading();
      turn += 1;
      const mine = turn;
      if (!draft) form.say(null);
      check.look({ kind: "check", rows: [...readings.rows.map(bare), ...(draft ? [draft] : [])], start: readings.start, day: textOf(scenario), units }, (answer) => {
        if (mine !== turn || !answer) return;
        checked = answer.rows;
        setText(startSays, answer.start ? `${answer.start.value}: ${answer.start.limit}. ${answer.start.remedy}` : "");
        form.say(draft ? checked[readings.rows.length] : null);
        list.show(readings.rows, checked, (text) => inUnits(text)?.text ?? String(text));
      });
    }

    let listed = "";
    function showStart({ readings, result }) {
      if (!result) return;
      const options = [["0 s", "the start of the day"], ...result.summary.events.filter(({ start_s: s }) => s > 0).map((event) => [`${Number(event.start_s.toFixed(1))} s`, `${event.start_clock} ${event.label}`])];
      if (!options.some(([value]) => value === readings.start)) options.push([readings.start, `${readings.start} into the day`]);
      const text = JSON.stringify(options);
      if (text !== listed) start.replaceChildren(...options.map(([value, label]) => element("option", { value, text: label })));
      listed = text;
      start.value = readings.start;
    }

    return {
      table,
      show(state, changed) {
        showStart(state);
        save.hidden = clear.hidden = state.readings.rows.length === 0;
        if (!["readings", "units", "scenario"].some((key) => key in changed)) return;
        if ("readings" in changed) {
          checked = null;
          list.show(state.readings.rows, null, (text) => inUnits(text)?.text ?? String(text));
        }
        if ("units" in changed) form.units();
        look();
      },
    };
  }

  let calibrationOf = null;
  function showCalibration({ scenario }) {
    if (scenario.calibration === calibrationOf) return;
    calibrationOf = scenario.calibration;
    calibration.hidden = !scenario.calibration;
    if (!scenario.calibration) return;
    const note = scenario.calibration.note || "Fitted to readings";
    const many = Object.keys(scenario.calibration.parameters ?? {}).length;
    calibration.replaceChildren(
      element("p", { text: `${note}. ${many} numbers of this set-up come from the fit; bands use what it knows of them.` }),
      element("button", { type: "button", class: "plain", id: "calibration-remove", text: "Forget the fit", on: { click: () =>
        attempt((day) => delete day.calibration, null, "Fit forgotten", () => null, "The fit is forgotten: its numbers stay, and bands doubt them as the table does.") } }));
  }

  const count = root.querySelector("#readings-count");
  store.subscribe((state, changed) => {
    if ("readings" in changed) {
      const many = state.readings.rows.length;
      setText(count, many > 0 ? String(many) : "");
    }
    if ("scenario" in changed) showCalibration(state);
    made?.show(state, changed);
  });
  if (store.state.readings.rows.length > 0) parts.open = true;

  return {
    /** A table that was dropped on the page: shown, not taken over. */
    async open(file) {
      parts.open = true;
      make();
      if (!made) await new Promise((resolve) => waiting.push(resolve));
      const node = body.querySelector("#readings-table");
      node.open = true;
      await made.table.open(file);
      node.scrollIntoView({ block: "start" });
    },
  };
}
