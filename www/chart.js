// The temperature chart: the core draws it on a canvas; cursor, legend and readout are DOM over and under it.
//
// One cursor in time runs through chart, day strip and readout. It follows the mouse, a touch and the keys;
// a vertical swipe still scrolls the page. The canvas has as many pixels as the screen, and is drawn anew
// when its box, the screen's ratio, the colour scheme or the result changes.
import { element, setText } from "./element.js";

const LEAST_SPAN_S = 10;

export function createChart({ store, tables, day, moment, strip, reveal, fieldOf }, root) {
  const nodes = tables.nodes;
  const dark = matchMedia("(prefers-color-scheme: dark)");
  const paper = matchMedia("print");
  const canvas = element("canvas", { id: "chart", role: "img" });
  const surface = element("div", {
    class: "surface",
    id: "cursor",
    role: "slider",
    tabindex: "0",
    "aria-label": "Time in the day",
    "aria-valuemin": "0",
  });
  const line = element("div", { class: "cursor-line", "aria-hidden": "true" });
  const plot = element("div", { class: "plot" }, canvas, strip.element, line, surface);
  const caption = element("figcaption", { id: "chart-summary" });
  const ranges = element("div", { class: "ranges", role: "group", "aria-label": "Part of the day to show" });
  const momentLine = element("p", { class: "moment" });
  const legend = element("ul", { class: "legend", "aria-label": "Lines of the chart: temperature at the cursor; press to hide or show" });
  root.append(element("figure", {}, ranges, plot, momentLine, legend, caption));

  let layout = null;
  let size = { width: 0, height: 0 };
  let drawnRatio = 0;

  const entries = nodes.map((node) => {
    const value = element("span", { class: "value" });
    const button = element(
      "button",
      { type: "button", class: "entry", data: { node: node.key }, on: { click: () => toggle(node.key) } },
      sample(node),
      element("span", { class: "name", text: node.label }),
      value,
    );
    legend.append(element("li", {}, button));
    return { node, button, value };
  });

  function sample(node) {
    const stroke = element("line", {
      x1: 0, y1: 6, x2: 22, y2: 6, "stroke-width": node.width, "stroke-dasharray": node.dash ? node.dash.join(" ") : null,
    });
    return element(
      "svg",
      { class: "sample", width: 22, height: 12, "aria-hidden": "true", style: { "--light": node.light, "--dark": node.dark } },
      stroke,
    );
  }

  function toggle(key) {
    const { hidden } = store.state.view;
    store.view({ hidden: hidden.includes(key) ? hidden.filter((other) => other !== key) : [...hidden, key] });
  }

  function zoom(factor) {
    const [start, end] = shownSpan(store.state);
    const width = (end - start) * factor;
    if (width >= store.state.result.summary.duration_s) return store.view({ range: null });
    const at = Math.min(end, Math.max(start, store.state.view.cursor_s));
    const left = at - ((at - start) / (end - start)) * width;
    store.view({ range: { start_s: left, end_s: left + width } });
  }

  let roundsShown = "";
  function showRanges(state) {
    const rounds = [...new Set(state.result.summary.events.map((event) => event.round).filter(Boolean))];
    const { range } = state.view;
    if (roundsShown !== rounds.join()) {
      roundsShown = rounds.join();
      const button = (text, name, act, data) =>
        element("button", { type: "button", class: "range", text, "aria-label": name, data, on: { click: act } });
      ranges.replaceChildren(
        button("Day", "Day, all of it", () => store.view({ range: null }), { range: "day" }),
        ...rounds.map((round) =>
          button(`R${round}`, `R${round}: round ${round}`, () => showRound(round), { range: String(round) })),
        button("Run only", "Run only, without the time parked", () => {
          const now = store.state.view.range;
          const round = now?.round ?? nearestRound();
          showRound(round, !(now?.run));
        }, { range: "run" }),
        button("−", "Show more time", () => zoom(2), { range: "out" }),
        button("+", "Show less time, around the cursor", () => zoom(0.5), { range: "in" }),
      );
      ranges.querySelector("[data-range=run]").hidden = rounds.length === 0;
    }
    for (const button of ranges.children) {
      const { range: key } = button.dataset;
      const pressed = key === "day" ? !range : key === "run" ? Boolean(range?.run) : String(range?.round) === key;
      if (key !== "in" && key !== "out") button.setAttribute("aria-pressed", String(pressed));
    }
  }

  function nearestRound() {
    const { events } = store.state.result.summary;
    const { cursor_s } = store.state.view;
    const before = events.filter((event) => event.round && event.start_s <= cursor_s).at(-1);
    return (before ?? events.find((event) => event.round))?.round;
  }

  function showRound(round, run = false) {
    const launch = store.state.result.summary.launches.find((one) => one.round === round);
    store.view({ range: { round, run }, ...(launch ? { cursor_s: launch.time_s } : {}) });
  }

  function draw(state) {
    if (!day() || !state.result) return;
    const { width, height } = size;
    if (!(width > 0)) return;
    layout = day().draw(canvas, {
      picture: "temperatures",
      width,
      height,
      ratio: devicePixelRatio,
      units: state.units,
      dark: dark.matches && !paper.matches,
      nodes: nodes.map((node) => node.key).filter((key) => !state.view.hidden.includes(key)),
      range: shownSpan(state),
    });
    strip.update(state, layout, width);
    drawnRatio = devicePixelRatio;
  }

  function describe(state) {
    const { summary } = state.result;
    const peak = (key) => summary.peaks.find((one) => one.node === key);
    const [converter, pan] = [peak("converter_fluid"), peak("pan_fluid")];
    const unit = summary.temperature_unit;
    const text =
      `Temperatures over ${summary.duration_text}. ` +
      `Converter fluid is hottest at ${converter.clock} with ${converter.temperature.toFixed(0)} ${unit}, ` +
      `pan fluid at ${pan.clock} with ${pan.temperature.toFixed(0)} ${unit}. ` +
      (summary.launches.length > 0 ? "Upright lines mark launches, the band is the launch window. " : "") +
      "Time is in hours and minutes since the start.";
    setText(caption, text);
    canvas.setAttribute("aria-label", caption.textContent);
  }

  function place(state) {
    if (!layout || !state.result || !day()) return;
    const at = moment();
    const { summary } = state.result;
    const event = at.event === null || at.event === undefined ? null : summary.events[at.event];
    const inside = at.time_s >= layout.start_s && at.time_s <= layout.end_s;
    line.hidden = !inside;
    const x = layout.left + ((at.time_s - layout.start_s) / (layout.end_s - layout.start_s)) * (layout.right - layout.left);
    line.style.setProperty("transform", `translateX(${x.toFixed(1)}px)`);
    const words = [at.clock, event?.round ? `round ${event.round}` : "", event ? event.label : ""].filter(Boolean).join(" · ");
    setText(momentLine, `${words} (${summary.temperature_unit})`);
    entries.forEach(({ node, button, value }, index) => {
      setText(value, at.temperatures[index].toFixed(0));
      button.setAttribute("aria-pressed", String(!state.view.hidden.includes(node.key)));
    });
    surface.setAttribute("aria-valuemax", summary.duration_s.toFixed(0));
    surface.setAttribute("aria-valuenow", at.time_s.toFixed(0));
    surface.setAttribute(
      "aria-valuetext",
      `${words}: ${nodes[0].label} ${at.temperatures[0].toFixed(0)}, ${nodes[2].label} ${at.temperatures[2].toFixed(0)} ${summary.temperature_unit}`,
    );
  }

  function timeAt(clientX) {
    const x = clientX - plot.getBoundingClientRect().left;
    const share = (x - layout.left) / (layout.right - layout.left);
    return layout.start_s + Math.min(1, Math.max(0, share)) * (layout.end_s - layout.start_s);
  }

  const follow = (event) => layout && store.view({ cursor_s: timeAt(event.clientX) });
  surface.addEventListener("pointermove", follow);
  surface.addEventListener("pointerdown", follow);
  strip.element.addEventListener("click", (event) => {
    if (!layout || !store.state.result) return;
    const rectangle = strip.element.getBoundingClientRect();
    const found = strip.find(event.clientX - rectangle.left);
    if (!found) return;
    const field = found.place ? fieldOf(store.state, found.place) : null;
    const middle = (found.start_s + found.end_s) / 2;
    store.view({ cursor_s: middle, selected: field });
    if (field) reveal(field);
  });

  surface.addEventListener("keydown", (event) => {
    if (!layout || !store.state.result) return;
    const { events, duration_s } = store.state.result.summary;
    const { cursor_s } = store.state.view;
    const fine = ((layout.end_s - layout.start_s) / 200) * (event.shiftKey ? 10 : 1);
    const starts = events.map((one) => one.start_s);
    const moves = {
      ArrowRight: () => cursor_s + fine,
      ArrowUp: () => cursor_s + fine,
      ArrowLeft: () => cursor_s - fine,
      ArrowDown: () => cursor_s - fine,
      PageUp: () => starts.find((start) => start > cursor_s + 1e-6) ?? duration_s,
      PageDown: () => starts.filter((start) => start < cursor_s - 1e-6).at(-1) ?? 0,
      Home: () => 0,
      End: () => duration_s,
    };
    if (event.key === "Enter") {
      const at = moment().event;
      const found = at === undefined || at === null ? null : events[at];
      if (found?.place) {
        const field = fieldOf(store.state, found.place);
        store.view({ selected: field });
        reveal(field);
      }
      return;
    }
    const move = moves[event.key];
    if (!move) return;
    event.preventDefault();
    const to = Math.min(duration_s, Math.max(0, move()));
    const width = layout.end_s - layout.start_s;
    const outside = to < layout.start_s || to > layout.end_s;
    store.view({
      cursor_s: to,
      ...(outside ? { range: { start_s: to - width / 2, end_s: to + width / 2 } } : {}),
    });
  });

  const redraw = () => {
    draw(store.state);
    place(store.state);
  };
  // The size is kept here, because asking for it while drawing would lay out the page twice a frame.
  function measure() {
    const [width, height] = [Math.floor(surface.clientWidth), Math.floor(surface.clientHeight)];
    if (width === size.width && height === size.height) return false;
    size = { width, height };
    canvas.style.setProperty("width", `${width}px`);
    canvas.style.setProperty("height", `${height}px`);
    return true;
  }
  measure();
  new ResizeObserver(() => measure() && redraw()).observe(surface);
  dark.addEventListener("change", redraw);
  paper.addEventListener("change", () => {
    measure();
    redraw();
  });
  addEventListener("resize", () => drawnRatio !== devicePixelRatio && redraw());

  let viewDrawn = {};
  store.subscribe((state, changed) => {
    if (!state.result) return;
    const { range, hidden } = state.view;
    const redrawn = "result" in changed || viewDrawn.range !== range || viewDrawn.hidden !== hidden;
    viewDrawn = { range, hidden };
    if (redrawn) {
      showRanges(state);
      draw(state);
      describe(state);
    }
    if (redrawn || "view" in changed) place(state);
  });
}

/** The part of the day shown: [start_s, end_s]. */
export function shownSpan({ result, view: { range } }) {
  const end = result?.summary.duration_s ?? 1;
  if (!range) return [0, end];
  if (range.round) {
    const events = result.summary.events.filter((event) => event.round === range.round);
    if (events.length === 0) return [0, end];
    if (range.run) {
      const runs = events.filter((event) => event.converter_heat > 0);
      if (runs.length > 0) return [runs[0].start_s, Math.min(end, runs.at(-1).end_s)];
    }
    return [events[0].start_s, events.at(-1).end_s];
  }
  const width = Math.min(end, Math.max(LEAST_SPAN_S, range.end_s - range.start_s));
  const start = Math.min(Math.max(0, range.start_s), end - width);
  return [start, start + width];
}
