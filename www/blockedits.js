// What a drag of a block of the lanes, or a key, does to the day as it is written, and why it cannot.
import { eventAt, eventIn, onTimes, ownOf, roundPlace, setOnTimes, setTurnaround, turnaround, writtenEvents } from "./scenario.js";
import { secondsOf, snapped, timeText } from "./written.js";

const isComputed = (written) => written.event === "pass" && written.duration === undefined && !written.until;
const inEach = (scenario, { field, round }) => {
  const at = roundPlace(scenario, field, round);
  return at && at.count > 1 ? `, in each of ${at.count} rounds` : "";
};

const lastsForTurnaround = (scenario, { lane, field, round }) => lane === "car" && eventIn(scenario, field, round)?.duration === "rest";

/** Whether the day as written has a block's event: what is shown is the last computed day, and that may be another. */
export const isThere = (scenario, { field, round }) => Boolean(field && eventIn(scenario, field, round));

/** Why nothing of a block can be dragged, or null. */
export function fixed(scenario, block) {
  if (!block.field) return "No event stands here; add one below.";
  if (!isThere(scenario, block)) return `${block.label} is not in the day as it is written now, which is not computed.`;
  if (block.lane !== "car" && block.place === null) return `${block.label} is switched by another event: change it there.`;
  if (ownOf(scenario, block.field, block.round) && !lastsForTurnaround(scenario, block)) {
    return `Round ${block.round} has this event of its own: first take “Change this round alone” below.`;
  }
  return null;
}

/** Why a block's end cannot be dragged, or null. */
export function fixedEnd(scenario, block) {
  const why = fixed(scenario, block);
  if (why) return why;
  const written = eventIn(scenario, block.field, block.round);
  if (block.lane !== "car") {
    const [entry] = onTimes(written, block.lane).slice(block.place);
    return entry?.until ? `${block.label} is on until a temperature: change that below.` : null;
  }
  if (written.until) return `${block.label} ends at a temperature: change that below.`;
  if (isComputed(written)) return `${block.label} ends at the finish, as computed: choose a distance below, or state it as logged.`;
  return null;
}

/** Why nothing can be switched on for a part of an event, or null; `block` is of a switch's lane. */
export function fixedSwitch(scenario, block) {
  const why = fixed(scenario, { ...block, place: 0 });
  const computed = !why && isComputed(eventIn(scenario, block.field, block.round));
  return computed ? "In a computed pass pump and fan are on or off for all of it: choose it below." : why;
}

/** The change { label, says, change(scenario) } that makes an event last `length_s`, on a whole step or `free`. */
export function lengthen({ scenario }, block, length_s, restate, free = false) {
  const written = eventIn(scenario, block.field, block.round);
  const at = roundPlace(scenario, block.field, block.round);
  if (written.duration === "rest" && at) {
    const now_s = secondsOf(restate, turnaround(scenario.timeline[at.item].rounds[at.place]));
    const text = timeText(snapped(now_s + length_s - (block.end_s - block.start_s), free));
    return {
      label: `Turnaround of round ${block.round}`,
      says: `Turnaround of round ${block.round}: ${text}`,
      change: (copy) => setTurnaround(copy.timeline[at.item].rounds, at.place, text),
    };
  }
  const text = timeText(snapped(length_s, free));
  return {
    label: `${block.label}: duration`,
    says: `${block.label}: ${text}${inEach(scenario, block)}`,
    change(copy) {
      eventAt(copy, block.field).duration = text;
    },
  };
}

/**
 * The change that puts an on-time from `from_s` to `to_s` of its event (s since its start; null: to its end), or null
 * where nothing changes. Without `ends` its end is not touched: what lasts to the event's end goes on doing so.
 */
export function setOnTime({ scenario }, block, from_s, to_s, word, ends = true) {
  const entry = onTimes(eventAt(scenario, block.field), block.lane)[block.place];
  const start = from_s > 0 ? timeText(from_s) : undefined;
  const duration = !ends && (entry.duration === undefined || entry.until) ? entry.duration : to_s === null ? undefined : timeText(to_s - from_s);
  if (start === entry.start && duration === entry.duration) return null;
  return {
    label: `${word}: on-time`,
    says: `${word} from ${timeText(from_s)} ${duration ? `for ${duration}` : entry.until ? "until a temperature" : "to the end of the event"}${inEach(scenario, block)}`,
    change(copy) {
      const event = eventAt(copy, block.field);
      const list = structuredClone(onTimes(event, block.lane));
      const one = list[block.place];
      for (const [key, value] of [["start", start], ["duration", duration]]) {
        if (value === undefined) delete one[key];
        else one[key] = value;
      }
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
