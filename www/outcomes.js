// What a turnaround spent in some way comes to, read off the day's summary, and which of several ways is the best.
//
// The best is the one that leaves the pan closest to its launch window, in whole degrees, too cold as wrong as too hot: at
// the next launch, or for every round at the launch that is furthest from it. Of several the one whose pump and fan
// take the least out of the battery is the best; one that takes it below its reserve comes after all that do not.
import { keyNumbers } from "./keynumbers.js";
import { batteryUsed, shownNumber } from "./varianttables.js";

/** Where a pan temperature lies: { side: -1 below, 0 inside, 1 above the window, degrees: outside of it as both are shown }. */
function placeOf(pan, [low, high]) {
  const side = pan < low ? -1 : pan > high ? 1 : 0;
  return { side, degrees: side === 0 ? 0 : Math.abs(Math.round(pan) - Math.round(side < 0 ? low : high)) };
}

/**
 * What came of it: { pan, converter, side, degrees, used_ah, isLow, spread, isLaunch }. `round` is the turnaround's; null stands
 * for all, and then pan and converter are those of the hottest launch after one, side and degrees those of the launch
 * furthest from the window.
 */
export function outcome(summary, round) {
  const { events, launches, turnarounds, window } = summary;
  const last = events.findLast((event) => event.round === (round ?? events.find((one) => one.round).round));
  const after = launches.filter(({ time_s: time }) => time > last.end_s - 1e-6);
  const next = round === null ? after : after.slice(0, 1);
  // After the last round there is no launch: then the turnaround's own end counts.
  const moments = next.length > 0 ? next : [round === null ? events.findLast((event) => event.round) : last];
  const hottest = moments.reduce((one, other) => (other.pan > one.pan ? other : one));
  const places = moments.map(({ pan }) => placeOf(pan, window));
  return {
    pan: hottest.pan,
    converter: hottest.converter,
    ...places.reduce((one, other) => (other.degrees > one.degrees || (one.side === 0 && other.side !== 0) ? other : one)),
    used_ah: round === null ? batteryUsed(summary) ?? 0 : turnarounds.find((one) => one.round === round)?.used_ah ?? 0,
    isLow: summary.cautions.some(({ key }) => key === "battery_low"),
    spread: keyNumbers(summary).spread,
    isLaunch: next.length > 0,
  };
}

/** Where the pan lies, in words as short as a table's. */
export function where({ side, degrees }) {
  return side === 0 ? "inside" : `${degrees === 0 ? "just" : degrees} ${side < 0 ? "below" : "above"}`;
}

/** The place of the best of some outcomes; null stands for one that is not possible. */
export function bestOf(outcomes) {
  const rank = ({ isLow, degrees, used_ah: used }) => [Number(isLow), degrees, Number(used.toFixed(1))];
  const isBetter = (one, other) => {
    const at = one.findIndex((value, place) => value !== other[place]);
    return at >= 0 && one[at] < other[at];
  };
  let best = -1;
  outcomes.forEach((one, at) => {
    if (one && (best < 0 || isBetter(rank(one), rank(outcomes[best])))) best = at;
  });
  return best;
}

/** Where the pan lies as part of a sentence: "28 °F below the window". */
const placed = (one, unit) => (one.side === 0 ? "in the window" : `${where(one).replace(/\d+/, `$& ${unit}`)} the window`);

/** What one way comes to, as a sentence; the summary has window and unit. */
export function comesTo(label, one, round, { temperature_unit: unit }) {
  const place = placed(one, unit);
  const when = one.isLaunch ? "at the next launch" : "at the end of the turnaround";
  const what = round !== null || !one.isLaunch ? `pan at ${shownNumber(one.pan)} ${unit} ${when}, ${place}`
    : one.side === 0 ? "every launch after a turnaround in the window" : `the launch furthest off ${place}`;
  return `${label}: ${what}${one.isLow ? ", the battery below its reserve" : ""}.`;
}

/** Why the way at `best` is the best, as a sentence; the summary has window and unit. */
export function reason(labels, outcomes, best, round, { window, temperature_unit: unit }) {
  const one = outcomes[best];
  const possible = outcomes.filter(Boolean);
  const [low, high] = window.map((edge) => edge.toFixed(0));
  const isIn = one.side === 0;
  const place = placed(one, unit);
  const when = one.isLaunch ? "at the next launch" : "at the end of the turnaround";
  const what = round !== null || !one.isLaunch ? `pan at ${shownNumber(one.pan)} ${unit} ${when}, ${place}`
    : isIn ? "every launch after a turnaround in the window" : `the launch furthest off ${place}`;
  const battery = one.used_ah >= 0.05 ? `for ${one.used_ah.toFixed(1)} Ah of pump and fan` : "with pump and fan off";
  const none = possible.some(({ side }) => side === 0) ? ""
    : `None of these ${round === null ? "brings every launch into" : "reaches"} the window of ${low} to ${high} ${unit}. Closest: `;
  const alike = possible.filter(({ isLow, degrees }) => isLow === one.isLow && degrees === one.degrees).length;
  const least = alike > 1 ? ` Of ${alike} that come as close it needs the least of them.` : "";
  const isCloser = possible.some(({ isLow, degrees }) => isLow && degrees < one.degrees);
  const reserve = one.isLow ? " All of these take the battery below its reserve." : isCloser ? " What comes closer takes the battery below its reserve." : "";
  return `${none}${labels[best]}: ${what}, ${battery}.${least}${reserve}`;
}
