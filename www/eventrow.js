// One event as a row that can be edited: how long it lasts and how it ends, pump and fan, its own quantities.
//
// Rows are made for the list of the day and for the sheet of the chosen block alike. A row is updated in place, so
// that a box keeps the focus while its number changes; `formOf` tells when it must be made anew.
import { element, setText } from "./element.js";
import { createFields } from "./fields.js";
import { asLogged, isFromCar, loadsText, loggedOf } from "./loads.js";
import { clocks } from "./moreresults.js";
import { eventAt, onTimes, setOnTimes } from "./scenario.js";

// A pass without an end of its own is computed to the finish; one with a duration is logged.
const isComputed = (event) => event.event === "pass" && event.duration === undefined && !event.until;

const endForm = (event) =>
  isComputed(event) ? "finish" : event.until ? "until" : event.duration === "rest" ? "rest" : "duration";

/** `row(written, more)` makes a row, `more` gives what stands at its end; `refresh(state)` brings all up to date. */
export function createRows({ store, core, fieldOf, putOff, heading = "h4" }) {
  const restate = core.restate;
  const tables = { us: core.tables("us"), si: core.tables("si") };
  const kinds = new Map(tables.us.kinds.map((kind) => [kind.key, kind]));
  const fields = createFields({ store, core });
  const { box, select, labelled, switchRow, stepper, condition } = fields;

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
  const change = (field, edit, entry) => store.edit((scenario) => edit(eventAt(scenario, field), scenario), null, entry);

  function endEditor(written) {
    const { field, event, index } = written;
    const pass = event.event === "pass";
    const form = endForm(event);
    const kind = kinds.get(event.event);
    const forms = pass
      ? [["duration", "for a time, as logged"], ["finish", "to the finish, computed"]]
      : [["duration", "for a time"], ["until", "until a temperature"]];
    if (index !== null && !pass) forms.push(["rest", "until the turnaround is over"]);
    const usual = {
      duration: () => ({ duration: kind.lasts }),
      finish: () => ({ distance: "quarter_mile" }),
      rest: () => ({ duration: "rest" }),
      // With the engine running a wait is for warmth, and it lasts no longer than the event did.
      until: (left) => ({
        until: kind.engine_runs ? { node: "pan_fluid", at_or_above: "150 °F" } : { node: "converter_fluid", at_or_below: "160 °F" },
        at_most: left.duration && left.duration !== "rest" ? left.duration : "30 min",
      }),
    };
    const choose = select(`${label(written)}: ends`, forms, () => form, (value) => {
      change(field, (now) => {
        const leaves = endOf(now);
        putOff.remember(field, `ends ${endForm(now)}`, now.event, leaves);
        for (const key of Object.keys(leaves)) delete now[key];
        const back = putOff.back(field, `ends ${value}`, now.event, (opened) => (endForm(opened) === value ? endOf(opened) : {}));
        // What was chosen for it since then stays.
        for (const [key, known] of Object.entries(back ?? usual[value](leaves))) now[key] ??= structuredClone(known);
      }, `${label(written)}: end`);
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
    }, `${label(written)}: ${name.toLowerCase()}`);
    const routeOf = (entry) => (entry ? entry.route ?? "on" : "off");
    const row = (entry, place) => {
      const who = `${label(written)}: ${name}${list.length > 1 ? ` ${place + 1}` : ""}`;
      const choose = select(who, words, (scenario) => routeOf(onTimes(eventAt(scenario, field) ?? {}, which)[place]), (value) => {
        const { event: kind } = eventAt(store.state.scenario, field);
        const last = putOff.remembered(field, which, kind);
        put((now) => {
          if (value === "off") {
            putOff.remember(field, which, kind, now[place]);
            now.splice(place, 1);
            return;
          }
          const times = now[place] ?? last ?? {};
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
      (value) => change(field, (now) => (now.distance = value), `${label(written)}: distance`),
      `${field}.distance`,
    );
    return labelled("Distance", choose);
  }

  function loads(written) {
    const { field, event } = written;
    const kind = kinds.get(event.event);
    if (kind.logged.length === 0) return [];
    const made = element("p", { class: "help made" });
    let latest = null;
    const choose = select(
      `${label(written)}: loads`,
      [["car", "from the car"], ["log", "as logged"]],
      (scenario) => (isFromCar(kind, eventAt(scenario, field) ?? event) ? "car" : "log"),
      (value) => change(field, (now) => {
        if (value === "car") {
          putOff.remember(field, "logged", now.event, loggedOf(kind, now));
          for (const key of kind.logged) delete now[key];
          return;
        }
        const { units, result } = store.state;
        const known = tables[units].kinds.find(({ key }) => key === kind.key);
        // The log that there was goes before what the core makes of the event.
        const log = putOff.back(field, "logged", now.event, (opened) => (opened.event === now.event ? loggedOf(kind, opened) : {}));
        Object.assign(now, log ?? asLogged(known, latest, result?.summary.power_unit));
      }, `${label(written)}: loads`),
      `${field}.loads`,
    );
    fields.updates.push((state, happenings) => {
      const { first, count } = happenings.get(field) ?? {};
      latest = first ?? null;
      made.hidden = !first?.from_car;
      if (first?.from_car) setText(made, loadsText(kind, first, count, state.result.summary.power_unit));
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
      core.words().then(() => (made.input.title = known.sentence), () => {});
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

  function refresh(state, some = fields.updates) {
    const happenings = happeningsIn(state);
    for (const update of some) update(state, happenings);
  }

  /** A row { node, details, fill() } of `writtenEvents`; `more(written)` gives what stands at the end of its fields. */
  function row(written, more = () => null) {
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
      const from = fields.updates.length;
      const words = [["off", "Off"], ...tables.us.routes.map((route) => [route.key, route.label])];
      body.append(
        ...switchEditor(written, "circulation", "Pump", words),
        ...switchEditor(written, "fan", "Fan", [["off", "Off"], ["on", "On"]]),
        ...endEditor(written),
        ...(kind.has_gear
          ? [labelled("Selector", select(`${label(written)}: selector`, [["neutral", "Neutral"], ["in_gear", "In gear"]],
              (scenario) => eventAt(scenario, field)?.gear ?? "neutral",
              (value) => change(field, (now) => (now.gear = value), `${label(written)}: selector`), `${field}.gear`))]
          : []),
        ...loads(written),
        ...(isComputed(event) ? [distance(written)] : quantities(written)),
        more(written) ?? "",
      );
      refresh(store.state, fields.updates.slice(from));
    };
    details.addEventListener("toggle", () => details.open && fill());
    const node = element(
      "li",
      { class: `event ${kind.look}`, data: { event: field } },
      element(
        "div",
        { class: "event-head" },
        element(heading, { class: "event-name" }, element("span", { class: "mark", "aria-hidden": "true" }), label(written)),
        when,
        goal,
      ),
      event.until ? element("div", { class: "longest" }, element("span", { class: "rest", text: "at most" }), length) : length,
      details,
    );
    fields.updates.push((now, happenings) => {
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

  /** What decides which elements a row has; everything else of it is updated in place. */
  const formOf = (event) => [
    event.event, event.name, Boolean(event.until), event.duration === "rest", isComputed(event), isFromCar(kinds.get(event.event), event),
    ...["circulation", "fan"].map((which) => onTimes(event, which).map((on) => Boolean(on.until))),
  ];

  return {
    row, refresh, formOf, label, fields,
    /** Before rows are made anew: the old ones are updated no more. */
    clear: () => (fields.updates = []),
  };
}
