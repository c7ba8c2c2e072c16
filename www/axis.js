// The one time axis of pictures, lanes, cursor and player.
//
// A day lasts twelve hours and a pass ten seconds, so that on a plain axis a pass is a hair. The axis that gives
// room (`view.axis` "room") is straight within an event, but an event is as wide as a small power of how long it
// lasts; the true axis (`view.axis` "true") is a plain one. Both show the part of the day in `view.range`.
//
// While a block is dragged the axis is held (`view.held`): the scale and the place of the dragged event stay, so
// that the edge remains under the finger.
const POWER = 0.25;
const LEAST_EVENT_S = 0.5;
// The least that is shown.
export const LEAST_SPAN_S = 10;
const LEAST_STAGE_S = 0.5;
// Room for a text under the axis.
const TICK_PX = 58;

/** How wide an event of a length is drawn, against others; grows with the length. */
export const weightOf = (axis, length_s) => (axis === "true" ? length_s : Math.max(LEAST_EVENT_S, length_s) ** POWER);

/** The length of an event that is drawn so wide. */
export const lengthOf = (axis, weight) => (axis === "true" ? weight : Math.max(weight, 0) ** (1 / POWER));

const known = new WeakMap();

/** Starts of events and of what follows the last, with the weight before each: { times, weights }. */
function boundaries(summary, axis) {
  const key = known.get(summary) ?? known.set(summary, {}).get(summary);
  if (!key[axis]) {
    const times = [0];
    const weights = [0];
    const add = (end_s) => {
      if (!(end_s > times.at(-1))) return;
      weights.push(weights.at(-1) + weightOf(axis, end_s - times.at(-1)));
      times.push(end_s);
    };
    for (const { start_s, end_s } of summary.events) {
      add(start_s);
      add(end_s);
    }
    add(summary.duration_s);
    key[axis] = { times, weights };
  }
  return key[axis];
}

/** Piecewise straight from growing `xs` to `ys`; goes on straight beyond the ends. */
export function along(xs, ys, x) {
  let [low, high] = [0, xs.length - 1];
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (xs[middle] <= x) low = middle;
    else high = middle;
  }
  const width = xs[high] - xs[low];
  return width > 0 ? ys[low] + ((x - xs[low]) / width) * (ys[high] - ys[low]) : ys[low];
}

/** The part of the day shown: [start_s, end_s]. */
export function shownSpan({ result, view: { range } }) {
  const end = result?.summary.duration_s ?? 1;
  if (!range) return [0, end];
  if (range.round !== undefined) {
    const events = result.summary.events.filter((event) => event.round === range.round);
    if (events.length === 0) return [0, end];
    const [from, to] = stageOf(events, range.stage) ?? [events[0].start_s, events.at(-1).end_s];
    // A hold of two seconds may fill the picture; one that was over at once has no width.
    return to - from >= LEAST_STAGE_S ? [from, to] : within(from, to, LEAST_SPAN_S, end);
  }
  return within(range.start_s, range.end_s, LEAST_SPAN_S, end);
}

/** From one time to another, and no less than `least_s` around them, of a day that ends at `end`. */
function within(start_s, end_s, least_s, end) {
  const width = Math.min(end, Math.max(least_s, end_s - start_s));
  const start = Math.min(Math.max(0, (start_s + end_s - width) / 2), end - width);
  return [start, start + width];
}

/** Hold, pass or soak of the events of one round: [start_s, end_s], or null where there is none. */
export function stageOf(events, stage) {
  const at = events.findIndex(({ kind }) => kind === (stage === "hold" ? "brake_hold" : "pass"));
  if (!stage || at < 0) return null;
  if (stage === "soak") {
    const after = events.slice(at + 1);
    return after.length > 0 ? [after[0].start_s, after.at(-1).end_s] : null;
  }
  return [events[at].start_s, events[at].end_s];
}

let last = {};

/**
 * The axis of a state: { start_s, end_s, axis, scale, share(time_s), time(share), knots(), ticks(width_px) }. A share
 * is 0 at the left edge of what is shown and 1 at the right; `scale` is shares per weight.
 */
export function axisOf(state) {
  const { result, view } = state;
  if (last.result === result && last.range === view.range && last.mode === view.axis && last.held === view.held) return last.axis;
  const axis = build(result.summary, view.axis === "true" ? "true" : "room", shownSpan(state), view.held ?? null);
  last = { result, range: view.range, mode: view.axis, held: view.held, axis };
  return axis;
}

function build(summary, mode, [start_s, end_s], held) {
  const { times, weights } = boundaries(summary, mode);
  const weight = (time_s) => along(times, weights, time_s);
  const whole = weight(end_s) - weight(start_s);
  let scale = whole > 0 ? 1 / whole : 1;
  let offset = weight(start_s);
  const anchor = held && summary.events[held.event];
  if (anchor) {
    scale = held.scale;
    offset = weight(anchor.start_s) - held.share / scale;
    [start_s, end_s] = [along(weights, times, offset), along(weights, times, offset + 1 / scale)];
  }
  const share = (time_s) => (weight(time_s) - offset) * scale;
  return {
    axis: mode,
    start_s,
    end_s,
    scale,
    share,
    time: (part) => along(weights, times, offset + part / scale),
    /** Corners of the axis for who draws: [[time_s, share], …] from the left edge to the right. */
    knots() {
      const inside = times.filter((time_s) => time_s > start_s && time_s < end_s);
      return [start_s, ...inside, end_s].map((time_s, at) => [time_s, at === 0 ? 0 : at === inside.length + 1 ? 1 : share(time_s)]);
    },
    /** Whether one scale of time holds for all that is shown. */
    even: mode === "true" || !times.some((time_s) => time_s > start_s + 1e-6 && time_s < end_s - 1e-6),
    /** Starts of rounds, then of events, as far as a text of theirs has room: [event]. */
    ticks(width_px) {
      const shown = summary.events.filter((event) => event.start_s >= start_s - 1e-6 && event.start_s < end_s);
      const taken = [];
      const take = (event) => {
        const x = share(event.start_s) * width_px;
        if (x > width_px - TICK_PX / 3 || taken.some((other) => Math.abs(other.x - x) < TICK_PX)) return;
        taken.push({ x, event });
      };
      const begins = (event, at) => at === 0 || shown[at - 1].round !== event.round;
      shown.filter(begins).forEach(take);
      [...shown].sort((a, b) => b.end_s - b.start_s - a.end_s + a.start_s).forEach(take);
      return taken.sort((a, b) => a.x - b.x).map(({ event }) => event);
    },
  };
}

/** A line of another day with points where this day's axis has its corners ([[time_s, share], …]). */
export function cornered(line, knots) {
  const { times_s: times, value_k: values } = line;
  const [times_s, value_k] = [[], []];
  let at = 0;
  const take = () => {
    times_s.push(times[at]);
    value_k.push(values[at]);
    at += 1;
  };
  for (const [knot_s] of knots) {
    while (at < times.length && times[at] < knot_s) take();
    if (at === 0 || at === times.length || times[at] === knot_s) continue;
    times_s.push(knot_s);
    value_k.push(along(times, values, knot_s));
  }
  while (at < times.length) take();
  return { ...line, times_s, value_k };
}
