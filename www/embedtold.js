// What a `result` message holds: numbers with their unit in the name, °C, K, s, rpm, bar, km/h, as the command line's
// JSON has them; words in the reader's units.
import { keyNumbers } from "./keynumbers.js";

/** `si` is the core's summary in SI, `shown` the one in the reader's units. */
export function told(si, shown) {
  const { peak, launch, spread } = keyNumbers(si);
  const [window_low_c, window_high_c] = si.window;
  return {
    finding: shown.finding,
    advice: shown.advice,
    duration_s: si.duration_s,
    converter_peak_c: peak,
    converter_peak_time_s: si.peaks.find((one) => one.node === "converter_fluid").time_s,
    last_launch_pan_c: launch,
    launch_spread_k: spread,
    window_low_c,
    window_high_c,
    fluid_life_share: si.fluid_life_share,
    launches: si.launches.map((one) => ({
      round: one.round ?? null,
      time_s: one.time_s,
      converter_c: one.converter,
      pan_c: one.pan,
      from_window_k: one.from_window,
      flash_rpm: one.flash_rpm ?? null,
      launch_rpm: one.launch_rpm,
      charge_pressure_bar: one.charge_pressure ?? null,
      elapsed_s: one.pass?.elapsed_s ?? null,
      speed_km_per_h: one.pass?.speed ?? null,
    })),
    cautions: si.cautions.map(({ key, time_s }, at) => ({ key, time_s, text: shown.cautions[at]?.text ?? "" })),
  };
}
