// Changes of the day's structure as the page makes them: tried at once, one entry of undo each, refused with a
// reason that stands by the blocks (`view.refusal`).
//
// A change gives the field of the event that is to be chosen after it, or nothing. Events that got other fields by it
// are followed, by who remembers something of them too.
import { moveEvent, placeOf, removeEvent } from "./edits.js";
import { eventAt, writtenEvents } from "./scenario.js";

/** `first` is the state of the store that the page began with. */
export function createDayEdits({ store, attempt, putOff, kinds, first }) {
  let renamed = null; // old field → new field, while a change is made

  const fieldsOf = (scenario) => writtenEvents(scenario).map(({ field, event }) => [event, field]);

  const foreign = [];

  const days = {
    /** Calls when the day is changed by anything but `apply`. */
    onForeign: (listener) => foreign.push(listener),


    /** Whether events get other fields just now. */
    get moving() {
      return renamed !== null && [...renamed].some(([before, now]) => before !== now);
    },
    moved: (field) => (renamed ? renamed.get(field) ?? field : field),

    /** Makes a change under a label; true where it was made. `round` is that in which the event is chosen. */
    apply(label, change, { gesture = null, round = store.state.view.round ?? null } = {}) {
      const { selected } = store.state.view;
      let field = null;
      let map = new Map();
      const refused = attempt((scenario) => {
        const before = new Map(fieldsOf(scenario));
        field = change(scenario) ?? null;
        map = new Map(fieldsOf(scenario).flatMap(([event, now]) => (before.has(event) ? [[before.get(event), now]] : [])));
        renamed = map;
      }, gesture, label, () => ({ selected: field ?? map.get(selected) ?? null, round, refusal: null }));
      renamed = null;
      if (!refused) {
        putOff.rename(map);
        return true;
      }
      store.view({ refusal: `Not done: ${refused.text}` });
      return false;
    },

    /** Says why something cannot be done at all. */
    refuse: (text) => store.view({ refusal: text }),

    name(field) {
      const event = eventAt(store.state.scenario, field);
      return event ? event.name ?? kinds.get(event.event)?.label ?? event.event : "";
    },

    /** Whether an event is there to be changed; says so where the day shown, the last computed one, has it alone. */
    isThere(field) {
      if (eventAt(store.state.scenario, field)) return true;
      days.refuse("This event is not in the day as it is written now, which is not computed.");
      return false;
    },

    /** Takes an event out of the day. */
    remove(field) {
      if (!days.isThere(field)) return false;
      const { list } = placeOf(store.state.scenario, field);
      if (list.length > 1) return days.apply(`Remove ${days.name(field)}`, (scenario) => removeEvent(scenario, field));
      const inRound = field.includes(".events[");
      days.refuse(`${days.name(field)} is the only event of ${inRound ? "its round: remove the round instead" : "the day, which needs one"}.`);
      return false;
    },

    /** Moves an event by places among its neighbours. */
    shift(field, by) {
      if (!days.isThere(field)) return false;
      const { place } = placeOf(store.state.scenario, field);
      return days.move(field, place + by);
    },

    /** Moves an event to a place among its neighbours. */
    move(field, to) {
      if (!days.isThere(field)) return false;
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
  // Undo, redo and another day: an event is found again by what it says; what is not is chosen no more.
  let before = first.scenario;
  function follow(state) {
    const last = before;
    before = state.scenario;
    if (renamed !== null) return;
    for (const listener of foreign) listener();
    const map = followed(last, state.scenario);
    putOff.rename(map);
    const { selected } = state.view;
    if (selected && map.get(selected) !== selected) store.view({ selected: map.get(selected) ?? null, on: null, refusal: null });
    else if (state.view.refusal) store.view({ refusal: null });
  }
  store.subscribe((state, changed) => "scenario" in changed && follow(state));
  if (store.state.scenario !== before) follow(store.state);
  return days;
}

/** Fields of the events of one day in another: the same where the kind stays, else where one event reads alike. */
function followed(last, next) {
  const [from, to] = [last, next].map(writtenEvents);
  const kindsOf = (events) => events.map(({ field, event }) => `${field} ${event.event} ${event.name}`).join();
  if (kindsOf(from) === kindsOf(to)) return new Map(from.map(({ field }) => [field, field]));
  const byText = (events) => {
    const found = new Map();
    for (const { field, event } of events) {
      const text = JSON.stringify(event);
      found.set(text, found.has(text) ? null : field);
    }
    return found;
  };
  const [alike, there] = [byText(from), byText(to)];
  return new Map([...alike].flatMap(([text, field]) => (field && there.get(text) ? [[field, there.get(text)]] : [])));
}
