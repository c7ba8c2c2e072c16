// The set-up: sliders with number boxes. A few stand open, every other parameter lies behind its part in a
// list of its own.
//
// Ranges, labels, units and sentences come from the core's table. A control that differs from the day as
// it was opened is marked and can be reset by itself. What a part has beside sliders is made by `partcontrols`;
// which statements exclude each other is known to `ways`.
import { nextTry } from "./brought.js";
import { element, setText } from "./element.js";
import { brakeHold, eventAt, exceptions, roundsBefore } from "./scenario.js";
import { createSliders } from "./sliders.js";
import { createWays, differ, waysOf } from "./ways.js";

const FIRST = ["air.temperature", "cooler.ua", "circulation.flow", "converter.k_factor"];
// A hold lasts seconds; the slider's ends in its two units. A longer one can be typed.
const HOLD_ROWS = {
  s: { slider_min: 0.5, slider_max: 15, step: 0.5 },
  min: { slider_min: 1, slider_max: 10, step: 0.5 },
};

/** `bring()` asks for what makes the controls of a part, which is then given to `take`; it fails where that cannot be loaded. */
export function createControls({ store, core, seen, bring }, root, rest) {
  const restate = core.restate;
  const tables = {
    us: core.tables("us"),
    get si() {
      return core.tables("si");
    },
  };
  const ways = createWays(tables.us);
  const controls = [];
  const sliders = createSliders({ store, restate, tables, ways, words: core.words });
  const kept = (control) => {
    controls.push(control);
    return control;
  };
  const parameterControl = (place) => kept(sliders.parameter(place));

  const alternativesTo = (part, key) =>
    tables.us.alternatives.flatMap((one, place) => (one.part === part && one.instead_of === key ? [place] : []));

  function holdControl() {
    const place = (scenario) => brakeHold(scenario)?.field;
    return kept(sliders.slider({
      label: "Held on the brake",
      name: (scenario) => `Held on the brake, ${brakeHold(scenario).index === null ? "first time" : "each round"}`,
      sentence: () => "Time at full stall against the brake. The converter makes most heat per second here.",
      path: "event.duration",
      field: (scenario) => place(scenario) && `${place(scenario)}.duration`,
      row: (_, current) => HOLD_ROWS[current?.unit] ?? HOLD_ROWS.s,
      read: (scenario) => brakeHold(scenario)?.event.duration,
      write: (scenario, value) => {
        const hold = brakeHold(scenario);
        if (hold && value !== undefined) hold.event.duration = value;
      },
      readBaseline: (baseline, scenario) => {
        const at = place(scenario);
        const event = at && eventAt(baseline, at);
        return event?.event === "brake_hold" ? event.duration : undefined;
      },
      absent: (scenario) => !brakeHold(scenario),
      note: ({ scenario, units }) => {
        const { item, index } = brakeHold(scenario);
        if (index === null) return "";
        const others = exceptions(scenario.timeline[item])
          .filter(({ kind, key }) => kind === "brake_hold" && key === "duration")
          .map(({ place: round, value }) =>
            `round ${roundsBefore(scenario, item) + round + 1}: ${restate("event.duration", String(value), units)?.text ?? value}`);
        return others.length > 0 ? `except ${others.join(", ")}` : "";
      },
    }));
  }

  // What makes a part's controls comes after the first view; a part opened before that waits for it.
  let make = null;
  const opened = [];

  // A part's controls are made when it is first opened: sixty of them at the start would cost a phone.
  function part(key, label, places) {
    const sheets = tables.us.tables.filter((table) => table.part === key);
    // Other ways to state what stands open above.
    const ahead = FIRST.map((path) => path.split(".")).filter(([owner]) => owner === key)
      .flatMap(([owner, parameter]) => alternativesTo(owner, parameter));
    const changes = element("span", { class: "count" });
    const body = element("div", { class: "controls" });
    let filled = false;
    function fill() {
      if (filled) return;
      filled = true;
      const made = [];
      if (key === "fluid") made.push(make.fluidClass());
      made.push(...sheets.map(make.table), ...ahead.map(make.alternative));
      for (const place of places) {
        const row = tables.us.parameters[place];
        made.push(sliders.parameter(place), ...alternativesTo(row.part, row.key).map(make.alternative));
      }
      controls.push(...made);
      body.replaceChildren(...made.map((control) => control.element));
      for (const control of made) control.update(store.state);
    }
    const node = element(
      "details",
      {
        class: "part",
        on: {
          toggle: () => {
            if (!node.open || filled) return;
            if (make) {
              fill();
              return;
            }
            const status = element("p", { class: "help", role: "status", text: "Loading…" });
            body.replaceChildren(status);
            opened.push(fill);
            bring().catch((error) => setText(status, `This part could not be loaded. ${nextTry(error, "Close it and open it again in a moment.")}`));
          },
        },
      },
      element("summary", {}, element("span", { text: label }), changes),
      body,
    );
    // A parameter and its other ways count once; what a table replaces counts with the table.
    const groups = [
      ...sheets.map((sheet) => [sheet.key]),
      ...ahead.map((at) => tables.us.alternatives[at].inputs.map((input) => input.key)),
      ...places.map((place) => waysOf(tables.us, key, tables.us.parameters[place].key)),
    ];
    controls.push({
      update(state) {
        const replaced = ([first]) =>
          [state.scenario, state.baseline].some((scenario) => ways.replacedBy(scenario, key, first));
        const count = groups.filter((keys) => differ(key, keys, state) && !replaced(keys)).length;
        setText(changes, count > 0 ? `${count} changed` : "");
      },
    });
    return node;
  }

  const place = (path) => tables.us.parameters.findIndex((row) => `${row.part}.${row.key}` === path);
  const first = element(
    "div",
    { class: "controls" },
    ...FIRST.map((path) => parameterControl(place(path)).element),
    holdControl().element,
  );
  const parts = new Map();
  tables.us.parameters.forEach((row, index) => {
    if (FIRST.includes(`${row.part}.${row.key}`)) return;
    if (!parts.has(row.part)) parts.set(row.part, { label: row.part_label, places: [] });
    parts.get(row.part).places.push(index);
  });
  root.append(first);
  rest.append(
    ...[...parts].map(([key, { label, places }]) => part(key, label, places)),
  );

  // A changed day is computed or refused before the next frame: once is enough.
  const hangsOn = (changed) => ["units", "result", "problem"].some((key) => key in changed);
  const inHand = ({ element: node }) => node?.contains(document.activeElement);
  store.subscribe((state, changed) => {
    if ("baseline" in changed) ways.forget();
    if (!hangsOn(changed)) return;
    for (const control of controls) if (inHand(control)) control.update(state);
  });
  // The others may wait for the picture. All of them: another may be in hand by then, that was not when it changed.
  seen(root.closest("#inputs"), (state, changed) => {
    if (!hangsOn(changed)) return;
    for (const control of controls) control.update(state);
  });
  for (const control of controls) control.update(store.state);

  return {
    /** Takes what makes the controls of a part. */
    take(create) {
      make = create({ store, core, tables, ways });
      for (const fill of opened.splice(0)) fill();
    },
  };
}
