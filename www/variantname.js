// What a day is called beside A: the label of the ready-made change that it is, or its first change and how many more.
import { countedOut } from "./changes.js";
import { textOf } from "./history.js";
import { readyMade } from "./readymade.js";
import { createWays } from "./ways.js";

/** A ready-made change in words, with where it is made. */
export const readyLabel = (one, round) =>
  (one.turnaround ? `${one.label}, ${round === null ? "every round" : `round ${round}`}` : one.label);

/** `days` are the kept days. Gives `nameOf(scenario, a, changes)`; `changes` from A on are null for A itself. */
export function createNames({ core, days }) {
  let known = { of: null, labels: new Map() };

  /** Every ready-made change of A, as text: { text → label }. */
  function labelsOf(a) {
    if (known.of === a) return known.labels;
    const labels = new Map();
    const rounds = countedOut(a).flatMap(({ round }) => round ?? []);
    // They are written in the units of whoever taps them.
    for (const units of ["us", "si"]) {
      const { parameters } = core.tables(units);
      const values = days.values(a, units);
      if (!values) break;
      const at = (part, key) => parameters.findIndex((row) => row.part === part && row.key === key);
      const valueOf = (part, key) => ({ value: values[at(part, key)], unit: parameters[at(part, key)].unit });
      const ready = readyMade({ ways: createWays(core.tables("us")), restate: core.restate, units: () => units, valueOf });
      for (const one of ready.filter(({ can }) => can(a))) {
        for (const round of one.turnaround ? [null, ...rounds] : [null]) {
          const changed = structuredClone(a);
          one.make(changed, round);
          const text = JSON.stringify(changed);
          if (!labels.has(text)) labels.set(text, readyLabel(one, round));
        }
      }
    }
    known = { of: a, labels };
    return labels;
  }

  return function nameOf(scenario, a, changes) {
    if (!changes || (scenario.name ?? "") !== (a.name ?? "")) return scenario.name || "Day without a name";
    if (textOf(scenario) === textOf(a)) return "Same as A";
    // Of a day that is not computed nobody knows.
    if (changes.length === 0) return "Changed";
    const ready = labelsOf(a).get(textOf(scenario));
    if (ready) return ready;
    const [{ short, to }] = changes;
    return `${short} ${to}${changes.length > 1 ? `; +${changes.length - 1} more` : ""}`;
  };
}
