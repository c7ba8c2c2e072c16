// What differs between two scenarios, in words: a list of { label, short, from, to } in the reader's units, `short` for
// where there is little room.
//
// Timelines are compared with their rounds counted out, so that it does not matter whether a round is written by
// itself or as one of a pattern; what differs alike in several rounds is one line.
import { placeWords } from "./places.js";
import { shown } from "./quantity.js";
import { isRounds, merged, onTimes, setupValue, turnaround } from "./scenario.js";

/** The blocks of a day: [{ round: number or null, turnaround, events: [{ event, field }] }]. */
export function countedOut(scenario) {
  let round = 0;
  return scenario.timeline.flatMap((entry, item) => {
    if (!isRounds(entry)) return [{ round: null, events: [{ event: entry, field: `timeline[${item}]` }] }];
    return entry.rounds.map((one) => {
      round += 1;
      const events = entry.events.map((event, index) => ({
        event: merged(event, one?.change?.[event.event]),
        field: `timeline[${item}].events[${index}]`,
      }));
      return { round, turnaround: turnaround(one), events };
    });
  });
}

const same = (a, b) => JSON.stringify(a) === JSON.stringify(b);
const keysOf = (a = {}, b = {}) => [...new Set([...Object.keys(a), ...Object.keys(b)])];

/**
 * What is otherwise in `b` than in `a`. `tables` are the core's in the reader's units; `valuesA`, `valuesB` the values
 * that hold in each set-up, in the order of the table.
 */
export function changesBetween(a, b, { tables, restate, units, valuesA, valuesB }) {
  const text = (path, value) => restate(path, String(value), units)?.text ?? String(value);

  function ofSetup() {
    const part = (scenario, key) => scenario.setup?.[key] ?? {};
    return keysOf(a.setup, b.setup).flatMap((name) => keysOf(part(a, name), part(b, name)).flatMap((key) => {
      if (same(setupValue(a, name, key), setupValue(b, name, key))) return [];
      const [from, to] = [[a, valuesA], [b, valuesB]].map(([scenario, values]) => setupText(scenario, values, name, key));
      const row = tables.parameters.find((one) => one.part === name && one.key === key);
      const label = row ? `${row.part_label}: ${row.label}` : placeWords(b, `setup.${name}.${key}`, tables);
      return from === to ? [] : [{ label, short: row?.label ?? label, from, to }];
    }));
  }

  function setupText(scenario, values, part, key) {
    const stated = setupValue(scenario, part, key);
    if (key === "class") return tables.fluids.find((one) => one.key === (stated ?? tables.fluids[0].key))?.label ?? String(stated);
    if (tables.tables.some((one) => one.part === part && one.key === key)) return stated === undefined ? "no table" : "own table";
    if (stated !== undefined) return text(`${part}.${key}`, stated);
    const place = tables.parameters.findIndex((row) => row.part === part && row.key === key);
    return place < 0 ? "not stated" : `${shown(values[place])} ${tables.parameters[place].unit}`.trim();
  }

  const kindOf = (event) => tables.kinds.find(({ key }) => key === event.event);
  const nameOf = (event) => event.name ?? kindOf(event)?.label ?? event.event;

  function until(condition) {
    const node = tables.nodes.find(({ key }) => key === condition.node)?.label ?? condition.node;
    const [side, value] = "at_or_below" in condition ? ["at or below", condition.at_or_below] : ["at or above", condition.at_or_above];
    return `until ${node.toLowerCase()} is ${side} ${text("temperature", value)}`;
  }

  function eventText(event, key) {
    const value = event[key];
    if (key === "circulation" || key === "fan") {
      const on = onTimes(event, key).map((one) => [
        one.route === undefined ? "on" : tables.routes.find((route) => route.key === one.route)?.label.toLowerCase(),
        one.start !== undefined && `from ${text("time", one.start)}`,
        one.duration !== undefined && `for ${text("time", one.duration)}`,
        one.until && until(one.until),
        // What was cut short before would read as if nothing had changed.
        one.duration === undefined && !one.until && "until the event ends",
      ].filter(Boolean).join(" "));
      return on.join(", then ") || "off";
    }
    if (value === undefined) return "not stated";
    if (key === "event") return kindOf(event)?.label ?? value;
    if (key === "until") return until(value);
    if (value === "rest") return "the rest";
    if (key === "duration" || key === "at_most" || key === "start") return text("time", value);
    return typeof value === "string" && !/\d/.test(value) ? value.replace(/_/g, " ") : text(`event.${key}`, value);
  }

  /** Pairs of events that are the same but for what was changed in them, with a hole where one was added or taken out. */
  function aligned(before, after) {
    if (before.length === after.length) return before.map((one, at) => [one, after[at]]);
    const isSame = (one, other) => one.event.event === other.event.event && one.event.name === other.event.name;
    const pairs = [];
    let next = 0;
    for (const one of before) {
      const found = after.findIndex((other, at) => at >= next && isSame(one, other));
      if (found < 0) {
        pairs.push([one, null]);
        continue;
      }
      pairs.push(...after.slice(next, found).map((other) => [null, other]), [one, after[found]]);
      next = found + 1;
    }
    return [...pairs, ...after.slice(next).map((other) => [null, other])];
  }

  function ofEvents(before, after) {
    const whole = ({ event }) => `${nameOf(event)}${event.duration ? `, ${eventText(event, "duration")}` : ""}`;
    return aligned(before, after).flatMap(([one, other]) => {
      if (!one) return [{ what: "Event added", from: "none", to: whole(other) }];
      if (!other) return [{ what: "Event taken out", from: whole(one), to: "none" }];
      return keysOf(one.event, other.event).filter((key) => key !== "name" && !same(one.event[key], other.event[key])).map((key) => ({
        what: placeWords(b, `${other.field}.${key}`, tables), from: eventText(one.event, key), to: eventText(other.event, key),
      })).filter(({ from, to }) => from !== to);
    });
  }

  function ofTimeline() {
    const [before, after] = [countedOut(a), countedOut(b)];
    const shape = (blocks) => blocks.map(({ round }) => (round === null ? "-" : "R")).join("");
    if (shape(before) !== shape(after)) {
      const size = (blocks) => `${blocks.filter(({ round }) => round !== null).length} rounds, ` +
        `${blocks.filter(({ round }) => round === null).length} events outside rounds`;
      return [{ label: "Timeline", short: "Timeline", from: size(before), to: size(after) }];
    }
    const rounds = before.filter(({ round }) => round !== null).length;
    const lines = new Map();
    before.forEach((block, at) => {
      const found = ofEvents(block.events, after[at].events);
      if (block.round !== null && !same(block.turnaround, after[at].turnaround)) {
        found.unshift({ what: "Turnaround", from: text("time", block.turnaround), to: text("time", after[at].turnaround) });
      }
      for (const one of found) {
        const key = JSON.stringify([block.round === null, one]);
        if (!lines.has(key)) lines.set(key, { ...one, rounds: [] });
        if (block.round !== null) lines.get(key).rounds.push(block.round);
      }
    });
    return [...lines.values()].map(({ what, from, to, rounds: where }) => {
      const place = where.length === 0 ? "" : where.length === rounds && rounds > 1 ? "every round: " : `round ${where.join(", ")}: `;
      const words = `${place}${what}`;
      const label = words.charAt(0).toUpperCase() + words.slice(1);
      return { label, short: label, from, to };
    });
  }

  function ofStart() {
    const [before, after] = [a.initial_temperatures ?? {}, b.initial_temperatures ?? {}];
    const value = (one) => (one === undefined ? "not stated" : text("temperature", one));
    return keysOf(before, after).filter((key) => !same(before[key], after[key])).map((key) => {
      const label = `Temperature at the start, ${key.replace(/_/g, " ")}`;
      return { label, short: label, from: value(before[key]), to: value(after[key]) };
    });
  }

  /** What a fit to readings knows of the set-up. */
  function ofCalibration() {
    const words = (one) => (one ? one.note || "fitted to readings" : "not fitted");
    if (same(a.calibration, b.calibration)) return [];
    const [from, to] = [words(a.calibration), words(b.calibration)];
    return [{ label: "Fit to readings (calibration)", short: "Fit to readings", from, to: from === to ? `another: ${to}` : to }];
  }

  // First, for a list may be cut off.
  return [...ofCalibration(), ...ofSetup(), ...ofStart(), ...ofTimeline()];
}
