// A table that scrolls sideways on its own, so that the page never does; and a line that opens it.
import { element } from "./element.js";

/** `name` says what it is to who cannot see it; `parts` are those of the table. */
export const scrolled = (name, ...parts) =>
  element("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": name }, element("table", {}, ...parts));

/** Names of columns, for the table's head. */
export const columns = (texts) => texts.map((text) => element("th", { scope: "col", text }));

/** A row of a table: its name and what stands in its cells. */
export const row = (name, texts) =>
  element("tr", {}, element("th", { scope: "row", text: name }), ...texts.map((text) => element("td", { text })));

/** What stands behind a line until that is tapped. */
export const behind = (id, text, ...parts) => element("details", { id }, element("summary", { text }), ...parts);
