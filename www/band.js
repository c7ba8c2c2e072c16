// How sure: where the temperatures stand, 19 times of 20, given what a shop does not know about its parameters, and which
// of these matter most. Says which they are and how much each may be off; one that is known can be taken out.
//
// Some hundred days are computed in workers. A band holds for the day it was drawn of, and goes when that changes.
import { element, freshId, setText } from "./element.js";
import { createJob } from "./job.js";
import { timesOf } from "./overlays.js";
import { shown } from "./quantity.js";
import { writtenEvents } from "./scenario.js";
import { createTornado } from "./tornado.js";

const DRAWS = [200, 1000];
const NODES = ["converter_fluid", "pan_fluid"];
// Two hundred draws know the ends of the band to about a twentieth of its width: wider ones are said in fives.
const WIDE_DEGREES = 40;

/** A band as people say it, rounded to the outside: whole degrees, or fives where one of `all` is wide. */
export function rounded([low, high], all = [[low, high]]) {
  const step = all.some(([from, to]) => to - from > WIDE_DEGREES) ? 5 : 1;
  const [from, to] = [Math.floor(low / step) * step, Math.ceil(high / step) * step];
  return from === to ? String(from) : `${from}–${to}`.replace(/-/g, "−");
}

export function createBand({ store, core, overlays, kept, sweep }, root) {
  const looks = core.tables("us").nodes;
  const job = createJob();
  const pathOf = ({ part, key }) => `${part}.${key}`;
  const spread = core.tables("us").parameters.flatMap((row, place) => (row.spread ? [{ path: pathOf(row), place }] : []));
  const before = kept.get("known");
  let known = new Set(Array.isArray(before) ? before.filter((path) => spread.some((one) => one.path === path)) : []);
  let result = null;

  const button = (id, text, act) => element("button", { type: "button", class: "plain", id, text, on: { click: act } });
  const draw = button("band-draw", "Draw the band", () => run());
  const stop = button("band-stop", "Stop", () => halt("Stopped; no band is drawn."));
  const clear = button("band-clear", "Clear the band", () => halt(""));
  const progress = element("progress", { max: 1, value: 0, "aria-label": "Days computed" });
  const draws = element("select", { id: freshId("draws") }, ...DRAWS.map((number) => element("option", { value: number, text: `${number} days` })));
  const says = element("p", { class: "what-if-says", id: "band-says", role: "status" });
  const caption = element("caption");
  const heads = element("tr");
  const rows = element("tbody", { id: "band-rows" });
  const table = element("table", { id: "band-table" }, caption, element("thead", {}, heads), rows);
  const tornado = createTornado({ sweep });
  const count = element("span", { class: "count" });
  const list = element("ul", { class: "spreads" });
  root.append(
    element("p", { class: "help", text: `Some numbers of a set-up no shop knows well: how heat crosses from oil to steel, what the air takes, how heavy the insides are. Days are computed with these drawn at random, and with each moved alone.` }),
    element("div", { class: "moves" }, element("label", { for: draws.id, class: "hidden", text: "How many days" }), draws, draw, stop, clear, progress),
    says, table, tornado.element,
    element("details", { class: "note", id: "band-spreads" },
      element("summary", {}, element("span", { text: "What is spread, and how much" }), count),
      element("p", { class: "help", text: "One standard deviation each, by judgement: two of three times the true value is this near. Take out what you have measured." }),
      list),
  );

  const boxes = spread.map(({ path, place }) => {
    const name = element("span", { class: "name" });
    const value = element("span", { class: "value" });
    const box = element("input", {
      type: "checkbox", checked: !known.has(path), data: { spread: path },
      on: {
        change: () => {
          known = new Set(spread.filter((one) => (one.path === path ? !box.checked : known.has(one.path))).map((one) => one.path));
          kept.set("known", [...known]);
          showList(store.state);
          if (result || job.running()) halt("What is spread has changed: draw the band again.");
        },
      },
    });
    list.append(element("li", {}, element("label", {}, box, name, value)));
    return { place, name, value };
  });

  function run() {
    const { state } = store;
    if (!state.result || state.problem?.stale) return;
    const times_s = timesOf(state.result.summary);
    progress.value = 0;
    result = null;
    job.start({ kind: "sure", workers: Math.min(8, navigator.hardwareConcurrency || 1), day: JSON.stringify(state.scenario), nodes: NODES, times_s, draws: Number(draws.value), known: [...known] }, {
      progress: (done, of) => [progress.max, progress.value] = [of, done],
      finish: (found) => {
        if (found.simulated === 0) return halt("None of the draws could be computed: some number of this day is at the edge of what can be.");
        result = { ...found, times_s };
        drawBand(store.state);
        show(store.state, "");
      },
      fail: (message) => halt(message),
    });
    overlays.put("band", []);
    show(state, "");
  }

  function halt(text) {
    job.cancel();
    result = null;
    overlays.put("band", []);
    show(store.state, text);
  }

  function drawBand() {
    overlays.put("band", NODES.map((key) => {
      const { label, light, dark } = looks.find((look) => look.key === key);
      return { node: key, label: `${label}, 19 of 20`, times_s: result.times_s, ...result.nodes[key], light, dark };
    }));
  }

  function showList(state) {
    const parameters = core.tables(state.units).parameters;
    for (const { place, name, value } of boxes) {
      const row = parameters[place];
      setText(name, `${row.part_label}: ${row.label.charAt(0).toLowerCase()}${row.label.slice(1)}`);
      setText(value, `${state.result ? `${shown(state.result.values[place])} ${row.unit}`.trim() : ""} ± ${row.spread}`);
    }
    setText(count, `${spread.length - known.size} of ${spread.length}`);
  }

  function show(state, text) {
    const running = job.running();
    stop.hidden = progress.hidden = !running;
    draws.hidden = running;
    draw.hidden = running;
    draw.disabled = known.size === spread.length;
    clear.hidden = running || !result;
    table.hidden = !result || result.launches.us.length === 0;
    setText(draw, result ? "Draw it again" : "Draw the band");
    tornado.show(result?.tornado[state.units]);
    setText(says, result ? words(state) : text);
    if (!result) return;
    const { temperature_unit: unit } = state.result.summary;
    const launches = result.launches[state.units];
    const timed = launches.some((launch) => launch.elapsed_s);
    setText(caption, `Launches, 19 of 20, in ${unit}.${timed ? " ET: elapsed time, s." : ""}`);
    heads.replaceChildren(...["Round", "Converter", "Pan", timed && "ET"].filter(Boolean).map((head) => element("th", { scope: "col", text: head })));
    rows.replaceChildren(...launches.map((launch, at) => element(
      "tr",
      {},
      element("th", { scope: "row", text: String(state.result.summary.launches[at]?.round ?? "–") }),
      element("td", { text: rounded(launch.converter, launches.map((one) => one.converter)) }),
      element("td", { text: rounded(launch.pan, launches.map((one) => one.pan)) }),
      timed && element("td", { text: launch.elapsed_s ? `${launch.elapsed_s[0].toFixed(2)}–${launch.elapsed_s[1].toFixed(2)}` : "–" }),
    )));
  }

  function words(state) {
    const { temperature_unit: unit } = state.result.summary;
    const launches = result.launches[state.units];
    const last = launches.at(-1);
    const range = (key) => rounded(last[key], launches.map((one) => one[key]));
    const left = result.draws - result.simulated;
    const missing = left > 0 ? ` ${left} of ${result.draws} draws could not be computed.` : "";
    // Where an event waits for a temperature, the draws' events begin at other times.
    const waits = writtenEvents(state.scenario).some(({ event }) => event.until || [event.circulation, event.fan].flat().some((on) => on?.until));
    const clock = waits ? " The drawn band is that of the clock: after a wait for a temperature it holds times before and after the event. The launches are those of the launch." : "";
    const most = tornado.most("last_pan");
    const mostly = most.length > 0 ? ` Most of that is ${most.join(" and ")}.` : "";
    const fitted = state.scenario.calibration ? " The fit to readings is used: what it knows is doubted less." : "";
    return last
      ? `With what the shop does not know, the pan stands at ${range("pan")} ${unit} on the last launch, the converter at ${range("converter")} ${unit}: 19 times of 20.${mostly}${fitted}${missing}${clock}`
      : `The band holds the temperatures 19 times of 20; this day has no launch.${fitted}${missing}${clock}`;
  }

  store.subscribe((state, changed) => {
    if ("scenario" in changed && (result || job.running())) halt("The day has changed: draw the band again.");
    if ("result" in changed || "units" in changed) {
      showList(state);
      show(state, says.textContent);
    }
  });
  showList(store.state);
  show(store.state, "");

  return {
    /** Draws the band, unless it stands or is being drawn. */
    ask() {
      if (!result && !job.running()) run();
    },
  };
}
