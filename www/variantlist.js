// The days that are compared as a list: each with its letter and look, its name, what is changed in it, and for a kept one
// buttons to edit a copy and to drop it.
import { element, setText, settle } from "./element.js";

const MOST_LINES = 14;

/** A stretch of a variant's line; the edited day's is full. */
export function dashSample(dash) {
  const line = element("line", { x1: 0, y1: 6, x2: 30, y2: 6, "stroke-width": 2, stroke: "currentColor", "stroke-dasharray": dash ? dash.join(" ") : null });
  return element("svg", { class: "dash", width: 30, height: 12, "aria-hidden": "true" }, line);
}

/** `edit(at)` and `drop(at)` are what the buttons of the kept day at a place do. */
export function createVariantList({ edit, drop }) {
  const list = element("ol", { class: "variants", id: "compare-variants", "aria-label": "The days that are compared" });
  let rows = [];

  function row({ letter, dash, edited }, at) {
    const name = element("span", { class: "variant-name" });
    const button = (text, label, data, act) => element("button", { type: "button", class: "plain", text, "aria-label": label, data, on: { click: act } });
    const copy = edited ? null : button("Edit a copy", `Edit a copy of ${letter}`, { edit: letter }, () => edit(at));
    const moves = edited ? null : element("div", { class: "moves" }, copy, button("Drop", `Drop ${letter}`, { drop: letter }, () => drop(at)));
    const count = element("span");
    const changes = element("ul", { class: "changes", data: { changes: letter }, "aria-label": `Changes of ${letter}` });
    // The edited day's list stands open until it is closed.
    const more = element("details", { class: "variant-changes", open: edited }, element("summary", {}, count), changes);
    const said = element("p", { class: "field-error" });
    const node = element(
      "li",
      { data: { variant: letter } },
      element("div", { class: "variant-head" }, element("span", { class: "letter", text: letter }), dashSample(dash), name, moves),
      said, more,
    );
    return { node, name, copy, count, changes, more, said };
  }

  /** `variants`: [{ letter, dash, edited, name, changes or null, same, refusal }]; `against` is the letter of reference. */
  function show(variants, against) {
    const letters = variants.map(({ letter, edited }) => letter + edited).join();
    if (list.dataset.letters !== letters) {
      list.dataset.letters = letters;
      rows = variants.map(row);
      list.replaceChildren(...rows.map(({ node }) => node));
    }
    variants.forEach(({ edited, name, changes, same, refusal }, at) => {
      const { name: title, copy, count, changes: lines, more, said } = rows[at];
      setText(title, edited ? `${name} (edited)` : name);
      copy?.setAttribute("aria-disabled", String(same));
      setText(said, refusal ?? "");
      said.hidden = !refusal;
      more.hidden = !changes || changes.length === 0;
      if (more.hidden) return;
      setText(count, `${changes.length} ${changes.length === 1 ? "change" : "changes"} from ${against}`);
      const shown = changes.slice(0, MOST_LINES).map(({ label, from, to }) =>
        element("li", {}, element("span", { class: "name", text: label }), " ", element("span", { class: "value", text: `${from} → ${to}` })));
      if (changes.length > MOST_LINES) shown.push(element("li", { text: `and ${changes.length - MOST_LINES} more` }));
      settle(lines, ...shown);
    });
  }

  return { element: list, show };
}
