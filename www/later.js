// What lies below the first screen and is loaded after it: the player, the sheet and the list of the day, heat in numbers, the
// cut-away, a pass, more pictures, the ledger, what happened, pictures as files, what if, readings and fit, the bench sheet, the day's sheet;
// files that are dragged onto the page.
//
// `shared` has what the parts of the page share, `core` also what only these need of it.
import { axisOf } from "./axis.js";
import { createBenchSheet } from "./benchsheet.js";
import { createCutaway } from "./cutaway.js";
import { createDayList } from "./daylist.js";
import { createDayPictures } from "./daypictures.js";
import { createDrop } from "./drop.js";
import { element, setText } from "./element.js";
import { createHappened } from "./happened.js";
import { createHeatTable } from "./heattable.js";
import { createLedger } from "./ledger.js";
import { createMoreResults } from "./moreresults.js";
import { createPassHeat } from "./passheat.js";
import { createPassPicture } from "./passpicture.js";
import { createPictures } from "./pictures.js";
import { createPlayer } from "./player.js";
import { createReadings } from "./readings.js";
import { createSheet } from "./sheet.js";
import { onKeptElsewhere } from "./storage.js";
import { createWhatIf } from "./whatif.js";

/** `shared` has what the parts of the page share, `core` also what only these need of it. */
export function createLater({ store, seen, core, fieldOf, putOff, days, chart, day, good, moment, attempt, openExample, openTest, openFiles, download, saveAs }, document) {
  const $ = (id) => document.getElementById(id);
  // One after the other: what is made may change the view at once.
  let sheet;
  let readings;
  store.late(() => createPlayer({ store, axisOf }, $("player")));
  store.late(() => {
    const reveal = createDayList({ store, core, fieldOf, putOff, days }, $("timeline-body"));
    sheet = createSheet({ store, core, fieldOf, putOff, days, reveal }, chart.sheet);
  });
  store.late(() => createMoreResults({ store, core, seen }, document));
  store.late(() => createHeatTable({ core, seen, day, moment }, $("heat-body")));
  store.late(() => createCutaway({ store, seen, core, fieldOf, moment }, $("cutaway-body")));
  store.late(() => createPassHeat({ store, core, seen }, $("pass-heat")));
  store.late(() => createLedger({ core, seen }, $("ledger-body")));
  store.late(() => createHappened({ store, seen }, document));
  store.late(() => createPassPicture({ store, seen, day, moment }, $("pass-picture")));
  store.late(() => createDayPictures({ store, core, seen, day, timeOptions: chart.timeOptions }, $("day-pictures")));
  store.late(() => createPictures({ store, core, day, timeOptions: chart.timeOptions, download }, $("save-pictures")));
  store.late(() => createWhatIf({ store, seen, core, day, moment, attempt, chart }, $("what-if")));
  store.late(() => {
    readings = createReadings({ store, core, attempt, openExample, download }, $("readings"));
  });
  createDrop({ openFiles }, document);
  store.late(() => createBenchSheet({ store, openTest, saveAs }, $("bench-sheet")));
  // Rarely used: fetched when it is asked for. Without signal, and not kept, the page prints as it does by itself.
  const printSheet = async () => {
    const made = await import("./daysheet.js").catch(() => null);
    await (made?.printDaySheet({ store, core, day, good, version: () => core.instance().version() }) ?? window.print());
  };
  store.late(() => $("save-csv").after(element("button", { type: "button", class: "plain", id: "print-sheet", text: "Print the day’s sheet", on: { click: printSheet } })));
  // The temperatures of the last good result, in the units shown.
  $("save-csv").addEventListener("click", () => day() && download("csv", "text/csv", day().csv(store.state.units)));
  $("save-csv").disabled = false;
  onKeptElsewhere(() => setText($("elsewhere"), "This day was changed in another tab; the last change is kept."));
  return { sheet, readings, keepOffline };
}

/** Nothing of the page waits for this, and nothing is lost without it. */
async function keepOffline() {
  try {
    const { createOffline } = await import("./offline.js");
    await createOffline(document);
  } catch (error) {
    console.warn(error);
  }
}
