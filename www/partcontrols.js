// What a part of "Everything else" has beside sliders: its tables, other ways to state a parameter, the class of a fluid.
//
// Tables and other ways have a disclosure each; which statements exclude each other is known to `ways`.
import { element, freshId, setText, textLater } from "./element.js";
import { quantityBox, shown } from "./quantity.js";
import { setSetupValue, setupValue } from "./scenario.js";
import { inSentence } from "./sliders.js";
import { tableControl } from "./table.js";
import { differ, waysOf } from "./ways.js";

/** Gives makers of controls { element, update(state) }: alternative(place in the table), table(row of the table), fluidClass(). */
export function createPartControls({ store, core, tables, ways }) {
  const { restate } = core;
  /** A line of help, whose words may come later. */
  const explained = (says) => {
    const node = element("p", { class: "help" });
    textLater(node, says, core.words());
    return node;
  };

  // Another way to state a parameter: its boxes, what they come to, and a way back.
  function alternative(at) {
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
    return {
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
    return {
      element: element("div", { class: "control choice" }, element("label", { for: id, text: "Class of fluid" }), select, sentence),
      update(state) {
        select.value = setupValue(state.scenario, "fluid", "class") ?? tables.us.fluids[0].key;
        setText(sentence, chosen()?.sentence ?? "");
      },
    };
  }

  return { alternative, fluidClass, table: (sheet) => tableControl({ store, ways, explained }, sheet) };
}
