// The first day of the page where this browser kept nothing: the first example.
import { NO_READINGS } from "./readingrows.js";

const VIEW = {
  range: null, axis: "room", hidden: ["gear_train", "engine"], cursor_s: 0, selected: null, round: null, on: null, refusal: null, held: null, launch: 0,
};

/**
 * Gives { state, history, good, link, lost }: the store's first state and history, the last computed day or null, the
 * address written last or null, and { problem, acts } of a kept day that cannot be opened, or null.
 */
export function freshWork({ examples, exampleOf }) {
  const [{ key }] = examples;
  const example = exampleOf(key);
  const state = { scenario: example, baseline: example, source: key, readings: NO_READINGS, units: "us", view: VIEW, result: null, problem: null, compared: [] };
  return { state, history: undefined, good: null, link: null, lost: null };
}
