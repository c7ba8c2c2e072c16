// Pictures of the day that need no place of their own on the page: every picture of the core that brings a table stands
// here as heading, canvas, what it says and the table. The core draws; the page's cursor is a line over it.
import { axisOf } from "./axis.js";
import { fillBox } from "./canvasbox.js";
import { element, setText, textLater } from "./element.js";
import { launchShown } from "./passheat.js";
import { behind, columns, row, scrolled } from "./scrolled.js";

/** `timeOptions(state, width_px)` gives what the page shows the day over time with. */
export function createDayPictures({ store, core, seen, day, timeOptions }, root) {
  for (const picture of core.tables("us").pictures.filter((one) => one.has_table)) createOne(picture);

  function createOne(picture) {
    const { key, label, of_launch: ofLaunch } = picture;
    const describes = element("figcaption");
    textLater(describes, () => picture.description, core.words());
    const canvas = element("canvas", { id: `${key}-canvas`, role: "img" });
    const line = element("div", { class: "pass-line", "aria-hidden": "true" });
    const plot = element("div", { class: "plot" }, canvas, line);
    const says = element("p");
    const [heads, rows] = [element("tr"), element("tbody")];
    const details = behind(`${key}-table`, "As a table", scrolled(`Table: ${label}`, element("thead", {}, heads), rows));
    const section = element(
      "section",
      { class: "day-picture", id: `${key}-picture`, "aria-labelledby": `${key}-title` },
      element("h2", { id: `${key}-title`, text: label }),
      says,
      element("figure", {}, plot, describes),
      details,
    );
    root.append(section);

    let table = null;
    let tableOf = null; // the day that it was read off
    let layout = null;

    const none = ({ result }) => ofLaunch && result.summary.launches.length === 0;

    function draw(state) {
      const how = look();
      if (!how) return;
      const over = ofLaunch ? {} : timeOptions(state, layout ? layout.right - layout.left : how.width - 60);
      layout = day().draw(canvas, { picture: key, ...how, units: state.units, launch: launchShown(state), ...over, overlays: [] });
    }

    function place(state) {
      if (!layout) return;
      const { cursor_s: cursor } = state.view;
      const share = ofLaunch ? (cursor - layout.start_s) / (layout.end_s - layout.start_s) : axisOf(state).share(cursor);
      line.hidden = !(share >= 0 && share <= 1);
      line.style.setProperty("transform", `translateX(${(layout.left + share * (layout.right - layout.left)).toFixed(1)}px)`);
    }

    function showTable() {
      if (!table || !details.open) return;
      heads.replaceChildren(...columns(table.heads));
      rows.replaceChildren(...table.rows.map(([name, ...cells]) => row(name, cells)));
    }
    details.addEventListener("toggle", showTable);

    const look = fillBox(plot, canvas, () => {
      const { state } = store;
      // Out of sight another day may be there already: it is drawn when it is shown.
      if (!state.result || !day() || day() !== tableOf || none(state)) return;
      draw(state);
      place(state);
    });

    let shown = [];
    seen(section, (state, changed) => {
      if (!state.result || !day()) return;
      section.hidden = none(state);
      if (section.hidden) return;
      if ("result" in changed) {
        tableOf = day();
        table = tableOf.table(key, state.units);
        setText(says, table.says);
        canvas.setAttribute("aria-label", `${label}. ${table.says}`);
        showTable();
      }
      // What the picture hangs on beside the day; the cursor is not of it.
      const hangsOn = [axisOf(state), launchShown(state), state.view.hideLines];
      if ("result" in changed || hangsOn.some((one, at) => one !== shown[at])) draw(state);
      shown = hangsOn;
      if ("result" in changed || "view" in changed) place(state);
    });
  }
}
