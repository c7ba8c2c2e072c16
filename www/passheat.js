// Where a pass's heat comes from: a bar for every second, stacked by source, and the sum of each source.
//
// The bars are a picture of the table behind them. Sources have the numbers and colours that they have everywhere.
import { element, setText, settle } from "./element.js";
import { amount } from "./ledger.js";
import { behind, columns, scrolled } from "./scrolled.js";
import { swatch } from "./swatch.js";

// In the order in which the core gives them, from the bottom of a bar upwards.
const SOURCES = ["converter_shear", "gear_train", "front_pump"];
const SHORT = ["Converter", "Gears", "Front pump"];

export function createPassHeat({ store, core, seen }, root) {
  const { paths } = core.tables("us");
  const looks = SOURCES.map((key) => paths.find((path) => path.key === key));
  const choose = element("select", {
    id: "pass-launch", on: { change: () => toLaunch(store, Number(choose.value)) },
  });
  const pick = element("p", { class: "pick" }, element("label", { for: choose.id, text: "Pass of" }), choose);
  const says = element("p", { id: "pass-says" });
  const scale = element("div", { class: "scale", "aria-hidden": "true" });
  const bars = element("div", { class: "seconds", "aria-hidden": "true" });
  const caption = element("figcaption");
  const figure = element("figure", { class: "by-second" }, element("div", { class: "field-of-bars" }, scale, bars), caption);
  const list = element("ol", { class: "lines" });
  const rows = element("tbody");
  const units = element("caption");
  const heads = element("tr", {}, ...columns(["Second", ...SHORT]));
  const table = behind("pass-table", "As a table", scrolled("Table of heat by second", units, element("thead", {}, heads), rows));
  root.append(
    element("div", { class: "section-head" }, element("h2", { id: "pass-title", text: "Where a pass’s heat comes from" }), pick),
    says, figure, list, table,
  );

  function show({ result, view }) {
    const { launches, energy_unit: unit } = result.summary;
    root.hidden = launches.length === 0;
    if (root.hidden) return;
    const at = launchShown({ result, view });
    offerLaunches(choose, pick, launches, at);
    const { heat, pass: computed } = launches[at];
    const all = heat.sources.reduce((sum, line) => sum + line.energy, 0);
    const share = `${(100 * heat.first_third_share).toFixed(0)}\u00a0% of the converter’s heat is made in the first third of the pass`;
    setText(says, computed ? `${share}.` : `${share}; it is logged as one mean, so that all its seconds are alike.`);
    draw(heat.seconds, unit);
    settle(list, ...heat.sources.map((line) => {
      const place = SOURCES.indexOf(line.key);
      return element(
        "li",
        { data: { source: line.key } },
        swatch(looks[place]),
        element("span", { class: "name", text: line.label }),
        element("span", { class: "value", text: `${amount(line.energy)} ${unit}` }),
        element("span", { class: "share", text: `${(all > 0 ? (100 * line.energy) / all : 0).toFixed(1)} %` }),
      );
    }));
    setText(units, `Heat made in each second, in ${unit}.`);
    settle(rows, ...heat.seconds.map((second, index) =>
      element(
        "tr",
        {},
        element("th", { scope: "row", text: String(index + 1) }),
        ...second.map((energy) => element("td", { text: energy.toFixed(1) })),
      )));
  }

  function draw(seconds, unit) {
    const sums = seconds.map((second) => second.reduce((sum, energy) => sum + energy, 0));
    const top = roundUp(Math.max(...sums, 0));
    const every = [1, 2, 5, 10].find((step) => seconds.length / step <= 14) ?? 10;
    const height = (energy) => `${((100 * Math.max(energy, 0)) / top).toFixed(2)}%`;
    bars.classList.toggle("many", seconds.length > 30);
    settle(bars, ...seconds.map((second, index) =>
      element(
        "div",
        { class: "second" },
        element(
          "div",
          { class: "stack" },
          ...second.map((energy, place) => swatch(looks[place], { class: "second-part", text: "", style: { height: height(energy) } })),
        ),
        element("span", { class: "number-of-second", text: (index + 1) % every === 0 ? String(index + 1) : "" }),
      )));
    settle(scale, ...[1, 0.5, 0].map((share) => element("span", { text: amount(top * share) })));
    setText(caption, `${unit} in each second of the pass: converter below, gears and front pump on top. The last bar is what is left of a second.`);
  }

  // The cursor moves sixty times a second; only another launch changes this picture.
  let shown = null;
  seen(root, (state, changed) => {
    if (!state.result || !("result" in changed || state.view.launch !== shown)) return;
    shown = state.view.launch;
    show(state);
  });
}

/** Which launch is shown: the view's, or the last where the day has fewer; 0 where it has none. */
export const launchShown = ({ result, view }) => Math.min(view.launch, Math.max(0, result.summary.launches.length - 1));

/** Shows a launch: the cursor goes with it. */
export function toLaunch(store, launch) {
  store.view({ launch, cursor_s: store.state.result.summary.launches[launch].time_s });
}

/** Fills a choice of launches, and hides it where there is nothing to choose. */
export function offerLaunches(choose, pick, launches, at) {
  const name = ({ round, clock }) => `${round ? `round ${round}` : "the launch"}, ${clock}`;
  pick.hidden = launches.length < 2;
  const names = launches.map(name);
  if ([...choose.options].map((option) => option.text).join("\n") !== names.join("\n")) {
    choose.replaceChildren(...names.map((text, value) => element("option", { value, text })));
  }
  choose.value = String(at);
}

/** The next of 1, 2, 4, 6, 8 or 10 times a power of ten: an axis that halves well. */
function roundUp(value) {
  if (!(value > 0)) return 1;
  const power = 10 ** Math.floor(Math.log10(value));
  return power * [1, 2, 4, 6, 8, 10].find((lead) => lead * power >= value * 0.9999);
}
