// Times of a scenario between the texts in it ("2.5 min") and seconds.
const SECONDS = { s: 1, min: 60, h: 3600 };

/** Seconds of a time as written, or null where it is not understood. */
export function secondsOf(restate, text) {
  if (text === undefined || text === null) return null;
  const known = restate("time", String(text), "us");
  return known && known.unit in SECONDS ? known.value * SECONDS[known.unit] : null;
}

/** A time as it is written by a drag: in the unit that it reads best in. */
export function timeText(time_s) {
  const short = (value) => String(Number(value.toFixed(3)));
  // As the core restates it: minutes where these come out even, or where seconds do not matter.
  const even = Math.abs(time_s / 6 - Math.round(time_s / 6)) < 1e-6;
  if (time_s < 100 || (time_s < 1000 && !even)) return `${short(time_s)} s`;
  return time_s < 7200 ? `${short(time_s / 60)} min` : `${short(time_s / 3600)} h`;
}

// Up to a length, the step that people would choose.
const STEPS = [[20, 0.5], [60, 1], [300, 5], [1200, 30], [7200, 60], [Infinity, 300]];

/** The step that a length is changed by. */
export const stepAt = (length_s) => STEPS.find(([upto]) => length_s < upto)[1];

/** A length on the nearest whole step, and never nothing. */
export function snapped(length_s, free = false) {
  const step = free ? 0.1 : stepAt(Math.max(0, length_s));
  return Math.max(step, Math.round(length_s / step) * step);
}
