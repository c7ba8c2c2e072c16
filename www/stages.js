// A round in three stages, hold, pass and soak: what each did to converter and pan, in a sentence computed from the
// day. A stage can be gone to in any order; it shows its part of the pictures.
import { shownSpan, stageOf } from "./axis.js";
import { element, setText } from "./element.js";
import { whole } from "./quantity.js";

const STAGES = [["hold", "Hold"], ["pass", "Pass"], ["soak", "Soak"]];

export function createStages({ store, seen }, root) {
  const title = element("h2", { id: "stages-title" });
  const button = (text, name, by) =>
    element("button", { type: "button", class: "plain", text, "aria-label": name, on: { click: () => go(by) } });
  const before = button("‹", "Round before", -1);
  const after = button("›", "Round after", 1);
  const cards = STAGES.map(([key, name], number) => {
    const rise = element("span", { class: "stage-rise" });
    const says = element("span", { class: "stage-says" });
    const node = element(
      "button",
      { type: "button", class: "stage", data: { stage: key }, on: { click: () => open(key) } },
      element("span", { class: "stage-name", text: `${number + 1} ${name}` }), rise, says,
    );
    return { key, node, rise, says };
  });
  root.append(
    element("div", { class: "section-head" }, title, element("div", { class: "moves" }, before, after)),
    element("div", { class: "stage-cards" }, ...cards.map(({ node }) => node)),
  );

  const roundsOf = (summary) =>
    [...new Set(summary.events.filter(({ round, kind }) => round && kind === "pass").map(({ round }) => round))];

  /** The round that is looked at: the one shown, else that of the cursor, else the first. */
  function roundNow({ result: { summary }, view: { range, cursor_s } }) {
    const rounds = roundsOf(summary);
    if (rounds.includes(range?.round)) return range.round;
    const at = summary.events.findLast((event) => event.start_s <= cursor_s && rounds.includes(event.round));
    return at?.round ?? rounds[0] ?? null;
  }

  function go(by) {
    const rounds = roundsOf(store.state.result.summary);
    const to = rounds[rounds.indexOf(roundNow(store.state)) + by];
    const { range } = store.state.view;
    const { time_s: time } = store.state.result.summary.launches.find(({ round }) => round === to);
    const [start, end] = shownSpan(store.state);
    const inSight = time >= start && time <= end;
    store.view({ range: range?.round ? { ...range, round: to } : inSight ? range : { round: to }, cursor_s: time });
  }

  function open(stage) {
    const round = roundNow(store.state);
    const { range } = store.state.view;
    if (range?.stage === stage && range.round === round) return store.view({ range: { round } });
    store.view({ range: { round, stage }, cursor_s: shownEnd(round, stage) });
  }

  /** The last moment of a stage that still belongs to it. */
  function shownEnd(round, stage) {
    const [start_s, end_s] = shownSpan({ ...store.state, view: { ...store.state.view, range: { round, stage } } });
    return Math.max(start_s, end_s - 1e-3);
  }

  /** A change between two temperatures as they are shown. */
  const change = (from, to) => {
    const value = Math.round(to) - Math.round(from);
    return `${value > 0 ? "+" : value < 0 ? "−" : "±"}${Math.abs(value)}`;
  };

  /** What a stage did: { rise, says } or null where the round has none. */
  function told(summary, round, stage) {
    const { events, temperature_unit: degrees, energy_unit: energy } = summary;
    const own = events.filter((event) => event.round === round);
    const span = stageOf(own, stage);
    if (!span) return null;
    const inside = own.filter((event) => event.start_s >= span[0] - 1e-6 && event.end_s <= span[1] + 1e-6);
    const before = events.findLast((event) => event.end_s <= span[0] + 1e-6);
    const last = inside.at(-1);
    const sum = (key) => inside.reduce((total, event) => total + event[key], 0);
    const from = (key) => before?.[key] ?? last[key];
    const made = `${sum("made").toFixed(0)} ${energy}`;
    const seconds = span[1] - span[0];
    if (stage === "soak") {
      return {
        rise: `${change(from("pan"), last.pan)} ${degrees}`,
        says: `pan: ${whole(from("pan"))} to ${whole(last.pan)} in ${(seconds / 60).toFixed(0)} min; ${sum("away").toFixed(0)} ${energy} went out`,
      };
    }
    return {
      rise: `${change(from("converter"), last.converter)} ${degrees}`,
      says: `converter: ${whole(from("converter"))} to ${whole(last.converter)} in ${seconds.toFixed(1)} s; ${made} brought in`,
    };
  }

  function show(state) {
    const { summary } = state.result;
    const rounds = roundsOf(summary);
    const round = roundNow(state);
    root.hidden = round === null;
    if (round === null) return;
    setText(title, `Round ${round} in three stages`);
    before.disabled = rounds.indexOf(round) === 0;
    after.disabled = rounds.indexOf(round) === rounds.length - 1;
    for (const { key, node, rise, says } of cards) {
      const text = told(summary, round, key);
      node.disabled = !text;
      setText(rise, text?.rise ?? "none");
      setText(says, text?.says ?? "not in this round");
      node.setAttribute("aria-pressed", String(state.view.range?.round === round && state.view.range.stage === key));
    }
  }

  let shown = "";
  seen(root, (state, changed) => {
    if (!state.result) return;
    const { range } = state.view;
    const now = `${roundNow(state)} ${range?.round} ${range?.stage}`;
    if ("result" in changed || now !== shown) show(state);
    shown = now;
  });
}
