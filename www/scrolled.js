// A table that scrolls sideways on its own, so that the page never does; and a line that opens it.
import { element } from "./element.js";

/** `name` says what it is to who cannot see it; `parts` are those of the table. */
export const scrolled = (name, ...parts) =>
  element("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": name }, element("table", {}, ...parts));

/** What stands behind a line until that is tapped. */
export const behind = (id, text, ...parts) => element("details", { id }, element("summary", { text }), ...parts);
