// The letters of the days that are compared, on their curves in the chart: each where its curve lies furthest from all
// others. A letter stays where it is while it stands well there, so that it does not jump about under a slider.
import { along, axisOf } from "./axis.js";
import { element, settle } from "./element.js";

// Places that are tried, as shares of what is shown.
const PLACES = Array.from({ length: 61 }, (_, at) => 0.03 + (0.94 * at) / 60);
// Further apart is no better; a letter's box; curves that are closer than this are one.
const [ENOUGH_PX, BOX_PX, ONE_PX] = [18, 16, 2];
// A place as good as this share of the best is kept.
const GOOD = 0.6;

/** `chart` has { plot, onDrawn, layout }, `nodes` are those whose curves are compared, `letter()` is the edited day's. */
export function createLetters({ store, chart, core, day, nodes, letter }) {
  const layer = element("div", { class: "chart-letters", "aria-hidden": "true" });
  chart.plot.append(layer);
  let stood = new Map(); // node and letter → its place

  function curvesOf(state, layout) {
    const axis = axisOf(state);
    const times = Float64Array.from(PLACES, (share) => axis.time(share));
    const high = layout.bottom - layout.top;
    // Scales are straight: two values make the conversion.
    const [zero, one] = [0, 1].map((kelvin) => core.temperature(kelvin, state.units));
    const y = (kelvin) => layout.bottom - ((zero + (one - zero) * kelvin - layout.lowest) / (layout.highest - layout.lowest)) * high;
    const kept = (state.view.overlays?.compare ?? []).map((line) =>
      ({ ...line, y: Array.from(times, (time) => y(along(line.times_s, line.value_k, Math.min(time, line.times_s.at(-1))))) }));
    const shown = nodes.filter(({ key }) => kept.some(({ node }) => node === key));
    const own = shown.map(({ key, light, dark }) => ({ node: key, letter: letter(), light, dark, y: Array.from(day().series(key, times), y) }));
    return [...kept, ...own];
  }

  function show(state, layout) {
    const curves = layout && !state.view.hideLines && state.view.overlays?.compare?.length > 0 ? curvesOf(state, layout) : [];
    const width = layout ? layout.right - layout.left : 0;
    // Curves of one node that lie on each other share their letters.
    const labels = [];
    for (const curve of curves) {
      const twin = labels.find((one) => one.node === curve.node && one.y.every((y, at) => Math.abs(y - curve.y[at]) < ONE_PX));
      if (twin) twin.text += ` ${curve.letter}`;
      else labels.push({ ...curve, text: curve.letter });
    }
    const placed = [];
    const places = new Map();
    for (const label of labels) {
      const free = PLACES.map((share, at) => {
        const x = layout.left + share * width;
        const y = label.y[at];
        // Beside it, too: a steep curve is near long before it is above or below.
        const apart = labels.filter((other) => other !== label).flatMap((other) => [at - 1, at, at + 1].map((near) => Math.abs((other.y[near] ?? Infinity) - y)));
        const blocked = placed.some((other) => Math.abs(other.x - x) < BOX_PX + 6 * label.text.length && Math.abs(other.y - y) < BOX_PX);
        return blocked || y < layout.top + 6 || y > layout.bottom - 6 ? -1 : Math.min(ENOUGH_PX, ...apart);
      });
      const key = `${label.node} ${label.text}`;
      const best = free.reduce((one, gap, at) => (gap > free[one] ? at : one), 0);
      const before = stood.get(key);
      const at = before !== undefined && free[before] >= GOOD * free[best] ? before : best;
      if (free[at] < 0) continue;
      places.set(key, at);
      placed.push({ ...label, x: layout.left + PLACES[at] * width, y: label.y[at] });
    }
    stood = places;
    settle(layer, ...placed.map(({ text, x, y, light, dark }) =>
      element("span", { class: "chart-letter", text, style: { "--light": light, "--dark": dark, transform: `translate(${x.toFixed(1)}px, ${y.toFixed(1)}px) translate(-50%, -50%)` } })));
  }

  chart.onDrawn(show);
  // Whoever lays lines over the chart after it was drawn has it drawn again; until then nothing is lettered.
  if (chart.layout() && store.state.result) show(store.state, chart.layout());
}
