// A family of curves: one parameter of the set-up at five values, everything else as it is. Each curve is drawn over the
// chart under its value, and a table says what it comes to.
//
// The five days run in a worker and again after every change of the day. The ends of the span are kept as they were
// written, in the reader's words.
import { element, freshId, setText } from "./element.js";
import { createJob } from "./job.js";
import { timesOf } from "./overlays.js";
import { shown, written } from "./quantity.js";
import { keyNumbers } from "./keynumbers.js";
import { createWays } from "./ways.js";

const CURVES = 5;
const DASHES = [[1.5, 3], [4, 3], [8, 3], [14, 3], null];
const NODES = ["converter_fluid", "pan_fluid"];
const AGAIN_MS = 300;
// A temperature has no half of itself: so many degrees to both sides, by units.
const DEGREES = { us: 30, si: 15 };

export function createFamily({ store, core, overlays, kept }, root) {
  const ways = createWays(core.tables("us"));
  const looks = core.tables("us").nodes;
  const job = createJob();
  const rows = () => core.tables(store.state.units).parameters;
  const pathOf = ({ part, key }) => `${part}.${key}`;
  const placeOf = (path) => rows().findIndex((row) => pathOf(row) === path);

  const before = kept.get("family");
  const isKnown = before && typeof before === "object" && placeOf(before.path) >= 0 && NODES.includes(before.node);
  // What is asked: { path, node, low, high }, the ends as text with unit; `drawn` while the curves stand.
  const isPlain = (text) => typeof text === "string" || typeof text === "number";
  let asked = isKnown ? { path: before.path, node: before.node, low: before.low ?? null, high: before.high ?? null }
    : { path: "cooler.ua", node: NODES[0], low: null, high: null };
  let drawn = Boolean(isKnown && before.drawn);
  let result = null;
  let ranOf = null; // the day that the curves are of

  const [whatId, nodeId] = [freshId("swept"), freshId("swept")];
  const parts = [...new Set(rows().map((row) => row.part_label))];
  const what = element(
    "select",
    { id: whatId, on: { change: () => ask({ path: what.value, low: null, high: null }) } },
    ...parts.map((label) => element("optgroup", { label }, ...rows().filter((row) => row.part_label === label).map((row) => element("option", { value: pathOf(row), text: row.label })))),
  );
  const node = element(
    "select",
    { id: nodeId, on: { change: () => ask({ node: node.value }) } },
    ...NODES.map((key) => element("option", { value: key, text: looks.find((look) => look.key === key).label })),
  );
  const ends = ["low", "high"].map((end) => {
    const unit = element("span", { class: "unit", id: freshId("unit") });
    const commit = () => ask({ [end]: written(input.value, unit.textContent) ?? null });
    const input = element("input", {
      type: "text", class: "number", id: freshId("end"), inputmode: "decimal", autocomplete: "off", "aria-describedby": unit.id, data: { end },
      on: {
        change: commit,
        keydown: (event) => {
          if (event.key !== "Enter") return;
          commit();
          if (!drawn) run();
        },
        focus: () => input.select(),
      },
    });
    return { end, input, unit, element: element("span", {}, element("label", { for: input.id, text: end === "low" ? "From" : "To" }), " ", element("span", { class: "quantity" }, input, unit)) };
  });
  const draw = element("button", { type: "button", class: "plain", id: "family-draw", text: "Draw five curves", on: { click: () => run() } });
  const stop = element("button", { type: "button", class: "plain", id: "family-stop", text: "Stop", hidden: true, on: { click: () => halt("Stopped.") } });
  const clear = element("button", { type: "button", class: "plain", id: "family-clear", text: "Clear the curves", hidden: true, on: { click: () => halt("") } });
  const progress = element("progress", { max: CURVES, value: 0, "aria-label": "Days computed" });
  const says = element("p", { class: "what-if-says", id: "family-says", role: "status" });
  const caption = element("caption");
  const body = element("tbody", { id: "family-rows" });
  const heads = ["", "Converter, peak", "Pan, last launch", "Launches in window"].map((text) => element("th", { scope: "col", text }));
  const table = element("table", { id: "family-table", hidden: true }, caption, element("thead", {}, element("tr", {}, ...heads)), body);
  root.append(
    element("div", { class: "sweep" },
      element("p", {}, element("label", { for: whatId, text: "Parameter" }), " ", what),
      element("p", {}, element("label", { for: nodeId, text: "Curve of" }), " ", node),
      element("p", {}, ...ends.map((one) => one.element))),
    element("div", { class: "moves" }, draw, stop, clear, progress),
    says, table,
  );
  progress.hidden = true;

  /** Ends as numbers in the reader's unit; what is not stated is a sensible span around the value that holds. */
  function span(state) {
    const at = placeOf(asked.path);
    const row = core.tables(state.units).parameters[at];
    const value = state.result.values[at];
    const half = row.unit === "°F" || row.unit === "°C" ? DEGREES[state.units] : value / 2;
    const usual = half > 0 ? [value - half, value + half] : [row.slider_min, row.slider_max];
    const inside = (number) => Math.min(row.max, Math.max(row.min, Number(number.toPrecision(3))));
    const read = (text, otherwise) => (text === null ? inside(otherwise) : (isPlain(text) ? core.restate(asked.path, String(text), state.units)?.value : null) ?? NaN);
    return { row, value, low: read(asked.low, usual[0]), high: read(asked.high, usual[1]) };
  }

  function ask(patch) {
    if (Object.entries(patch).every(([key, value]) => asked[key] === value)) return;
    asked = { ...asked, ...patch };
    remember();
    showInputs(store.state, "path" in patch);
    if (drawn) run();
  }

  const remember = () => kept.set("family", { ...asked, drawn });

  function halt(text) {
    job.cancel();
    [drawn, result] = [false, null];
    remember();
    overlays.put("family", []);
    show(store.state, text);
  }

  function run() {
    clearTimeout(timer);
    const { state } = store;
    if (!state.result || state.problem?.stale) return;
    const { row, low, high } = span(state);
    if (!Number.isFinite(low) || !Number.isFinite(high) || low < row.min || high > row.max || !(low < high)) {
      halt(`${row.label} goes from ${shown(row.min)} to ${shown(row.max)} ${row.unit}`.trim() + ", the first end below the second.");
      return;
    }
    const step = (high - low) / (CURVES - 1);
    const decimals = Math.min(9, Math.max(0, 1 - Math.floor(Math.log10(step))));
    const between = Array.from({ length: CURVES - 2 }, (_, index) => Number((low + step * (index + 1)).toFixed(decimals)));
    const values = [low, ...between, high];
    const texts = values.map((value) => (row.unit === "" ? value : `${value} ${row.unit}`));
    const days = texts.map((text) => JSON.stringify(store.changed((scenario) => ways.stateParameter(scenario, row.part, row.key, text))));
    const times_s = timesOf(state.result.summary);
    const of = { path: asked.path, node: asked.node, texts, times_s };
    drawn = true;
    ranOf = state.scenario;
    remember();
    progress.value = 0;
    job.start({ kind: "family", days, node: asked.node, times_s }, {
      progress: (done) => (progress.value = done),
      finish: (curves) => {
        result = { ...of, curves };
        drawCurves();
        show(store.state, "");
      },
      fail: (message) => halt(message),
    });
    show(state, result ? null : "");
  }

  const label = (path, text, units) => core.restate(path, String(text), units)?.text ?? String(text);

  const lookOf = (index) => ({ dash: DASHES[index], width: index === CURVES - 1 ? 2 : 1.6 });

  /** The look of a curve, to find its row by. */
  function sample(index) {
    const { light, dark } = looks.find(({ key }) => key === result.node);
    const { dash, width } = lookOf(index);
    const line = element("line", { x1: 0, y1: 6, x2: 30, y2: 6, "stroke-width": width, "stroke-dasharray": dash ? dash.join(" ") : null });
    return element("svg", { class: "sample", width: 30, height: 12, "aria-hidden": "true", style: { "--light": light, "--dark": dark } }, line);
  }

  function drawCurves() {
    const { units } = store.state;
    const look = looks.find(({ key }) => key === result.node);
    overlays.put("family", result.curves.flatMap(({ value_k: values }, index) => (values
      ? [{ node: result.node, label: label(result.path, result.texts[index], units), times_s: result.times_s, value_k: values, light: look.light, dark: look.dark, ...lookOf(index) }]
      : [])));
  }

  /** What is being typed stands, but for another parameter. */
  function showInputs(state, all = false) {
    what.value = asked.path;
    node.value = asked.node;
    for (const option of what.querySelectorAll("option")) {
      const [part, key] = option.value.split(".");
      option.disabled = Boolean(ways.replacedBy(state.scenario, part, key));
    }
    if (!state.result) return;
    const now = span(state);
    for (const { end, input, unit } of ends) {
      if (all || document.activeElement !== input) input.value = Number.isFinite(now[end]) ? shown(now[end]) : String(asked[end]);
      setText(unit, now.row.unit);
    }
  }

  /** `text` null leaves the sentence as it is. */
  function show(state, text) {
    const running = job.running();
    stop.hidden = progress.hidden = !running;
    clear.hidden = running || !drawn;
    table.hidden = !result;
    if (text !== null) setText(says, text);
    if (!result) return;
    const row = rows()[placeOf(result.path)];
    const { temperature_unit: unit } = result.curves.find((one) => one.summary)?.summary[state.units] ?? {};
    setText(heads[0], row.label);
    setText(caption, `Temperatures in ${unit ?? state.result.summary.temperature_unit}; everything else as in the day.`);
    body.replaceChildren(...result.curves.map(({ summary, error }, index) => {
      const name = element("th", { scope: "row" }, sample(index), label(result.path, result.texts[index], state.units));
      if (error) return element("tr", {}, name, element("td", { colspan: 3, class: "refused", text: `Not possible. ${error}` }));
      const one = summary[state.units];
      const numbers = keyNumbers(one);
      const inside = one.launches.filter((launch) => launch.from_window === 0).length;
      return element("tr", {}, name,
        element("td", { text: numbers.peak.toFixed(0) }),
        element("td", { text: numbers.launch === null ? "–" : numbers.launch.toFixed(0) }),
        element("td", { text: one.launches.length > 0 ? `${inside} of ${one.launches.length}` : "–" }));
    }));
    const good = result.curves.filter((one) => one.summary).map((one) => keyNumbers(one.summary[state.units]).peak);
    if (good.length > 1 && text === "") {
      const [first, last] = [good[0], good.at(-1)];
      setText(says, `${row.label} from ${label(result.path, result.texts[0], state.units)} to ${label(result.path, result.texts.at(-1), state.units)}: ` +
        `the converter’s peak goes from ${first.toFixed(0)} to ${last.toFixed(0)} ${unit}.`);
    }
  }

  let timer;
  store.subscribe((state, changed) => {
    if ("baseline" in changed) ways.forget();
    if ("units" in changed) {
      showInputs(state);
      if (result) {
        drawCurves();
        show(state, "");
      }
    }
    // Another day may come with other units.
    if ("result" in changed && state.scenario !== ranOf) {
      showInputs(state);
      clearTimeout(timer);
      // What still runs is of the day before.
      if (drawn) {
        job.cancel();
        timer = setTimeout(run, AGAIN_MS);
      }
    }
  });
  showInputs(store.state);
  if (drawn && store.state.result) run();

  return {
    /** Draws the curves of a parameter; with a `value` (with or without its unit) from what holds to that. */
    ask({ path, value }) {
      if (path && placeOf(path) >= 0) {
        const { units, result: now } = store.state;
        const { unit } = core.tables(units).parameters[placeOf(path)];
        const bare = /^[\d.]+$/.test(value ?? "") ? `${value} ${unit}` : value;
        const [from, to] = [now?.values[placeOf(path)], bare && core.restate(path, bare, units)?.value];
        const here = `${Number(from.toPrecision(6))} ${unit}`.trim();
        const ends = !Number.isFinite(to) || !Number.isFinite(from) || to === from ? [null, null] : to > from ? [here, bare] : [bare, here];
        ask({ path, low: ends[0], high: ends[1] });
      }
      run();
    },
  };
}
