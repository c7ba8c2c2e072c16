// What a question of size comes to, below its sentence: under what it holds, how it moves, the chart with its numbers.
import { element } from "./element.js";
import { inBothSchemes } from "./svgpicture.js";

function tableOf({ across, down, unit, columns, rows }) {
  const head = element("tr", {}, element("td"), ...columns.map((text) => element("th", { scope: "col", text })));
  const body = rows.map(([value, cells]) =>
    element("tr", {}, element("th", { scope: "row", text: value }), ...cells.map(({ text, meets }) => element("td", { text: meets ? `${text} ✓` : text }))));
  return element("table", { id: "size-table" },
    element("caption", { text: `${across}, to the right; ${down}, upwards; in ${unit}. ✓ meets the aim.` }),
    element("thead", {}, head), element("tbody", {}, ...body));
}

/** `show({ answer, table, light, dark })`, or null for nothing. */
export function createSizeAnswer(root) {
  return {
    show(result) {
      if (!result) {
        root.replaceChildren();
        return;
      }
      const { answer, table } = result;
      const lines = answer.sensitivity.map(({ what, then }) =>
        element("li", {}, element("span", { class: "name", text: what }), " ", element("span", { class: "value", text: then })));
      root.replaceChildren(
        ...answer.conditions.map((text) => element("p", { class: "help", text })),
        ...(lines.length > 0 ? [element("h3", { id: "size-moves", text: "How it moves" }), element("ul", { class: "changes", "aria-labelledby": "size-moves" }, ...lines)] : []),
        element("figure", { class: "size-chart" }, ...inBothSchemes(result),
          element("figcaption", { class: "help", text: "The heavy line is the aim; the shaded side meets it. Ring: the day as it is. Diamond: the answer." })),
        element("details", { class: "note" }, element("summary", {}, element("span", { text: "The chart in numbers" })), element("div", { class: "wide" }, tableOf(table))),
      );
    },
  };
}
