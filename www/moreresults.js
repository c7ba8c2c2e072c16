// What the day came to, further down: more of each launch, the events as a table.
import { element, setText, settle } from "./element.js";
import { whole } from "./quantity.js";
import { drift, signed } from "./results.js";

// The marks of a pass that are shown, as the core names them.
const MARKS = ["60 ft", "1/8 mile", "1,000 ft", "1/4 mile"];

export function createMoreResults({ store, core, seen }, document) {
  const $ = (id) => document.getElementById(id);
  const headings = (...texts) => texts.filter(Boolean).map((text) => element("th", { scope: "col", text }));

  // What the brake shows of a launch. A log does not say at what speed the brake let go.
  function showBrake({ summary }) {
    const { launches, pressure_unit: unit } = summary;
    $("brake").hidden = launches.every((launch) => launch.flash_rpm == null);
    setText(
      $("brake-caption"),
      `On the brake. Charge: pressure at the converter’s inlet at the end of the hold, ${unit}.`,
    );
    settle($("brake-heads"), ...headings("Round", "Time", "Launch rpm", "Charge", "Pan since first"));
    settle(
      $("brake-rows"),
      ...launches.map((launch) =>
        element(
          "tr",
          {},
          element("th", { scope: "row", text: launch.round ? String(launch.round) : "–" }),
          element("td", { text: launch.clock }),
          element("td", { text: whole(launch.launch_rpm) }),
          element("td", { text: launch.charge_pressure == null ? "–" : launch.charge_pressure.toFixed(1) }),
          element("td", { text: signed(Math.round(launch.pan) - Math.round(launches[0].pan)) }),
        )),
    );
  }

  // Times of computed passes with their change against the first; a logged pass has none.
  function showPasses({ summary }) {
    const computed = summary.launches.filter((launch) => launch.pass);
    $("passes").hidden = computed.length === 0;
    if (computed.length === 0) return;
    const reached = new Set(computed.flatMap(({ pass }) => pass.marks.map((mark) => mark.label)));
    const labels = MARKS.filter((label) => reached.has(label) && !(label === "1,000 ft" && reached.has("1/4 mile")));
    const [{ pass: { speed_unit: unit } }] = computed;
    setText(
      $("pass-caption"),
      "Computed passes: seconds at each mark, below them the change against the first pass, and the speed " +
        `at the finish in ${unit}.`,
    );
    settle($("pass-heads"), ...headings("Round", ...labels, "Speed"));
    settle(
      $("pass-rows"),
      ...computed.map(({ round, pass }) =>
        element(
          "tr",
          {},
          element("th", { scope: "row", text: round ? String(round) : "–" }),
          ...labels.map((label) => {
            const mark = pass.marks.find((one) => one.label === label);
            if (!mark) return element("td", { text: "–" });
            return element("td", {}, `${mark.elapsed_s.toFixed(3)} `, element("span", { class: "drift", text: drift(mark.change_s) }));
          }),
          element("td", { text: pass.speed.toFixed(1) }),
        )),
    );
  }

  function showTable({ summary }) {
    if (!$("table").open) return;
    const unit = summary.temperature_unit;
    setText($("table-units"), `Temperatures at the end of each event in ${unit}, heat brought in (made, or soaked in from the engine) in ${summary.energy_unit}.`);
    settle(
      $("table-rows"),
      ...summary.events.map((event) =>
        element(
          "tr",
          {},
          element("th", { scope: "row", text: event.label }),
          element("td", { text: event.round ?? "–" }),
          element("td", { text: whole(event.converter) }),
          element("td", { text: whole(event.pan) }),
          element("td", { text: whole(event.made) }),
          element("td", { text: clocks(core, event)[0] }),
          element("td", { text: event.took }),
        )),
    );
  }

  const showMore = (result) => {
    if (!$("launch-more").open) return;
    showBrake(result);
    showPasses(result);
  };
  $("launch-more").addEventListener("toggle", () => store.state.result && showMore(store.state.result));
  $("table").addEventListener("toggle", () => store.state.result && showTable(store.state.result));
  seen($("launch-more"), ({ result }, changed) => "result" in changed && result && showMore(result));
  seen($("table"), ({ result }, changed) => "result" in changed && result && showTable(result));
}

/** Start and end of an event as clocks, with seconds where it is shorter than a minute. */
export function clocks(core, { start_s, end_s, start_clock, end_clock }) {
  return end_s - start_s < 60 ? [core.clock(start_s), core.clock(end_s)] : [start_clock, end_clock];
}
