// What the chart draws over the day: { compare, family, band, guess }, each a list of lines
// { node, label, times_s, value_k, dash, light, dark, width } or bands { node, label, times_s, low_k, high_k, light, dark }.
//
// Overlays are part of the view only. They are made anew from what they show and kept nowhere.

/** Puts one list of overlays into the view; nothing is told where it was and stays empty. */
export function overlay(store, key, entries) {
  const { overlays = {} } = store.state.view;
  if ((overlays[key] ?? []).length === 0 && entries.length === 0) return;
  store.view({ overlays: { ...overlays, [key]: entries } });
}

const MOST_POINTS = 16;

/** Times (s) at which a curve of this day has its bends: close together after every switch, wide later on. */
export function timesOf({ events, switches, duration_s: end }) {
  const bends = new Set([0, end, ...[...events, ...switches].flatMap((one) => [one.start_s, one.end_s])]);
  const sorted = [...bends].filter((time) => time >= 0 && time <= end).sort((a, b) => a - b);
  const times = [];
  for (let at = 1; at < sorted.length; at += 1) {
    const [from, to] = [sorted[at - 1], sorted[at]];
    const points = Math.min(MOST_POINTS, Math.max(4, Math.ceil(Math.sqrt(to - from))));
    for (let point = 0; point < points; point += 1) times.push(from + (to - from) * (point / points) ** 2);
  }
  times.push(end);
  return Float64Array.from(times);
}
