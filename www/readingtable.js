// Readings from a table: pasted, opened or dropped, looked at row by row, and taken over only when the reader says so.
import { element, freshId, setText } from "./element.js";
import { createReadingCheck } from "./readingcheck.js";

const MOST_BYTES = 300_000;

/** `take(rows, replace)` takes readings over; `units()` are the reader's. */
export function createReadingTable({ take, units }) {
  const check = createReadingCheck();
  let found = [];

  const area = element("textarea", {
    class: "values", id: freshId("paste"), rows: 5, spellcheck: "false", data: { readings: "paste" },
    placeholder: "time (min), place, shown (°F), surface\n12:30, shell, 152, tape", on: { input: () => look() },
  });
  const file = element("input", { type: "file", hidden: true, accept: ".csv,.tsv,.txt,text/csv,text/plain", "aria-label": "Table of readings", id: "readings-file", on: { change: async () => {
    if (file.files[0]) await open(file.files[0]);
    file.value = "";
  } } });
  const says = element("p", { class: "reading-says", role: "status", id: "readings-table-says" });
  const preview = element("div", { class: "scroll", tabindex: 0, role: "region", "aria-label": "Table that was read", hidden: true });
  const add = element("button", { type: "button", class: "plain", id: "readings-take", hidden: true, on: { click: () => put(false) } });
  const replace = element("button", { type: "button", class: "plain", id: "readings-replace", text: "Replace the readings", hidden: true, on: { click: () => put(true) } });
  const node = element("div", {},
    element("p", { class: "help", text: "One reading a line: comma, semicolon or tab between the cells. The first line may name the columns and their units. A file can also be dropped on the page." }),
    element("label", { for: area.id, class: "hidden", text: "Table of readings" }), area, file,
    element("div", { class: "moves" }, element("button", { type: "button", class: "plain", text: "Open a file", on: { click: () => file.click() } })),
    says, preview, element("div", { class: "moves" }, add, replace));

  async function open(one) {
    if (one.size > MOST_BYTES) {
      show(null, `${one.name} has ${Math.round(one.size / 1000)} kB: at most 200 kB. Check that this is the right file, or leave out rows.`);
      return;
    }
    area.value = await one.text();
    look();
  }

  function look() {
    if (area.value.trim() === "") {
      show(null, "");
      return;
    }
    check.look({ kind: "table", text: area.value, units: units() }, (table, message) => show(table, message ?? ""));
  }

  function put(all) {
    take(found, all);
    area.value = "";
    show(null, `${found.length} ${found.length === 1 ? "reading" : "readings"} taken over.`);
  }

  function show(table, text) {
    const rows = table?.rows ?? [];
    found = rows.filter(({ reading }) => reading).map(({ reading }) => reading);
    const bad = rows.length - found.length;
    preview.hidden = rows.length === 0;
    add.hidden = replace.hidden = found.length === 0;
    const many = (count) => `${count} ${count === 1 ? "row" : "rows"}`;
    setText(add, `Add ${found.length} ${found.length === 1 ? "reading" : "readings"}${bad > 0 ? `, leave ${many(bad)} behind` : ""}`);
    const ignored = table?.ignored.length > 0 ? ` Columns not used: ${table.ignored.join(", ")}.` : "";
    setText(says, table ? `${many(found.length)} can be read${bad > 0 ? `, ${bad} cannot: what is wrong stands in them` : ""}.${ignored} Nothing is taken over yet.` : text);
    preview.replaceChildren(element("table", { id: "readings-preview" },
      element("thead", {}, element("tr", {}, ...["Line", "Time", "Place", "Shown", "Surface"].map((head) => element("th", { scope: "col", text: head })))),
      element("tbody", {}, ...rows.map(({ line, written, reading, clock, place, error }) => element("tr", { class: error ? "refused" : null },
        element("th", { scope: "row", text: String(line) }),
        ...(error
          ? [element("td", { class: "words", colspan: 4 }, element("span", { text: written.join(" | ") }), element("span", { class: "field-error", text: `${error.key.startsWith("readings") ? "" : `${error.key}, `}${error.value}: ${error.limit}. ${error.remedy}` }))]
          : [clock, place, reading.shown, reading.surface.replace(/_/g, " ")].map((cell) => element("td", { text: cell }))))))));
  }

  return { element: node, open };
}
