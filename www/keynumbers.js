// The key numbers of a day, shown on top of the page and in a view within another one.

/** The three numbers that a change is judged by, in the summary's units. */
export function keyNumbers(summary) {
  const peak = summary.peaks.find((one) => one.node === "converter_fluid");
  return {
    peak: peak.temperature,
    launch: summary.launches.at(-1)?.pan ?? null,
    spread: summary.launches.length > 1 ? summary.spread_pan : null,
  };
}
