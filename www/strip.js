// The day as a strip under the chart: what the car does, when the pump and the fan are on, on the chart's
// own time axis.
//
// It is a picture with one place to tap; everything in it can be read and edited in the timeline list, so
// it is hidden from screen readers. A pass is ten seconds in a day of hours: a block is never narrower than
// three pixels, and heat-making blocks lie on top.
import { element } from "./element.js";
import { heat } from "./timeline.js";

const LEAST_PX = 3;
const REACH_PX = 14;

export function createStrip({ fieldOf }) {
  const rounds = element("div", { class: "lane rounds" });
  const events = element("div", { class: "lane blocks" });
  const pump = element("div", { class: "lane pump" });
  const fan = element("div", { class: "lane fan" });
  const named = (text, lane) => element("div", { class: "lane-row" }, element("span", { class: "lane-name", text }), lane);
  const node = element(
    "div",
    { class: "strip", id: "strip", "aria-hidden": "true" },
    named("round", rounds), named("event", events), named("pump", pump), named("fan", fan),
  );
  let placed = [];

  function update(state, layout, width) {
    const { summary } = state.result;
    const span = layout.end_s - layout.start_s;
    const wide = layout.right - layout.left;
    node.style.setProperty("--left", `${layout.left}px`);
    node.style.setProperty("--right", `${width - layout.right}px`);
    const x = (time_s) => ((time_s - layout.start_s) / span) * wide;
    const block = (start_s, end_s, least) => {
      const left = Math.max(0, x(start_s));
      const right = Math.min(wide, x(end_s));
      if (right < 0 || left > wide || end_s <= layout.start_s || start_s >= layout.end_s) return null;
      return { left: Math.min(left, wide - least), width: Math.max(least, right - left) };
    };
    const at = (name, { left, width: across }, text, data) =>
      element("span", { class: name, data, text, style: { left: `${left.toFixed(2)}px`, width: `${across.toFixed(2)}px` } });

    placed = [];
    const blocks = [];
    for (const event of summary.events) {
      const where = block(event.start_s, event.end_s, LEAST_PX);
      if (!where) continue;
      placed.push({ event, ...where });
      const field = event.place ? fieldOf(state, event.place) : "";
      const selected = field && field === state.view.selected ? " selected" : "";
      // A name that does not fit would be a riddle.
      const fits = where.width > event.label.length * 6.6 + 8;
      blocks.push(at(`block ${heat(event.kind)}${selected}`, where, fits ? event.label : "", { field, event: event.kind }));
    }
    events.replaceChildren(...blocks);

    const marks = [];
    const spans = new Map();
    for (const { round, start_s, end_s } of summary.events) {
      if (round) spans.set(round, { start_s: spans.get(round)?.start_s ?? start_s, end_s });
    }
    for (const [round, { start_s, end_s }] of spans) {
      const where = block(start_s, end_s, 1);
      if (where) marks.push(at("round-mark", where, where.width > 12 ? String(round) : ""));
    }
    rounds.replaceChildren(...marks);

    const on = (lane, keep) =>
      lane.replaceChildren(
        ...summary.switches.filter(keep).flatMap((one) => {
          const where = block(one.start_s, one.end_s, 2);
          return where ? [at(`on ${one.key}`, where, where.width > one.label.length * 6 + 6 ? one.label : "", { route: one.key })] : [];
        }),
      );
    on(pump, (one) => one.key !== "fan");
    on(fan, (one) => one.key === "fan");
    select(state.view.selected);
  }

  function select(field) {
    for (const child of events.children) child.classList.toggle("selected", Boolean(field) && child.dataset.field === field);
  }

  /** The event at a place in the strip; of several near by the shortest, because it is hardest to hit. */
  function find(px) {
    const left = Number.parseFloat(node.style.getPropertyValue("--left")) || 0;
    const x = px - left;
    const distance = (one) => Math.max(0, one.left - x, x - one.left - one.width);
    const near = placed.filter((one) => distance(one) === 0);
    const short = placed.filter((one) => one.width < 12 && distance(one) <= REACH_PX && distance(one) < 6);
    const choice = (short.length > 0 && !near.some((one) => one.width < 12) ? short : near)
      .sort((a, b) => distance(a) - distance(b) || a.width - b.width);
    return choice[0]?.event;
  }

  return { element: node, update, select, find };
}
