// The timeline as a list that can be edited: durations, pump, fan, each event's own quantities, rounds.
//
// It has a row for every event as written; a pattern of rounds is one group whose turnarounds differ. The
// list is built anew when its shape changes (an event more, another form of its end) and updated in place
// otherwise, so that a box keeps the focus while its number changes.
import { element, freshId, setText } from "./element.js";
import { asLogged, isFromCar, loadsText, loggedOf } from "./loads.js";
import { quantityBox } from "./quantity.js";
import { clocks } from "./results.js";
import {
  eventAt, exceptions, isRounds, newEvent, onTimes, roundsBefore, setOnTimes, setTurnaround, siblings, turnaround,
  writtenEvents,
} from "./scenario.js";

const SIDES = [["at_or_below", "at or below"], ["at_or_above", "at or above"]];

// A pass without an end of its own is computed to the finish; one with a duration is logged.
const isComputed = (event) => event.event === "pass" && event.duration === undefined && !event.until;

const endForm = (event) =>
  isComputed(event) ? "finish" : event.until ? "until" : event.duration === "rest" ? "rest" : "duration";

export function createTimeline({ store, core, fieldOf }, root) {
  const restate = core.restate;
  const tables = { us: core.tables("us"), si: core.tables("si") };
  const kinds = new Map(tables.us.kinds.map((kind) => [kind.key, kind]));
  let updates = [];
  let shape = "";
  let selected = null;
  // What was put off, for when it is put on again, until another day is opened: "field which" → { kind, entry }
  // for the times of a switch, "field logged" for what a log had said, "field ends form" for what came with an end.
  const lastOn = new Map();
  // After a move of an event: old field → new field.
  let moved = (field) => field;

  /**
   * What goes with an event's end. Engine, converter and car say the rest of a computed pass, and its switches are on
   * or off for the whole of it: with a log's end go its numbers and its on-times.
   */
  function endOf(event) {
    const keys = ["duration", "until", "at_most", "distance"];
    if (event.event === "pass") {
      keys.push(...kinds.get("pass").quantities.map(({ key }) => key));
      keys.push(...["circulation", "fan"].filter((key) => Array.isArray(event[key])));
    }
    return Object.fromEntries(keys.filter((key) => event[key] !== undefined).map((key) => [key, event[key]]));
  }

  const named = (event) => event.name ?? kinds.get(event.event).label;
  const label = (written) => named(written.event);

  /** A change of one event, found by its field. */
  const change = (field, edit) => store.edit((scenario) => edit(eventAt(scenario, field), scenario));

  const kindsOf = (scenario) => JSON.stringify(writtenEvents(scenario).map((one) => [one.field, one.event.event]));

  /**
   * What was put off at an event, by `pick` of an event: as remembered, else as the day was opened with it, so that
   * a reload does not lose a log. Undefined where there is nothing.
   */
  function putOff(memory, field, kind, pick) {
    const last = lastOn.get(memory);
    if (last?.kind === kind) return last.entry;
    const { scenario, baseline } = store.state;
    const opened = eventAt(baseline, field);
    if (!opened || kindsOf(baseline) !== kindsOf(scenario)) return undefined;
    const entry = pick(opened);
    return Object.keys(entry).length > 0 ? structuredClone(entry) : undefined;
  }

  /** Gives what was remembered of events a new name; `renamed` gives null for an event that is gone. */
  function renameMemory(renamed) {
    const remembered = [...lastOn];
    lastOn.clear();
    for (const [name, last] of remembered) {
      const now = renamed(name);
      if (now !== null) lastOn.set(now, last);
    }
  }

  /** After an event more (`by` 1) or less (`by` -1) at a place of a list, whose events are `start[place]`. */
  const shiftMemory = (start, place, by) => renameMemory((name) => {
    const [, number, rest] = name.startsWith(`${start}[`) ? name.slice(start.length).match(/^\[(\d+)\](.*)$/) : [];
    if (number === undefined || Number(number) < place) return name;
    if (by < 0 && Number(number) === place) return null;
    return `${start}[${Number(number) + by}]${rest}`;
  });

  function box(options) {
    const made = quantityBox({ store, restate, ...options });
    updates.push(made.update);
    return made;
  }

  function select(name, choices, read, write, field) {
    const node = element(
      "select",
      { "aria-label": name, data: { field }, on: { change: () => write(node.value) } },
      ...choices.map(([value, text]) => element("option", { value, text })),
    );
    updates.push((state) => {
      const value = read(state.scenario);
      if (value !== undefined && node.value !== value) node.value = value;
    });
    return node;
  }

  function labelled(text, ...controls) {
    return element("div", { class: "field" }, element("span", { class: "field-name", text }), ...controls);
  }

  function switchRow(text, choose, ...times) {
    const node = labelled(text, choose, times.length > 0 ? element("div", { class: "times" }, ...times) : null);
    node.classList.add("switch");
    return node;
  }

  function stepper(made, name) {
    const button = (sign, steps, word) =>
      element("button", {
        type: "button", class: "step", text: sign, "aria-label": `${name}: ${word}`,
        on: { click: () => made.nudge(steps) },
      });
    return element("span", { class: "stepper" }, button("−", -1, "less"), made.element, button("+", 1, "more"));
  }

  // Temperature to wait for: node, side, number.
  function condition(name, field, find) {
    const side = (until) => (until && "at_or_above" in until ? "at_or_above" : "at_or_below");
    const put = (edit) => store.edit((scenario) => edit(find(scenario)));
    return [
      select(
        `${name}: which part`,
        tables.us.nodes.map((node) => [node.key, node.label]),
        (scenario) => find(scenario)?.node,
        (value) => put((until) => (until.node = value)),
        `${field}.node`,
      ),
      select(
        `${name}: below or above`,
        SIDES,
        (scenario) => side(find(scenario)),
        (value) => put((until) => {
          const text = until[side(until)];
          delete until[side(until)];
          until[value] = text;
        }),
        `${field}.side`,
      ),
      box({
        label: `${name}: temperature`,
        path: "temperature",
        field: (scenario) => `${field}.${side(find(scenario))}`,
        read: (scenario) => find(scenario)?.[side(find(scenario))],
        write: (scenario, value) => (find(scenario)[side(find(scenario))] = value),
        row: () => ({ unit: tables[store.state.units].parameters[0].unit, min: -1e6, max: 1e6, step: 5 }),
      }).element,
    ];
  }

  function endEditor(written) {
    const { field, event, index } = written;
    const pass = event.event === "pass";
    const form = endForm(event);
    const forms = pass
      ? [["duration", "for a time, as logged"], ["finish", "to the finish, computed"]]
      : [["duration", "for a time"], ["until", "until a temperature"]];
    if (index !== null && !pass) forms.push(["rest", "until the turnaround is over"]);
    const usual = {
      duration: () => ({ duration: newEvent(event.event).duration }),
      finish: () => ({ distance: "quarter_mile" }),
      rest: () => ({ duration: "rest" }),
      until: () => ({ until: { node: "converter_fluid", at_or_below: "160 °F" }, at_most: "30 min" }),
    };
    const choose = select(`${label(written)}: ends`, forms, () => form, (value) => {
      change(field, (now) => {
        const leaves = endOf(now);
        lastOn.set(`${field} ends ${endForm(now)}`, { kind: now.event, entry: leaves });
        for (const key of Object.keys(leaves)) delete now[key];
        const back = putOff(`${field} ends ${value}`, field, now.event, (opened) => (endForm(opened) === value ? endOf(opened) : {}));
        // What was chosen for it since then stays.
        for (const [key, known] of Object.entries(back ?? usual[value]())) now[key] ??= structuredClone(known);
      });
    }, `${field}.end`);
    const parts = [labelled("Lasts", choose)];
    if (form === "until") {
      parts.push(labelled("Until", ...condition(`${label(written)}, until`, `${field}.until`, (scenario) => eventAt(scenario, field)?.until)));
    }
    return parts;
  }

  // Start and length of each on-time of the pump or the fan.
  function switchEditor(written, which, name, words) {
    const { field } = written;
    const list = onTimes(written.event, which);
    const put = (edit) => change(field, (event) => {
      const now = structuredClone(onTimes(event, which));
      edit(now);
      setOnTimes(event, which, now);
    });
    const routeOf = (entry) => (entry ? entry.route ?? "on" : "off");
    const row = (entry, place) => {
      const who = `${label(written)}: ${name}${list.length > 1 ? ` ${place + 1}` : ""}`;
      const choose = select(who, words, (scenario) => routeOf(onTimes(eventAt(scenario, field) ?? {}, which)[place]), (value) => {
        const memory = `${field} ${which}`;
        const { event: kind } = eventAt(store.state.scenario, field);
        const last = lastOn.get(memory);
        put((now) => {
          if (value === "off") {
            lastOn.set(memory, { kind, entry: now[place] });
            now.splice(place, 1);
            return;
          }
          const times = now[place] ?? (last?.kind === kind ? last.entry : {});
          now[place] = which === "fan" ? { ...times } : { ...times, route: value };
        });
      }, `${field}.${which}`);
      if (!entry) return switchRow(name, choose);
      const time = (key, text) => {
        const made = box({
          label: `${who}, ${text}`,
          path: "time",
          field: `${field}.${which}[${place}].${key}`,
          read: (scenario) => onTimes(eventAt(scenario, field) ?? {}, which)[place]?.[key],
          write: (scenario, value) => {
            const event = eventAt(scenario, field);
            const now = structuredClone(onTimes(event, which));
            if (value === undefined) delete now[place][key];
            else now[place][key] = value;
            setOnTimes(event, which, now);
          },
          row: () => null,
          standing: () => null,
        });
        made.input.placeholder = key === "start" ? "start" : "end";
        return element("label", { class: "inline" }, element("span", { text }), made.element);
      };
      const until = entry.until
        ? condition(`${who}, until`, `${field}.${which}[${place}].until`, (scenario) => eventAt(scenario, field)?.[which]?.[place]?.until)
        : [];
      return switchRow(name, choose, time("start", "from"), time("duration", "for"), ...until);
    };
    return (list.length > 0 ? list : [null]).map(row);
  }

  function distance(written) {
    const { field } = written;
    const lengths = [["eighth_mile", "1/8 mile"], ["1000_ft", "1,000 ft"], ["quarter_mile", "1/4 mile"]];
    const choose = select(
      `${label(written)}: distance`,
      lengths,
      () => eventAt(store.state.scenario, field)?.distance ?? "quarter_mile",
      (value) => change(field, (now) => (now.distance = value)),
      `${field}.distance`,
    );
    return labelled("Distance", choose);
  }

  function loads(written) {
    const { field, event } = written;
    const kind = kinds.get(event.event);
    if (kind.logged.length === 0) return [];
    const memory = `${field} logged`;
    const made = element("p", { class: "help made" });
    let latest = null;
    const choose = select(
      `${label(written)}: loads`,
      [["car", "from the car"], ["log", "as logged"]],
      (scenario) => (isFromCar(kind, eventAt(scenario, field) ?? event) ? "car" : "log"),
      (value) => change(field, (now) => {
        if (value === "car") {
          lastOn.set(memory, { kind: now.event, entry: loggedOf(kind, now) });
          for (const key of kind.logged) delete now[key];
          return;
        }
        const { units, result } = store.state;
        const known = tables[units].kinds.find(({ key }) => key === kind.key);
        // The log that there was goes before what the core makes of the event.
        const log = putOff(memory, field, now.event, (opened) => (opened.event === now.event ? loggedOf(kind, opened) : {}));
        Object.assign(now, log ?? asLogged(known, latest, result?.summary.power_unit));
      }),
      `${field}.loads`,
    );
    updates.push((state, happenings) => {
      const { first, count } = happenings.get(field) ?? {};
      latest = first ?? null;
      made.hidden = !first?.from_car;
      if (first?.from_car) setText(made, loadsText(first, count, state.result.summary.power_unit));
    });
    return [labelled("Loads", choose, made)];
  }

  function quantities(written) {
    const { field } = written;
    const kind = kinds.get(written.event.event);
    const fromCar = isFromCar(kind, written.event);
    return kind.quantities.map((known, place) => {
      if (fromCar && kind.logged.includes(known.key)) return null;
      const row = (units) => tables[units].kinds.find((other) => other.key === kind.key).quantities[place];
      const followed = known.follows
        ? tables.us.parameters.findIndex((parameter) => `${parameter.part}.${parameter.key}` === known.follows)
        : -1;
      const made = box({
        label: `${label(written)}: ${known.label}`,
        path: `event.${known.key}`,
        field: `${field}.${known.key}`,
        read: (scenario) => eventAt(scenario, field)?.[known.key],
        write: (scenario, value) => {
          const event = eventAt(scenario, field);
          if (value === undefined) delete event[known.key];
          else event[known.key] = value;
        },
        row,
        standing: (state) => {
          const { unit, default: usual } = row(state.units);
          if (followed < 0) return { value: usual, unit };
          return state.result ? { value: state.result.values[followed], unit } : null;
        },
      });
      made.input.title = known.sentence;
      return labelled(known.label, made.element);
    }).filter(Boolean);
  }

  function switchesText(event, state) {
    const times = (list, word) =>
      list.length === 0
        ? `${word} off`
        : list.map((entry) => {
            const route = entry.route ? routeLabel(entry.route).toLowerCase() : "on";
            const restated = entry.duration && restate("time", String(entry.duration), state.units);
            return `${word} ${route}${restated ? ` ${restated.text}` : ""}${entry.until ? " to a temperature" : ""}`;
          }).join(", ");
    return `${times(onTimes(event, "circulation"), "Pump")} · ${times(onTimes(event, "fan"), "fan")}`;
  }

  function goalText(until, state) {
    const [side, sign] = "at_or_above" in until ? ["at_or_above", "≥"] : ["at_or_below", "≤"];
    const node = tables.us.nodes.find(({ key }) => key === until.node)?.label ?? String(until.node);
    const text = String(until[side] ?? "");
    return `until ${node.toLowerCase()} ${sign} ${restate("temperature", text, state.units)?.text ?? text}`;
  }

  const routeLabel = (key) => tables.us.routes.find((route) => route.key === key)?.label ?? key;

  function moves(written) {
    const { field } = written;
    const shift = (by) => {
      const now = writtenEvents(store.state.scenario).find((other) => other.field === field);
      const { list, place } = siblings(store.state.scenario, now);
      const to = place + by;
      if (to < 0 || to >= list.length) return;
      const at = (number) => field.replace(/\d+(?=\]$)/, number);
      const [from, onto] = [at(place), at(to)];
      const begins = (name, start) => name === start || name.startsWith(`${start}.`) || name.startsWith(`${start} `);
      const renamed = (name) =>
        begins(name, from) ? onto + name.slice(from.length) : begins(name, onto) ? from + name.slice(onto.length) : name;
      renameMemory(renamed);
      moved = renamed;
      // Built anew even where the two have one shape.
      shape = "";
      store.edit((scenario) => {
        const own = siblings(scenario, now).list;
        [own[place], own[to]] = [own[to], own[place]];
      });
      const { selected: marked } = store.state.view;
      if (marked && renamed(marked) !== marked) store.view({ selected: renamed(marked) });
    };
    const button = (text, act, more = {}) =>
      element("button", { type: "button", class: "plain", text, on: { click: act }, "aria-label": `${text}: ${label(written)}`, ...more });
    return element(
      "div",
      { class: "moves" },
      button("Earlier", () => shift(-1)),
      button("Later", () => shift(1)),
      button("Remove", () => {
        const now = writtenEvents(store.state.scenario).find((other) => other.field === field);
        const { place } = siblings(store.state.scenario, now);
        shiftMemory(field.replace(/\[\d+\]$/, ""), place, -1);
        store.edit((scenario) => siblings(scenario, now).list.splice(place, 1));
        root.focus();
      }),
    );
  }

  /** How often each event as written came about, and when first: field → { first, count }. */
  function happeningsIn(state) {
    const found = new Map();
    for (const happened of state.result?.summary.events ?? []) {
      const field = happened.place && fieldOf(state, happened.place);
      const known = found.get(field);
      if (known) known.count += 1;
      else if (field) found.set(field, { first: happened, count: 1 });
    }
    return found;
  }

  function refresh(state, some = updates) {
    const happenings = happeningsIn(state);
    for (const update of some) update(state, happenings);
  }

  function eventRow(written) {
    const { field, event } = written;
    const kind = kinds.get(event.event);
    const when = element("span", { class: "when" });
    const lasts = event.until ? "at_most" : "duration";
    const length =
      event.duration === "rest" || isComputed(event)
        ? element("span", { class: "rest", text: isComputed(event) ? "to the finish" : "rest of the turnaround" })
        : stepper(
            box({
              label: `${label(written)}: ${event.until ? "at most" : "duration"}`,
              path: "event.duration",
              field: `${field}.${lasts}`,
              read: (scenario) => eventAt(scenario, field)?.[lasts],
              write: (scenario, value) => {
                if (value !== undefined) eventAt(scenario, field)[lasts] = value;
              },
            }),
            label(written),
          );
    const goal = event.until ? element("span", { class: "when goal" }) : null;
    const state = element("span", { class: "switches" });
    const body = element("div", { class: "fields" });
    const details = element(
      "details",
      { data: { details: field } },
      element("summary", {}, element("span", { class: "hidden", text: `${label(written)}: ` }), state),
      body,
    );
    const fill = () => {
      if (body.childElementCount > 0) return;
      const from = updates.length;
      const words = [["off", "Off"], ...tables.us.routes.map((route) => [route.key, route.label])];
      body.append(
        ...switchEditor(written, "circulation", "Pump", words),
        ...switchEditor(written, "fan", "Fan", [["off", "Off"], ["on", "On"]]),
        ...endEditor(written),
        ...(kind.has_gear
          ? [labelled("Selector", select(`${label(written)}: selector`, [["neutral", "Neutral"], ["in_gear", "In gear"]],
              (scenario) => eventAt(scenario, field)?.gear ?? "neutral",
              (value) => change(field, (now) => (now.gear = value)), `${field}.gear`))]
          : []),
        ...loads(written),
        ...(isComputed(event) ? [distance(written)] : quantities(written)),
        moves(written),
      );
      refresh(store.state, updates.slice(from));
    };
    details.addEventListener("toggle", () => details.open && fill());
    const node = element(
      "li",
      { class: `event ${heat(event.event)}`, data: { event: field } },
      element(
        "div",
        { class: "event-head" },
        element("h4", {}, element("span", { class: "mark", "aria-hidden": "true" }), label(written)),
        when,
        goal,
      ),
      event.until ? element("div", { class: "longest" }, element("span", { class: "rest", text: "at most" }), length) : length,
      details,
    );
    updates.push((now, happenings) => {
      const current = eventAt(now.scenario, field);
      if (current) setText(state, switchesText(current, now));
      if (goal && current?.until) setText(goal, goalText(current.until, now));
      const { first, count } = happenings.get(field) ?? {};
      const text = !first ? "" : count > 1 ? kind.label : clocks(core, first).join(" to ");
      setText(when, text === label(written) ? "" : text);
      node.classList.toggle("selected", now.view.selected === field);
    });
    return { node, details, fill };
  }

  /** What single rounds have otherwise, as a sentence each. It is written in the file and only read here. */
  function exceptionTexts(scenario, item, units) {
    const words = { duration: "lasts", at_most: "lasts at most", circulation: "pump", fan: "fan", until: "another end" };
    return exceptions(scenario.timeline[item]).map(({ place, kind, key, value }) => {
      const known = kinds.get(kind);
      const what = words[key] ?? known?.quantities.find((row) => row.key === key)?.label.toLowerCase() ?? key.replace(/_/g, " ");
      const path = key === "at_most" ? "event.duration" : `event.${key}`;
      const plain = typeof value !== "object";
      const text = plain ? restate(path, String(value), units)?.text ?? String(value).replace(/_/g, " ") : "of its own";
      return `Round ${roundsBefore(scenario, item) + place + 1}: ${known?.label ?? kind}, ${what} ${text}.`;
    });
  }

  function rounds(entry, item) {
    const before = roundsBefore(store.state.scenario, item);
    const others = element("p", { class: "help others" });
    updates.push(({ scenario, units }) => {
      if (!isRounds(scenario.timeline[item] ?? {})) return;
      setText(others, exceptionTexts(scenario, item, units).join(" "));
      others.hidden = others.textContent === "";
    });
    const boxes = entry.rounds.map((_, place) => {
      const made = box({
        label: `Turnaround of round ${before + place + 1}`,
        path: "time",
        field: `timeline[${item}].rounds[${place}]`,
        read: (scenario) => turnaround(scenario.timeline[item]?.rounds?.[place]),
        write: (scenario, value) => {
          if (value !== undefined) setTurnaround(scenario.timeline[item].rounds, place, value);
        },
      });
      return element("label", { class: "inline" }, element("span", { text: `Round ${before + place + 1}` }), made.element);
    });
    const editRounds = (edit) => store.edit((scenario) => edit(scenario.timeline[item].rounds));
    return element(
      "div",
      { class: "turnarounds", role: "group", "aria-label": "Turnarounds", data: { rounds: `timeline[${item}]` } },
      element("p", { class: "help", text: "Turnaround: from the start of a round to the start of the next." }),
      element("div", { class: "boxes" }, ...boxes),
      others,
      element(
        "div",
        { class: "moves" },
        element("button", {
          type: "button", class: "plain", text: "Add a round",
          on: { click: () => editRounds((list) => list.push(structuredClone(list.at(-1)))) },
        }),
        element("button", {
          type: "button", class: "plain", text: "Remove the last round", disabled: entry.rounds.length < 2,
          on: { click: () => editRounds((list) => list.length > 1 && list.pop()) },
        }),
      ),
    );
  }

  function adder(where, add) {
    const choose = element(
      "select",
      { "aria-label": `Kind of event to add ${where}` },
      ...tables.us.kinds.map((kind) => element("option", { value: kind.key, text: kind.label })),
    );
    return element(
      "div",
      { class: "adder" },
      choose,
      element("button", {
        type: "button", class: "plain", text: "Add event", "aria-label": `Add event ${where}`,
        on: { click: () => store.edit((scenario) => add(scenario, newEvent(choose.value))) },
      }),
    );
  }

  function build(state) {
    const open = new Set([...root.querySelectorAll("details[open]")].map((node) => moved(node.dataset.details)));
    const active = root.contains(document.activeElement) ? document.activeElement : null;
    const focused = active?.getAttribute("aria-label");
    const rowOf = active?.closest("[data-event]");
    const focusedRow = rowOf ? moved(rowOf.dataset.event) : null;
    moved = (field) => field;
    updates = [];
    const parts = [];
    let stretch = null;
    const addStretch = (last) =>
      adder("to this stretch", (scenario, event) => {
        shiftMemory("timeline", last + 1, 1);
        scenario.timeline.splice(last + 1, 0, event);
      });
    const close = () => {
      if (stretch) parts.push(element("ol", { class: "events" }, ...stretch.nodes), addStretch(stretch.last));
      stretch = null;
    };
    const rows = [];
    const all = state.scenario.timeline.map(() => []);
    for (const one of writtenEvents(state.scenario)) all[one.item].push(one);
    state.scenario.timeline.forEach((entry, item) => {
      const written = all[item].map((one) => {
        const row = eventRow(one);
        rows.push(row);
        return row.node;
      });
      if (!isRounds(entry)) {
        if (!stretch) parts.push(element("h3", { text: parts.length === 0 ? "First" : "Then" }));
        stretch ??= { nodes: [], last: item };
        stretch.nodes.push(...written);
        stretch.last = item;
        return;
      }
      close();
      const count = entry.rounds.length;
      parts.push(
        element("h3", { text: count === 1 ? "One round" : `Each of ${count} rounds` }),
        rounds(entry, item),
        element("ol", { class: "events" }, ...written),
        adder("to every round", (scenario, event) => {
          const list = scenario.timeline[item].events;
          const rest = list.at(-1)?.duration === "rest";
          const place = rest ? list.length - 1 : list.length;
          shiftMemory(`timeline[${item}].events`, place, 1);
          list.splice(place, 0, event);
        }),
      );
    });
    close();
    root.replaceChildren(...parts);
    for (const row of rows) {
      if (!open.has(row.details.dataset.details)) continue;
      row.fill();
      row.details.open = true;
    }
    refresh(state);
    if (!focused) return;
    const within = (focusedRow && root.querySelector(`[data-event="${CSS.escape(focusedRow)}"]`)) || root;
    within.querySelector(`[aria-label="${CSS.escape(focused)}"]`)?.focus();
  }

  // What decides which elements there are; everything else is updated in place.
  function shapeOf(scenario) {
    const form = (event) => [
      event.event, event.name, Boolean(event.until), event.duration === "rest", isComputed(event), isFromCar(kinds.get(event.event), event),
      ...["circulation", "fan"].map((which) => onTimes(event, which).map((on) => Boolean(on.until))),
    ];
    return JSON.stringify(scenario.timeline.map((entry) =>
      isRounds(entry) ? [entry.rounds.length, ...entry.events.map(form)] : form(entry)));
  }

  function show(state, changed) {
    if ("baseline" in changed) lastOn.clear();
    const selects = state.view.selected !== selected;
    selected = state.view.selected;
    if (!selects && !["scenario", "units", "result"].some((key) => key in changed)) return;
    const next = shapeOf(state.scenario);
    if (next !== shape) {
      shape = next;
      build(state);
    } else {
      refresh(state);
    }
  }
  store.subscribe(show);
  show(store.state, store.state);

  /** Brings an event's row into view. */
  return function reveal(field) {
    const row = root.querySelector(`[data-event="${CSS.escape(field)}"]`);
    row?.scrollIntoView({ block: "center", behavior: matchMedia("(prefers-reduced-motion: reduce)").matches ? "auto" : "smooth" });
    row?.querySelector("input, summary")?.focus({ preventScroll: true });
  };
}

/** How much heat a kind makes, for its mark: "off", "running" or "loaded". */
export function heat(kind) {
  if (kind === "engine_off" || kind === "tow") return "off";
  return ["burnout", "brake_hold", "pass", "dyno_pull"].includes(kind) ? "loaded" : "running";
}
