// What lies below the first screen and is loaded after it: heat in numbers, the cut-away, speeds in a pass, pictures as files, what if.
import { createCutaway } from "./cutaway.js";
import { createHeatTable } from "./heattable.js";
import { createPassPicture } from "./passpicture.js";
import { createPictures } from "./pictures.js";
import { createWhatIf } from "./whatif.js";

/** `shared` has what the parts of the page share, `core` also what only these need of it. */
export function createLater({ store, seen, core, fieldOf, day, moment, attempt, timeOptions, download }, document) {
  const $ = (id) => document.getElementById(id);
  // One after the other: what is made may change the view at once.
  store.late(() => createHeatTable({ core, seen, day, moment }, $("heat-body")));
  store.late(() => createCutaway({ store, seen, core, fieldOf, moment }, $("cutaway-body")));
  store.late(() => createPassPicture({ store, seen, day, moment }, $("pass-picture")));
  store.late(() => createPictures({ store, day, timeOptions, download }, $("save-pictures")));
  store.late(() => createWhatIf({ store, core, day, moment, attempt }, $("what-if")));
}
