// The readings of a test as the page keeps them: { start, rows }, texts as they were typed.
//
// `start` is when in the day the stopwatch was started ("8 min"); a row is a reading as in JSON files,
// { time: "12:30", place: "pan", shown: "185 °F", surface: "contact", … }, and `out: true` where it is left out of the
// fit. Whether a row can be used is for the core to say. Readings are replaced, never mutated.

export const NO_READINGS = Object.freeze({ start: "0 s", rows: Object.freeze([]) });

const KEYS = ["time", "place", "shown", "surface", "emissivity", "setting", "surroundings", "deviation", "note"];
const MOST_ROWS = 500;
const MOST_LETTERS = 300;

/** Readings from a storage or a link, which may hold anything: what is no reading is left out. */
export function cleanReadings(kept) {
  if (!kept || typeof kept !== "object" || !Array.isArray(kept.rows)) return NO_READINGS;
  const rows = kept.rows.slice(0, MOST_ROWS).filter((row) => row && typeof row === "object").map((row) => {
    const texts = KEYS.filter((key) => ["string", "number"].includes(typeof row[key])).map((key) => [key, typeof row[key] === "number" ? row[key] : row[key].slice(0, MOST_LETTERS)]);
    return { ...Object.fromEntries(texts), ...(row.out === true ? { out: true } : {}) };
  }).filter(({ time, place, shown }) => time !== undefined && place !== undefined && shown !== undefined);
  const start = typeof kept.start === "string" ? kept.start.slice(0, 40) : NO_READINGS.start;
  return rows.length === 0 && start === NO_READINGS.start ? NO_READINGS : { start, rows };
}

export const sameReadings = (a, b) => a === b || JSON.stringify(a) === JSON.stringify(b);

/** A reading as the core takes it. */
export const bare = ({ out, ...row }) => row;
