// Compare: A is a day that was kept, B the day that is edited. What was changed, what it does to the launches and at
// the cursor, and A's curves dashed on the chart.
//
// A is kept apart from the day, in the store's `compared`: undo goes through B only, and "Back to A" is one entry of it. The core's day of A is
// made when it is needed and again after the core was loaded anew.
import { changesBetween } from "./changes.js";
import { element, freshId, setText } from "./element.js";
import { timesOf } from "./overlays.js";
import { keyNumbers } from "./results.js";
import { readyMade } from "./readymade.js";
import { isDrawable } from "./scenario.js";
import { createWays } from "./ways.js";

const COMPARED = ["converter_fluid", "pan_fluid"];
const DASH = [6, 4];
const MOST_LINES = 14;

const whole = (value) => value.toFixed(0).replace("-", "−");
/** The difference of two numbers as they are shown, rounded. */
function difference(b, a, digits = 0) {
  const change = Number((Number(b.toFixed(digits)) - Number(a.toFixed(digits))).toFixed(digits));
  return change === 0 ? "±0" : `${change > 0 ? "+" : "−"}${Math.abs(change).toFixed(digits)}`;
}

export function createCompare({ store, core, overlays, day, moment, attempt, kept }, root) {
  const nodes = core.tables("us").nodes;
  const ways = createWays(core.tables("us"));
  const place = (part, key) => core.tables("us").parameters.findIndex((row) => row.part === part && row.key === key);
  const ready = readyMade({
    ways,
    restate: core.restate,
    units: () => store.state.units,
    valueOf: (part, key) => {
      const at = place(part, key);
      return { value: store.state.result.values[at], unit: core.tables(store.state.units).parameters[at].unit };
    },
  });

  let made = null; // the core's day of A { of, instance, day, summaries, values, times_s }
  // That of a link goes before the kept one.
  let a = usable(store.state.compared) ?? usable(kept.get("a"));
  let dropped = null;

  function usable(scenario) {
    return isDrawable(scenario, core.tables("us").kinds.map(({ key }) => key)) && computed(scenario) ? scenario : null;
  }
  function computed(scenario) {
    try {
      const found = core.simulate(scenario);
      made?.instance === core.instance() && made.day.free();
      made = { of: scenario, instance: core.instance(), day: found, summaries: {}, values: {} };
      made.times_s = timesOf(found.summary("us"));
      return true;
    } catch (error) {
      // What the core refuses; after a trap it is loaded anew, and then A is computed again.
      if ("limit" in error || error instanceof WebAssembly.RuntimeError) return false;
      throw error;
    }
  }
  /** A as the core has it now, with its summary and values in the units shown; null if it cannot be computed. */
  function dayOfA() {
    if (made?.of !== a || made.instance !== core.instance()) {
      if (!computed(a)) return null;
    }
    const { units } = store.state;
    made.summaries[units] ??= made.day.summary(units);
    made.values[units] ??= made.day.setup(units);
    return { day: made.day, summary: made.summaries[units], values: made.values[units], times_s: made.times_s };
  }

  const button = (id, text, act) => element("button", { type: "button", class: "plain", id, text, on: { click: act } });
  const keep = button("keep-a", "Keep this as A", () => setA(store.state.scenario));
  const back = button("back-to-a", "Back to A", () => store.replace({ scenario: a }, { label: "Back to A" }));
  const drop = button("drop-a", "Drop A", () => {
    dropped = a;
    setA(null);
    (again.hidden ? keep : again).focus();
  });
  const again = button("again-a", "Bring A back", () => {
    setA(dropped);
    drop.focus();
  });
  const says = element("p", { class: "what-if-says", id: "compare-says" });
  const changes = element("ul", { class: "changes", id: "compare-changes", "aria-label": "Changed from A to B" });
  const cursor = element("p", { id: "compare-cursor" });
  const caption = element("caption");
  const heads = element("tr");
  const rows = element("tbody", { id: "compare-rows" });
  const table = element("table", { id: "compare-launches" }, caption, element("thead", {}, heads), rows);

  const roundId = freshId("after");
  const round = element("select", { id: roundId });
  const refused = element("p", { class: "field-error", role: "status" });
  const offers = ready.map((one) => ({
    ...one,
    node: element("button", { type: "button", class: "plain", text: one.label, data: { ready: one.key }, on: { click: () => take(one) } }),
  }));
  const moves = (turnaround) => element("div", { class: "moves" }, ...offers.filter((one) => one.turnaround === turnaround).map(({ node }) => node));
  const ofTurnaround = element("div", {}, element("p", { class: "choice" }, element("label", { for: roundId, text: "Turnaround after" }), " ", round), moves(true));
  root.append(
    element("p", { class: "help", text: "A is a day you keep, B the one you edit. A’s curves stand dashed in the chart; undo goes through B and leaves A alone." }),
    element("div", { class: "moves" }, keep, back, drop, again),
    says, changes, cursor, table,
    element("h3", { text: "Ready-made changes of B" }),
    ofTurnaround, moves(false), refused,
  );

  const setA = (scenario) => store.set({ compared: scenario });

  function take(one) {
    const number = round.value === "" ? null : Number(round.value);
    const before = store.state.scenario;
    const label = one.turnaround ? `${one.label}, ${number === null ? "every round" : `round ${number}`}` : one.label;
    const said = attempt((scenario) => one.make(scenario, number), null, label);
    setText(refused, said ? `${one.label} is not possible here. ${said.advice}` : store.state.scenario === before ? "The day has this already." : "");
    if (!said && !a && store.state.scenario !== before) setA(before);
  }

  function showAll(state) {
    for (const node of [back, drop, says, changes, cursor, table]) node.hidden = a === null;
    again.hidden = a !== null || dropped === null;
    keep.disabled = Boolean(state.problem?.stale);
    setText(keep, a === null ? "Keep this as A" : "Keep this as the new A");
    showOffers(state);
    draw(state);
    if (a !== null && state.result) show(state);
  }

  let offered = "";
  function showOffers({ scenario, result }) {
    for (const one of offers) one.node.hidden = !one.can(scenario);
    ofTurnaround.hidden = offers.every((one) => !one.turnaround || one.node.hidden);
    const rounds = [...new Set((result?.summary.events ?? []).map((event) => event.round).filter(Boolean))];
    if (offered === rounds.join()) return;
    offered = rounds.join();
    round.replaceChildren(
      element("option", { value: "", text: "every round" }),
      ...rounds.map((number) => element("option", { value: number, text: `round ${number}` })),
    );
  }

  let drawn = [];
  function draw(state) {
    const from = [a, state.view.hidden, core.instance()];
    if (from.every((one, index) => one === drawn[index])) return;
    drawn = from;
    const found = a === null ? null : dayOfA();
    overlays.put("compare", !found ? [] : COMPARED.filter((key) => !state.view.hidden.includes(key)).map((key) => {
      const { label, light, dark, width } = nodes.find((node) => node.key === key);
      return { node: key, label: `A: ${label.toLowerCase()}`, times_s: found.times_s, value_k: found.day.series(key, found.times_s), dash: DASH, light, dark, width };
    }));
  }

  function show(state) {
    const found = dayOfA();
    if (!found) {
      setText(says, "A cannot be computed by this version of the page.");
      for (const node of [changes, cursor, table]) node.hidden = true;
      return;
    }
    if (state.problem?.stale) {
      setText(says, "B is not computed: what keeps it from being computed stands at the top of the page.");
      for (const node of [changes, cursor, table]) node.hidden = true;
      return;
    }
    const { summary } = state.result;
    const list = changesBetween(a, state.scenario, {
      tables: core.tables(state.units), restate: core.restate, units: state.units, valuesA: found.values, valuesB: state.result.values,
    });
    const [was, now] = [keyNumbers(found.summary), keyNumbers(summary)];
    setText(says, list.length === 0
      ? "B is the same as A. Change anything, or take a ready-made change below."
      : `${list.length} ${list.length === 1 ? "change" : "changes"} from A to B: converter peak ${difference(now.peak, was.peak)} ${summary.temperature_unit}` +
        (now.launch === null || was.launch === null ? "." : `, pan on the last launch ${difference(now.launch, was.launch)} ${summary.temperature_unit}.`));
    const lines = list.slice(0, MOST_LINES).map(({ label, from, to }) =>
      element("li", {}, element("span", { class: "name", text: label }), " ", element("span", { class: "value", text: `${from} → ${to}` })));
    if (list.length > MOST_LINES) lines.push(element("li", { text: `and ${list.length - MOST_LINES} more` }));
    changes.replaceChildren(...lines);
    back.disabled = list.length === 0;
    showLaunches(summary, found.summary);
    showCursor(state);
  }

  function showLaunches(summary, before) {
    table.hidden = summary.launches.length === 0;
    const timed = summary.launches.some(({ pass }) => pass) && before.launches.some(({ pass }) => pass);
    setText(caption, `Launches of B in ${summary.temperature_unit}, below each what it is against A.${timed ? " ET: elapsed time, s." : ""}`);
    heads.replaceChildren(...["Round", "Converter", "Pan", timed && "ET"].filter(Boolean).map((text) => element("th", { scope: "col", text })));
    const cell = (b, of, digits = 0) => (b === undefined
      ? element("td", { text: "–" })
      : element("td", {}, digits ? b.toFixed(digits) : whole(b), element("span", { class: "drift", text: of === undefined ? "not in A" : difference(b, of, digits) })));
    // A round's launch is compared with that round's; others by their order.
    const sameLaunch = (launch, all) => (launch.round ? `round ${launch.round}` : `other ${all.filter(({ round }) => !round).indexOf(launch)}`);
    rows.replaceChildren(...summary.launches.map((launch) => {
      const other = before.launches.find((one) => sameLaunch(one, before.launches) === sameLaunch(launch, summary.launches));
      return element(
        "tr",
        {},
        element("th", { scope: "row", text: launch.round ? String(launch.round) : "–" }),
        cell(launch.converter, other?.converter),
        cell(launch.pan, other?.pan),
        timed && cell(launch.pass?.elapsed_s, other?.pass?.elapsed_s, 3),
      );
    }));
  }

  function showCursor(state) {
    if (!day() || !state.result) return;
    const found = dayOfA();
    if (!found) return;
    const [now, was] = [moment(), found.day.moment(state.view.cursor_s, state.units)];
    const unit = state.result.summary.temperature_unit;
    const parts = COMPARED.map((key) => {
      const at = nodes.findIndex((node) => node.key === key);
      return `${nodes[at].label.toLowerCase()} ${whole(now.temperatures[at])} ${unit}, ${difference(now.temperatures[at], was.temperatures[at])} against A`;
    });
    setText(cursor, `At the cursor, ${now.clock}: ${parts.join("; ")}.`);
  }

  store.subscribe((state, changed) => {
    if ("compared" in changed && state.compared !== a) {
      const last = a;
      a = state.compared ? usable(state.compared) : null;
      if (state.compared && !a) {
        // A link's; the one before stays.
        store.set({ problem: { title: "The day A of the link cannot be compared with.", text: "It cannot be computed by this version; the day itself is opened.", stale: false, actions: [["Close", "dismiss"]] } });
        store.set({ compared: (a = last) });
        return;
      }
      kept.set("a", a);
      showAll(state);
    }
    if ("baseline" in changed) ways.forget();
    if (["scenario", "problem"].some((key) => key in changed)) setText(refused, "");
    if ("result" in changed || "units" in changed || "problem" in changed) showAll(state);
    else if ("view" in changed && a !== null) {
      draw(state);
      showCursor(state);
    }
  });
  if (a !== null) kept.set("a", a);
  if ((store.state.compared ?? null) !== a) store.set({ compared: a });
  showAll(store.state);
}
