// Every way at once: the ready-made ways of spending a turnaround, after one round or after all, each a day of its own in a
// worker, and one table of what they come to. The best is marked and said with its reason; a tap on a row makes it the
// edited day, as one entry of undo.
import { element, setText, settle } from "./element.js";
import { textOf } from "./history.js";
import { createJob } from "./job.js";
import { bestOf, comesTo, outcome, reason, where } from "./outcomes.js";
import { readyLabel } from "./variantname.js";
import { shownNumber } from "./varianttables.js";

/** `ready` are the ways, `chosen()` is the round's number or null for every round; `keepFirst(scenario)` keeps it where nothing is kept. */
export function createEveryWay({ store, ready, chosen, keepFirst }, root) {
  const job = createJob();
  // What was asked: { scenario, round, ways: [{ key, label, entry, scenario }], found: null or [{ us, si } or { error }] }.
  let asked = null;

  const button = (id, text, act) => element("button", { type: "button", class: "plain", id, text, on: { click: act } });
  const run = button("every-run", "Try every way at once", () => start());
  const stop = button("every-stop", "Stop", () => {
    end("Stopped.");
    run.focus();
  });
  const progress = element("progress", { max: 1, value: 0, "aria-label": "Days computed" });
  const says = element("p", { class: "what-if-says", id: "every-says", role: "status" });
  const caption = element("caption");
  const heads = element("tr");
  const rows = element("tbody", { id: "every-rows" });
  const table = element("table", { class: "every-way", id: "every-table" }, caption, element("thead", {}, heads), rows);
  root.append(element("div", { class: "moves" }, run, stop, progress), says, table);

  /** `about` are the keys of the ways that a question was about: what they come to is said as well. */
  function start(about = []) {
    const { state } = store;
    if (!state.result || state.problem?.stale) return;
    const { scenario } = state;
    const round = chosen();
    const ways = [{ key: "now", label: "As it is", entry: "As it was", scenario }];
    for (const one of ready.filter(({ can }) => can(scenario))) {
      const changed = store.changed((copy) => one.make(copy, round));
      const way = { key: one.key, label: one.label, entry: readyLabel(one, round), scenario: changed };
      if (textOf(changed) === textOf(scenario)) ways[0] = { ...way, scenario };
      else ways.push(way);
    }
    asked = { scenario, round, ways, about, found: null };
    progress.max = ways.length;
    progress.value = 0;
    // Of their curves nothing is asked.
    const task = { kind: "family", days: ways.map((way) => textOf(way.scenario)), node: "pan_fluid", times_s: new Float64Array() };
    job.start(task, {
      progress: (done) => (progress.value = done),
      finish: (found) => {
        asked.found = found.map(({ summary, error }) => summary ?? { error });
        setText(says, "");
        show(store.state);
      },
      fail: end,
    });
    setText(says, "");
    show(state);
  }

  function end(text) {
    job.cancel();
    asked = null;
    setText(says, text);
    show(store.state);
  }

  const isDay = ({ scenario }, state) => textOf(scenario) === textOf(state.scenario);

  function take(way) {
    const { scenario } = asked;
    if (isDay(way, store.state)) return;
    keepFirst(scenario);
    store.replace({ scenario: way.scenario }, { label: way.entry });
  }

  function show(state) {
    const running = job.running();
    stop.hidden = progress.hidden = !running;
    run.disabled = Boolean(state.problem?.stale);
    table.hidden = !asked?.found;
    if (table.hidden) return;
    const { ways, round, about, found } = asked;
    const { units } = state;
    const summary = found.find((one) => !one.error)?.[units];
    if (!summary) {
      end("None of the ways can be computed.");
      return;
    }
    const outcomes = found.map((one) => (one.error ? null : outcome(one[units], round)));
    const best = bestOf(outcomes);
    const named = ways.map(({ key, label }, at) => ({ key, label, at })).filter(({ key, at }) => about.includes(key) && at !== best)
      .map(({ label, at }) => (outcomes[at] ? comesTo(label, outcomes[at], round, summary) : `${label} is not possible: ${found[at].error}`));
    setText(says, [reason(ways.map(({ label }) => label), outcomes, best, round, summary), ...named].join(" "));
    const { isLaunch } = outcomes[best];
    const [low, high] = summary.window.map((edge) => edge.toFixed(0));
    const of = round === null ? (isLaunch ? "Every turnaround spent so. Pan and converter: at the hottest launch after one. Window: the launch furthest from" : "Every turnaround spent so; at the end of the last. Window:")
      : `The turnaround after round ${round} spent so; ${isLaunch ? "at the next launch" : "at its end"}. Window:`;
    setText(caption, `${of} ${low} to ${high} ${summary.temperature_unit}.${outcomes.some((one) => one?.isLow) ? " Too low: below the battery’s reserve." : ""} Ah: of pump and fan. Tap a way to take it.`);
    const names = ["Way", "Pan", "Conv.", "Window", round === null && "Spread", "Ah"].filter(Boolean);
    settle(heads, ...names.map((text) => element("th", { scope: "col", text })));
    if (rows.children.length !== ways.length || rows.dataset.of !== String(asked.ways.map(({ key }) => key))) {
      rows.dataset.of = String(ways.map(({ key }) => key));
      rows.replaceChildren(...ways.map(({ key }, at) => element(
        "tr",
        { data: { way: key }, on: { click: () => take(asked.ways[at]) } },
        element("th", { scope: "row" }, element("button", { type: "button", class: "take-way" })),
      )));
    }
    ways.forEach((way, at) => {
      const row = rows.children[at];
      const [head] = row.children;
      const name = head.firstChild;
      name.setAttribute("aria-pressed", String(isDay(way, state)));
      const tags = [at === best && "best", isDay(way, state) && "the day now"].filter(Boolean).join(", ");
      settle(name, way.label, ...(tags ? [element("span", { class: "drift", text: tags })] : []));
      row.classList.toggle("best", at === best);
      const one = outcomes[at];
      const cells = one
        ? [shownNumber(one.pan), shownNumber(one.converter), where(one), ...(round === null ? [one.spread === null ? "–" : shownNumber(one.spread)] : [])].map((text) => element("td", { text }))
          .concat(element("td", {}, one.used_ah.toFixed(1), one.isLow ? element("span", { class: "drift", text: "too low" }) : null))
        : [element("td", { class: "refused", colspan: names.length - 1, text: `Not possible. ${found[at].error}` })];
      while (head.nextSibling) head.nextSibling.remove();
      row.append(...cells);
    });
  }

  store.subscribe((state, changed) => {
    if (!("scenario" in changed) || !asked) return;
    // What was found holds for the day that was asked and for those that a tap makes of it.
    if (!asked.ways.some((way) => isDay(way, state)) || (job.running() && !isDay(asked, state))) end("The day has changed: try every way again.");
  });
  show(store.state);

  return { show, start };
}
