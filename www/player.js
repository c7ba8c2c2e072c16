// Plays the day: moves the cursor evenly over the *axis*, so that on an axis that gives events room a pass and a
// long soak take a few seconds each.
//
// It stops at the end of the part shown, when something is edited and when anybody else moves the cursor. Where
// the reader wants less motion it steps from event to event once a second. It draws nothing itself.

import { element, setText } from "./element.js";

// Mean time of an event, and the least for all that is shown.
const EVENT_S = 3;
const LEAST_S = 6;
const LONGEST_FRAME_S = 0.1;
const STEP_MS = 1000;
const SPEEDS = [["0.4", "Slow"], ["1", "Normal"], ["3", "Fast"]];

export function createPlayer({ store, axisOf }, root) {
  const still = matchMedia("(prefers-reduced-motion: reduce)");
  const button = (text, name, act, key) =>
    element("button", { type: "button", text, "aria-label": name, data: { play: key }, on: { click: act } });
  const toggle = button("Play", null, () => (playing ? stop() : play()), "toggle");
  const speed = element(
    "select",
    { "aria-label": "Speed of playing" },
    ...SPEEDS.map(([value, text]) => element("option", { value, text, selected: value === "1" })),
  );
  const launch = button("Launch", "Go to the next launch", () => toLaunch(), "launch");
  root.setAttribute("role", "group");
  root.setAttribute("aria-label", "Play the day");
  root.setAttribute("tabindex", "-1");
  root.append(
    toggle,
    button("‹ Event", "Previous ‹ Event", () => byHand(previousStart()), "previous"),
    button("Event ›", "Next Event ›", () => byHand(nextStart() ?? end()), "next"),
    launch,
    speed,
  );

  let playing = false;
  let written = null; // where the player itself put the cursor
  let lastFrame = 0;
  // Each has numbers of its own: one given to the other's way of ending it would end somebody else's.
  let timer = 0;
  let nextFrame = 0;

  const events = () => store.state.result.summary.events;
  const end = () => store.state.result.summary.duration_s;
  const nextStart = () => events().find(({ start_s: start }) => start > store.state.view.cursor_s + 1e-6)?.start_s;
  const previousStart = () => events().findLast(({ start_s: start }) => start < store.state.view.cursor_s - 1e-6)?.start_s ?? 0;

  function write(time_s) {
    written = time_s;
    store.view({ cursor_s: time_s });
  }

  /** Moves the cursor and, where it would leave the part shown, that part with it. */
  function byHand(time_s) {
    stop();
    if (!store.state.result) return;
    const axis = axisOf(store.state);
    const [first, last] = [axis.time(0), axis.time(1)];
    const half = (last - first) / 2;
    const outside = time_s < first - 1e-6 || time_s > last + 1e-6;
    store.view({ cursor_s: time_s, ...(outside ? { range: { start_s: time_s - half, end_s: time_s + half } } : {}) });
  }

  function toLaunch() {
    const { launches } = store.state.result.summary;
    const next = launches.find(({ time_s: time }) => time > store.state.view.cursor_s + 1e-6) ?? launches[0];
    if (next) byHand(next.time_s);
  }

  function play() {
    if (!store.state.result || playing) return;
    const axis = axisOf(store.state);
    const share = axis.share(store.state.view.cursor_s);
    playing = true;
    show();
    if (!(share >= 0 && share < 1 - 1e-6)) write(axis.time(0));
    else written = store.state.view.cursor_s;
    lastFrame = performance.now();
    if (still.matches) timer = setTimeout(step, STEP_MS);
    else nextFrame = requestAnimationFrame(frame);
  }

  function stop() {
    if (!playing) return;
    playing = false;
    clearTimeout(timer);
    cancelAnimationFrame(nextFrame);
    timer = nextFrame = 0;
    show();
  }

  function frame(now) {
    if (!playing) return;
    const axis = axisOf(store.state);
    const [first, last] = [axis.time(0), axis.time(1)];
    const shown = events().filter(({ start_s: from, end_s: to }) => to > first && from < last).length;
    const whole_s = Math.max(LEAST_S, EVENT_S * shown) / Number(speed.value);
    const passed_s = Math.min(LONGEST_FRAME_S, Math.max(0, (now - lastFrame) / 1000));
    lastFrame = now;
    const share = axis.share(store.state.view.cursor_s) + passed_s / whole_s;
    write(axis.time(Math.min(1, share)));
    if (share >= 1) stop();
    else if (playing) nextFrame = requestAnimationFrame(frame);
  }

  function step() {
    if (!playing) return;
    const last = axisOf(store.state).time(1);
    const next = Math.min(last, nextStart() ?? last);
    write(next);
    if (next >= last - 1e-6) stop();
    else if (playing) timer = setTimeout(step, STEP_MS);
  }

  function show() {
    setText(toggle, playing ? "Pause" : "Play");
    root.classList.toggle("playing", playing);
  }

  root.addEventListener("keydown", (event) => {
    if (event.key !== " " || event.target !== root) return; // a button presses itself
    event.preventDefault();
    toggle.click();
  });

  store.subscribe((state, changed) => {
    if ("result" in changed && state.result) launch.hidden = state.result.summary.launches.length === 0;
    if (playing && ("scenario" in changed || ("view" in changed && state.view.cursor_s !== written))) stop();
  });
}
