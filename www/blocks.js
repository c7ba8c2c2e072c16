// What the lanes show: events and on-times as blocks { lane, field, event, start_s, end_s, … } of the computed day,
// and what a drag of a block's edge does to the day as it is written.
import { heat } from "./eventrow.js";
import { eventAt, isRounds, onTimes, roundsBefore, setOnTimes, setTurnaround, turnaround, writtenEvents } from "./scenario.js";
import { secondsOf, timeText } from "./written.js";

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
    blocks.car.push({ lane: "car", field, event: at, round, start_s, end_s, label: event.label, look: heat(event.kind), key: event.kind, took: event.took });
    const written = field && eventAt(state.scenario, field);
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

/** In which pattern a field lies, and where in it a round of the day is: { item, place, count } or null. */
export function roundPlace(scenario, field, round) {
  const [, item] = field.match(/^timeline\[(\d+)\]\.events/) ?? [];
  if (item === undefined || !isRounds(scenario.timeline[item] ?? {})) return null;
  const place = round - roundsBefore(scenario, Number(item)) - 1;
  const count = scenario.timeline[item].rounds.length;
  return place >= 0 && place < count ? { item: Number(item), place, count } : null;
}

/** Why a block's end cannot be dragged, or null. */
export function fixedEnd(block, written) {
  if (!written) return "No event stands here; add one.";
  if (block.lane !== "car") return null;
  if (written.until) return `${block.label} ends at a temperature: change that below.`;
  if (written.event === "pass" && written.duration === undefined) return `${block.label} ends at the finish, as computed: choose a distance below, or state it as logged.`;
  return null;
}

/** The change { label, change(scenario) } that makes an event last `length_s`. */
export function lengthen(state, block, length_s, restate) {
  const written = eventAt(state.scenario, block.field);
  const at = roundPlace(state.scenario, block.field, block.round);
  if (written.duration === "rest" && at) {
    const now_s = secondsOf(restate, turnaround(state.scenario.timeline[at.item].rounds[at.place]));
    const { start_s, end_s } = block;
    const text = timeText(Math.max(0, now_s + length_s - (end_s - start_s)));
    return {
      label: `Turnaround of round ${block.round}`,
      says: `Turnaround of round ${block.round}: ${text}`,
      change: (scenario) => setTurnaround(scenario.timeline[at.item].rounds, at.place, text),
    };
  }
  const text = timeText(length_s);
  // A round that differs keeps what it has of its own.
  const own = at && state.scenario.timeline[at.item].rounds[at.place]?.change?.[written.event];
  const alone = own?.duration !== undefined;
  const where = alone ? `, round ${block.round} alone` : at && at.count > 1 ? `, in each of ${at.count} rounds` : "";
  return {
    label: `${block.label}: duration`,
    says: `${block.label}: ${text}${where}`,
    change(scenario) {
      if (alone) scenario.timeline[at.item].rounds[at.place].change[written.event].duration = text;
      else eventAt(scenario, block.field).duration = text;
    },
  };
}

/** The change that puts an on-time from `from_s` to `to_s` of its event (s since its start; null: to its end). */
export function setOnTime(block, from_s, to_s, word) {
  return {
    label: `${word}: on-time`,
    says: `${word} from ${timeText(from_s)} ${to_s === null ? "to the end of the event" : `for ${timeText(to_s - from_s)}`}`,
    change(scenario) {
      const event = eventAt(scenario, block.field);
      const list = structuredClone(onTimes(event, block.lane));
      const entry = list[block.place];
      if (from_s > 0) entry.start = timeText(from_s);
      else delete entry.start;
      if (to_s === null) delete entry.duration;
      else entry.duration = timeText(to_s - from_s);
      setOnTimes(event, block.lane, list);
    },
  };
}

/** Adds an on-time; gives its place. Off-times between stay as they are. */
export function addOnTime(scenario, field, lane, from_s, to_s, restate) {
  const event = eventAt(scenario, field);
  const list = structuredClone(onTimes(event, lane));
  const entry = {
    ...(lane === "fan" ? {} : { route: usualRoute(scenario) }),
    ...(from_s > 0 ? { start: timeText(from_s) } : {}),
    ...(to_s === null ? {} : { duration: timeText(to_s - from_s) }),
  };
  const starts = list.map((one) => secondsOf(restate, one.start ?? 0) ?? 0);
  const found = starts.findIndex((start_s) => start_s > from_s);
  const place = found < 0 ? list.length : found;
  list.splice(place, 0, entry);
  setOnTimes(event, lane, list);
  return place;
}

export function removeOnTime(scenario, { field, lane, place }) {
  const event = eventAt(scenario, field);
  const list = structuredClone(onTimes(event, lane));
  list.splice(place, 1);
  setOnTimes(event, lane, list);
}

/** The route that the day uses already, else the one through the converter. */
const usualRoute = (scenario) =>
  writtenEvents(scenario).flatMap(({ event }) => onTimes(event, "circulation")).find(({ route }) => route)?.route ?? "through_converter";
