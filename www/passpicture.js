// One pass as a picture: engine and input-shaft speed above, the car's speed below. The core draws; the cursor of the
// page is a line over it while it lies inside the pass, and moving over the picture moves it.
import { fillBox } from "./canvasbox.js";
import { followPointer } from "./follow.js";
import { launchShown, offerLaunches, toLaunch } from "./passheat.js";
import { element, freshId, setText } from "./element.js";
import { behind, columns, row, scrolled } from "./scrolled.js";

const HEADS = ["What", "ET, s", "Since launch, s", "Engine rpm", "Input shaft rpm"];

export function createPassPicture({ store, seen, day, moment }, root) {
  const choose = element("select", {
    id: freshId("pass"), on: { change: () => toLaunch(store, Number(choose.value)) },
  });
  const pick = element("p", { class: "pick" }, element("label", { for: choose.id, text: "Pass of" }), choose);
  const says = element("p", { id: "pass-course-says" });
  const canvas = element("canvas", { id: "pass-canvas", role: "img" });
  const line = element("div", { class: "pass-line", "aria-hidden": "true" });
  const surface = element("div", {
    class: "pass-surface", role: "slider", tabindex: "0", "aria-label": "Time in the pass", "aria-valuemin": "0",
  });
  const plot = element("div", { class: "plot" }, canvas, line, surface);
  const readout = element("p", { class: "pass-now" });
  const caption = element("figcaption", {
    text: "Upright dashes are gears as they are taken, the last line is the finish. ET counts from where the car leaves the starting beam.",
  });
  const figure = element("figure", {}, plot, readout, caption);
  const units = element("caption");
  const heads = element("tr");
  const rows = element("tbody");
  const table = behind("pass-course-table", "As a table", scrolled("Table of the pass", units, element("thead", {}, heads), rows));
  root.append(
    element("div", { class: "section-head" }, element("h2", { id: "pass-picture-title", text: "Speeds in a pass" }), pick),
    says, figure, table,
  );

  let course = null;
  let courseOf = null; // the day that it was read off
  let layout = null;

  function show(state) {
    const { launches } = state.result.summary;
    root.hidden = launches.length === 0;
    courseOf = day();
    course = root.hidden ? null : courseOf.pass(launchShown(state), state.units);
    if (!course) return;
    offerLaunches(choose, pick, launches, launchShown(state));
    const { logged } = course;
    setText(says, logged
      ? `${course.says} They are ${logged.engine_rpm.toFixed(0)} rpm, ${logged.input_power.toFixed(0)} ${logged.power_unit} into the converter, ` +
        `${(100 * logged.slip).toFixed(1)} % slip and ${logged.speed.toFixed(0)} ${course.speed_unit}.`
      : course.says);
    figure.hidden = table.hidden = Boolean(logged);
    if (logged) return;
    draw(state);
    canvas.setAttribute("aria-label", `Speeds over the pass. ${course.says}`);
    setText(units, `Gears, marks and finish; speed in ${course.speed_unit}.`);
    heads.replaceChildren(...columns([...HEADS, "Slip", "Speed"]));
    rows.replaceChildren(...course.rows.map(({ what, elapsed_s: elapsed, at: now }) => row(what, [
      elapsed < 0 ? "–" : elapsed.toFixed(3), now.time_s.toFixed(3), now.engine_rpm.toFixed(0), now.turbine_rpm.toFixed(0),
      `${(100 * now.slip).toFixed(0)} %`.replace("-", "−"), now.speed.toFixed(1),
    ])));
  }

  function draw(state) {
    const how = course && !course.logged && look();
    if (!how) return;
    layout = day().draw(canvas, { picture: "pass", ...how, units: state.units, launch: launchShown(state) });
  }

  function place(state) {
    if (!course || course.logged || !layout) return;
    const { cursor_s: cursor } = state.view;
    const inside = cursor >= layout.start_s && cursor <= layout.end_s;
    line.hidden = !inside;
    const pass = inside ? moment().pass : null;
    setText(readout, pass
      ? `${pass.time_s.toFixed(2)} s · gear ${pass.gear} · engine ${pass.engine_rpm.toFixed(0)} rpm · input shaft ${pass.turbine_rpm.toFixed(0)} rpm · ` +
        `${pass.speed.toFixed(1)} ${pass.speed_unit}`
      : "The cursor is outside of this pass; tap or move over the picture.");
    const share = Math.min(1, Math.max(0, (cursor - layout.start_s) / (layout.end_s - layout.start_s)));
    if (inside) line.style.setProperty("transform", `translateX(${(layout.left + share * (layout.right - layout.left)).toFixed(1)}px)`);
    surface.setAttribute("aria-valuemax", (layout.end_s - layout.start_s).toFixed(1));
    surface.setAttribute("aria-valuenow", (share * (layout.end_s - layout.start_s)).toFixed(1));
    surface.setAttribute("aria-valuetext", readout.textContent);
  }

  // The finish itself belongs to the event after: the last moment of the pass is just before it.
  const within = (time_s) => Math.min(layout.end_s - 1e-4, Math.max(layout.start_s, time_s));
  function follow(event) {
    if (!layout) return;
    const x = event.clientX - plot.getBoundingClientRect().left;
    const share = (x - layout.left) / (layout.right - layout.left);
    store.view({ cursor_s: within(layout.start_s + share * (layout.end_s - layout.start_s)) });
  }
  followPointer(surface, follow);
  surface.addEventListener("keydown", (event) => {
    if (!layout) return;
    const { cursor_s: cursor } = store.state.view;
    const step = event.shiftKey ? 1 : 0.1;
    const moves = {
      ArrowRight: cursor + step, ArrowUp: cursor + step, ArrowLeft: cursor - step, ArrowDown: cursor - step,
      Home: layout.start_s, End: layout.end_s,
    };
    if (!(event.key in moves)) return;
    event.preventDefault();
    store.view({ cursor_s: within(moves[event.key]) });
  });

  const look = fillBox(surface, canvas, () => {
    // Out of sight another day may be there already, perhaps without a pass: it is drawn when it is shown.
    if (!store.state.result || !day() || day() !== courseOf) return;
    draw(store.state);
    place(store.state);
  });

  let shown = null;
  seen(root, (state, changed) => {
    if (!state.result || !day()) return;
    if ("result" in changed || state.view.launch !== shown) {
      shown = state.view.launch;
      show(state);
    }
    if ("result" in changed || "view" in changed) place(state);
  });
}
