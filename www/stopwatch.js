// A stopwatch that goes on over a reload: it keeps when it was started, not how long it ran.
//
// Kept in this browser by itself. Storage may be blocked; then it runs as long as the page stands.
import { element, setText } from "./element.js";

const KEY = "stallheat.stopwatch.1";

/** Minutes and seconds, with hours from one hour on. */
export function clockOf(seconds) {
  const whole = Math.max(0, Math.floor(seconds));
  const two = (number) => String(number).padStart(2, "0");
  const [h, m, s] = [Math.floor(whole / 3600), Math.floor(whole / 60) % 60, whole % 60];
  return h > 0 ? `${h}:${two(m)}:${two(s)}` : `${m}:${two(s)}`;
}

function read() {
  try {
    const kept = JSON.parse(localStorage.getItem(KEY));
    return { began: Number.isFinite(kept?.began) ? kept.began : null, held_s: Number.isFinite(kept?.held_s) ? kept.held_s : 0 };
  } catch {
    return { began: null, held_s: 0 };
  }
}

/** `changed(running)` hears of starts and stops. Gives { element, text() → "12:30" or null where it was never started }. */
export function createStopwatch({ changed }) {
  let { began, held_s } = read();
  let timer;

  const seconds = () => held_s + (began === null ? 0 : Math.max(0, (Date.now() - began) / 1000));
  const face = element("p", { class: "stopwatch-face", id: "stopwatch-face", role: "timer", "aria-label": "Stopwatch" });
  const button = (id, text, click) => element("button", { type: "button", class: "plain", id, text, on: { click } });
  const start = button("stopwatch-start", "Start", () => set(began === null ? Date.now() : null, began === null ? held_s : seconds()));
  const reset = button("stopwatch-reset", "Set to zero", () => set(null, 0));

  function set(to, held) {
    [began, held_s] = [to, held];
    try {
      localStorage.setItem(KEY, JSON.stringify({ began, held_s }));
    } catch {
      // Blocked or full: it runs on.
    }
    show();
    changed();
  }

  function show() {
    clearTimeout(timer);
    setText(face, clockOf(seconds()));
    setText(start, began !== null ? "Stop" : held_s > 0 ? "Go on" : "Start");
    reset.hidden = began !== null || held_s === 0;
    if (began !== null) timer = setTimeout(show, 1000 - (Date.now() - began) % 1000);
  }
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && show());
  show();

  return {
    element: element("div", { class: "stopwatch" }, face, start, reset),
    text: () => (began === null && held_s === 0 ? null : clockOf(seconds())),
  };
}
