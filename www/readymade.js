// Ready-made what-ifs: changes of a day that a crew asks about, as { key, label, turnaround, can(scenario), make(scenario, round) }.
//
// `round` is the number of the round whose turnaround is changed, or null for all; those of the set-up and the brake
// change the whole day. Each works on a copy of the scenario and knows no physics; whether the result holds
// is for the core to say.
import { roundAlone } from "./edits.js";
import { isRounds, roundsBefore, writtenEvents } from "./scenario.js";

const SWITCHES = { circulation: "off", fan: "off" };
const COOLER_FACTOR = 1.5;
const STALL_FACTOR = 1.1;

/** Where the turnaround of a pattern is spent: the place of its last event, if that is no part of the run. */
function pitsOf(entry) {
  const last = entry.events.length - 1;
  return ["engine_off", "idle"].includes(entry.events[last]?.event) ? last : -1;
}

/** A round that can be changed by itself; gives its entry. */
function alone(scenario, item, place) {
  const entry = scenario.timeline[item];
  if (entry.rounds.length === 1 && !entry.rounds[0]?.change) return entry;
  return scenario.timeline[roundAlone(scenario, item, place)];
}

/** Changes the pattern's event at which the turnaround is spent; `edit(events, at)` may change the list. */
function turnaroundOf(scenario, round, edit, change) {
  const entries = scenario.timeline.map((entry, item) => ({ entry, item })).filter(({ entry }) => isRounds(entry) && pitsOf(entry) >= 0);
  for (const { entry, item } of entries) {
    const at = pitsOf(entry);
    const { event: kind } = entry.events[at];
    if (round === null) {
      for (const one of entry.rounds) {
        for (const key of Object.keys(SWITCHES)) delete one?.change?.[kind]?.[key];
      }
      edit(entry.events, at);
      continue;
    }
    const place = round - 1 - roundsBefore(scenario, item);
    if (place < 0 || place >= entry.rounds.length) continue;
    const only = entry.events.filter((event) => event.event === kind).length === 1;
    if (!change || !only || kind !== "engine_off") {
      const own = alone(scenario, item, place);
      edit(own.events, pitsOf(own));
    } else {
      const one = entry.rounds[place];
      const whole = typeof one === "object" ? one : { turnaround: one };
      entry.rounds[place] = { ...whole, change: { ...whole.change, [kind]: { ...whole.change?.[kind], ...change } } };
    }
    return;
  }
}

/** An event with the same name and time, parked with the engine off and nothing switched on. */
function parked({ name, start, duration, until, at_most: atMost }) {
  const kept = Object.entries({ name, start, duration, until, at_most: atMost });
  return { event: "engine_off", ...Object.fromEntries(kept.filter(([, value]) => value !== undefined)) };
}

/** `valueOf(part, key)` gives { value, unit } that holds now; `ways` states a parameter. */
export function readyMade({ ways, restate, valueOf, units }) {
  const hasPits = (scenario) => scenario.timeline.some((entry) => isRounds(entry) && pitsOf(entry) >= 0);
  const switched = (key, label, switches) => ({
    key,
    label,
    turnaround: true,
    can: hasPits,
    make: (scenario, round) => turnaroundOf(scenario, round, (events, at) => {
      const on = Object.entries(switches).filter(([, value]) => value !== "off");
      events[at] = { ...parked(events[at]), ...Object.fromEntries(on) };
    }, switches),
  });
  const scaled = (key, label, part, parameter, factor) => ({
    key,
    label,
    turnaround: false,
    can: (scenario) => !ways.replacedBy(scenario, part, parameter),
    make: (scenario) => {
      const { value, unit } = valueOf(part, parameter);
      ways.stateParameter(scenario, part, parameter, `${Number((value * factor).toPrecision(4))} ${unit}`);
    },
  });
  const isHold = (event) => event.event === "brake_hold" && event.duration !== undefined && event.duration !== "rest";
  const halved = (text) => {
    const now = restate("time", String(text), units());
    return now ? `${Number((now.value / 2).toPrecision(4))} ${now.unit}` : text;
  };
  return [
    switched("nothing", "Engine off and nothing", SWITCHES),
    switched("fan", "Fan only", { circulation: "off", fan: "on" }),
    switched("pan_loop", "Pump round the pan loop, fan on", { circulation: "pan_loop", fan: "on" }),
    switched("through_converter", "Pump through the converter, fan on", { circulation: "through_converter", fan: "on" }),
    {
      key: "idle",
      label: "Idle 5 min to circulate, then off",
      turnaround: true,
      can: hasPits,
      make: (scenario, round) => turnaroundOf(scenario, round, (events, at) => {
        const idle = { event: "idle", name: "Idle to circulate", duration: "5 min", gear: "neutral", fan: "on" };
        if (events[at - 1]?.name !== idle.name) events.splice(at, 0, idle);
        events.push(parked(events.pop()));
      }),
    },
    scaled("cooler", "Cooler half as big again", "cooler", "ua", COOLER_FACTOR),
    {
      key: "hold",
      label: "Half the time on the brake",
      turnaround: false,
      can: (scenario) => writtenEvents(scenario).some(({ event }) => isHold(event)),
      make: (scenario) => {
        for (const { event } of writtenEvents(scenario)) if (isHold(event)) event.duration = halved(event.duration);
        for (const entry of scenario.timeline.filter(isRounds)) {
          for (const one of entry.rounds) {
            const change = one?.change?.brake_hold;
            if (change && isHold({ event: "brake_hold", ...change })) change.duration = halved(change.duration);
          }
        }
      },
    },
    scaled("stall", "A tenth more stall speed", "converter", "k_factor", STALL_FACTOR),
  ];
}
