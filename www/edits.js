// Changes of a timeline's structure, on a copy of the scenario: plain JSON in, plain JSON out.
//
// Each gives the field at which the event in question is found afterwards, or null.
import { eventAt, merged, turnaround } from "./scenario.js";

const PLACE = /^timeline\[(\d+)\](?:\.events\[(\d+)\])?$/;

/** Where a field lies: { list, place, at(place) } with the list it is in and how a place of that list is called. */
export function placeOf(scenario, field) {
  const [, item, index] = field.match(PLACE) ?? [];
  return index === undefined
    ? { list: scenario.timeline, place: Number(item), at: (place) => `timeline[${place}]` }
    : { list: scenario.timeline[item].events, place: Number(index), at: (place) => `timeline[${item}].events[${place}]` };
}

/** Puts an event into the list of `field`, before it or (`after` 1) behind it; without a field at the day's end. */
export function insertEvent(scenario, field, after, event) {
  if (!field) {
    scenario.timeline.push(event);
    return `timeline[${scenario.timeline.length - 1}]`;
  }
  const { list, place, at } = placeOf(scenario, field);
  // Nothing comes after what lasts until the turnaround is over.
  const to = after && list[place].duration === "rest" ? place : place + after;
  list.splice(to, 0, event);
  return at(to);
}

export function duplicateEvent(scenario, field) {
  const copy = structuredClone(eventAt(scenario, field));
  if (copy.duration === "rest") copy.duration = "5 min";
  return insertEvent(scenario, field, 1, copy);
}

/** Takes an event out; its neighbour is chosen after it. */
export function removeEvent(scenario, field) {
  const { list, place, at } = placeOf(scenario, field);
  list.splice(place, 1);
  return list.length > 0 ? at(Math.min(place, list.length - 1)) : null;
}

/** Moves an event so that it has `to` events of its list before it. */
export function moveEvent(scenario, field, to) {
  const { list, place, at } = placeOf(scenario, field);
  const [event] = list.splice(place, 1);
  list.splice(to, 0, event);
  return at(to);
}

/**
 * Takes one round out of its pattern, so that it can be changed by itself, with what it had of its own; gives its place
 * in the timeline. `place` is its place in the pattern. Rounds keep their numbers, for these are counted through the day.
 */
export function roundAlone(scenario, item, place) {
  const pattern = scenario.timeline[item];
  const others = (rounds) => ({ ...structuredClone(pattern), rounds });
  const { rounds } = pattern;
  const own = {
    ...pattern,
    rounds: [turnaround(rounds[place])],
    events: pattern.events.map((event) => merged(event, rounds[place]?.change?.[event.event])),
  };
  const parts = [others(rounds.slice(0, place)), own, others(rounds.slice(place + 1))].filter((part) => part.rounds.length > 0);
  scenario.timeline.splice(item, 1, ...parts);
  return item + (place > 0 ? 1 : 0);
}

/** The same for the round of an event. */
export function splitRound(scenario, field, place) {
  const [, item, index] = field.match(PLACE).map(Number);
  return `timeline[${roundAlone(scenario, item, place)}].events[${index}]`;
}

/** Makes rounds of the events `first` to `last` of the timeline, each `turnaround` from start to start. */
export function repeatAsRounds(scenario, first, last, count, length) {
  const events = scenario.timeline.slice(first, last + 1);
  scenario.timeline.splice(first, last - first + 1, { rounds: Array.from({ length: count }, () => length), events });
  return `timeline[${first}].events[0]`;
}

/** A round more behind one of a pattern, as that one is. */
export function addRound(scenario, item, place) {
  const { rounds } = scenario.timeline[item];
  rounds.splice(place + 1, 0, structuredClone(rounds[place]));
}

/** Takes a round out of a pattern; the last one takes the pattern with it. */
export function removeRound(scenario, item, place) {
  const { rounds } = scenario.timeline[item];
  rounds.splice(place, 1);
  if (rounds.length === 0) scenario.timeline.splice(item, 1);
}
