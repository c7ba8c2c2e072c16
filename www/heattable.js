// The heat picture in numbers: what its colours and numbers mean with the heat of the event at the cursor, and a table
// of all events by source and sink.
import { element, setText } from "./element.js";
import { behind, columns, row as rowOf, scrolled } from "./scrolled.js";
import { swatch } from "./swatch.js";

// A path of less than this share of all heat is not named, as in the picture.
const LEAST_SHARE = 0.0005;

export function createHeatTable({ core, seen, day, moment }, root) {
  const { paths } = core.tables("us");
  const title = element("p", { class: "moment-of-heat" });
  const legend = element("ul", { class: "heat-legend", "aria-label": "Heat of the event at the cursor by source and sink" });
  const says = element("p", {});
  const heads = element("tr");
  const rows = element("tbody");
  const foot = element("tfoot");
  const body = scrolled("Table of heat by event", element("thead", {}, heads), rows, foot);
  const details = behind("heat-table", "Heat of each event as a table", says, body);
  root.append(title, legend, details);

  let table = null;
  let entries = [];

  const whole = (value) => (Math.round(value) === 0 ? "0" : value.toFixed(0).replace("-", "−"));

  function showLegend() {
    const most = table.day.heat.reduce((sum, value) => sum + Math.abs(value), 0) / 2;
    entries = paths.flatMap((column, place) => {
      if (Math.abs(table.day.heat[place]) <= LEAST_SHARE * most) return [];
      const value = element("span", { class: "value" });
      const words = column.group === "away" ? "out" : "in";
      return [{ place, value, node: element("li", {}, swatch(column), element("span", { class: "name", text: `${column.label}, ${words}` }), value) }];
    });
    legend.replaceChildren(...entries.map(({ node }) => node));
  }

  function place() {
    const at = moment().event;
    const row = at === null || at === undefined ? null : table.rows[at];
    setText(title, row ? `Heat of ${row.label}${row.round ? `, round ${row.round}` : ""}, ${row.took} (${table.energy_unit})` : `Heat (${table.energy_unit})`);
    for (const { place: column, value } of entries) setText(value, row ? whole(row.heat[column]) : "–");
  }

  function showTable() {
    if (!details.open) return;
    setText(says, `${table.says} All in ${table.energy_unit}; stored is made less carried away.`);
    heads.replaceChildren(...columns(["Event", "Round", ...paths.map(({ label }) => label), "Made", "Away", "Stored"]));
    const line = (row) => rowOf(row.label, [row.round ?? "–", ...[...row.heat, row.made, row.away, row.stored].map(whole)]);
    rows.replaceChildren(...table.rows.map(line));
    foot.replaceChildren(line(table.day));
  }
  details.addEventListener("toggle", () => table && showTable());

  seen(root, (state, changed) => {
    if (!state.result || !day()) return;
    if ("result" in changed) {
      table = day().heat(state.units);
      showLegend();
      showTable();
    }
    if ("result" in changed || "view" in changed) place();
  });
}
