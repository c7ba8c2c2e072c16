// The day on one sheet of paper, for the pits: what to do when, pump and fan, what each launch should find with room for
// what it did find, the temperatures, the set-up, limits and cautions.
//
// The sheet is made when it is asked for, of the last computed day, and gone when it is printed. It is laid out at the width
// that both Letter and A4 have, and set tighter until it fits; a day that fits no page goes on to a second.
import { element } from "./element.js";
import { shown, whole } from "./quantity.js";
import { columns } from "./scrolled.js";
import { setupValue } from "./scenario.js";

// The width and height in mm that Letter and A4 share, less the margins of `daysheet.css`.
const [WIDTH_MM, HEIGHT_MM] = [190, 255];
const TIGHTER = [[], ["tight"], ["tight", "tighter"]];
// What stands of the set-up even where the day does not state it.
const ALWAYS = ["air.temperature", "converter.k_factor", "cooler.ua", "circulation.flow"];
const WRITE_IN = "write-in";

let style = null;
let printing = false;

/** Prints the sheet of `day()`, the computed day, whose text is `good()`: { scenario, source }. */
export async function printDaySheet(shared) {
  if (printing || !shared.day() || !shared.store.state.result) return;
  printing = true;
  try {
    style ??= await styled();
    if (style) {
      const paper = element("div", { class: "day-paper" }, sheetOf(shared));
      document.body.append(paper);
      fit(paper.firstChild);
      document.body.classList.add("prints-day");
      addEventListener("afterprint", () => {
        paper.remove();
        document.body.classList.remove("prints-day");
      }, { once: true });
    }
    // Without its style, which could not be fetched, the page prints as it does by itself.
    window.print();
  } finally {
    printing = false;
  }
}

/** The style sheet, in force, or null where it cannot be had. */
function styled() {
  return new Promise((done) => {
    const failed = () => {
      link.remove();
      done(null);
    };
    const link = element("link", { rel: "stylesheet", href: new URL("./daysheet.css", import.meta.url).href, on: { load: () => done(link), error: failed } });
    document.head.append(link);
  });
}

function fit(sheet) {
  const limit_px = (sheet.getBoundingClientRect().width * HEIGHT_MM) / WIDTH_MM;
  for (const names of TIGHTER) {
    sheet.classList.add(...names);
    if (sheet.getBoundingClientRect().height <= limit_px) return;
  }
}

const cell = (text, name) => element("td", { class: name ?? false, text });
const table = (name, heads, rows) => element("table", { class: name },
  element("thead", {}, element("tr", {}, ...columns(heads))),
  element("tbody", {}, ...rows));
/** From … to, to the second where minutes do not tell them apart. */
function span(clock, from_s, to_s) {
  const [from, to] = [clock(from_s), clock(to_s)];
  const minute = (text) => text.replace(/:\d\d$/, "");
  return minute(from) === minute(to) ? `${from}–${to}` : `${minute(from)}–${minute(to)}`;
}

/** The day's events in steps: what is driven in a round is one, anything else is one by itself. */
function stepsOf({ events }) {
  const steps = [];
  for (const event of events) {
    const parked = event.kind === "engine_off";
    const last = steps.at(-1);
    if (event.round && !parked && last && !last.parked && last.round === event.round) last.events.push(event);
    else steps.push({ parked, round: event.round, events: [event] });
  }
  return steps.map((step) => ({ ...step, start_s: step.events[0].start_s, end_s: step.events.at(-1).end_s, what: whatOf(step) }));
}

function whatOf({ parked, events }) {
  const off = parked && !/engine off/i.test(events[0].label) ? ", engine off" : "";
  return events.map(({ label, took }) => `${label}${off}, ${took}`).join(" · ");
}

/** When pump and fan are on; what goes on from one event to the next is one. */
function switchesOf({ switches }) {
  const joined = [];
  for (const one of switches) {
    const before = joined.find(({ key, end_s }) => key === one.key && Math.abs(end_s - one.start_s) < 1);
    if (before) before.end_s = one.end_s;
    else joined.push({ ...one });
  }
  return joined;
}

function stepRows(summary, clock) {
  const steps = stepsOf(summary);
  const switches = switchesOf(summary);
  const told = new Map(); // what is driven, by the round that had it first
  const word = ({ key, label }) => (key === "fan" ? label : `Pump: ${label.toLowerCase()}`);
  return steps.map((step, at) => {
    const like = step.events.length > 1 ? told.get(step.what) : undefined;
    if (like === undefined) told.set(step.what, step.round);
    const launches = summary.launches.filter(({ time_s }) => time_s >= step.start_s && time_s < step.end_s).map(({ clock }) => `launch ${clock}`);
    const begun = switches.filter(({ start_s }) => start_s >= step.start_s && (start_s < step.end_s || at === steps.length - 1));
    return element("tr", {},
      element("th", { scope: "row", text: step.events[0].start_clock }),
      cell(step.round ? String(step.round) : ""),
      cell([like === undefined ? step.what : `As in round ${like}`, ...launches].join(" · ")),
      element("td", { class: "day-switches" }, ...begun.map((one) => element("span", { text: `${word(one)} ${span(clock, one.start_s, one.end_s)} ` }))),
      cell(whole(step.events.at(-1).pan)),
      cell("", WRITE_IN));
  });
}

function launchRow(launch, { window }) {
  const below = launch.from_window < 0;
  const off = Math.abs(Math.round(launch.pan) - Math.round(window[below ? 0 : 1]));
  return element("tr", {},
    element("th", { scope: "row", text: launch.round ? String(launch.round) : "–" }),
    cell(launch.clock),
    cell(whole(launch.pan)),
    cell(launch.from_window === 0 ? "inside" : `${off === 0 ? "just" : off} ${below ? "below" : "above"}`, launch.from_window === 0 ? null : "outside"),
    cell(whole(launch.converter)),
    cell(launch.flash_rpm == null ? "–" : whole(launch.flash_rpm)),
    cell(launch.pass ? launch.pass.elapsed_s.toFixed(3) : "–"),
    cell("", WRITE_IN), cell("", WRITE_IN));
}

function setupText(scenario, values, parameters) {
  return parameters.flatMap(({ part, key, label, unit }, place) =>
    (ALWAYS.includes(`${part}.${key}`) || setupValue(scenario, part, key) !== undefined
      ? [`${label} ${shown(values[place])} ${unit}`.trim()] : [])).join(" · ");
}

function picture(day, units) {
  const svg = day.svg({ picture: "temperatures", width: 1000, height: 300, ratio: 1, units, dark: false, names: true, nodes: ["converter_fluid", "pan_fluid", "case"] });
  const drawn = new DOMParser().parseFromString(svg, "image/svg+xml").documentElement;
  return element("figure", {}, document.importNode(drawn, true));
}

function sheetOf({ store, core, day, good, version }) {
  const { units, result, problem } = store.state;
  const { summary } = result;
  const { scenario, source } = good();
  const unit = summary.temperature_unit;
  const waits = JSON.stringify(scenario.timeline).includes('"until"');
  return element("article", { class: "day-sheet" },
    element("h1", { text: summary.name || "A race day" }),
    element("p", { class: "small", text: `stallheat ${version()} · ${new Date().toLocaleDateString("en-US", { year: "numeric", month: "short", day: "numeric" })} · temperatures in ${unit} · times count from the start of the day${source === null ? "" : " · example data, invented"}` }),
    problem?.stale ? element("p", { class: "advice", text: "The last change could not be computed and is not in this sheet." }) : null,
    element("p", { class: "finding", text: summary.finding }),
    summary.advice ? element("p", { class: "advice", text: summary.advice }) : null,
    summary.note ? element("p", { class: "small", text: summary.note }) : null,
    element("h2", { text: "What to do when" }),
    table("day-steps", ["Time", "Round", "What", "Pump and fan", "Pan after", "Pan read"], stepRows(summary, core.clock)),
    waits ? element("p", { class: "small", text: "Where the day waits for a temperature, the times are computed: go by the gauge." }) : null,
    ...(summary.launches.length === 0 ? [] : [
      element("h2", { text: `Launches; window for the pan ${whole(summary.window[0])} to ${whole(summary.window[1])} ${unit}` }),
      table("day-launches", ["Round", "Time", "Pan", "Window", "Converter", "Flash rpm", "ET, s", "Pan read", "ET run"], summary.launches.map((launch) => launchRow(launch, summary))),
    ]),
    picture(day(), units),
    element("h2", { text: "Set-up" }), element("p", { class: "small", text: setupText(scenario, result.values, core.tables(units).parameters) }),
    element("h2", { text: "Limits passed" }),
    element("p", { class: "small", text: summary.cautions.length > 0 ? summary.cautions.map(({ clock, text }) => `First at ${clock}: ${text}`).join(" ") : "No limit of this set-up is passed." }),
    element("h2", { text: "Around hot oil and a car on the brake" }),
    element("ul", { class: "small" }, ...summary.safety.map((text) => element("li", { text }))),
    element("p", { class: "small", text: "Computed, not measured: weather as stated, each part at one temperature, no hot spots. Believe the gauge where it differs." }));
}
