// What happened beside the temperatures: turnarounds with battery and fluid life, the air of the day,
// pressures and flows.
import { element, joined, setText, settle } from "./element.js";

export function createHappened({ store, seen }, document) {
  const $ = (id) => document.getElementById(id);
  const cell = (text) => element("td", { text });
  const heading = (text) => element("th", { scope: "row", text });
  const percent = (share) => (share > 0 && share < 0.00005 ? "< 0.01 %" : `${(100 * share).toFixed(2)} %`);

  function showTurnarounds({ summary: { turnarounds, fluid_life_share: life } }) {
    $("turnaround-table").parentElement.hidden = turnarounds.length === 0;
    settle($("turnaround-rows"), ...turnarounds.map((round) =>
      element(
        "tr",
        {},
        heading(String(round.round)),
        cell(round.took),
        cell(round.pump_on),
        cell(round.fan_on),
        cell(round.used_ah.toFixed(1)),
        cell(round.least_ah.toFixed(1)),
        cell(percent(round.life_share)),
      )));
    setText($("fluid-life"), `The day uses ${percent(life)} of the life of a fill of fluid.`);
  }

  // A day's rounds are much alike: the first event of every name tells.
  function showPressures({ summary }) {
    if (!$("pressures").open) return;
    const { pressure_unit: pressure, flow_unit: flow } = summary;
    setText($("pressures-units"), `At the end of the first event of each name. Pressures in ${pressure}. Cooler: flow through converter and cooler, circulation: that of its own pump, both in ${flow}.`);
    const first = new Map();
    for (const event of summary.events) {
      const still = event.line_pressure === 0 && event.circulation_flow === 0;
      if (!still && !first.has(event.label)) first.set(event.label, event);
    }
    settle($("pressure-rows"), ...[...first.values()].map((event) =>
      element(
        "tr",
        {},
        heading(event.label),
        cell(event.engine_rpm.toFixed(0)),
        cell(event.line_pressure.toFixed(1)),
        cell(event.charge_pressure.toFixed(1)),
        cell(event.front_pump_flow.toFixed(2)),
        cell(event.circulation_flow.toFixed(2)),
        cell(event.circulation_current.toFixed(1)),
      )));
  }

  $("pressures").addEventListener("toggle", () => store.state.result && showPressures(store.state.result));

  seen($("turnaround-table").closest("section"), ({ result }, changed) => "result" in changed && result && showTurnarounds(result));
  seen($("air-text").closest("section"), ({ result }, changed) => {
    if (!("result" in changed) || !result) return;
    setText($("air-text"), joined(result.summary.air.text));
    showPressures(result);
  });
}
