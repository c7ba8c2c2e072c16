// The chart of a lesson: axes, the guess as a dashed line that can be dragged, and after the run the curves. Values are
// in the unit shown; the page gives `scale` = { lowest, highest, tick, show(value) }.
import { element } from "./element.js";

const HEIGHT = 260;
const LEFT = 46;
const RIGHT = 12;
const TOP = 12;
const BOTTOM = 34;

/**
 * Draws into `figure`: `curves` [{ name, kind, points: [[minute, value]] }], `guess` (or null), `span` [from, to] in
 * minutes, `dragged(value)` while the guess may be moved. Returns `{ place(guess) }`.
 */
export function drawChart(figure, { curves, guess, mark, span, scale, words, unit, dragged }) {
  const width = Math.max(240, figure.clientWidth || 320);
  const x = (minute) => LEFT + ((minute - span[0]) / (span[1] - span[0])) * (width - LEFT - RIGHT);
  const y = (value) => HEIGHT - BOTTOM - ((value - scale.lowest) / (scale.highest - scale.lowest)) * (HEIGHT - TOP - BOTTOM);
  const svg = element("svg", { class: "lesson-chart", width, height: HEIGHT, viewBox: `0 0 ${width} ${HEIGHT}`, role: "img", "aria-label": words.page.chart });
  for (let value = Math.ceil(scale.lowest / scale.tick) * scale.tick; value <= scale.highest; value += scale.tick) {
    svg.append(element("line", { class: "grid", x1: LEFT, x2: width - RIGHT, y1: y(value), y2: y(value) }));
    svg.append(element("text", { x: LEFT - 6, y: y(value) + 4, "text-anchor": "end", text: String(value) }));
  }
  const step = [1, 2, 5, 10, 20, 30].find((minutes) => (span[1] - span[0]) / minutes <= 8) ?? 60;
  for (let minute = 0; minute <= span[1] - span[0] + 1e-6; minute += step) {
    svg.append(element("text", { x: x(span[0] + minute), y: HEIGHT - BOTTOM + 16, "text-anchor": "middle", text: String(minute) }));
  }
  svg.append(element("text", { x: width - RIGHT, y: HEIGHT - 4, "text-anchor": "end", text: words.page.minute_axis }));
  svg.append(element("text", { x: 2, y: HEIGHT - 4, text: unit }));
  let last = -Infinity;
  const ends = curves.filter(({ points }) => points.length > 0).map((curve) => ({ ...curve, top: Math.max(...curve.points.map(([, value]) => value)) }))
    .sort((a, b) => b.top - a.top);
  for (const { name, kind, points, top } of ends) {
    svg.append(element("path", { class: `curve ${kind}`, d: points.map(([minute, value], at) => `${at ? "L" : "M"}${x(minute).toFixed(1)} ${y(value).toFixed(1)}`).join("") }));
    if (!name) continue;
    // Another day parts from the first late: its name stands at its end.
    if (kind === "other") {
      const [minute, value] = points.at(-1);
      svg.append(element("text", { class: `name ${kind}`, x: x(minute) - 4, y: Math.min(y(value) + 18, HEIGHT - BOTTOM - 4), "text-anchor": "end", text: name }));
      continue;
    }
    // The name stands at the peak, below the name before it.
    const at = points.find(([, value]) => value === top);
    const place = Math.max(y(top) - 6, last + 15, TOP + 8);
    last = place;
    const late = x(at[0]) > width * 0.6;
    svg.append(element("text", { class: `name ${kind}`, x: x(at[0]) + (late ? -4 : 6), y: place, "text-anchor": late ? "end" : "start", text: name }));
  }
  if (mark !== null && mark !== undefined) svg.append(element("line", { class: "asked", x1: x(mark), x2: x(mark), y1: TOP, y2: HEIGHT - BOTTOM }));
  const line = element("line", { class: "guess", x1: LEFT, x2: width - RIGHT, y1: 0, y2: 0 });
  const grip = element("rect", { class: "grip", x: LEFT, width: width - LEFT - RIGHT, y: -22, height: 44 });
  const label = element("text", { class: "guess-name", x: width - RIGHT - 4, y: -5, "text-anchor": "end" });
  const group = element("g", {}, grip, line, label);
  svg.append(group);
  const place = (value) => {
    group.toggleAttribute("hidden", value === null);
    if (value === null) return;
    group.setAttribute("transform", `translate(0 ${y(value).toFixed(1)})`);
    label.textContent = words.page.your_guess.replace("{guess}", scale.show(value));
  };
  place(guess);
  if (dragged) {
    svg.classList.add("open");
    const to = (event) => {
      const top = event.clientY - svg.getBoundingClientRect().top;
      const share = (HEIGHT - BOTTOM - top) / (HEIGHT - TOP - BOTTOM);
      dragged(scale.lowest + Math.min(1, Math.max(0, share)) * (scale.highest - scale.lowest));
    };
    let held = null;
    svg.addEventListener("pointerdown", (event) => {
      if (event.target !== grip && event.pointerType !== "mouse") return;
      held = event.pointerId;
      svg.setPointerCapture(held);
      to(event);
    });
    svg.addEventListener("pointermove", (event) => held === event.pointerId && to(event));
    for (const type of ["pointerup", "pointercancel"]) svg.addEventListener(type, () => { held = null; });
    svg.addEventListener("click", to);
    // A finger on the grip drags it: browsers scroll the page in spite of its touch-action.
    grip.addEventListener("touchstart", (event) => event.preventDefault(), { passive: false });
  }
  figure.replaceChildren(svg);
  return { place };
}
