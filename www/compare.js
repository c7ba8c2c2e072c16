// Compare: up to three days that were kept, A, B and C, and the edited one, which has the next letter. Their curves lie over
// the chart, what was changed is listed, and tables say what it does.
//
// The kept days stand in the store's `compared`, apart from the day: undo goes through the edited day only, and "Edit a
// copy" is one entry of it. They are kept in this browser by `whatif`, and what a link or a button took away is, too, so that
// it can be brought back.
import { changesBetween } from "./changes.js";
import { createLetters } from "./chartletters.js";
import { element, freshId, setText } from "./element.js";
import { textOf } from "./history.js";
import { createKeptDays, LETTERS, MOST_KEPT, twinOf } from "./keptdays.js";
import { createOffers } from "./offers.js";
import { keyNumbers } from "./keynumbers.js";
import { createVariantList } from "./variantlist.js";
import { createNames } from "./variantname.js";
import { createVariantTables, difference } from "./varianttables.js";

export const COMPARED = ["converter_fluid", "pan_fluid"];
const MOST_DROPPED = 6;
// One for each kept day; the edited day's lines are full.
const DASHES = [[7, 4], [2, 3], [15, 4]];

export function createCompare({ store, seen, core, overlays, day, moment, attempt, kept, chart }, root) {
  const nodes = core.tables("us").nodes;
  const days = createKeptDays({ store, core });
  const nameOf = createNames({ core, days });
  const list = () => store.state.compared;

  const button = (id, text, act) => element("button", { type: "button", class: "plain", id, text, on: { click: act } });
  const keep = button("keep-day", "Keep this as A", keepThis);
  const again = button("again-day", "", bringBack);
  const said = element("p", { class: "help", id: "compare-said", role: "status" });
  const sideBySide = element("h3", { text: "Side by side" });
  const says = element("p", { class: "what-if-says", id: "compare-says" });
  const variantList = createVariantList({ edit, drop });
  const reference = element("select", { id: freshId("against"), on: { change: () => showAll(store.state) } });
  const against = element("p", { class: "choice", id: "compare-against" }, element("label", { for: reference.id, text: "Differences against" }), " ", reference);
  const tables = createVariantTables({
    quantity: kept.get("quantity"),
    chosen: (quantity) => {
      kept.set("quantity", quantity);
      showAll(store.state);
    },
  });
  root.append(
    element("p", { class: "help", text: "Keep the day as it is, then edit on: what you kept stays in the chart with a dash and a letter of its own. Undo goes through the day you edit and leaves the kept ones alone." }),
    element("div", { class: "moves" }, keep, again),
    said,
  );
  // What is tapped stands above what comes of it, so that it stays under the finger.
  const offers = createOffers({ store, core, attempt, keepFirst: (scenario) => list().length === 0 && put([scenario]) }, root);
  root.append(sideBySide, says, variantList.element, against, ...tables.elements);

  // What can be brought back, the newest last: { days, at } that was dropped or, where a link took the place of all,
  // { days, at: null }.
  let dropped = [];
  let own = []; // the list that stands here; another one in the store is that of a link
  function put(compared) {
    own = compared;
    kept.set("days", own);
    store.set({ compared });
    days.tidy();
  }
  function setDropped(all) {
    dropped = all.slice(-MOST_DROPPED);
    kept.set("dropped", dropped);
  }

  function keepThis() {
    const { scenario } = store.state;
    const twin = twinOf(list(), scenario);
    if (list().length === MOST_KEPT) setText(said, `${MOST_KEPT + 1} days are compared at most: drop one to keep another.`);
    else if (twin) setText(said, `This is ${twin} as it stands: change something first.`);
    else put([...list(), scenario]);
  }

  function edit(at) {
    if (twinOf([list()[at]], store.state.scenario)) setText(said, `The day you edit is the same as ${LETTERS[at]}.`);
    else store.replace({ scenario: list()[at] }, { label: `Edit a copy of ${LETTERS[at]}` });
  }

  function drop(at) {
    setDropped([...dropped, { days: [list()[at]], at }]);
    put(list().filter((_, place) => place !== at));
    again.focus();
  }

  function bringBack() {
    const { days: back, at } = dropped.at(-1);
    const now = list();
    if (at !== null && now.length === MOST_KEPT) {
      setText(said, `${MOST_KEPT + 1} days are compared at most: drop one to bring another back.`);
      return;
    }
    // All for all: what stood here can be brought back in turn.
    setDropped([...dropped.slice(0, -1), ...(at === null && now.length > 0 ? [{ days: now, at: null }] : [])]);
    put(at === null ? back : [...now.slice(0, at), ...back, ...now.slice(at)]);
    (again.hidden ? keep : again).focus();
  }

  /** The days side by side: the kept ones, then the edited one. */
  function variantsOf(state) {
    const { units } = state;
    const all = [
      ...list().map((scenario) => ({ scenario, summary: days.summary(scenario, units), values: days.values(scenario, units), refusal: days.refusal(scenario) })),
      state.problem?.stale
        ? { scenario: state.scenario, summary: null, values: null, refusal: "Not computed: what keeps it from being computed stands at the top of the page." }
        : { scenario: state.scenario, summary: state.result.summary, values: state.result.values, refusal: null },
    ];
    return all.map((one, at) => ({ ...one, letter: LETTERS[at], dash: DASHES[at], edited: at === all.length - 1, same: textOf(one.scenario) === textOf(state.scenario) }))
      .map((one) => (one.edited ? { ...one, dash: null } : one));
  }

  const known = new Map(); // what differs, by units and letters
  function changesOf(one, to, units) {
    if (!one.values || !to.values) return null;
    const key = `${units} ${one.letter} ${to.letter}`;
    const before = known.get(key);
    if (before?.a === to.scenario && before.b === one.scenario && before.values === one.values) return before.changes;
    const changes = changesBetween(to.scenario, one.scenario, {
      tables: core.tables(units), restate: core.restate, units, valuesA: to.values, valuesB: one.values,
    });
    known.set(key, { a: to.scenario, b: one.scenario, values: one.values, changes });
    return changes;
  }

  function showReference(variants) {
    const offered = variants.slice(0, -1).map(({ letter }) => letter);
    const { value } = reference;
    if (reference.options.length !== offered.length) {
      reference.replaceChildren(...offered.map((letter) => element("option", { value: letter, text: letter })));
      reference.value = offered.includes(value) ? value : "A";
    }
    against.hidden = offered.length < 2;
    return Math.max(0, reference.selectedIndex);
  }

  function showAll(state) {
    const count = list().length;
    keep.disabled = Boolean(state.problem?.stale);
    keep.setAttribute("aria-disabled", String(count === MOST_KEPT));
    setText(keep, count === MOST_KEPT ? "Keep this" : `Keep this as ${LETTERS[count]}`);
    again.hidden = dropped.length === 0;
    if (!again.hidden) setText(again, dropped.at(-1).at === null ? "Bring back what was kept before the link" : "Bring back what was dropped");
    sideBySide.hidden = says.hidden = variantList.element.hidden = count === 0;
    offers.show(state);
    if (count === 0 || !state.result) {
      against.hidden = true;
      tables.hide(true);
      return;
    }
    show(state);
  }

  function show(state) {
    const variants = variantsOf(state);
    const at = showReference(variants);
    const [a, to, edited] = [variants[0], variants[at], variants.at(-1)];
    const named = variants.map((one) => ({
      ...one,
      name: nameOf(one.scenario, a.scenario, one === a ? null : changesOf(one, a, state.units) ?? []),
      changes: one === to ? null : changesOf(one, to, state.units),
    }));
    variantList.show(named, to.letter);
    setText(says, sentence(edited, to, named.at(-1).changes));
    const unit = state.result.summary.temperature_unit;
    const isComparable = variants.filter(({ summary }) => summary).length > 1;
    tables.hide(!isComparable);
    if (!isComparable) return;
    tables.show(variants, at, unit);
    showCursor(state, variants, at);
  }

  function sentence(edited, to, changes) {
    if (!changes) return "";
    if (changes.length === 0) return `${edited.letter}, the day you edit, is the same as ${to.letter}. Change anything, or take a ready-made change.`;
    const [was, now] = [keyNumbers(to.summary), keyNumbers(edited.summary)];
    const unit = `\u00a0${edited.summary.temperature_unit}`; // on the number's line
    return `${changes.length} ${changes.length === 1 ? "change" : "changes"} from ${to.letter} to ${edited.letter}: converter peak ${difference(now.peak, was.peak)}${unit}` +
      (now.launch === null || was.launch === null ? "." : `, pan on the last launch ${difference(now.launch, was.launch)}${unit}.`);
  }

  function showCursor(state, variants = variantsOf(state), at = Math.max(0, reference.selectedIndex)) {
    // Until a fresh core has its day, what stands here stands.
    if (!day() || !state.result) return;
    const now = moment();
    const places = COMPARED.map((key) => nodes.findIndex((node) => node.key === key));
    const of = (all) => all && places.map((place) => all[place]);
    tables.showCursor(`At the cursor, ${now.clock}${now.label ? `, ${now.label}` : ""}`, variants.map(({ edited, summary, scenario }) =>
      of(!summary ? null : edited ? now.temperatures : days.temperatures(scenario, state.view.cursor_s, state.units))), at);
  }

  let drawn = [];
  /** The kept days' curves; the edited one's are the chart's own. */
  function draw(state) {
    const from = [list(), state.view.hidden, core.instance()];
    if (from.every((one, index) => one === drawn[index])) return;
    drawn = from;
    const visible = nodes.filter(({ key }) => COMPARED.includes(key) && !state.view.hidden.includes(key));
    overlays.put("compare", list().flatMap((scenario, at) => visible.flatMap(({ key, label, light, dark, width }) => {
      const line = days.line(scenario, key);
      return line ? [{ node: key, letter: LETTERS[at], label: `${LETTERS[at]}: ${label.toLowerCase()}`, ...line, dash: DASHES[at], light, dark, width }] : [];
    })));
  }

  createLetters({ store, chart, core, day, nodes: COMPARED.map((key) => nodes.find((node) => node.key === key)), letter: () => LETTERS[list().length] });

  /** Takes the days of a link, which may hold anything; what was kept here can be brought back. */
  function takeLinked(linked) {
    const before = own;
    const usable = days.usable(linked);
    const refused = usable.flatMap((scenario, at) => (days.refusal(scenario) ? [LETTERS[at]] : []));
    if (before.length > 0 && JSON.stringify(before) !== JSON.stringify(usable)) setDropped([...dropped, { days: before, at: null }]);
    put(usable);
    if (usable.length === linked.length && refused.length === 0) return;
    const text = usable.length < linked.length ? "What cannot be shown by this version is left out; the day itself is opened."
      : `${refused.join(" and ")} cannot be computed by this version; the day itself is opened.`;
    store.set({ problem: { title: "Not all days of the link can be compared with.", text, stale: false, actions: [["Close", "dismiss"]] } });
  }

  const listed = (value) => (Array.isArray(value) ? value : []);
  dropped = listed(kept.get("dropped")).map((one) => ({ days: days.usable(listed(one?.days)), at: Number.isInteger(one?.at) ? one.at : null }))
    .filter((one) => one.days.length > 0 && (one.at === null || one.days.length === 1));
  // Older visits kept one day, under another name.
  const visit = days.usable(listed(kept.get("days") ?? [kept.get("a")]));
  kept.set("a", undefined);

  store.subscribe((state, changed) => {
    if ("compared" in changed && state.compared !== own) takeLinked(state.compared);
    if (state.result) draw(store.state);
  });
  seen(root, (state, changed) => {
    if ("baseline" in changed) offers.forget();
    if (["scenario", "problem", "compared"].some((key) => key in changed)) setText(said, "");
    if (["result", "units", "problem", "compared"].some((key) => key in changed)) showAll(state);
    else if ("view" in changed && list().length > 0) showCursor(state);
  });
  if (list().length > 0) {
    own = visit;
    takeLinked(list());
  } else put(visit);
  showAll(store.state);

  return { ask: offers.ask };
}
