// What changes the day's blocks and the parts of the set-up, with the rest of the tables: loaded right after the first view,
// or when somebody asks for it before. Loading it is enough to complete the tables.
import { complete } from "./core.js";
import { createDayEdits } from "./dayedits.js";
import { createLaneHand } from "./lanehand.js";
import { createPartControls } from "./partcontrols.js";
import { createPutOff } from "./putoff.js";
import { rest } from "./rest.js";

complete(rest);

/**
 * Gives lanes and controls what they lack; `first` is the store's state that the page began with. Gives { putOff, days }.
 */
export function createEditing({ store, core, attempt, kinds, lanes, controls, toSheet, first }) {
  const putOff = createPutOff({ store });
  const days = createDayEdits({ store, attempt, putOff, kinds, first });
  lanes.take((of) => createLaneHand({ store, core, days, toSheet }, of));
  controls.take(createPartControls);
  return { putOff, days };
}
