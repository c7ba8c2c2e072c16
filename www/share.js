// The link in the address: written a little after a change, copied and shared by buttons, and opened when one
// is pasted. Its form is `link`'s.
//
// The address holds what the reader sees, the last computed day. A change that could not be computed is not in
// it; it is kept in this browser with the rest of the work.
import { copy } from "./clipboard.js";
import { setText } from "./element.js";
import { comparedIn, isLink, linkOf, MOST_CHARACTERS, packCompared, readLink } from "./link.js";
import { onDisk } from "./onefile.js";
import { packReadings, unpackReadings } from "./readingtext.js";

export { comparedIn, readLink, unpackReadings };

const LATER_MS = 400;
const TOO_LONG = "This day is too long for a link, mostly by its own tables: save it as a file instead.";
const WITHOUT_READINGS = "The readings are too long for the link and are not in it: save them as a table instead.";
const WITHOUT_FIT = "The link has the fitted numbers, but no room for how well the fit knows them, which bands use: save the day as a file instead.";
const STAYS = " It leads to this file and opens on this device only: to send the day to somebody, save it as a file.";
const LETTERS = ["A", "B", "C"];
/** What is said of days to compare with for which a link has no room. */
const leftOut = (count, of) => (count === of ? "" : `The days to compare with are too long for the link: ${LETTERS.slice(count, of).join(" and ")} ${of - count === 1 ? "is" : "are"} not in it.`);

/** The part of the view that a link carries. */
const seen = ({ hidden, range, axis, launch }) => ({ hidden, range, axis, launch });

/** What the address holds, of a state of the store and the last computed day. */
const shared = ({ units, view, compared, readings }, { scenario, source }) => [scenario, source, units, JSON.stringify(seen(view)), compared, readings];

/**
 * `good()` is the last computed day { scenario, baseline, source }; `wrote(hash)` hears what was written; `since` has the
 * { state, good } that the address was last in step with, and `held`, whether one that could not be opened
 * stays in it; `tables` are the core's.
 *
 * Gives { hold(), write(), copyLink(), shareLink() }.
 */
export function createShare({ store, good, wrote, since, tables }, document) {
  const $ = (id) => document.getElementById(id);
  let last = shared(since.state, since.good);
  let held = since.held && store.state.scenario === since.state.scenario;
  let timer;
  let turn = 0;

  /** Packed together, a day to compare with costs what it differs by; the last of those that are too much stay at home, then
   * the readings, and last how well a fit knows its numbers. */
  async function link() {
    const { units, view, compared, readings } = store.state;
    const { scenario, source } = good();
    const state = { scenario, source, units, view: { ...seen(view), cursor_s: Number(view.cursor_s.toFixed(1)) } };
    const made = (count, more) => linkOf({ ...state, ...more, ...packCompared(compared.slice(0, count)) });
    const read = readings.rows.length > 0 ? { readings: packReadings(readings) } : {};
    for (let count = compared.length; count >= 0; count -= 1) {
      const hash = await made(count, read);
      if (hash.length <= MOST_CHARACTERS) return { hash, fits: true, said: leftOut(count, compared.length) };
    }
    const { calibration, ...unfitted } = scenario;
    const poorer = [
      [{}, WITHOUT_READINGS],
      ...(calibration ? [[{ scenario: unfitted, ...read }, WITHOUT_FIT], [{ scenario: unfitted }, read.readings ? `${WITHOUT_FIT} ${WITHOUT_READINGS}` : WITHOUT_FIT]] : []),
    ];
    for (const [more, said] of poorer) {
      const hash = await made(0, more);
      if (hash.length <= MOST_CHARACTERS) return { hash, fits: true, said: `${said} ${leftOut(0, compared.length)}`.trim() };
    }
    return { hash: await made(0, {}), fits: false, said: TOO_LONG };
  }
  const addressOf = (hash) => new URL(hash, document.location.href).href;

  async function write() {
    clearTimeout(timer);
    turn += 1;
    const mine = turn;
    const { hash, fits, said } = await link();
    // A newer change is on its way, or a link that could not be opened came meanwhile.
    if (mine !== turn || held) return;
    setText($("link-long"), said);
    const { pathname, search, hash: standing } = document.location;
    try {
      if (fits) history.replaceState(history.state, "", hash);
      else if (isLink(standing)) history.replaceState(history.state, "", pathname + search);
    } catch {
      return; // A frame whose address must not be changed.
    }
    wrote(fits ? hash : null);
  }

  function follow(state) {
    const next = shared(state, good());
    if (held || next.every((part, at) => part === last[at])) return;
    last = next;
    clearTimeout(timer);
    timer = setTimeout(write, LATER_MS);
  }
  store.subscribe((state, changed) => {
    if (!state.result) return;
    if (held && "scenario" in changed) held = false;
    follow(state);
  });
  follow(store.state);

  function say(words) {
    setText($("link-said"), words);
  }

  async function ready() {
    const { hash, fits, said } = await link();
    setText($("link-long"), said);
    if (fits) return addressOf(hash);
    say("");
    return null;
  }

  async function copyLink() {
    const address = await ready();
    if (!address) return;
    const without = store.state.problem?.stale ? " The change that is not computed is not in it." : "";
    const copied = await copy(address);
    $("link-text").hidden = copied;
    $("link-text").value = address;
    if (!copied) $("link-text").select();
    say(`${copied ? "Link copied." : "The browser does not allow copying: the link is marked, copy it yourself."}${onDisk() ? STAYS : ""}${without}`);
  }

  async function shareLink() {
    const address = await ready();
    if (!address) return;
    try {
      await navigator.share({ title: store.state.result.summary.name, url: address });
    } catch (error) {
      if (error.name !== "AbortError") say("Sharing did not work: copy the link instead.");
    }
  }

  let maker = null;
  async function showMaker() {
    if (!$("put-on-page").open || !store.state.result) return;
    if (maker) {
      maker.update();
      return;
    }
    try {
      const { createEmbedMaker } = await import("./embedmaker.js");
      if (maker) return;
      $("put-on-page-body").replaceChildren(); // of what it said
      maker = createEmbedMaker({ store, good, tables }, $("put-on-page-body"), document);
    } catch (error) {
      setText($("put-on-page-body"), "This part could not be loaded. Reload the page; your day is kept in this browser.");
      console.error(error);
    }
  }
  // One file has no view beside it that another page could show.
  $("put-on-page")?.addEventListener("toggle", showMaker);
  // Opened before this was there.
  if ($("put-on-page")) showMaker();

  return {
    write,
    copyLink,
    shareLink,
    /** Leaves the address as it is until the day is changed next. */
    hold() {
      clearTimeout(timer);
      turn += 1;
      held = true;
    },
  };
}
