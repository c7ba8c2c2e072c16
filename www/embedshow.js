// What the view shows of a day: name, finding, key numbers, chart with its legend, launches, cautions. `show` says which.
import { axisOf } from "./axis.js";
import { remOf } from "./canvasbox.js";
import { element, joined, settle, setText } from "./element.js";
import { keyNumbers } from "./keynumbers.js";
import { whole } from "./quantity.js";

const QUIET_MS = 700;
const HIDDEN = ["gear_train", "engine"]; // of the lines, as on the page at first

/** `day()` is the core's day or null, `isDark()` whether inks for a dark ground are wanted. Gives { redraw() }. */
export function createShow({ store, core, tables, show, day, isDark }, document) {
  const $ = (id) => document.getElementById(id);
  const nodes = tables.us.nodes.filter(({ key }) => !HIDDEN.includes(key));
  const shows = (part) => show.includes(part);

  function showWords({ summary }) {
    const cut = summary.finding.indexOf(". ") + 1;
    setText($("finding"), joined(cut > 0 ? summary.finding.slice(0, cut) : summary.finding));
    setText($("finding-more"), joined(cut > 0 ? summary.finding.slice(cut + 1) : ""));
    setText($("advice"), joined(summary.advice));
    setText($("day-name"), summary.name);
    keepTall();
  }

  // A line that the words have needed once stays theirs, so that a slider below does not move to and fro under the finger.
  const words = document.querySelector("[data-show=finding]");
  const kept = { width: 0 };
  function keepTall() {
    if (kept.width !== innerWidth) words.style.removeProperty("min-height");
    kept.width = innerWidth;
    words.style.setProperty("min-height", `${Math.ceil(words.getBoundingClientRect().height)}px`);
  }

  function showKeys({ summary }) {
    const unit = summary.temperature_unit;
    const numbers = keyNumbers(summary);
    const last = summary.launches.at(-1);
    for (const [id, value] of [["key-peak", numbers.peak], ["key-launch", numbers.launch], ["key-spread", numbers.spread]]) {
      setText($(id), value === null ? "–" : `${whole(value)}\u00a0${unit}`);
    }
    setText($("key-launch-name"), last?.round ? `Pan, round ${last.round}` : "Pan, last launch");
  }

  function showLaunches({ summary }) {
    const { launches, temperature_unit: unit, window: [low, high] } = summary;
    document.querySelector("[data-show=launches]").hidden = !shows("launches") || launches.length === 0;
    if (!shows("launches")) return;
    setText($("launch-window"), joined(`Launches. Temperatures in ${unit}; window for the pan: ${whole(low)} to ${whole(high)} ${unit}. ET: elapsed time in s.`));
    const where = ({ from_window: off }) => (off === 0 ? "" : off < 0 ? " below" : " above");
    settle($("launch-rows"), ...launches.map((launch) =>
      element(
        "tr",
        {},
        element("th", { scope: "row", text: launch.round ? String(launch.round) : "–" }),
        element("td", { text: launch.clock }),
        element("td", { text: whole(launch.converter) }),
        element("td", { class: launch.from_window === 0 ? "inside" : "outside", text: `${whole(launch.pan)}${where(launch)}` }),
        element("td", { text: launch.pass ? launch.pass.elapsed_s.toFixed(3) : "–" }),
      )));
  }

  function showCautions({ summary }) {
    const { cautions, safety } = summary;
    setText($("cautions-title"), `${cautions.length > 0 ? `Limits passed: ${cautions.length}. ` : ""}Hot oil, spinning parts: cautions`);
    settle(
      $("caution-list"),
      ...cautions.map(({ clock, text }) => element("li", {}, element("strong", { text: `First at ${clock}.` }), " ", joined(text))),
      ...safety.map((text) => element("li", { text })),
    );
  }

  const values = nodes.map((node) => {
    const value = element("span", { class: "value" });
    const sample = element(
      "svg",
      { class: "sample", width: 22, height: 12, "aria-hidden": "true", style: { "--light": node.light, "--dark": node.dark } },
      element("line", { x1: 0, y1: 6, x2: 22, y2: 6, "stroke-width": node.width, "stroke-dasharray": node.dash ? node.dash.join(" ") : null }),
    );
    $("legend").append(element("li", { class: "entry" }, sample, element("span", { class: "name", text: node.label }), value));
    return { node, value };
  });

  const size = { width: 0, height: 0 };
  function measure() {
    const style = getComputedStyle($("plot"));
    const height = remOf(style, "--chart-height");
    const width = Math.floor($("plot").clientWidth);
    if (width === size.width && height === size.height) return false;
    Object.assign(size, { width, height });
    $("chart").style.setProperty("width", `${width}px`);
    $("chart").style.setProperty("height", `${height}px`);
    return true;
  }

  function draw(state) {
    if (!shows("chart") || !day() || !state.result || !(size.width > 0)) return;
    const axis = axisOf(state);
    day().draw($("chart"), {
      ...size,
      picture: "temperatures",
      ratio: devicePixelRatio,
      units: state.units,
      dark: isDark(),
      nodes: nodes.map(({ key }) => key),
      knots: axis.knots(),
      ticks: axis.even ? null : axis.ticks(size.width - 60).map(({ start_s, end_s, start_clock }) =>
        ({ time_s: start_s, text: end_s - start_s < 60 ? core.clock(start_s) : start_clock })),
    });
  }

  function describe({ result: { summary } }) {
    const unit = summary.temperature_unit;
    const peak = (key) => summary.peaks.find((one) => one.node === key);
    for (const { node, value } of values) {
      const { temperature, clock } = peak(node.key);
      setText(value, `${whole(temperature)}\u00a0${unit}`);
      value.title = `highest, at ${clock}`;
    }
    const [converter, pan] = [peak("converter_fluid"), peak("pan_fluid")];
    setText($("chart-summary"), joined(
      `Temperatures over ${summary.duration_text}, the highest of each beside its name. ` +
      (summary.launches.length > 0 ? "Upright lines mark launches, the band is the launch window. " : "") +
      "The longer an event, the more time in an inch of it.",
    ));
    $("chart").setAttribute("aria-label",
      `Temperatures over ${summary.duration_text}. Converter fluid is hottest at ${converter.clock} with ${whole(converter.temperature)} ${unit}, pan fluid at ${pan.clock} with ${whole(pan.temperature)} ${unit}.`);
  }

  let timer;
  let spoken = false;
  function speak({ result: { summary } }) {
    clearTimeout(timer);
    // The first result is there to be read, and several views on one page must not all talk.
    if (!spoken) spoken = true;
    else timer = setTimeout(() => setText($("spoken"), summary.finding), QUIET_MS);
  }

  for (const part of document.querySelectorAll("[data-show]")) part.hidden = !shows(part.dataset.show);
  measure();
  new ResizeObserver(() => measure() && draw(store.state)).observe($("plot"));
  let ratio = devicePixelRatio;
  addEventListener("resize", () => {
    if (kept.width !== innerWidth) keepTall();
    if (ratio === devicePixelRatio) return;
    ratio = devicePixelRatio;
    draw(store.state);
  });

  store.subscribe((state, changed) => {
    if (!("result" in changed) || !state.result) return;
    showWords(state.result);
    showKeys(state.result);
    showLaunches(state.result);
    showCautions(state.result);
    draw(state);
    describe(state);
    speak(state);
  });
  return { redraw: () => draw(store.state) };
}
