// The fields that events are edited with: number boxes, choices, steppers and a temperature to wait for.
//
// One maker serves one place of the page: it keeps the updates of what it made, so that they can be brought up to
// date together.
import { element } from "./element.js";
import { quantityBox } from "./quantity.js";

const SIDES = [["at_or_below", "at or below"], ["at_or_above", "at or above"]];

export function createFields({ store, core }) {
  const restate = core.restate;
  const tables = { us: core.tables("us"), si: core.tables("si") };
  const fields = { updates: [], box, select, labelled, switchRow, stepper, condition };

  function box(options) {
    const made = quantityBox({ store, restate, ...options });
    fields.updates.push(made.update);
    return made;
  }

  function select(name, choices, read, write, field) {
    const node = element(
      "select",
      { "aria-label": name, data: { field }, on: { change: () => write(node.value) } },
      ...choices.map(([value, text]) => element("option", { value, text })),
    );
    fields.updates.push((state) => {
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
    const put = (edit) => store.edit((scenario) => edit(find(scenario)), null, name);
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

  return fields;
}
