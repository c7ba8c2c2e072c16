// The section "What if": a guess before the run, days to compare with, a family of curves, a band. Each has
// a module of its own and a disclosure here; all draw through `overlays`.
//
// What is chosen here is kept in this browser by itself, apart from the day: the days to compare with, the parameter of the
// family, the guess. Storage may be blocked or full; then nothing is kept and nothing breaks.
import { createAsk } from "./ask.js";
import { createBand } from "./band.js";
import { createCompare } from "./compare.js";
import { element } from "./element.js";
import { createFamily } from "./family.js";
import { createGuess } from "./guess.js";
import { createOverlays } from "./overlays.js";
import { createPlan } from "./plan.js";
import { createSize } from "./size.js";

// Parts with a question of their own: those that were open are open after a reload.
const STAYS_OPEN = ["plan", "size"];
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
 * `core` has { tables, restate, clock, kelvin, temperature, simulate, instance }, `day()` is the computed day, `moment()` all about
 * it at the cursor, `attempt` tries a change at once.
 */
export function createWhatIf({ store, core, ...shared }, root) {
  const kept = createKept();
  const before = kept.get("open");
  const wasOpen = (id) => Array.isArray(before) && before.includes(id);
  const parts = {
    ...shared,
    store,
    kept,
    overlays: createOverlays(store),
    core,
    sweep: (path) => all.family.open()?.ask({ path }),
  };
  const all = {};
  // A part is made when it is first opened, or at once where something in it was kept.
  const part = (id, title, create, isUsed) => {
    const body = element("div", { class: "what-if-body" });
    let made = false;
    let offers;
    const make = () => {
      const first = !made;
      made = true;
      if (first) offers = create(parts, body);
    };
    const node = element(
      "details",
      {
        class: "part", id: `what-if-${id}`,
        on: {
          toggle: () => {
            if (node.open) make();
            if (STAYS_OPEN.includes(id)) kept.set("open", STAYS_OPEN.filter((one) => document.getElementById(`what-if-${one}`)?.open));
          },
        },
      },
      element("summary", {}, element("span", { text: title })),
      body,
    );
    root.append(node);
    const open = () => {
      make();
      node.open = true;
      return offers;
    };
    all[id] = { node, open };
    if (isUsed) open();
    return open;
  };
  root.append(
    element("h2", { id: "what-if-title", text: "What if" }),
    element("p", { class: "help", text: "Ask, guess the run before you look, compare days, plan between rounds, size a part, or see how far the numbers can be trusted." }),
  );
  const ask = element("div", { class: "what-if-body" });
  root.append(ask);
  part("guess", "Guess first", createGuess, Object.keys(kept.get("guess") ?? {}).length > 0);
  const compare = part("compare", "Compare up to four days", createCompare, Boolean(kept.get("days")?.length || kept.get("a")));
  part("plan", "Plan between rounds", createPlan, wasOpen("plan"));
  part("size", "Find the size of a part", createSize, wasOpen("size"));
  part("family", "One parameter, five curves", createFamily, Boolean(kept.get("family")?.drawn));
  part("band", "How sure: what the shop does not know", createBand, false);
  createAsk(parts, all, ask);
  // The days of a link.
  store.subscribe((state, changed) => changed.compared?.length > 0 && compare());
}
