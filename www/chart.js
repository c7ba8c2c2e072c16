// The pictures over time: temperatures and heat flows that the core draws on canvases, over the lanes of the day,
// on one time axis. Cursor, ranges, readout and legend are DOM over and under them.
//
// One cursor in time runs through all. It follows the mouse, a touch and the keys; a vertical swipe and a bare wheel
// still scroll the page, a wheel with Ctrl shows less or more time. Canvases have as many pixels as the screen, and
// are drawn anew when their box, the screen's ratio, the colour scheme, the axis or the result changes.
import { along, axisOf, cornered, LEAST_SPAN_S } from "./axis.js";
import { followLook, remOf } from "./canvasbox.js";
import { element, setAttribute, setText } from "./element.js";
import { followPointer } from "./follow.js";

const WHEEL_PX = 400;

export function createChart({ store, seen, core, tables, day, moment, lanes, player, choose, fieldOf }, root) {
  const nodes = tables.nodes;
  const canvas = element("canvas", { id: "chart", role: "img" });
  const heat = element("canvas", { id: "heat-chart", role: "img" });
  const surface = element("div", {
    class: "surface",
    id: "cursor",
    role: "slider",
    tabindex: "0",
    "aria-label": "Time in the day",
    "aria-valuemin": "0",
  });
  const line = element("div", { class: "cursor-line", "aria-hidden": "true" });
  const plot = element("div", { class: "plot" }, canvas, heat, lanes.element, line, surface);
  const caption = element("figcaption", { id: "chart-summary" });
  const ranges = element("div", { class: "ranges", role: "group", "aria-label": "Part of the day to show" });
  const momentLine = element("p", { class: "moment" });
  const legend = element("ul", { class: "legend", "aria-label": "Lines of the chart: temperature at the cursor; press to hide or show" });
  const others = element("ul", { class: "legend others-legend", "aria-label": "Lines laid over the chart, at the cursor" });
  const sheet = element("div", { class: "sheet", id: "sheet", role: "group", "aria-label": "The chosen block", tabindex: "-1" });
  root.append(element("figure", {}, ranges, momentLine, plot, lanes.says, player, sheet, legend, others, caption));

  const told = []; // who is told that the temperatures are drawn
  let layout = null;
  let drawnWith = null; // the options of the temperatures' last drawing
  let lanesOn = null; // the layout that the lanes are drawn on
  let size = { width: 0, height: 0, heat: 0 };

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
      x1: 0, y1: 6, x2: 22, y2: 6, "stroke-width": node.low_k ? 9 : node.width, "stroke-opacity": node.low_k ? 0.4 : null,
      "stroke-dasharray": node.dash ? node.dash.join(" ") : null,
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

  const overlaysOf = ({ view }) => Object.values(view.overlays ?? {}).flat();
  let laidOver = [];

  /** What the overlays are called, and what they are at the cursor. */
  function showOthers(state) {
    const overlays = overlaysOf(state);
    if (overlays.length !== laidOver.length || overlays.some((one, at) => one !== laidOver[at]?.overlay)) {
      laidOver = overlays.map((overlay) => ({ overlay, value: element("span", { class: "value" }) }));
      others.replaceChildren(...laidOver.map(({ overlay, value }) =>
        element("li", { class: "entry" }, sample(overlay), element("span", { class: "name", text: overlay.label }), value)));
    }
    others.hidden = laidOver.length === 0;
    const degrees = (kelvin) => core.temperature(kelvin, state.units).toFixed(0);
    for (const { overlay: { times_s: times, value_k: line, low_k: low, high_k: high }, value } of laidOver) {
      const at = (values) => degrees(along(times, values, Math.min(times.at(-1), Math.max(times[0], state.view.cursor_s))));
      setText(value, times.length === 0 ? "–" : line ? at(line) : `${at(low)} to ${at(high)}`);
    }
  }

  /** Shows more or less time around a share of the width. */
  function zoom(factor, at = axisOf(store.state).share(store.state.view.cursor_s)) {
    const axis = axisOf(store.state);
    const share = Math.min(1, Math.max(0, at));
    if (factor < 1) factor = Math.min(1, Math.max(factor, LEAST_SPAN_S / (axis.end_s - axis.start_s)));
    const { duration_s } = store.state.result.summary;
    const start_s = Math.max(0, axis.time(share - share * factor));
    const end_s = Math.min(duration_s, axis.time(share + (1 - share) * factor));
    const whole = start_s <= 0 && end_s >= duration_s;
    store.view({ range: whole ? null : { start_s, end_s } });
  }

  function pan(part) {
    const { view: { range } } = store.state;
    const axis = axisOf(store.state);
    if (!range) return;
    const end = store.state.result.summary.duration_s;
    const by = Math.max(axis.share(0), Math.min(axis.share(end) - 1, part));
    store.view({ range: { start_s: axis.time(by), end_s: axis.time(1 + by) } });
  }

  let roundsShown = null;
  function showRanges(state) {
    const rounds = [...new Set(state.result.summary.events.map((event) => event.round).filter(Boolean))];
    const { range, axis } = state.view;
    if (roundsShown !== rounds.join()) {
      roundsShown = rounds.join();
      const button = (text, name, act, data) =>
        element("button", { type: "button", class: "range", text, "aria-label": name, data, on: { click: act } });
      ranges.replaceChildren(
        button("Day", "Day, all of it", () => store.view({ range: null }), { range: "day" }),
        ...rounds.map((round) =>
          button(`R${round}`, `R${round}: round ${round}`, () => showRound(round), { range: String(round) })),
        button("−", "Show more time", () => zoom(2), { range: "out" }),
        button("+", "Show less time, around the cursor", () => zoom(0.5), { range: "in" }),
        button("True time", "True time: every second as wide as any other", () =>
          store.view({ axis: store.state.view.axis === "true" ? "room" : "true" }), { range: "axis" }),
      );
    }
    for (const button of ranges.children) {
      const { range: key } = button.dataset;
      if (key === "in" || key === "out") continue;
      const pressed = key === "day" ? !range : key === "axis" ? axis === "true" : String(range?.round) === key;
      setAttribute(button, "aria-pressed", String(pressed));
    }
  }

  function showRound(round) {
    const launch = store.state.result.summary.launches.find((one) => one.round === round);
    store.view({ range: { round }, ...(launch ? { cursor_s: launch.time_s } : {}) });
  }

  /** Grid lines of an uneven axis: starts of rounds and events. The core places those of an even one. */
  function ticksOf(axis, width) {
    if (axis.even) return null;
    return axis.ticks(width).map(({ start_s, end_s, start_clock }) =>
      ({ time_s: start_s, text: end_s - start_s < 60 ? core.clock(start_s) : start_clock }));
  }

  /** What a state shows over time, for a picture with a plot of about `width` px: { nodes, knots, ticks, overlays }. */
  function timeOptions(state, width) {
    const { view } = state;
    const axis = axisOf(state);
    const knots = axis.knots();
    return {
      nodes: view.hideLines ? [] : nodes.map((node) => node.key).filter((key) => !view.hidden.includes(key)),
      knots,
      ticks: ticksOf(axis, width),
      overlays: overlaysOf(state).map((one) => (one.letter ? cornered(one, knots) : one)),
    };
  }

  /** Draws the temperatures, and moves what lies over them. */
  function draw(state) {
    if (!day() || !state.result) return;
    const { width, height } = size;
    if (!(width > 0)) return;
    drawnWith = {
      width,
      ...look(),
      units: state.units,
      ...timeOptions(state, layout ? layout.right - layout.left : width - 60),
    };
    layout = day().draw(canvas, { ...drawnWith, picture: "temperatures", height });
    // A block follows the pointer that drags it, and the next key goes on from what the last one made.
    if (lanes.isInHand()) drawLanes(state);
    placeLine(state);
    for (const tell of told) tell(state, layout);
  }

  /** Draws what stands under the temperatures, on their axis. */
  function drawBelow(state) {
    if (!layout || !day()) return;
    // Times stand under the temperatures.
    const untold = drawnWith.ticks?.map((tick) => ({ ...tick, text: "" })) ?? [];
    day().draw(heat, { ...drawnWith, ticks: untold, overlays: [], picture: "heat", height: size.heat });
    if (lanesOn !== layout) drawLanes(state);
  }

  function drawLanes(state) {
    lanesOn = layout;
    lanes.update(state, layout, drawnWith.width);
  }

  function describe(state) {
    const { summary } = state.result;
    const peak = (key) => summary.peaks.find((one) => one.node === key);
    const [converter, panFluid] = [peak("converter_fluid"), peak("pan_fluid")];
    const unit = summary.temperature_unit;
    const text =
      `Temperatures over ${summary.duration_text}. ` +
      `Converter fluid is hottest at ${converter.clock} with ${converter.temperature.toFixed(0)} ${unit}, ` +
      `pan fluid at ${panFluid.clock} with ${panFluid.temperature.toFixed(0)} ${unit}. ` +
      (summary.launches.length > 0 ? "Upright lines mark launches, the band is the launch window. " : "") +
      (state.view.axis === "true" ? "Every second is as wide as any other." : "Short events are given room: the longer an event, the more time in an inch of it.");
    setText(caption, text);
    setAttribute(canvas, "aria-label", text);
    setAttribute(heat, "aria-label", `Heat of each event over ${summary.duration_text}: made above, carried away below. The table has it in numbers.`);
  }

  function placeLine(state) {
    const { result: { summary }, view: { cursor_s } } = state;
    const share = axisOf(state).share(Math.min(summary.duration_s, Math.max(0, cursor_s)));
    line.hidden = share < -1e-9 || share > 1 + 1e-9;
    const x = layout.left + share * (layout.right - layout.left);
    line.style.setProperty("transform", `translateX(${x.toFixed(1)}px)`);
  }

  function place(state) {
    if (!layout || !state.result || !day()) return;
    const at = moment();
    const { summary } = state.result;
    const event = at.event === null || at.event === undefined ? null : summary.events[at.event];
    const guessing = state.view.hideLines;
    const words = [at.clock, event?.round ? `round ${event.round}` : "", event ? event.label : ""].filter(Boolean).join(" · ");
    const read = guessing ? "" : ` · converter ${at.temperatures[0].toFixed(0)}, pan ${at.temperatures[2].toFixed(0)} ${summary.temperature_unit}`;
    setText(momentLine, words + read);
    entries.forEach(({ node, button, value }, index) => {
      setText(value, at.temperatures[index].toFixed(0));
      setAttribute(button, "aria-pressed", String(!state.view.hidden.includes(node.key)));
    });
    showOthers(state);
    setAttribute(surface, "aria-valuemax", summary.duration_s.toFixed(0));
    setAttribute(surface, "aria-valuenow", at.time_s.toFixed(0));
    setAttribute(
      surface,
      "aria-valuetext",
      `${words}: ${nodes[0].label} ${at.temperatures[0].toFixed(0)}, ${nodes[2].label} ${at.temperatures[2].toFixed(0)} ${summary.temperature_unit}`,
    );
  }

  const shareAt = (clientX) =>
    Math.min(1, Math.max(0, (clientX - plot.getBoundingClientRect().left - layout.left) / (layout.right - layout.left)));

  const follow = (event) => layout && store.state.result && store.view({ cursor_s: axisOf(store.state).time(shareAt(event.clientX)) });
  followPointer(surface, follow);

  plot.addEventListener("wheel", (event) => {
    if (!layout || !store.state.result) return;
    if (event.ctrlKey || event.metaKey) {
      event.preventDefault();
      zoom(2 ** (Math.max(-WHEEL_PX, Math.min(WHEEL_PX, event.deltaY)) / WHEEL_PX), shareAt(event.clientX));
    } else if (event.shiftKey && event.deltaY !== 0 && store.state.view.range) {
      event.preventDefault();
      pan(event.deltaY / (layout.right - layout.left));
    }
  }, { passive: false });

  surface.addEventListener("keydown", (event) => {
    if (!layout || !store.state.result || event.ctrlKey || event.metaKey || event.altKey) return;
    const { events, duration_s } = store.state.result.summary;
    const { cursor_s } = store.state.view;
    const axis = axisOf(store.state);
    const part = 0.005 * (event.shiftKey ? 10 : 1);
    const share = axis.share(cursor_s);
    const starts = events.map((one) => one.start_s);
    const moves = {
      ArrowRight: () => axis.time(share + part),
      ArrowUp: () => axis.time(share + part),
      ArrowLeft: () => axis.time(share - part),
      ArrowDown: () => axis.time(share - part),
      PageUp: () => starts.find((start) => start > cursor_s + 1e-6) ?? duration_s,
      PageDown: () => starts.filter((start) => start < cursor_s - 1e-6).at(-1) ?? 0,
      Home: () => 0,
      End: () => duration_s,
    };
    if (event.key === "Enter") {
      const at = moment().event;
      const found = at === undefined || at === null ? null : events[at];
      if (found?.place) choose(fieldOf(store.state, found.place), found.round ?? null);
      return;
    }
    const move = moves[event.key];
    if (!move) return;
    event.preventDefault();
    const to = Math.min(duration_s, Math.max(0, move()));
    const outside = to < axis.start_s - 1e-6 || to > axis.end_s + 1e-6;
    const half = (axis.end_s - axis.start_s) / 2;
    store.view({ cursor_s: to, ...(outside ? { range: { start_s: to - half, end_s: to + half } } : {}) });
  });

  const redraw = () => {
    draw(store.state);
    drawBelow(store.state);
    place(store.state);
  };
  // The sizes are kept here, because asking for them while drawing would lay out the page twice a frame.
  function measure() {
    const style = getComputedStyle(plot);
    const [height, below] = ["--chart-height", "--heat-height"].map((name) => remOf(style, name));
    const width = Math.floor(surface.clientWidth);
    if (width === size.width && height === size.height && below === size.heat) return false;
    size = { width, height, heat: below };
    for (const [node, tall] of [[canvas, height], [heat, below]]) {
      node.style.setProperty("width", `${width}px`);
      node.style.setProperty("height", `${tall}px`);
    }
    return true;
  }
  measure();
  new ResizeObserver(() => measure() && redraw()).observe(surface);
  // On paper the boxes are others.
  const look = followLook(() => {
    measure();
    redraw();
  });

  // What the pictures show of the view; the rest of it moves the cursor only.
  const drawn = ({ view: { range, hidden, axis, held, overlays, hideLines } }) => [range, hidden, axis, held, overlays, hideLines];
  /** Hears of what has another picture, and of a cursor in the same one. */
  const listens = (drawAnew, move) => {
    let viewDrawn = [];
    return (state, changed) => {
      if (!state.result) return;
      const now = drawn(state);
      const redrawn = "result" in changed || now.some((part, at) => part !== viewDrawn[at]);
      viewDrawn = now;
      if (redrawn) drawAnew(state);
      else if ("view" in changed && layout) move(state);
    };
  };
  // The temperatures are the picture that a move is looked at by; all else may come a frame later.
  seen(plot, listens(draw, placeLine), { first: true });
  seen(plot, listens((state) => {
    showRanges(state);
    drawBelow(state);
    describe(state);
    place(state);
  }, (state) => {
    lanes.mark(state);
    place(state);
  }));

  return { sheet, timeOptions, plot, onDrawn: (listener) => told.push(listener), layout: () => layout };
}
