// A table of the set-up as a text of comma-separated values: typed, pasted or loaded from a file.
//
// The text is stored as it is written, on leaving the box; the core reads it and says what is wrong in it.
import { element, freshId, setText } from "./element.js";
import { setupValue } from "./scenario.js";
import { tableText } from "./ways.js";

// The core refuses what is longer; no need to read more than it takes to say so.
const MOST_BYTES = 100_000;

/** Gives { element, update(state) } for a table of `core.tables()`; `explained(says)` makes a line of help. */
export function tableControl({ store, ways, explained }, table) {
  const { part, key, label, example } = table;
  const id = freshId("table");
  const help = explained(() => `${table.sentence ?? ""} One row a line; comma, semicolon or tab between the values.`);
  help.id = freshId("help");
  let typing = false;

  const put = (text) => {
    const blank = text.trim() === "";
    store.edit((scenario) => (blank ? ways.removeTable(scenario, table) : ways.stateTable(scenario, table, text)), null, label);
  };
  const commit = () => {
    if (!typing) return;
    typing = false;
    if (area.value !== tableText(setupValue(store.state.scenario, part, key))) put(area.value);
  };
  const area = element("textarea", {
    id, class: "values", rows: Math.min(8, example.split("\n").length + 1), wrap: "off", spellcheck: "false", autocomplete: "off",
    autocapitalize: "off", placeholder: example, "aria-describedby": help.id,
    data: { field: `setup.${part}.${key}`, unit: help.id },
    on: { input: () => (typing = true), change: commit, blur: commit },
  });
  const file = element("input", {
    type: "file", accept: ".csv,.txt,.tsv,text/csv,text/plain", hidden: true, "aria-label": `CSV file: ${label}`,
    on: {
      change: async () => {
        const [chosen] = file.files;
        if (chosen) put(await chosen.slice(0, MOST_BYTES).text());
        file.value = "";
      },
    },
  });
  const button = (text, act) =>
    element("button", { type: "button", class: "plain", text, "aria-label": `${text}: ${label}`, on: { click: act } });
  const useExample = button("Use the example", () => {
    put(example);
    area.focus();
  });
  const back = button("Put it back", () => {
    put(tableText(ways.remembered(part, key)));
    area.focus();
  });
  const remove = button("Remove", () => {
    typing = false;
    store.edit((scenario) => ways.removeTable(scenario, table), null, label);
    area.focus();
  });
  const state = element("span", { class: "count" });
  const node = element(
    "details",
    { class: "way", data: { way: `${part}.${key}` } },
    element("summary", {}, element("span", { text: `${label}, as a table` }), state),
    element(
      "div",
      { class: "field" },
      element("label", { for: id, class: "hidden", text: label }),
      area,
      help,
      element("div", { class: "moves" }, button("Load a CSV file", () => file.click()), useExample, back, remove, file),
    ),
  );

  return {
    element: node,
    update({ scenario }) {
      const written = setupValue(scenario, part, key);
      const stated = written !== undefined;
      const text = tableText(written);
      if (!typing && area.value !== text) area.value = text;
      setText(state, stated ? "stated" : "");
      useExample.hidden = stated;
      remove.hidden = !stated;
      back.hidden = stated || ways.remembered(part, key) === undefined;
    },
  };
}
