// Changes of the day's structure as the page makes them: tried at once, one entry of undo each, refused with a
// reason that stands by the blocks (`view.refusal`).
//
// A change gives the field of the event that is to be chosen after it, or nothing. Events that got other fields by it
// are followed, by who remembers something of them too.
import { moveEvent, placeOf } from "./edits.js";
import { eventAt, writtenEvents } from "./scenario.js";

export function createDayEdits({ store, attempt, putOff, kinds }) {
  let renamed = null; // old field → new field, while a change is made

  const fieldsOf = (scenario) => writtenEvents(scenario).map(({ field, event }) => [event, field]);

  const days = {
    /** Whether events get other fields just now. */
    get moving() {
      return renamed !== null && [...renamed].some(([before, now]) => before !== now);
    },
    moved: (field) => (renamed ? renamed.get(field) ?? field : field),

    /** Makes a change under a label; true where it was made. `choose` is the round in which the event is chosen. */
    apply(label, change, { gesture = null, round = store.state.view.round ?? null } = {}) {
      const { selected } = store.state.view;
      let field = null;
      let map = new Map();
      const refused = attempt((scenario) => {
        const before = new Map(fieldsOf(scenario));
        field = change(scenario) ?? null;
        map = new Map(fieldsOf(scenario).flatMap(([event, now]) => (before.has(event) ? [[before.get(event), now]] : [])));
        renamed = map;
      }, gesture, label);
      renamed = null;
      const { scenario } = store.state;
      if (!refused) putOff.rename(map);
      const chosen = refused ? selected : field ?? map.get(selected) ?? null;
      store.view({
        selected: chosen && eventAt(scenario, chosen) ? chosen : null,
        round,
        refusal: refused ? `Not done: ${refused.text}` : null,
      });
      return !refused;
    },

    /** Says why something cannot be done at all. */
    refuse: (text) => store.view({ refusal: text }),

    name(field) {
      const event = eventAt(store.state.scenario, field);
      return event ? event.name ?? kinds.get(event.event)?.label ?? event.event : "";
    },

    /** Moves an event by places among its neighbours. */
    shift(field, by) {
      const { place } = placeOf(store.state.scenario, field);
      return days.move(field, place + by);
    },

    /** Moves an event to a place among its neighbours. */
    move(field, to) {
      const { list, place } = placeOf(store.state.scenario, field);
      if (to === place) return false;
      if (to < 0 || to >= list.length) {
        const inRound = field.includes(".events[");
        days.refuse(`${days.name(field)} is the ${to < 0 ? "first" : "last"} of ${inRound ? "its round" : "the day"} already.`);
        return false;
      }
      return days.apply(`Move ${days.name(field)}`, (scenario) => moveEvent(scenario, field, to));
    },
  };
  return days;
}
