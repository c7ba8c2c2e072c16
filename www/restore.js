// The first day of the page where this browser kept something: that work, or what of it can be used. Loaded only then.
//
// What was kept may come from another version of the page or be damaged: each of its parts is taken only if it can be
// used, and what cannot is handed on to be said and saved.
import { cleanReadings } from "./cleanreadings.js";
import { download, jsonOf } from "./files.js";
import { freshWork } from "./freshwork.js";
import { sameScenario } from "./history.js";
import { isDrawable } from "./scenario.js";
import { aside, forget, forgetAside, keptHistory, keptWork, layAside } from "./storage.js";

/**
 * The kept work { scenario, good, baseline, source, readings, units, link, past, future }, or null; `good` is the last that
 * was computed, `link` the last address written. Nothing in it is checked but that the lists are lists of entries.
 */
function restore() {
  const kept = keptWork();
  if (!kept) return null;
  const { page, days: daysOf, past, future, readings: readingsOf } = keptHistory() ?? {};
  const own = page === kept.page && Array.isArray(daysOf);
  const entries = (list) => {
    const days = own && Array.isArray(list) ? list : [];
    return days.filter((one) => one && typeof one === "object").map(({ scenario, baseline, source, readings, label, note }) => ({
      day: { scenario: daysOf[scenario], baseline: daysOf[baseline], source, readings: cleanReadings(readingsOf?.[readings]) },
      label,
      note,
    }));
  };
  return { ...kept, past: entries(past), future: entries(future) };
}

/** A kept scenario that cannot be opened: { problem, acts }, what is said and what the buttons below it do, beside `dismiss()` of others. */
function lostWork(scenario, text) {
  return {
    problem: { title: "Not all of the day kept in this browser could be opened.", text, stale: false, actions: [["Save it as a file", "saveLost"], ["Close", "giveUpLost"]] },
    acts: {
      saveLost() {
        download({ name: "kept day" }, "json", "application/json", jsonOf(scenario));
        forgetAside();
      },
      giveUpLost() {
        forgetAside();
        this.dismiss();
      },
    },
  };
}

/** As `freshWork`, from what was kept. */
export async function restoreWork({ examples, exampleOf, kinds, isComputable }) {
  const nothing = freshWork({ examples, exampleOf });
  const { state: fresh } = nothing;
  const told = (from, text) => lostWork(from.scenario ?? from.good ?? from.baseline, text);
  const unread = (from) => (isObject(from?.scenario) ? told(from, "This version cannot compute it, so that another stands here. It can be saved as a file.") : null);
  const kept = restore();
  if (!kept) return { ...nothing, lost: unread(aside()) };
  const readings = cleanReadings(kept.readings);
  const units = kept.units === "si" ? "si" : "us";
  const known = (key) => (examples.some((one) => one.key === key) ? key : null);
  const usable = async (scenario) => isDrawable(scenario, kinds) && (await isComputable(scenario));

  const goodOne = (await usable(kept.good)) ? kept.good : null;
  const opened = await usable(kept.baseline);
  const baseline = opened ? kept.baseline : goodOne ?? ((await usable(kept.scenario)) ? kept.scenario : null);
  if (!baseline) {
    // A text that can still be read may be all of somebody's work.
    const lost = unread(kept);
    if (lost) layAside();
    else forget();
    return { ...nothing, state: { ...fresh, readings, units }, lost };
  }
  const drawable = isDrawable(kept.scenario, kinds);
  const lost = drawable ? unread(aside()) : told(kept, "Its newest changes cannot be shown by this version: the last computed day stands here.");
  const scenario = drawable ? kept.scenario : goodOne ?? baseline;
  const source = opened ? known(kept.source) : null;
  const good = goodOne ? { scenario: goodOne, baseline, source } : null;

  // Behind an entry that cannot be used nothing can be gone back to.
  const entries = (list) => {
    const bad = list.findLastIndex(({ day }) => !isDrawable(day.scenario, kinds) || !isDrawable(day.baseline, kinds));
    return list.slice(bad + 1).map(({ day, label, note }) => ({
      // One and the same baseline is not computed anew.
      day: { ...day, baseline: sameScenario(day.baseline, baseline) ? baseline : day.baseline, source: known(day.source) },
      label: typeof label === "string" ? label : "Change",
      note: typeof note === "string" && note ? note : null,
    }));
  };
  return {
    state: { ...fresh, scenario, baseline, source, readings, units },
    history: { past: entries(kept.past), future: entries(kept.future) },
    good,
    link: typeof kept.link === "string" ? kept.link : null,
    lost,
  };
}

const isObject = (value) => value !== null && typeof value === "object" && !Array.isArray(value);
