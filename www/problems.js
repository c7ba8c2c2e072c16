// What to say about an error that the core threw about a scenario, and where.
import { isAbsent, isTrap } from "./core.js";
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
    title: isAbsent(error) ? "Not computed." : "The computation stopped.",
    text: isAbsent(error)
      ? "What is needed for it could not be loaded. Try again in a moment; your inputs are kept."
      : isTrap(error)
        ? "This is a fault of the program, not of your numbers. Your inputs are kept and the core is loaded anew."
        : String(error?.message ?? error),
    stale,
    actions: [["Take the change back", "takeBack"], ["Start over", "startOver"]],
  };
}
