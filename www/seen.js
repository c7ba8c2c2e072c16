// Parts of the page that need not be made anew sixty times a second while a slider moves.
//
// `seen(node, listener)` subscribes a listener of what is shown in a node.
// - In sight, a move (a new result of the same day) is told just after the frame that shows the picture of it, one part
//   a task, so that the picture need not wait for the tables. When the next move comes meanwhile, its picture goes
//   before: after each move at least one part is told, in turns, and none misses more than eight in a row. At rest none
//   waits. `first` is told at once: that is the picture. Whatever else changes is told at once to those that do not wait.
// - Out of sight, also near by, a part is told all that it missed when it comes into sight or near, or when nothing has
//   changed for a moment.
// `data-behind` on the document says that something waits: "in-sight", or "" where all that waits is out of it.
const NEAR = "300px";
const QUIET_MS = 120;
const MOST_MISSED = 8;

/** `failed` hears what a listener that waited throws; `moving` says whether a move waits for its frame. */
export function createSeen(store, document, failed, moving) {
  const root = document.documentElement;
  const waiting = new Map(); // listener → { node, soon, missed: moves, changed: since it was told last }
  const inSight = new WeakMap(); // nothing is, until it has been looked at
  let soon = 0; // how many of those that wait are in sight
  let timer = 0;
  let changed_ms = 0;

  let behind = null;
  function say() {
    const now = waiting.size === 0 ? null : soon > 0 ? "in-sight" : "";
    if (now === behind) return;
    behind = now;
    if (now === null) root.removeAttribute("data-behind");
    else root.setAttribute("data-behind", now);
  }

  const watch = (rootMargin, note = () => {}) =>
    new IntersectionObserver((entries) => {
      for (const { target, isIntersecting } of entries) note(target, isIntersecting);
      const come = new Set(entries.filter((entry) => entry.isIntersecting).map((entry) => entry.target));
      for (const [listener, { node }] of [...waiting]) if (come.has(node)) tell(listener);
    }, { rootMargin });
  const observers = [watch("0px", (node, is) => inSight.set(node, is)), watch(NEAR)];

  function forget(listener) {
    if (waiting.get(listener).soon) soon -= 1;
    waiting.delete(listener);
    say();
  }

  function tell(listener) {
    const { changed } = waiting.get(listener);
    forget(listener);
    try {
      listener(store.state, changed);
    } catch (error) {
      failed(error);
    }
  }

  // A message that is posted in a frame comes after that frame's layout and paint.
  const { port1, port2 } = new MessageChannel();
  let posted = false;
  function post() {
    if (posted) return;
    posted = true;
    port2.postMessage(null);
  }
  port1.onmessage = () => {
    posted = false;
    const [next] = [...waiting].find(([, one]) => one.soon) ?? [];
    if (next) tell(next);
    if (soon === 0) return;
    // Asked for after the move's own frame, this is called in the same one, after it.
    if (moving()) requestAnimationFrame(post);
    else post();
  };

  /** One part a task, so that none of them is long. */
  function catchUp() {
    timer = 0;
    const [next] = waiting.keys();
    if (!next) return;
    const quiet_ms = performance.now() - changed_ms;
    if (quiet_ms >= QUIET_MS) tell(next);
    timer = setTimeout(catchUp, Math.max(0, QUIET_MS - quiet_ms));
  }
  const all = () => {
    for (const listener of [...waiting.keys()]) tell(listener);
  };
  addEventListener("beforeprint", all);
  matchMedia("print").addEventListener("change", ({ matches }) => matches && all());

  // Another day (put at once with its result) or other units are no move: who opens them may look for a place on the page.
  let move = false;
  let last = store.state;
  store.subscribe((state, changed) => {
    move = "result" in changed && last.result !== null && state.units === last.units && state.baseline === last.baseline;
    last = state;
  });

  function seen(node, listener, { first = false } = {}) {
    for (const observer of observers) observer.observe(node);
    store.subscribe((state, changed) => {
      const one = waiting.get(listener);
      const shown = inSight.get(node);
      if (!one && shown && (first || !move)) {
        listener(state, changed);
        return;
      }
      const missed = (one?.missed ?? 0) + (move ? 1 : 0);
      const waits = { node, soon: one?.soon || Boolean(shown), missed, changed: { ...one?.changed, ...changed } };
      // Out of sight what has waited longest is told first, but parts of one place in their own order: one draws by another.
      if (!waits.soon) waiting.delete(listener);
      waiting.set(listener, waits);
      if (waits.soon && !one?.soon) soon += 1;
      if (waits.soon && missed > MOST_MISSED) tell(listener);
      else if (waits.soon) post();
      else {
        // One timer for all that wait, however often something changes: setting one takes long.
        changed_ms = performance.now();
        timer ||= setTimeout(catchUp, QUIET_MS);
      }
      say();
    });
  }
  /** Tells all that wait. */
  seen.now = all;
  return seen;
}
