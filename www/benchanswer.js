// What a bench test's numbers say: what explains them and what to look at, the curves with the readings, tables of bands.
import { element } from "./element.js";
import { inBothSchemes } from "./svgpicture.js";

const MARKS = { above: ["▲", "above"], below: ["▼", "below"], in: ["", "in"], none: ["", "–"] };

function table(title, unit, lines) {
  if (lines.length === 0) return null;
  const head = ["Time", "Place", `Read, ${unit}`, "Band", "Lies"].map((text) => element("th", { scope: "col", text }));
  const rows = lines.map((line) => {
    const on = line.on.split(" or ")[0].toLowerCase();
    return element("tr", { class: `bench-${line.verdict}` },
      element("td", { text: line.clock.replace(/^0:/, "") }), element("th", { scope: "row", text: on ? `${line.what}, ${on}` : line.what }),
      element("td", { text: line.shown.toFixed(0) }), element("td", { text: typeof line.low === "number" ? `${line.low.toFixed(0)} to ${line.high.toFixed(0)}` : "–" }), element("td", { "aria-label": line.verdict_label }, MARKS[line.verdict][0], element("span", { class: MARKS[line.verdict][0] ? "word" : null, text: ` ${MARKS[line.verdict][1]}` })));
  });
  return element("details", { class: "note", open: lines.some(({ verdict }) => verdict === "above" || verdict === "below") },
    element("summary", {}, element("span", { text: title })),
    element("table", { class: "bench-table" }, element("thead", {}, element("tr", {}, ...head)), element("tbody", {}, ...rows)));
}

/** `show(judged, units)`, or null for nothing. */
export function createBenchAnswer(root) {
  return {
    show(judged, units) {
      if (!judged) {
        root.replaceChildren();
        return;
      }
      const said = judged[units];
      const findings = said.findings.map(({ title, text, look }) => element("li", {}, element("strong", { text: `${title}.` }), ` ${text} `, element("span", { class: "bench-look", text: `Look at: ${look}` })));
      root.replaceChildren(
        ...(findings.length > 0 ? [element("ol", { class: "bench-causes", id: "bench-causes" }, ...findings)] : []),
        element("figure", { class: "size-chart" }, ...inBothSchemes(judged),
          element("figcaption", { class: "help", text: "Lines: the unit as stated. Squares: readings, corrected, with two deviations to either side; ringed outside the band." })),
        ...[table("Temperatures beside their bands", said.temperature_unit, said.readings), table("Pressures beside their bands", said.pressure_unit, said.pressures)].filter(Boolean),
        element("p", { class: "help", text: said.caveat }),
      );
    },
  };
}
