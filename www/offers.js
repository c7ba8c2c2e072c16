// Ready-made changes of the edited day, one tap and one entry of undo each; the first keeps the day as it was as A.
import { element, freshId, setText } from "./element.js";
import { createEveryWay } from "./everyway.js";
import { readyMade } from "./readymade.js";
import { readyLabel } from "./variantname.js";
import { createWays } from "./ways.js";

/** `keepFirst(scenario)` keeps it as A where nothing is kept. Gives { show(state), forget(), ask({ round }) }. */
export function createOffers({ store, core, attempt, keepFirst }, root) {
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

  const round = element("select", { id: freshId("after") });
  const refused = element("p", { class: "field-error ready-refused", role: "status" });
  const offers = ready.map((one) => ({
    ...one,
    node: element("button", { type: "button", class: "plain", text: one.label, data: { ready: one.key }, on: { click: () => take(one) } }),
  }));
  const moves = (turnaround) => element("div", { class: "moves" }, ...offers.filter((one) => one.turnaround === turnaround).map(({ node }) => node));
  const ofTurnaround = element("div", { class: "turnaround-ways" }, element("p", { class: "choice" }, element("label", { for: round.id, text: "Turnaround after" }), " ", round), moves(true));
  root.append(
    element("h3", { text: "Ready-made changes" }),
    element("p", { class: "help", text: "They change the day you edit; if nothing is kept yet, the day as it is becomes A." }),
    ofTurnaround, moves(false), refused,
  );
  const chosen = () => (round.value === "" ? null : Number(round.value));
  const everyWay = createEveryWay({ store, ready: ready.filter((one) => one.turnaround), round, chosen, keepFirst }, ofTurnaround);

  function take(one) {
    const before = store.state.scenario;
    const said = attempt((scenario) => one.make(scenario, chosen()), null, readyLabel(one, chosen()));
    setText(refused, said ? `${one.label} is not possible here. ${said.advice}` : store.state.scenario === before ? "The day has this already." : "");
    if (!said && store.state.scenario !== before) keepFirst(before);
  }

  let offered = "";
  function show({ scenario, result }) {
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

  store.subscribe((_, changed) => {
    if (["scenario", "problem"].some((key) => key in changed)) setText(refused, "");
  });

  return {
    show(state) {
      show(state);
      everyWay.show(state);
    },
    forget: () => ways.forget(),
    /** Tries every way to spend the turnaround after a round, or after all; `ways` are the keys of those that are asked about. */
    ask({ round: number, ways: about = [] }) {
      show(store.state);
      if (ofTurnaround.hidden) {
        setText(refused, "This day has no turnaround between rounds that could be spent in another way.");
        return [];
      }
      round.value = String(number ?? "");
      everyWay.start(about);
      return number ? [] : ["after every round"];
    },
  };
}
