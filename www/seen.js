// Parts of the page that are not in sight wait: while a slider moves they are not made anew sixty times a second.
//
// `seen(node, listener)` subscribes a listener of what is shown in a node. In sight it is told at once; out of sight it
// is told all that it missed when it comes near, or when nothing has changed for a moment. What is near but not in
// sight waits too. `data-behind` on the document says that something still waits.
const NEAR = "300px";
const QUIET_MS = 120;

/** `failed` hears what a listener that waited throws. */
export function createSeen(store, document, failed) {
  const root = document.documentElement;
  const waiting = new Map(); // listener → what changed since it was told last
  const inSight = new WeakMap(); // nothing is, until it has been looked at
  let timer = 0;
  let changed_ms = 0;

  const watch = (rootMargin, note = () => {}) =>
    new IntersectionObserver((entries) => {
      for (const { target, isIntersecting } of entries) note(target, isIntersecting);
      const come = new Set(entries.filter((entry) => entry.isIntersecting).map((entry) => entry.target));
      for (const [listener, { node }] of [...waiting]) if (come.has(node)) tell(listener);
    }, { rootMargin });
  const observers = [watch("0px", (node, is) => inSight.set(node, is)), watch(NEAR)];

  function tell(listener) {
    const { changed } = waiting.get(listener);
    waiting.delete(listener);
    if (waiting.size === 0) root.removeAttribute("data-behind");
    try {
      listener(store.state, changed);
    } catch (error) {
      failed(error);
    }
  }

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

  function seen(node, listener) {
    for (const observer of observers) observer.observe(node);
    store.subscribe((state, changed) => {
      const behind = waiting.get(listener);
      if (!behind && inSight.get(node)) {
        listener(state, changed);
        return;
      }
      waiting.set(listener, { node, changed: { ...behind?.changed, ...changed } });
      root.setAttribute("data-behind", "");
      // One timer for all that wait, however often something changes: setting one takes long.
      changed_ms = performance.now();
      timer ||= setTimeout(catchUp, QUIET_MS);
    });
  }
  /** Tells all that wait. */
  seen.now = all;
  return seen;
}
