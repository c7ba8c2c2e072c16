// What the chart draws over the day: { compare, family, band, guess }, each a list of lines
// { node, label, times_s, value_k, dash, light, dark, width } or bands { node, label, times_s, low_k, high_k, light, dark }.
// A line of another day has its `letter`.
//
// Overlays are part of the view only. They are made anew from what they show and kept nowhere.

// As the core's drawing takes them: plain lists of numbers, colours as #rrggbb.
const LISTS = ["times_s", "value_k", "low_k", "high_k"];
const hex = (colour) =>
  colour.startsWith("#") ? colour : `#${colour.match(/\d+/g).map((part) => Number(part).toString(16).padStart(2, "0")).join("")}`;
const plain = (entry) => ({
  ...entry,
  ...Object.fromEntries(LISTS.filter((key) => entry[key]).map((key) => [key, Array.from(entry[key])])),
  light: hex(entry.light),
  dark: hex(entry.dark),
});

/** The overlays of a store's view. */
export function createOverlays(store) {
  const all = {};
  let hidden = false;
  const show = () => store.view({ hideLines: hidden, overlays: hidden ? { guess: all.guess ?? [] } : { ...all } });
  return {
    /** Puts one list of overlays; nobody is told where it was and stays empty. */
    put(key, entries) {
      if ((all[key] ?? []).length === 0 && entries.length === 0) return;
      all[key] = entries.map(plain);
      show();
    },
    /** Hides or shows the lines of the run, and with them all overlays that would tell what they are. */
    hideLines(hide) {
      hidden = hide;
      document.body.classList.toggle("guessing", hide);
      show();
    },
  };
}

const MOST_POINTS = 16;
// While the converter is loaded temperatures bend all the time: this close together, up to so many.
const LOADED_STEP_S = 0.1;
const MOST_LOADED = 150;

/** Times (s) at which a curve of this day has its bends: close together after every switch, wide later on. */
export function timesOf({ events, switches, duration_s: end }) {
  const bends = new Set([0, end, ...[...events, ...switches].flatMap((one) => [one.start_s, one.end_s])]);
  const loaded = events.filter(({ look }) => look === "loaded");
  const sorted = [...bends].filter((time) => time >= 0 && time <= end).sort((a, b) => a - b);
  const times = [];
  for (let at = 1; at < sorted.length; at += 1) {
    const [from, to] = [sorted[at - 1], sorted[at]];
    const isLoaded = loaded.some(({ start_s: start, end_s: over }) => start <= from + 1e-9 && over >= to - 1e-9);
    const points = isLoaded
      ? Math.min(MOST_LOADED, Math.max(4, Math.ceil((to - from) / LOADED_STEP_S)))
      : Math.min(MOST_POINTS, Math.max(6, Math.ceil(Math.sqrt(to - from))));
    for (let point = 0; point < points; point += 1) times.push(from + (to - from) * (point / points) ** (isLoaded ? 1 : 2));
  }
  times.push(end);
  return Float64Array.from(times);
}

// A straight line may leave a curve by so much: less than a number on the page shows.
const THIN_K = 0.05;

/**
 * A curve with the points left out that a straight line goes through: { times_s, value_k }. Starts and ends of the
 * events and switches of its day stay, for there the axis of time may have a corner.
 */
export function thinned(times_s, value_k, { events, switches }) {
  const corners = new Set([...events, ...switches].flatMap((one) => [one.start_s, one.end_s]));
  const kept = [0];
  let [from, steepest, flattest] = [0, Infinity, -Infinity];
  for (let at = 1; at < times_s.length; at += 1) {
    const run = times_s[at] - times_s[from];
    const rise = value_k[at] - value_k[from];
    // Beyond the slopes that keep every point so far near the line, the one before is the last that it reaches.
    if (rise / run > steepest || rise / run < flattest || corners.has(times_s[at - 1])) {
      if (at - 1 > from) {
        kept.push(at - 1);
        from = at - 1;
        [steepest, flattest] = [Infinity, -Infinity];
      }
    }
    const [length, height] = [times_s[at] - times_s[from], value_k[at] - value_k[from]];
    steepest = Math.min(steepest, (height + THIN_K) / length);
    flattest = Math.max(flattest, (height - THIN_K) / length);
  }
  if (kept.at(-1) !== times_s.length - 1) kept.push(times_s.length - 1);
  return { times_s: kept.map((at) => times_s[at]), value_k: kept.map((at) => value_k[at]) };
}
