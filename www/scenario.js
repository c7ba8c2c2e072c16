// Reads and writes a scenario: plain JSON as in a file. Knows its shape, no unit and no physics.
//
// An event is named by its field, as the core names it in errors: `timeline[0]`, or
// `timeline[3].events[4]` in a pattern of rounds.

/** The text that states a quantity of the set-up, or undefined. */
export function setupValue(scenario, part, key) {
  return scenario.setup?.[part]?.[key];
}

/** States a quantity of the set-up; undefined takes the statement out. */
export function setSetupValue(scenario, part, key, value) {
  scenario.setup ??= {};
  scenario.setup[part] ??= {};
  if (value === undefined) delete scenario.setup[part][key];
  else scenario.setup[part][key] = value;
  if (Object.keys(scenario.setup[part]).length === 0) delete scenario.setup[part];
}

/** All events as written: [{ field, event, item, index }]; `index` is null outside rounds. */
export function writtenEvents(scenario) {
  return scenario.timeline.flatMap((entry, item) =>
    isRounds(entry)
      ? entry.events.map((event, index) => ({ field: `timeline[${item}].events[${index}]`, event, item, index }))
      : [{ field: `timeline[${item}]`, event: entry, item, index: null }],
  );
}

export function isRounds(entry) {
  return Array.isArray(entry.rounds);
}

/** The event of a field, or undefined. Every box asks for its own, so this must not look through the day. */
export function eventAt(scenario, field) {
  const [, item, index] = field.match(/^timeline\[(\d+)\](?:\.events\[(\d+)\])?$/) ?? [];
  const entry = scenario.timeline[item];
  if (!entry || isRounds(entry) !== (index !== undefined)) return undefined;
  return index === undefined ? entry : entry.events[index];
}

/**
 * Where each block of the simulated day was written: for block b and its event e, `blocks[b](e)` is the
 * field. Events in a row between rounds are one block; each round is one.
 */
export function blockFields(scenario) {
  const blocks = [];
  let stretch = null;
  scenario.timeline.forEach((entry, item) => {
    if (isRounds(entry)) {
      for (const _ of entry.rounds) blocks.push((event) => `timeline[${item}].events[${event}]`);
      stretch = null;
      return;
    }
    if (!stretch) {
      const first = item;
      stretch = (event) => `timeline[${first + event}]`;
      blocks.push(stretch);
    }
  });
  return blocks;
}

/** The hold on the brake that a slider edits: the first in rounds, else the first of all. */
export function brakeHold(scenario) {
  const holds = writtenEvents(scenario).filter(
    ({ event }) => event.event === "brake_hold" && event.duration !== undefined && event.duration !== "rest",
  );
  return holds.find(({ index }) => index !== null) ?? holds[0];
}

/** The turnaround of a round's entry. */
export function turnaround(entry) {
  return typeof entry === "object" ? entry.turnaround : entry;
}

/** How many rounds come before an entry of the timeline: rounds are counted through the day. */
export function roundsBefore(scenario, item) {
  return scenario.timeline.slice(0, item).reduce((sum, entry) => sum + (isRounds(entry) ? entry.rounds.length : 0), 0);
}

/** What single rounds of a pattern have otherwise: [{ place, kind, key, value }]. */
export function exceptions(entry) {
  return entry.rounds.flatMap((round, place) =>
    Object.entries(round?.change ?? {}).flatMap(([kind, changes]) =>
      Object.entries(changes ?? {}).map(([key, value]) => ({ place, kind, key, value }))));
}

const ENDS = ["duration", "until", "at_most"];

/** An event as it is in a round that changes its kind. A new end replaces the old one, however it was written. */
export function merged(event, change) {
  if (!change) return event;
  const base = { ...event };
  if ("duration" in change || "until" in change) for (const key of ENDS) delete base[key];
  return { ...base, ...change };
}

/** In which pattern a field lies, and where in it a round of the day is: { item, place, count } or null. */
export function roundPlace(scenario, field, round) {
  const [, item] = field.match(/^timeline\[(\d+)\]\.events/) ?? [];
  if (item === undefined || !isRounds(scenario.timeline[item] ?? {})) return null;
  const place = round - roundsBefore(scenario, Number(item)) - 1;
  const count = scenario.timeline[item].rounds.length;
  return place >= 0 && place < count ? { item: Number(item), place, count } : null;
}

/** What a round has of its own for the event of a field, or undefined. */
export function ownOf(scenario, field, round) {
  const at = roundPlace(scenario, field, round);
  return at ? scenario.timeline[at.item].rounds[at.place]?.change?.[eventAt(scenario, field)?.event] : undefined;
}

/** The event of a field as it is in a round of the day, or undefined. */
export function eventIn(scenario, field, round) {
  const event = eventAt(scenario, field);
  return event && merged(event, ownOf(scenario, field, round));
}

export function setTurnaround(rounds, place, value) {
  if (typeof rounds[place] === "object") rounds[place].turnaround = value;
  else rounds[place] = value;
}

/** On-times of a switch as a list, however they were written; `on` marks a whole event. */
export function onTimes(event, which) {
  const written = event[which];
  if (written === undefined || written === "off") return [];
  if (Array.isArray(written)) return written;
  return which === "fan" ? [{}] : [{ route: written }];
}

/** Writes on-times back in the shortest form. */
export function setOnTimes(event, which, list) {
  if (list.length === 0) {
    delete event[which];
    return;
  }
  const whole = list.length === 1 && !("start" in list[0]) && !("duration" in list[0]) && !("until" in list[0]);
  if (!whole) event[which] = list;
  else event[which] = which === "fan" ? "on" : list[0].route;
}

const isObject = (value) => value !== null && typeof value === "object" && !Array.isArray(value);
const isAbsent = (value) => value === undefined;
const isText = (value) => typeof value === "string";
const isTemperatureEnd = (until) => isAbsent(until) || isObject(until);
const isSwitch = (written) =>
  isAbsent(written) || isText(written) ||
  (Array.isArray(written) && written.every((one) =>
    isObject(one) && isTemperatureEnd(one.until) && (isAbsent(one.route) || isText(one.route))));

/**
 * Whether the page can show and edit it, whatever its values are: text that is no quantity is the core's
 * to refuse. `kinds` are the known kinds of events.
 */
export function isDrawable(scenario, kinds) {
  const isEvent = (event) =>
    isObject(event) && kinds.includes(event.event) && (isAbsent(event.name) || isText(event.name)) &&
    isTemperatureEnd(event.until) && isSwitch(event.circulation) && isSwitch(event.fan);
  const isTurnaround = (round) => isText(round) || typeof round === "number" || isObject(round);
  const isPattern = ({ rounds, events }) =>
    Array.isArray(rounds) && rounds.length > 0 && rounds.every(isTurnaround) &&
    Array.isArray(events) && events.every(isEvent);
  const isEntry = (entry) => isObject(entry) && ("rounds" in entry ? isPattern(entry) : isEvent(entry));
  const isSetup = (setup) => isAbsent(setup) || (isObject(setup) && Object.values(setup).every(isObject));
  return isObject(scenario) && isSetup(scenario.setup) && Array.isArray(scenario.timeline) &&
    scenario.timeline.every(isEntry);
}

/** A new event of a kind of `core.tables()`, to be edited further. */
export function newEvent({ key, lasts }) {
  return { event: key, duration: lasts };
}

/** How many values of plain JSON differ; an entry more or less of a list counts once. */
export function differences(a, b) {
  if (a === null || b === null || typeof a !== "object" || typeof b !== "object" || Array.isArray(a) !== Array.isArray(b)) {
    return a === b ? 0 : 1;
  }
  const keys = new Set([...Object.keys(a), ...Object.keys(b)]);
  return [...keys].reduce((sum, key) => sum + (key in a && key in b ? differences(a[key], b[key]) : 1), 0);
}
