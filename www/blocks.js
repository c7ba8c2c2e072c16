// What the lanes show: events and on-times as blocks { lane, field, event, start_s, end_s, … } of the computed day.
import { eventIn, onTimes } from "./scenario.js";
import { secondsOf } from "./written.js";

export const LANES = [["car", "car"], ["circulation", "pump"], ["fan", "fan"]];

/**
 * Blocks by lane. `event` is the place in `summary.events`; on-times have `place`, their place as written, which is
 * null where what was computed has no counterpart there.
 */
export function blocksOf(state, fieldOf, restate) {
  const { summary } = state.result;
  const blocks = { car: [], circulation: [], fan: [] };
  summary.events.forEach((event, at) => {
    const field = event.place ? fieldOf(state, event.place) : null;
    const { start_s, end_s, round = null } = event;
    blocks.car.push({ lane: "car", field, event: at, round, start_s, end_s, label: event.label, look: event.look, key: event.kind, took: event.took });
    const written = field && eventIn(state.scenario, field, round);
    for (const lane of ["circulation", "fan"]) {
      const list = written ? onTimes(written, lane) : [];
      const spans = summary.switches.filter((one) =>
        (one.key === "fan") === (lane === "fan") && one.end_s > start_s + 1e-6 && one.start_s < end_s - 1e-6);
      spans.forEach((one, number) => {
        const from = Math.max(one.start_s, start_s);
        blocks[lane].push({
          lane, field, event: at, round, start_s: from, end_s: Math.min(one.end_s, end_s), label: one.label, look: `on ${one.key}`, key: one.key,
          place: spans.length === list.length ? number : placeFor(list, from - start_s, restate),
        });
      });
    }
  });
  return blocks;
}

/** Which of the on-times as written began last before a time (s) of the event. */
function placeFor(list, time_s, restate) {
  const starts = list.map((entry) => secondsOf(restate, entry.start ?? 0) ?? 0);
  const at = starts.findLastIndex((start_s) => start_s <= time_s + 0.5);
  return at < 0 ? null : at;
}
