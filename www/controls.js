// The set-up: sliders with number boxes. A few stand open, every other parameter lies behind its part in a
// list of its own.
//
// Ranges, labels, units and sentences come from the core's table. A control that differs from the day as
// it was opened is marked and can be reset by itself. A part's tables and the other ways to state a parameter
// have a disclosure each; which statements exclude each other is known to `ways`.
import { element, freshId, setText, textLater } from "./element.js";
import { quantityBox, shown } from "./quantity.js";
import { brakeHold, eventAt, exceptions, roundsBefore, setSetupValue, setupValue } from "./scenario.js";
import { createSliders, inSentence } from "./sliders.js";
import { tableControl } from "./table.js";
import { createWays, differ, waysOf } from "./ways.js";

const FIRST = ["air.temperature", "cooler.ua", "circulation.flow", "converter.k_factor"];
// A hold lasts seconds; the slider's ends in its two units. A longer one can be typed.
const HOLD_ROWS = {
  s: { slider_min: 0.5, slider_max: 15, step: 0.5 },
  min: { slider_min: 1, slider_max: 10, step: 0.5 },
};

export function createControls({ store, core, seen }, root, rest) {
  const restate = core.restate;
  const tables = { us: core.tables("us"), si: core.tables("si") };
  const ways = createWays(tables.us);
  const controls = [];
  const sliders = createSliders({ store, restate, tables, ways, words: core.words });
  const kept = (control) => {
    controls.push(control);
    return control;
  };
  /** A line of help, whose words may come later. */
  const explained = (says) => {
    const node = element("p", { class: "help" });
    textLater(node, says, core.words());
    return node;
  };
  const parameterControl = (place) => kept(sliders.parameter(place));

  const alternativesTo = (part, key) =>
    tables.us.alternatives.flatMap((one, place) => (one.part === part && one.instead_of === key ? [place] : []));

  // Another way to state a parameter: its boxes, what they come to, and a way back.
  function alternativeControl(at) {
    const sheet = (units) => tables[units].alternatives[at];
    const { part, instead_of: parameter, label, inputs } = sheet("us");
    const place = tables.us.parameters.findIndex((row) => row.part === part && row.key === parameter);
    const stood = tables.us.parameters[place];
    const keys = inputs.map(({ key }) => key);
    const usual = (units) => (key) => {
      const { default: value, unit } = sheet(units).inputs.find((input) => input.key === key);
      return unit === "" ? value : `${value} ${unit}`;
    };
    const boxes = inputs.map((input, index) => {
      const path = `${part}.${input.key}`;
      const box = quantityBox({
        store,
        restate,
        label: input.label,
        path,
        field: `setup.${path}`,
        read: (scenario) => setupValue(scenario, part, input.key),
        write: (scenario, value) => ways.stateAlternative(scenario, sheet("us"), input.key, value, usual(store.state.units)),
        row: (units) => sheet(units).inputs[index],
        standing: ({ units }) => {
          const before = ways.remembered(part, input.key);
          const { default: value, unit } = sheet(units).inputs[index];
          return (before !== undefined && restate(path, String(before), units)) || { value, unit };
        },
      });
      const help = explained(() => input.sentence);
      const name = element("span", { class: "field-name", text: input.label });
      return { box, element: element("div", { class: "field" }, name, box.element, help) };
    });
    const comes = element("p", { class: "help comes" });
    const state = element("span", { class: "count" });
    const reset = element("button", {
      type: "button", class: "plain", text: "Reset", "aria-label": `Reset ${stood.label} as opened`,
      on: {
        click: () => {
          store.edit(
            (scenario) => ways.restore(scenario, store.state.baseline, part, waysOf(tables.us, part, parameter)),
            null, `Reset ${stood.label}`,
          );
          boxes[0].box.input.focus();
        },
      },
    });
    const node = element(
      "details",
      { class: "way", data: { way: keys.map((key) => `${part}.${key}`).join(" ") } },
      element("summary", {}, element("span", { text: `Or state ${inSentence(stood.label)} ${inSentence(label)}` }), state),
      explained(() => sheet("us").sentence && `${sheet("us").sentence} Source: ${sheet("us").source}.`),
      ...boxes.map((one) => one.element),
      comes,
      element("div", { class: "moves" }, reset),
    );
    const control = {
      element: node,
      update(now) {
        const stated = ways.isStated(now.scenario, sheet("us"));
        const replaced = Boolean(ways.replacedBy(now.scenario, part, parameter));
        for (const { box } of boxes) {
          box.input.disabled = replaced;
          box.update(now);
        }
        setText(state, stated ? "stated" : "");
        const { unit } = tables[now.units].parameters[place];
        const value = now.result ? `${shown(now.result.values[place])} ${unit}`.trim() : "";
        const says = stated ? `Comes to ${inSentence(stood.label)} ${value}.` : `Not in use: ${inSentence(stood.label)} is ${value}.`;
        setText(comes, now.problem?.stale ? "Not computed." : says);
        reset.disabled = !stated || !differ(part, keys, now);
      },
    };
    return kept(control);
  }

  function tableOf(sheet) {
    return kept(tableControl({ store, ways, explained }, sheet));
  }

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

  function fluidClass() {
    const id = freshId("class");
    const chosen = () => tables.us.fluids.find(({ key }) => key === select.value);
    const select = element(
      "select",
      {
        id,
        data: { field: "setup.fluid.class" },
        on: { change: () => store.edit((scenario) => setSetupValue(scenario, "fluid", "class", select.value), null, "Class of fluid") },
      },
      ...tables.us.fluids.map(({ key, label }) => element("option", { value: key, text: label })),
    );
    const sentence = explained(() => chosen()?.sentence);
    const control = {
      element: element("div", { class: "control choice" }, element("label", { for: id, text: "Class of fluid" }), select, sentence),
      update(state) {
        select.value = setupValue(state.scenario, "fluid", "class") ?? tables.us.fluids[0].key;
        setText(sentence, chosen()?.sentence ?? "");
      },
    };
    controls.push(control);
    return control;
  }

  // A part's controls are made when it is first opened: sixty of them at the start would cost a phone.
  function part(key, label, places) {
    const sheets = tables.us.tables.filter((table) => table.part === key);
    // Other ways to state what stands open above.
    const ahead = FIRST.map((path) => path.split(".")).filter(([owner]) => owner === key)
      .flatMap(([owner, parameter]) => alternativesTo(owner, parameter));
    const changes = element("span", { class: "count" });
    const body = element("div", { class: "controls" });
    const node = element(
      "details",
      {
        class: "part",
        on: {
          toggle: () => {
            if (!node.open || body.childElementCount > 0) return;
            const made = key === "fluid" ? [fluidClass()] : [];
            made.push(...sheets.map(tableOf), ...ahead.map(alternativeControl));
            for (const place of places) {
              const row = tables.us.parameters[place];
              made.push(parameterControl(place), ...alternativesTo(row.part, row.key).map(alternativeControl));
            }
            body.append(...made.map((control) => control.element));
            for (const control of made) control.update(store.state);
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
}
