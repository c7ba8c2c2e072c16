// What was put off at an event, for when it is put on again: the times of a switch, what a log had said, what
// came with an end. It is remembered until another day is opened.
import { eventAt, writtenEvents } from "./scenario.js";

const kindsOf = (scenario) => JSON.stringify(writtenEvents(scenario).map((one) => [one.field, one.event.event]));

export function createPutOff({ store }) {
  // "field which" → { kind, entry }, where `which` is "circulation", "fan", "logged" or "ends form".
  let memory = new Map();
  store.subscribe((state, changed) => "baseline" in changed && memory.clear());

  return {
    remember(field, which, kind, entry) {
      memory.set(`${field} ${which}`, { kind, entry });
    },
    /** What was remembered, and nothing else; undefined where there is nothing. */
    remembered(field, which, kind) {
      const last = memory.get(`${field} ${which}`);
      return last?.kind === kind ? last.entry : undefined;
    },
    /**
     * As remembered, else as the day was opened with it by `pick` of an event, so that a reload does not lose a
     * log. Undefined where there is nothing.
     */
    back(field, which, kind, pick) {
      const last = this.remembered(field, which, kind);
      if (last !== undefined) return last;
      const { scenario, baseline } = store.state;
      const opened = eventAt(baseline, field);
      if (!opened || kindsOf(baseline) !== kindsOf(scenario)) return undefined;
      const entry = pick(opened);
      return Object.keys(entry).length > 0 ? structuredClone(entry) : undefined;
    },
    /** Follows events that got other fields: old → new; one that is not named is gone. */
    rename(moved) {
      memory = new Map([...memory].flatMap(([name, last]) => {
        const cut = name.indexOf(" ");
        const now = moved.get(name.slice(0, cut));
        return now ? [[now + name.slice(cut), last]] : [];
      }));
    },
  };
}
