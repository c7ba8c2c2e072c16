// Readings as text: packed for a link, and as a table for a file.
import { cleanReadings } from "./cleanreadings.js";
import { NO_READINGS } from "./readingrows.js";

// In a link a reading is [time, place, shown, surface, the rest]; a place and a surface that were named before are their
// numbers, and so is a unit.
const SPARE = ["emissivity", "setting", "surroundings", "deviation", "note", "out"];

/** Readings for a link, as few characters as there can be before they are deflated. */
export function packReadings({ start, rows }) {
  const words = [];
  const number = (word) => {
    if (!words.includes(word)) words.push(word);
    return words.indexOf(word).toString(36);
  };
  const lines = rows.map((row) => {
    const [, shown, unit] = String(row.shown).match(/^(\S+) (.*)$/) ?? [null, String(row.shown), ""];
    const what = [row.place, row.surface ?? "", unit].map(number).join("");
    const spare = SPARE.some((key) => row[key] !== undefined) ? [JSON.stringify(SPARE.map((key) => row[key] ?? 0))] : [];
    return [row.time, what, shown, ...spare].join("\t");
  });
  return [start, words.join("\t"), ...lines].join("\n");
}

/** The readings of a link, unchecked but for their form. */
export function unpackReadings(text) {
  if (typeof text !== "string" || text === "") return NO_READINGS;
  const [start, named = "", ...lines] = text.split("\n");
  const words = named.split("\t");
  const word = (letter) => words[Number.parseInt(letter, 36)] ?? "";
  const rows = lines.map((line) => {
    const [time, what = "", shown = "", spare] = line.split("\t");
    const [place, surface, unit] = [...what].map(word);
    let rest = {};
    try {
      rest = Object.fromEntries(JSON.parse(spare ?? "[]").map((value, at) => [SPARE[at], value]).filter(([, value]) => value !== 0));
    } catch {
      // A part of a reading that cannot be read is left out.
    }
    return { time, place, shown: unit ? `${shown} ${unit}` : shown, ...(surface ? { surface } : {}), ...rest };
  });
  return cleanReadings({ start, rows });
}

const HEADS = { emissivity: "emissivity", setting: "setting", surroundings: "surroundings", deviation: "deviation", note: "note" };

/** The readings as a table that reads back; `degrees(text)` gives a temperature in the unit of the head. */
export function tableOfReadings(rows, unit, degrees) {
  const spare = Object.keys(HEADS).filter((key) => rows.some((row) => row[key] !== undefined));
  const head = ["time (min:s)", "place", `shown (${unit})`, "surface", ...spare.map((key) => (key === "surroundings" ? `surroundings (${unit})` : key))];
  // What a spreadsheet would run as a formula is text with a space before it; it is taken off again when it is read.
  const inert = (text) => (/^[=+@-]/.test(text ?? "") ? ` ${text}` : text);
  const cell = (value) => (/[",;\t\n]/.test(String(value)) ? `"${String(value).replace(/"/g, '""')}"` : String(value ?? ""));
  const lines = rows.map((row) => [row.time, row.place, degrees(row.shown), row.surface ?? "", ...spare.map((key) => (key === "surroundings" && row[key] !== undefined ? degrees(row[key]) : key === "note" ? inert(row[key]) ?? "" : row[key] ?? ""))]);
  return `${[head, ...lines].map((line) => line.map(cell).join(",")).join("\n")}\n`;
}
