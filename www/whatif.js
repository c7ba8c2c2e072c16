// The section "What if": a guess before the run, a second day to compare with, a family of curves, a band. Each has
// a module of its own and a disclosure here; all draw through `overlays`.
//
// What is chosen here is kept in this browser by itself, apart from the day: a second day A, the parameter of the
// family, the guess. Storage may be blocked or full; then nothing is kept and nothing breaks.
import { createBand } from "./band.js";
import { createCompare } from "./compare.js";
import { element } from "./element.js";
import { createFamily } from "./family.js";
import { createGuess } from "./guess.js";

const KEY = "stallheat.what-if.1";

function createKept() {
  let kept = {};
  try {
    const read = JSON.parse(localStorage.getItem(KEY));
    if (read && typeof read === "object" && !Array.isArray(read)) kept = read;
  } catch {
    // Blocked or damaged: nothing is kept.
  }
  return {
    /** What was kept under a name, unchecked; undefined if nothing. */
    get: (name) => kept[name],
    set(name, value) {
      kept = { ...kept, [name]: value };
      try {
        localStorage.setItem(KEY, JSON.stringify(kept));
      } catch {
        // Blocked or full: the page works on.
      }
    },
  };
}

/**
 * `core` has { tables, restate, clock, kelvin, simulate, instance }, `day()` is the computed day, `moment()` all about it at
 * the cursor, `attempt` tries a change at once.
 */
export function createWhatIf(shared, root) {
  const kept = createKept();
  const part = (id, title, create) => {
    const body = element("div", { class: "what-if-body" });
    const node = element("details", { class: "part", id: `what-if-${id}` }, element("summary", {}, element("span", { text: title })), body);
    root.append(node);
    create({ ...shared, kept, open: () => (node.open = true) }, body);
  };
  root.append(
    element("h2", { id: "what-if-title", text: "What if" }),
    element("p", { class: "help", text: "Guess the run before you look, compare two days, turn one knob, or see how far the numbers can be trusted." }),
  );
  part("guess", "Guess first", createGuess);
  part("compare", "Compare: A and B", createCompare);
  part("family", "One parameter, five curves", createFamily);
  part("band", "What the shop does not know", createBand);
}
