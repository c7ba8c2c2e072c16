// Runs the day of a lesson and reads numbers off it: `{ node, time_s | from_end_s | peak }`, or of a launch. Values are
// kept in SI (K, s) and in rpm; the core puts them in the reader's units.
import { scenarioOf } from "./lessondata.js";

const STEP_S = 2;

/** A run: `{ end_s, read(asked), curve(node, from_s) }`; throws the core’s error. Runs are kept: there are a handful. */
export function runOf(wasm, lesson, changes) {
  const day = wasm.Day.simulate(JSON.stringify(scenarioOf(lesson, changes)));
  const { launches, events } = day.summary("si");
  const end_s = Math.max(...events.map((event) => event.end_s));
  const node_k = (node, time_s) => day.series(node, Float64Array.of(time_s))[0];
  const time = ({ time_s, from_end_s }) => time_s ?? end_s - from_end_s;

  /** The points `[time_s, value]` of a node, or of flash speed by launch. */
  function curve(node, from_s) {
    if (node === "flash") return launches.map((launch) => [launch.time_s, launch.flash_rpm]);
    const times_s = [];
    for (let time_s = from_s; time_s < end_s; time_s += STEP_S / 2) times_s.push(time_s);
    times_s.push(end_s);
    const values_k = day.series(node, Float64Array.from(times_s));
    return times_s.map((time_s, at) => [time_s, values_k[at]]);
  }
  const peak = (node, from_s) => curve(node, from_s).reduce((best, point) => (point[1] > best[1] ? point : best));

  function read(asked) {
    const { node, kind, since_s } = asked;
    const launch = launches[asked.launch];
    if (kind === "flash") return { rpm: launch.flash_rpm, time_s: launch.time_s };
    if (kind === "launch_pan") return { kelvin: node_k("pan_fluid", launch.time_s), time_s: launch.time_s };
    if (kind === "et_change") return { elapsed_s: launch.pass.elapsed_s - launches[0].pass.elapsed_s };
    if (kind === "peak_delay") return { length_s: peak(node, since_s)[0] - since_s };
    if (asked.peak) {
      const [time_s, kelvin] = peak(node, lesson.from_s);
      return { kelvin, time_s };
    }
    const time_s = time(asked);
    if (kind === "rise") return { kelvin: node_k(node, time_s), since_k: node_k(node, since_s), time_s };
    return { kelvin: node_k(node, time_s), time_s };
  }

  return { end_s, read, curve };
}

/** A value as text in the reader's units. */
export function valueText(wasm, value, units, words) {
  const degrees = (kelvin) => wasm.temperature(kelvin, units);
  const unit = units === "us" ? "°F" : "°C";
  if (value.rpm !== undefined) return `${Math.round(value.rpm).toLocaleString("en")} rpm`;
  if (value.elapsed_s !== undefined) return `${value.elapsed_s < 0 ? "−" : "+"}${Math.abs(value.elapsed_s).toFixed(3)} s`;
  if (value.length_s !== undefined) {
    const short = value.length_s < 90;
    return words.page[short ? "seconds" : "some_minutes"].replace("{n}", short ? Math.round(value.length_s) : (value.length_s / 60).toFixed(1));
  }
  if (value.since_k !== undefined) return `${Math.round(degrees(value.kelvin) - degrees(value.since_k))} ${unit}`;
  return `${Math.round(degrees(value.kelvin))} ${unit}`;
}
