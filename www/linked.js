// The day in the address: what a visit begins with, and when what makes links is asked for.
//
// Making and reading links (`share.js`) comes after the first view. Where it could not be loaded, an edit asks for it again, so
// that the address follows the day.
import { isLink } from "./address.js";
import { setText } from "./element.js";
import { viewIn } from "./opening.js";

// How long what makes links is not asked for anew by edits after a failure.
const SHARE_AGAIN_MS = 1_000;

/**
 * `sharing()` loads what makes links and `asked(load)` does with an error for people; `wrote` is the address that this browser
 * wrote last, `keepWork()` keeps it.
 */
export function createLinked({ store, computed, sharing, asked, wrote, keepWork }, document) {
  const $ = (id) => document.getElementById(id);
  const tables = () => computed.tables("us");
  let link = wrote;
  let share = null;
  let missed_ms = null; // when what makes it could not be loaded last
  let held = false; // a link that could not be opened stays in the address until there is `share`, which then sees to it
  let shown = null; // { state, good } at first: what the address is in step with until there is `share`
  const now = () => ({ state: store.state, good: computed.good() });

  /** What makes links, made once. */
  async function create() {
    let createShare;
    try {
      ({ createShare } = await asked(sharing));
    } catch (error) {
      missed_ms = performance.now();
      // The part that it would have filled.
      if (!share && $("put-on-page")?.open) setText($("put-on-page-body"), error.message);
      throw error;
    }
    share ??= createShare({
      store,
      good: computed.good,
      wrote(hash) {
        link = hash;
        keepWork();
      },
      since: { ...(shown ?? now()), held },
      tables: tables(),
    }, document);
    return share;
  }

  for (const [id, act] of [["copy-link", "copyLink"], ["share-link", "shareLink"]]) {
    $(id).addEventListener("click", async () => {
      try {
        await (await create())[act]();
      } catch (error) {
        if (share) throw error;
        setText($("link-said"), error.message);
      }
    });
  }
  // What is made with it fills this part.
  $("put-on-page")?.addEventListener("toggle", () => {
    if (share || !$("put-on-page").open) return;
    setText($("put-on-page-body"), "Loading…");
    create().catch(() => {});
  });

  return {
    /** The address that this browser wrote last, or null. */
    link: () => link,
    /** A link that could not be opened stays in the address. */
    hold() {
      held = true;
      share?.hold();
    },
    /** The first day is shown. */
    begin() {
      shown = now();
    },
    /** The day has changed: not by every move of a slider is it asked for again. */
    follow() {
      if (share || missed_ms === null || performance.now() - missed_ms < SHARE_AGAIN_MS) return;
      missed_ms = performance.now();
      create().catch(() => {});
    },
    /** After the first view; kept work gets its address back. Without links the day can be changed all the same. */
    async bring() {
      try {
        await create();
      } catch {
        return;
      }
      if (link && !isLink(location.hash)) share.write();
    },
    /**
     * A link in the address goes before the kept work, unless it is what this browser wrote itself: then the work with
     * its history is at least as new, and the link only says how it was seen.
     */
    async openAddress(openLink) {
      const { hash } = location;
      if (!isLink(hash)) return;
      if (hash !== link) {
        await openLink(hash);
        return;
      }
      try {
        const { readLink } = await sharing();
        store.view(viewIn((await readLink(hash)).view, tables().nodes));
      } catch {
        // It was written by this page; without it the view is the usual one.
      }
    },
  };
}
