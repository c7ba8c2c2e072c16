// Readings that come from outside, with all in them that is none left out.
import { NO_READINGS } from "./readingrows.js";

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
