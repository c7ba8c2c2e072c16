// The day as a list that can be edited: durations, pump, fan, each event's own quantities, rounds.
//
// It has a row for every event as written; a pattern of rounds is one group whose turnarounds differ. The list is
// built anew when its shape changes (an event more, another form of its end) and updated in place otherwise.
import { insertEvent } from "./edits.js";
import { element, setText } from "./element.js";
import { createRows } from "./eventrow.js";
import { exceptions, isRounds, newEvent, roundsBefore, setTurnaround, turnaround, writtenEvents } from "./scenario.js";

export function createDayList({ store, core, fieldOf, putOff, days }, root) {
  const restate = core.restate;
  const { kinds: known } = core.tables("us");
  const kinds = new Map(known.map((kind) => [kind.key, kind]));
  const rows = createRows({ store, core, fieldOf, putOff });
  let shape = "";

  function moves(written) {
    const { field } = written;
    const name = rows.label(written);
    const button = (text, act) =>
      element("button", { type: "button", class: "plain", text, "aria-label": `${text}: ${name}`, on: { click: act } });
    const shift = (by) => days.shift(field, by);
    return element(
      "div",
      { class: "moves" },
      button("Earlier", () => shift(-1)),
      button("Later", () => shift(1)),
      button("Remove", () => {
        days.remove(field);
        root.focus();
      }),
    );
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
    rows.fields.updates.push(({ scenario, units }) => {
      if (!isRounds(scenario.timeline[item] ?? {})) return;
      setText(others, exceptionTexts(scenario, item, units).join(" "));
      others.hidden = others.textContent === "";
    });
    const boxes = entry.rounds.map((_, place) => {
      const made = rows.fields.box({
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
    const editRounds = (edit, what) => days.apply(what, (scenario) => edit(scenario.timeline[item].rounds));
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
          on: { click: () => editRounds((list) => void list.push(structuredClone(list.at(-1))), "A round more") },
        }),
        element("button", {
          type: "button", class: "plain", text: "Remove the last round", disabled: entry.rounds.length < 2,
          on: { click: () => editRounds((list) => void list.pop(), "A round less") },
        }),
      ),
    );
  }

  function adder(where, place) {
    const choose = element(
      "select",
      { "aria-label": `Kind of event to add ${where}` },
      ...known.map((kind) => element("option", { value: kind.key, text: kind.label })),
    );
    const add = () => days.apply(`Add ${kinds.get(choose.value).label.toLowerCase()}`, (scenario) => {
      const field = place(scenario);
      return insertEvent(scenario, field, 1, newEvent(kinds.get(choose.value)));
    });
    return element(
      "div",
      { class: "adder" },
      choose,
      element("button", { type: "button", class: "plain", text: "Add event", "aria-label": `Add event ${where}`, on: { click: add } }),
    );
  }

  function build(state) {
    const open = new Set([...root.querySelectorAll("details[open]")].map((node) => days.moved(node.dataset.details)));
    const active = root.contains(document.activeElement) ? document.activeElement : null;
    const focused = active?.getAttribute("aria-label");
    const rowOf = active?.closest("[data-event]");
    const focusedRow = rowOf ? days.moved(rowOf.dataset.event) : null;
    rows.clear();
    const parts = [];
    let stretch = null;
    const close = () => {
      if (stretch) {
        const { last } = stretch;
        parts.push(element("ol", { class: "events" }, ...stretch.nodes), adder("to this stretch", () => `timeline[${last}]`));
      }
      stretch = null;
    };
    const made = [];
    const all = state.scenario.timeline.map(() => []);
    for (const one of writtenEvents(state.scenario)) all[one.item].push(one);
    state.scenario.timeline.forEach((entry, item) => {
      const written = all[item].map((one) => {
        const row = rows.row(one, moves);
        made.push(row);
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
        adder("to every round", (scenario) => `timeline[${item}].events[${scenario.timeline[item].events.length - 1}]`),
      );
    });
    close();
    root.replaceChildren(...parts);
    for (const row of made) {
      if (!open.has(row.details.dataset.details)) continue;
      row.fill();
      row.details.open = true;
    }
    rows.refresh(state);
    if (!focused) return;
    const within = (focusedRow && root.querySelector(`[data-event="${CSS.escape(focusedRow)}"]`)) || root;
    within.querySelector(`[aria-label="${CSS.escape(focused)}"]`)?.focus();
  }

  function shapeOf(scenario) {
    return JSON.stringify(scenario.timeline.map((entry) =>
      isRounds(entry) ? [entry.rounds.length, ...entry.events.map(rows.formOf)] : rows.formOf(entry)));
  }

  // Nothing is made while the list is closed.
  const holder = root.closest("details");
  let waiting = true;
  function show(state) {
    waiting = !holder.open;
    if (waiting) return;
    const next = shapeOf(state.scenario);
    // Two that changed places have one shape all the same.
    if (next !== shape || days.moving) {
      shape = next;
      build(state);
    } else {
      rows.refresh(state);
    }
  }
  holder.addEventListener("toggle", () => waiting && show(store.state));
  let selected = null;
  store.subscribe((state, changed) => {
    const selects = state.view.selected !== selected;
    selected = state.view.selected;
    if (selects || ["scenario", "units", "result"].some((key) => key in changed)) show(state);
  });
  show(store.state);

  /** Opens the list at an event. */
  return function reveal(field) {
    holder.open = true;
    show(store.state);
    const row = root.querySelector(`[data-event="${CSS.escape(field)}"]`);
    row?.scrollIntoView({ block: "center", behavior: matchMedia("(prefers-reduced-motion: reduce)").matches ? "auto" : "smooth" });
    row?.querySelector("input, summary")?.focus({ preventScroll: true });
  };
}
