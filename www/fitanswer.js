// What a fit found: in words, as tables and as pictures. Nothing of the day is changed here.
import { element, freshId } from "./element.js";
import { inBothSchemes } from "./svgpicture.js";

const picture = (both, caption) => element("figure", { class: "size-chart" }, ...inBothSchemes(both), element("figcaption", { class: "help", text: caption }));

const table = (id, caption, heads, rows) => element("div", { class: "scroll", tabindex: 0, role: "region", "aria-label": caption },
  element("table", { id }, element("caption", { text: caption }),
    element("thead", {}, element("tr", {}, ...heads.map((head) => element("th", { scope: "col", text: head })))),
    element("tbody", {}, ...rows)));
const row = (name, ...cells) => element("tr", {}, element("th", { scope: "row", class: "words", text: name }), ...cells.map((cell) => (cell instanceof Node ? cell : element("td", { text: cell }))));
const degrees = (value) => (value === null || value === undefined ? "–" : value.toFixed(1).replace("-", "−"));

/** `leaveOut(at, out)` takes a reading out of the fit, or in again. */
export function createFitAnswer({ leaveOut }, root) {
  return {
    /** `found` is { said, pictures } in one system of units, or null. */
    show(found) {
      if (!found) {
        root.replaceChildren();
        return;
      }
      const { said, pictures } = found;
      const line = (one) => row(`${one.part}: ${one.label}`, one.before, one.at_limit ? `${one.after}, at its limit` : one.after, one.between, `${Math.round(100 * one.told)}\u00a0%`);
      const heads = ["Parameter", "Stated", "Fitted", "Two of three lie in", "Told"];
      const kept = said.parameters.filter((one) => one.kept);
      const rest = said.parameters.filter((one) => !one.kept);
      const unit = said.temperature_unit;
      const readings = said.readings.map((one) => {
        const box = element("input", {
          type: "checkbox", checked: one.left_out, id: freshId("out"), "aria-label": `Leave out reading ${one.number}, ${one.clock}, ${one.place}`, data: { out: one.number - 1 },
          on: { change: () => leaveOut(one.number - 1, box.checked) },
        });
        const off = one.after === null ? null : one.shown - one.after;
        const cell = element("td", {}, element("label", { class: "ticked", for: box.id }, box));
        return element("tr", { class: one.outlier ? "stands-out" : null },
          element("th", { scope: "row", text: `${one.number}. ${one.clock} ${one.place}`, class: "words" }),
          ...[degrees(one.shown), degrees(one.before), degrees(one.after), degrees(off), one.left_out ? "left out" : one.outlier ? "stands out" : ""].map((text) => element("td", { text })), cell);
      });
      root.replaceChildren(
        ...(said.remarks.length > 0 ? [element("ul", { class: "remarks" }, ...said.remarks.map((text) => element("li", { text })))] : []),
        picture(pictures[0], "Full lines: the fitted day. Dashed: as stated. Marks: the readings, corrected for their surfaces; hollow ones are left out, ringed ones stand out."),
        element("h3", { text: "What moved" }),
        table("fit-parameters", "Told: the share of the doubt about it that the readings took away.", heads, kept.map(line)),
        ...(rest.length > 0 ? [element("details", { class: "note", id: "fit-rest" }, element("summary", {}, element("span", { text: `${rest.length} more stay as stated` })), table("fit-rest-table", "The readings say next to nothing of these.", heads.slice(0, 2), rest.map((one) => row(`${one.part}: ${one.label}`, one.before))))] : []),
        ...(said.surfaces.length > 0 ? [element("h3", { text: "Emissivities" }),
          table("fit-surfaces", "Of each spot that an infrared thermometer looked at.", ["Spot", "Taken", "Fitted", "Two of three lie in"],
            said.surfaces.map((one) => row(`${one.place}, ${one.surface}`, one.before.toFixed(2), one.after.toFixed(2), `${(one.after - one.deviation).toFixed(2)} to ${(one.after + one.deviation).toFixed(2)}`)))] : []),
        element("h3", { text: "Reading by reading" }),
        table("fit-readings", `As the instrument shows them, in ${unit}. What is left out is fitted without at once.`, ["Reading", "Read", "Stated", "Fitted", "Off", "Judged", "Leave out"], readings),
        picture(pictures[1], `Read less fitted, ${unit}. The bar at each reading is two deviations to either side: one in twenty stands outside by chance.`),
      );
    },
  };
}
