// Statements of a set-up that exclude each other: a parameter and the other ways to state it, a table and
// what it replaces. The core refuses a file that holds both, so whoever writes one takes the others out.
//
// What was taken out is remembered until another day is opened, and comes back with its own way of stating.
// Knows the core's tables and the shape of a scenario, no unit and no physics.
import { setSetupValue, setupValue } from "./scenario.js";

/** A parameter's key and those of all other ways to state it. */
export function waysOf({ alternatives }, part, key) {
  const ways = alternatives.filter((one) => one.part === part && one.instead_of === key);
  return [key, ...ways.flatMap(inputKeys)];
}

/** The keys that an error about `key` concerns: what was written and taken out with it. */
export function together(sheet, scenario, part, key) {
  const table = sheet.tables.find((one) => one.part === part && one.key === key);
  if (table) return [key, ...replacedKeys(sheet, table, setupValue(scenario, part, key))];
  const way = sheet.alternatives.find((one) => one.part === part && inputKeys(one).includes(key));
  return waysOf(sheet, part, way?.instead_of ?? key);
}

/** A table as text, however it is written: rows in a list get a line each. */
export function tableText(written) {
  if (!Array.isArray(written)) return written === undefined ? "" : String(written);
  if (!written.some(Array.isArray)) return written.join(", ");
  return written.map((row) => (Array.isArray(row) ? row.join(", ") : String(row))).join("\n");
}

/** Whether any key of a part is stated otherwise than the day was opened with. */
export function differ(part, keys, { scenario, baseline }) {
  const text = (from, key) => JSON.stringify(setupValue(from, part, key));
  return keys.some((key) => text(scenario, key) !== text(baseline, key));
}

const inputKeys = (alternative) => alternative.inputs.map(({ key }) => key);

/** What a table takes the place of; a parameter that its first line names as a column is in it, too. */
function replacedKeys(sheet, table, written) {
  const head = tableText(written).trimStart().split("\n", 1)[0].split(/[^a-z_]+/i);
  const named = sheet.parameters.filter(({ part, key }) => part === table.part && head.includes(key));
  return [...table.replaces, ...named.flatMap(({ part, key }) => waysOf(sheet, part, key))];
}

export function createWays(sheet) {
  const remembered = new Map();

  function takeOut(scenario, part, keys) {
    for (const key of keys) {
      const value = setupValue(scenario, part, key);
      if (value === undefined) continue;
      remembered.set(`${part}.${key}`, value);
      setSetupValue(scenario, part, key, undefined);
    }
  }

  function putBack(scenario, part, keys) {
    for (const key of keys) {
      const value = remembered.get(`${part}.${key}`);
      if (value !== undefined && setupValue(scenario, part, key) === undefined) setSetupValue(scenario, part, key, value);
    }
  }

  return {
    /** What was stated under a key before another way took its place. */
    remembered: (part, key) => remembered.get(`${part}.${key}`),
    forget: () => remembered.clear(),

    /** States a parameter itself; the other ways go. */
    stateParameter(scenario, part, key, value) {
      const [, ...others] = waysOf(sheet, part, key);
      if (value !== undefined) takeOut(scenario, part, others);
      setSetupValue(scenario, part, key, value);
    },

    isStated: (scenario, alternative) =>
      inputKeys(alternative).some((key) => setupValue(scenario, alternative.part, key) !== undefined),

    /**
     * States one quantity of an alternative, and with it the others, as they were or as `usual` has them.
     * Without a value the whole alternative is taken out, and the parameter is as it was.
     */
    stateAlternative(scenario, { part, instead_of: parameter, inputs }, key, value, usual) {
      const own = inputs.map((input) => input.key);
      if (value === undefined) {
        takeOut(scenario, part, own);
        putBack(scenario, part, [parameter]);
        return;
      }
      takeOut(scenario, part, waysOf(sheet, part, parameter).filter((other) => !own.includes(other)));
      putBack(scenario, part, own.filter((other) => other !== key));
      setSetupValue(scenario, part, key, value);
      for (const input of own) {
        if (setupValue(scenario, part, input) === undefined) setSetupValue(scenario, part, input, usual(input));
      }
    },

    /** States a table; what it replaces goes. */
    stateTable(scenario, table, text) {
      takeOut(scenario, table.part, replacedKeys(sheet, table, text));
      setSetupValue(scenario, table.part, table.key, text);
    },

    /** Takes a table out; what it replaced comes back. */
    removeTable(scenario, table) {
      const replaced = replacedKeys(sheet, table, setupValue(scenario, table.part, table.key));
      takeOut(scenario, table.part, [table.key]);
      putBack(scenario, table.part, replaced);
    },

    /** The stated table that takes the place of a parameter, or undefined. */
    replacedBy(scenario, part, key) {
      return sheet.tables.find((table) => {
        const written = table.part === part ? setupValue(scenario, part, table.key) : undefined;
        return written !== undefined && replacedKeys(sheet, table, written).includes(key);
      });
    },

    /** Brings keys of a part to what they are in another scenario. */
    restore(scenario, from, part, keys) {
      for (const key of keys) setSetupValue(scenario, part, key, structuredClone(setupValue(from, part, key)));
    },
  };
}
