// The readings taken: each with what its spot had, to be changed, left out of the fit or taken away.
import { element } from "./element.js";

const degrees = (value) => String(Math.round(value * 10) / 10).replace("-", "−");

/** `edit(at)`, `remove(at)`, `leaveOut(at, out)` act on a row. */
export function createReadingList({ edit, remove, leaveOut }) {
  const list = element("ol", { class: "reading-list", id: "reading-list" });
  const none = element("p", { class: "help", text: "No readings yet." });

  return {
    element: element("div", {}, none, list),
    /** `checked` is what the core says of each row, or null while it is asked. */
    show(rows, checked, textOf) {
      none.hidden = rows.length > 0;
      const focused = document.activeElement?.closest?.("#reading-list [data-at]") ? document.activeElement.dataset : null;
      list.replaceChildren(...rows.map((row, at) => {
        const one = checked?.[at];
        const button = (act, text, click, more = {}) => element("button", { type: "button", class: "plain", text, data: { at, act }, "aria-label": `${text}: reading ${at + 1}`, on: { click }, ...more });
        const what = one && !one.error ? `${one.clock} ${one.place}: ${degrees(one.shown)} ${one.unit}` : `${row.time} ${row.place}: ${textOf(row.shown)}`;
        const more = !one || one.error ? null : one.infrared ? `${one.surface}: the spot had ${Math.round(one.corrected)} ± ${Math.max(1, Math.round(one.deviation))} ${one.unit}` : one.surface;
        return element("li", { class: row.out ? "left-out" : null },
          element("div", {},
            element("p", { class: "reading-what", text: what }),
            more && element("p", { class: "help", text: `${more}${row.note ? `. ${row.note}` : ""}${row.out ? ". Left out of the fit." : ""}` }),
            one?.error && element("p", { class: "field-error", text: `${one.error.key}, ${one.error.value}: ${one.error.limit}. ${one.error.remedy}` })),
          element("div", { class: "moves" },
            button("edit", "Edit", () => edit(at)),
            button("out", "Leave out", () => leaveOut(at, !row.out), { "aria-pressed": String(Boolean(row.out)) }),
            button("remove", "Delete", () => remove(at))));
      }));
      if (focused) list.querySelector(`[data-at="${Math.min(focused.at, rows.length - 1)}"][data-act="${focused.act}"]`)?.focus();
    },
  };
}
