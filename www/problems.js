// What to say about an error that the core threw about a scenario, and where.
import { isTrap } from "./core.js";
import { fieldOfError, placeWords } from "./places.js";

/**
 * { title, text, advice, field, stale, actions } of an error about a scenario; `stale`: what is shown is the last good result.
 * `tables` are the core's in the reader's units.
 */
export function problemOf(error, { stale, scenario, tables }) {
  if (error && typeof error === "object" && "limit" in error) {
    const advice = `${error.value} — ${error.limit}. ${error.remedy}`;
    return {
      title: "Not computed.",
      text: `${placeWords(scenario, error.field, tables)}: ${advice}`,
      advice,
      field: fieldOfError(scenario, error.field),
      stale,
      actions: [["Take the change back", "takeBack"]],
    };
  }
  return {
    title: "The computation stopped.",
    text: isTrap(error)
      ? "This is a fault of the program, not of your numbers. Your inputs are kept and the core is loaded anew."
      : String(error?.message ?? error),
    stale,
    actions: [["Take the change back", "takeBack"], ["Start over", "startOver"]],
  };
}
