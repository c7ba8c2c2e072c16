// The sheet under the lanes: the chosen block with everything that can be changed about it by tapping and typing,
// its round, and what can be put beside it. Whatever a drag can do can be done here.
import { addRound, duplicateEvent, insertEvent, removeRound, repeatAsRounds, splitRound } from "./edits.js";
import { element, setText } from "./element.js";
import { createRows } from "./eventrow.js";
import {
  eventAt, isRounds, newEvent, ownOf, roundPlace, roundsBefore, setTurnaround, turnaround, writtenEvents,
} from "./scenario.js";

const MOST_ROUNDS = 20;

/** Gives { focus() } for keys that go on in the sheet. */
export function createSheet({ store, core, fieldOf, putOff, days, reveal }, root) {
  const { kinds } = core.tables("us");
  const rows = createRows({ store, core, fieldOf, putOff, heading: "h3" });
  let shown = null;
  let updates = [];

  const button = (text, name, act, more = {}) =>
    element("button", { type: "button", class: "plain", text, "aria-label": name, ...more, on: { click: act } });

  /** A choice of kind and what to do with it. */
  function adder(field) {
    const choose = element(
      "select",
      { "aria-label": "Kind of event to add here" },
      ...kinds.map(({ key, label }) => element("option", { value: key, text: label })),
    );
    const add = (after) => {
      const kind = kinds.find(({ key }) => key === choose.value);
      const { result, view: { cursor_s: cursor } } = store.state;
      const here = field ? null : result.summary.events.findLast((event) => event.place && event.start_s <= cursor);
      const next = field ?? (here ? fieldOf(store.state, here.place) : null);
      days.apply(`Add ${kind.label.toLowerCase()}`, (scenario) => insertEvent(scenario, next, after, newEvent(kind)),
        here ? { round: here.round ?? null } : {});
    };
    return element(
      "div",
      { class: "adder" },
      element("span", { class: "field-name", text: "Add an event" }),
      choose,
      ...(field
        ? [button("Before", "Add it before", () => add(0)), button("After", "Add it after", () => add(1))]
        : [button("Add", "Add it after the event at the cursor", () => add(1))]),
    );
  }

  function moves(written) {
    const { field } = written;
    const name = rows.label(written);
    return element(
      "div",
      { class: "moves" },
      button("Earlier", `Earlier: ${name}`, () => days.shift(field, -1)),
      button("Later", `Later: ${name}`, () => days.shift(field, 1)),
      button("Double", `Double: ${name}`, () => days.apply(`Double ${name}`, (scenario) => duplicateEvent(scenario, field))),
      button("Remove", `Remove: ${name}`, () => days.remove(field)),
    );
  }

  /** What belongs to the round of the chosen block. */
  function roundGroup(field, round, { item, place, count }) {
    const made = rows.fields.box({
      label: `Turnaround of round ${round}`,
      path: "time",
      field: `timeline[${item}].rounds[${place}]`,
      read: (scenario) => turnaround(scenario.timeline[item]?.rounds?.[place]),
      write: (scenario, value) => {
        if (value !== undefined) setTurnaround(scenario.timeline[item].rounds, place, value);
      },
    });
    const alone = button("Change this round alone", `Change this round alone: round ${round}`, () =>
      days.apply(`Round ${round} alone`, (scenario) => splitRound(scenario, field, place)));
    const own = Boolean(ownOf(store.state.scenario, field, round));
    alone.hidden = count < 2 && !own;
    const holds = own
      ? `Round ${round} has this event of its own, and what stands above holds for the others. “Change this round alone” shows it as it is here.`
      : count > 1 ? `Changes above hold for all ${count} rounds of this kind.` : "This round stands alone.";
    return element(
      "div",
      { class: "round-group", role: "group", "aria-label": `Round ${round}`, data: { rounds: `timeline[${item}]` } },
      element("p", { class: own ? "own" : "help", text: holds }),
      rows.fields.labelled("Turnaround", rows.fields.stepper(made, `Turnaround of round ${round}`)),
      element(
        "div",
        { class: "moves" },
        alone,
        button("Add a round like it", `Add a round like it: round ${round}`, () => days.apply("A round more", (scenario) => addRound(scenario, item, place))),
        button("Remove this round", `Remove this round: round ${round}`, () =>
          days.apply(`Remove round ${round}`, (scenario) => removeRound(scenario, item, place), { round: count > 1 ? Math.max(1, round - (place === count - 1 ? 1 : 0)) : null })),
      ),
    );
  }

  /** Makes rounds of single events in a row. */
  function repeatGroup(item) {
    const { timeline } = store.state.scenario;
    let [first, last] = [item, item];
    while (first > 0 && !isRounds(timeline[first - 1])) first -= 1;
    while (last + 1 < timeline.length && !isRounds(timeline[last + 1])) last += 1;
    const names = timeline.slice(first, last + 1).map((event, at) => [first + at, event.name ?? core.kindLabel(event.event)]);
    const select = (name, from) => element(
      "select",
      { "aria-label": name },
      ...names.map(([value, text]) => element("option", { value, text: `${value - first + 1}. ${text}`, selected: value === from })),
    );
    const [from, to] = [select("First event of the round", item), select("Last event of the round", item)];
    const count = element("input", { type: "number", class: "number", inputmode: "numeric", min: 1, max: MOST_ROUNDS, value: 3, "aria-label": "How many rounds" });
    const length = element("input", { type: "text", class: "number", value: "45 min", "aria-label": "Turnaround of each round, with its unit" });
    const step = (by) => (count.value = String(Math.min(MOST_ROUNDS, Math.max(1, (Number(count.value) || 1) + by))));
    const make = () => {
      const [a, b] = [Number(from.value), Number(to.value)].sort((x, y) => x - y);
      const rounds = Number(count.value);
      if (!Number.isInteger(rounds) || rounds < 1 || rounds > MOST_ROUNDS) {
        return days.refuse(`${count.value} rounds cannot be made: choose 1 to ${MOST_ROUNDS}.`);
      }
      return days.apply(`${rounds} rounds`, (scenario) => repeatAsRounds(scenario, a, b, rounds, length.value.trim()),
        { round: roundsBefore(store.state.scenario, a) + 1 });
    };
    const field = (text, ...nodes) => element("div", { class: "field" }, element("span", { class: "field-name", text }), ...nodes);
    return element(
      "details",
      { class: "repeat" },
      element("summary", { text: "Repeat as rounds" }),
      element(
        "div",
        { class: "fields" },
        field("From", from),
        field("To", to),
        field("Rounds", element("span", { class: "stepper" },
          button("−", "One round less", () => step(-1), { class: "step" }), count, button("+", "One round more", () => step(1), { class: "step" }))),
        field("Turnaround", length),
        element("p", { class: "help", text: "From the start of a round to the start of the next. Add an event that lasts until the turnaround is over, or the rest of it is spent parked." }),
        element("div", { class: "moves" }, button("Make the rounds", null, make)),
      ),
    );
  }

  const why = element("p", { class: "sheet-why", role: "status", hidden: true });

  function build(state) {
    const { selected, round } = state.view;
    const open = [...root.querySelectorAll("details[open]")].map((node) => node.className);
    const active = root.contains(document.activeElement) ? document.activeElement.getAttribute("aria-label") ?? document.activeElement.textContent : null;
    rows.clear();
    updates = [];
    const written = selected && writtenEvents(state.scenario).find(({ field }) => field === selected);
    if (!written) {
      root.replaceChildren(
        element("p", { class: "help", text: "Tap a block to change it. Drag an edge to make it longer, or drag it to another place; with a finger, tap it first." }),
        element("p", { class: "help with-keys", text: "With keys: arrows choose a block, Shift and arrows change its length, Ctrl and arrows move it, Enter comes here." }),
        adder(null),
        why,
      );
      return;
    }
    const row = rows.row(written, moves);
    row.fill();
    row.details.open = true;
    row.details.querySelector("summary").hidden = true;
    const at = roundPlace(state.scenario, selected, round);
    const where = element("p", { class: "sheet-where" });
    updates.push((now) => {
      const happened = now.result?.summary.events.find((event) => event.place && fieldOf(now, event.place) === selected && (event.round ?? null) === (round ?? null));
      setText(where, happened ? `${round ? `Round ${round} · ` : ""}${core.clock(happened.start_s)} to ${core.clock(happened.end_s)} · took ${happened.took}` : "");
    });
    root.replaceChildren(
      element(
        "div",
        { class: "sheet-head" },
        where,
        element("div", { class: "moves" },
          button("In the list", "Show it in the list of the day", () => reveal(selected)),
          button("Close", "Close the chosen block", () => store.view({ selected: null, on: null, refusal: null }))),
      ),
      element("ul", { class: "events" }, row.node),
      ...(at ? [roundGroup(selected, round, at)] : []),
      ...(written.index === null ? [repeatGroup(written.item)] : []),
      adder(selected),
      why,
    );
    for (const node of root.querySelectorAll("details")) if (open.includes(node.className) && node.className) node.open = true;
    if (!active) return;
    const same = [...root.querySelectorAll("button, input, select, summary")].find((node) => (node.getAttribute("aria-label") ?? node.textContent) === active && !node.hidden);
    (same ?? root).focus({ preventScroll: true });
  }

  function formNow({ scenario, view: { selected, round } }) {
    const event = selected && eventAt(scenario, selected);
    const at = event && [roundPlace(scenario, selected, round), ownOf(scenario, selected, round)];
    const neighbours = event && !selected.includes(".events[") ? scenario.timeline.map((one) => one.name ?? one.event ?? "rounds") : null;
    return JSON.stringify(event ? [selected, round, rows.formOf(event), at, neighbours] : null);
  }

  function show(state) {
    const next = formNow(state);
    if (next !== shown) {
      shown = next;
      build(state);
    }
    rows.refresh(state);
    for (const update of updates) update(state);
  }
  // Stays in sight while a part of the sheet is.
  function showWhy({ view: { refusal } }) {
    why.hidden = !refusal || !root.contains(document.activeElement);
    setText(why, why.hidden ? "" : refusal);
  }
  let selected = null;
  let round = null;
  store.subscribe((state, changed) => {
    const chooses = state.view.selected !== selected || state.view.round !== round;
    [selected, round] = [state.view.selected, state.view.round];
    if ("view" in changed) showWhy(state);
    if (chooses || ["scenario", "units", "result"].some((key) => key in changed)) show(state);
  });
  show(store.state);

  return {
    focus() {
      root.querySelector(".event input, .event select, .adder select")?.focus();
    },
  };
}
