// Where an error of the core belongs: its field on the page, in people's words, and in the scenario.
//
// The core names a field as the file has it, `timeline[3].events[3].duration`, or an event by its kind,
// "brake_hold of round 1", where the fault shows only when the day is computed.
import { eventAt, isRounds, roundsBefore, setSetupValue, setupValue } from "./scenario.js";
import { together } from "./ways.js";

const EVENT = /^timeline\[\d+\](?:\.events\[\d+\])?/;
const SWITCH = /^(circulation|fan)(?:\[(\d+)\])?(?:\.(.+))?$/;
// A table, one of its rows, a cell of a row or a whole column.
const TABLE_PLACE = /^(setup\.[a-z_]+\.[a-z_]+)(?=[.[])(?:\[(\d+)\])?(?:\.(.+)|\[.*)?$/;
const WORDS = new Map([
  ["event", "kind"],
  ["name", "name"],
  ["duration", "duration"],
  ["at_most", "at most"],
  ["start", "start"],
  ["gear", "selector"],
  ["circulation", "pump"],
  ["fan", "fan"],
  ["route", "route"],
  ["until", "until"],
  ["node", "which part"],
  ["at_or_below", "temperature"],
  ["at_or_above", "temperature"],
  ["turnaround", "turnaround"],
  ["note", "note"],
  ["format", "format"],
  ["setup", "set-up"],
  ["timeline", "timeline"],
]);

/**
 * The field that an error means; an event named by its kind and round is looked up, a row, a cell and a column
 * of a table belong to the table.
 */
export function fieldOfError(scenario, named) {
  const [, table] = named.match(TABLE_PLACE) ?? [];
  if (table) return table;
  const [, kind, round] = named.match(/^([a-z_]+)(?: of round (\d+))?$/) ?? [];
  if (!kind) return named;
  let passed = 0;
  for (const [item, entry] of scenario.timeline.entries()) {
    if (!isRounds(entry)) {
      if (round === undefined && entry.event === kind) return `timeline[${item}]`;
      continue;
    }
    const last = passed + entry.rounds.length;
    const index = entry.events.findIndex(({ event }) => event === kind);
    if (Number(round) > passed && Number(round) <= last && index >= 0) return `timeline[${item}].events[${index}]`;
    passed = last;
  }
  return named;
}

/** A field as people read it, by the labels that the page has for it. */
export function placeWords(scenario, named, tables) {
  const field = fieldOfError(scenario, named);
  const rows = [...tables.parameters, ...tables.tables, ...tables.alternatives.flatMap(({ inputs }) => inputs)];
  const row = rows.find(({ part, key }) => field === `setup.${part}.${key}`);
  const [, , number, column] = named.match(TABLE_PLACE) ?? [];
  const cell = [number && `row ${Number(number) + 1}`, column && pathWords(column)];
  if (row) return [row.part_label, row.label.toLowerCase(), ...cell].filter(Boolean).join(", ");
  if (field.startsWith("setup.")) return setupWords(field, tables);
  const [place] = field.match(EVENT) ?? [];
  const event = place && eventAt(scenario, place);
  if (event) {
    const kind = tables.kinds.find(({ key }) => key === event.event);
    const [, round] = named.match(/ of round (\d+)$/) ?? [];
    const name = `${event.name ?? kind?.label ?? plain(String(event.event))}${round ? `, round ${round}` : ""}`;
    const rest = field.slice(place.length + 1);
    return rest === "" ? name : `${name}, ${partWords(rest, kind)}`;
  }
  const [, item, at, change] = field.match(/^timeline\[(\d+)\]\.rounds\[(\d+)\](.*)$/) ?? [];
  if (item !== undefined) {
    const number = roundsBefore(scenario, Number(item)) + Number(at) + 1;
    return /^(\.turnaround)?$/.test(change) ? `Turnaround of round ${number}` : `Round ${number}, ${changeWords(change, tables)}`;
  }
  if (/^timeline\[\d+\]\.rounds$/.test(field)) return "Turnarounds";
  const [, rowNumber] = field.match(/^timeline\[(\d+)\]/) ?? [];
  if (rowNumber !== undefined) return `Timeline, entry ${Number(rowNumber) + 1}`;
  return capital(WORDS.get(field) ?? plain(field));
}

function setupWords(field, tables) {
  const [, part, key] = field.split(".");
  const label = tables.parameters.find((row) => row.part === part)?.part_label;
  const known = key === "class" ? "class of fluid" : key && plain(key);
  return [label ?? capital(plain(part)), known].filter(Boolean).join(", ");
}

function partWords(rest, kind) {
  const known = kind?.quantities.find(({ key }) => key === rest);
  if (known) return known.label.toLowerCase();
  const [, which, place, more] = rest.match(SWITCH) ?? [];
  if (which) return [`${WORDS.get(which)}${place > 0 ? ` ${Number(place) + 1}` : ""}`, more && pathWords(more)].filter(Boolean).join(", ");
  return pathWords(rest);
}

function changeWords(change, tables) {
  const [, key, rest] = change.match(/^\.change\.([a-z_]+)(?:\.(.+))?$/) ?? [];
  const kind = tables.kinds.find((one) => one.key === key);
  if (!kind) return "its changes";
  return rest ? `${kind.label.toLowerCase()}, ${partWords(rest, kind)}` : kind.label.toLowerCase();
}

const plain = (key) => key.replace(/_/g, " ");
const capital = (text) => text.charAt(0).toUpperCase() + text.slice(1);
const pathWords = (path) => path.split(".").map((key) => WORDS.get(key) ?? plain(key)).join(", ");

/**
 * A copy of `bad` in which the place of `field` is as in `good`; null where that place cannot be told or
 * where it is no different. In the set-up this goes for all that is stated together, as `tables` have it.
 */
export function withPlaceFrom(bad, good, field, tables) {
  const keys = field.match(/[^.[\]]+/g) ?? [];
  const copy = structuredClone(bad);
  const [first, part, key] = keys;
  if (first === "setup" && keys.length === 3) {
    for (const own of together(tables, bad, part, key)) {
      setSetupValue(copy, part, own, structuredClone(setupValue(good, part, own)));
    }
    return JSON.stringify(copy) === JSON.stringify(bad) ? null : copy;
  }
  let [into, from] = [copy, good];
  for (const [depth, key] of keys.entries()) {
    const last = depth === keys.length - 1;
    if (typeof into !== "object" || into === null || typeof from !== "object" || from === null) return null;
    // Events that were moved, added or removed: the same place is another event.
    if (Array.isArray(into) && (!Array.isArray(from) || kindsOf(into) !== kindsOf(from))) return null;
    if (last) {
      if (JSON.stringify(into[key]) === JSON.stringify(from[key])) return null;
      if (from[key] === undefined) delete into[key];
      else into[key] = structuredClone(from[key]);
    }
    [into, from] = [into[key], from[key]];
  }
  return keys.length > 0 ? copy : null;
}

const kindsOf = (list) => JSON.stringify(list.map((one) => one?.event ?? typeof one));
