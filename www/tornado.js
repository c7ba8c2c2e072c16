// What matters most: one parameter at a time moved to the ends of what it may be, as bars around what the day comes to as
// stated, the longest first. The bars are a table: the numbers stand beside them, the low end is hatched, the high end full.
import { element, setText } from "./element.js";

const MOST_BARS = 8;

/** `sweep(path)` shows a parameter at five values. Gives { element, show(measures), most(key) }; null hides it. */
export function createTornado({ sweep }) {
  let all = null;
  let whole = false;
  const measure = element("select", { id: "tornado-measure", on: { change: draw } });
  const caption = element("caption");
  const heads = ["Parameter, from … to", "At low", "At high"].map((text) => element("th", { scope: "col", text }));
  const rows = element("tbody", { id: "band-bars" });
  const more = element("button", {
    type: "button", class: "plain", id: "tornado-more",
    on: {
      click: () => {
        whole = !whole;
        draw();
      },
    },
  });
  const node = element("div", { id: "band-matters", class: "tornado", hidden: true },
    element("h3", { text: "What matters most" }),
    element("p", { class: "choice" }, element("label", { for: measure.id, text: "It moves" }), " ", measure),
    element("table", {}, caption, element("thead", {}, element("tr", {}, ...heads)), rows),
    element("div", { class: "moves" }, more),
    element("p", { class: "help", text: "Each parameter alone at the ends that hold 19 of 20 of its values: hatched at its low end, full at its high end, from where the day stands. Tap a name to see it at five values." }));

  function draw() {
    const now = all.find((one) => one.key === measure.value) ?? all[0];
    const { stated } = now.bars[0];
    const reach = Math.max(1e-9, ...now.bars.flatMap(({ low, high }) => [Math.abs(low - stated), Math.abs(high - stated)]));
    const value = (number) => number.toFixed(now.decimals).replace("-", "−");
    setText(caption, `${now.label} in ${now.unit}: ${value(stated)} as stated.`);
    rows.replaceChildren(...now.bars.slice(0, whole ? Infinity : MOST_BARS).map((bar) => {
      const segment = (end, number) => {
        const [from, to] = [Math.min(0, (number - stated) / reach), Math.max(0, (number - stated) / reach)];
        return element("span", { class: `tornado-${end}`, style: { "--from": (1 + from) / 2, "--share": (to - from) / 2 } });
      };
      return element("tr", {},
        element("th", { scope: "row" },
          element("button", { type: "button", class: "take-way", text: `${bar.part}: ${bar.label}`, data: { bar: bar.path }, on: { click: () => sweep(bar.path) } }),
          element("span", { class: "drift", text: bar.ends }),
          element("span", { class: "tornado-bar", "aria-hidden": "true" }, segment("low", bar.low), segment("high", bar.high), element("span", { class: "tornado-now" }))),
        element("td", { text: value(bar.low) }),
        element("td", { text: value(bar.high) }));
    }));
    more.hidden = now.bars.length <= MOST_BARS;
    setText(more, whole ? "Show the largest only" : `Show all ${now.bars.length}`);
  }

  return {
    element: node,
    show(measures) {
      all = measures?.length > 0 ? measures : null;
      node.hidden = !all;
      if (!all) return;
      const was = measure.value;
      measure.replaceChildren(...all.map((one) => element("option", { value: one.key, text: one.label })));
      measure.value = all.some((one) => one.key === was) ? was : all[0].key;
      draw();
    },
    /** The names of the parameters that move a measure most, at least half as much as the first; empty for none. */
    most(key) {
      const bars = all?.find((one) => one.key === key)?.bars ?? [];
      return bars.slice(0, 2).filter((bar) => bar.size >= 0.5 * bars[0].size).map(({ label }) => `${label.charAt(0).toLowerCase()}${label.slice(1)}`);
    },
  };
}
