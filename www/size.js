// Size: which cooler, pump, fan, fluid volume or time on the brake meets an aim. A question to be filled in, the answer
// in a sentence, what it hangs on, and a chart against a second parameter.
//
// Asked by a button and computed in a worker. The answer holds for the day, the question and the units it was asked of;
// when one of them changes it is marked as old. What is asked is kept as it was written, in the reader's words.
import { element, freshId, setText } from "./element.js";
import { textOf } from "./history.js";
import { createJob } from "./job.js";
import { shown, written } from "./quantity.js";
import { isRounds, roundsBefore, writtenEvents } from "./scenario.js";
import { createSizeAnswer } from "./sizeanswer.js";
import { createWays } from "./ways.js";

const FIND = [["cooler", "cooler"], ["pump", "pump flow"], ["fan", "fan air"], ["fluid", "fluid volume"], ["hold", "time on the brake"]];
const AIMS = [
  ["back_in", "brings us back into the window in"], ["launch_at_most", "keeps the pan at every launch at or below"],
  ["launches_in_window", "has every launch inside the window"], ["converter_at_most", "keeps the converter at or below"],
];
const ROUTES = [
  ["", "pump and fan on all the while"], ["as_written", "pump and fan as in the day"], ["pan_loop", "pump round the pan loop, fan on"],
  ["through_converter", "pump through the converter, fan on"], ["cooler_first", "pump with cooler first, fan on"],
];
const AGAINST = [...FIND, ["air", "air temperature"]];
const CELLS = 15;
const FIRST = { find: "cooler", aim: "back_in", minutes: "12 min", launch: null, converter: "300 °F", air: null, after: "hottest", route: "", hold_round: "", against: "pump" };
const CHOICES = { find: FIND, aim: AIMS, route: ROUTES, against: AGAINST };

export function createSize({ store, core, attempt, kept }, root) {
  const ways = createWays(core.tables("us"));
  const job = createJob();
  let asked = readKept(kept.get("size"));
  // The answer, with what it is of: { answer, table, light, dark, key, text }; `used` is the text of the day with it in.
  let found = null;
  let used = null;

  const select = (key, options) => element("select", { id: freshId("size"), data: { size: key }, on: { change: (event) => ask({ [key]: event.target.value }) } },
    ...options.map(([value, text]) => element("option", { value, text })));
  const labelled = (name, node, hidden) => [element("label", { for: node.id, text: name, class: hidden ? "hidden" : null }), node];
  const number = (key, name, dimension) => {
    const unit = element("span", { class: "unit", id: freshId("unit") });
    const commit = () => ask({ [key]: written(input.value, unit.textContent) ?? FIRST[key] });
    const input = element("input", {
      type: "text", class: "number", id: freshId("size"), inputmode: "decimal", autocomplete: "off", spellcheck: "false", "aria-describedby": unit.id, data: { size: key },
      on: {
        change: commit,
        keydown: (event) => {
          if (event.key !== "Enter") return;
          commit();
          run();
        },
        focus: () => input.select(),
      },
    });
    const label = element("label", { for: input.id, text: name, class: name.length > 12 ? "hidden" : null });
    return { key, name, dimension, input, unit, element: element("span", {}, label, " ", element("span", { class: "quantity" }, input, unit)) };
  };
  const find = select("find", FIND);
  const aim = select("aim", AIMS);
  const after = select("after", []);
  const holdRound = select("hold_round", []);
  const route = select("route", ROUTES);
  const against = select("against", AGAINST);
  const minutes = number("minutes", "Minutes to the window", "time");
  const launch = number("launch", "Pan at the launch, at most", "temperature");
  const converter = number("converter", "Converter, at most", "temperature");
  const air = number("air", "In air of", "temperature");
  const numbers = [minutes, launch, converter, air];
  const held = element("p", { class: "blanks" }, ...labelled("on the brake in", holdRound));
  const rest = element("p", { class: "blanks" }, ...labelled("after", after), ...labelled("with", route));
  const go = element("button", { type: "button", class: "plain", id: "size-find", text: "Find it", on: { click: () => run() } });
  const stop = element("button", { type: "button", class: "plain", id: "size-stop", text: "Stop", hidden: true, on: { click: () => halt("Stopped.") } });
  const progress = element("progress", { max: 1, value: 0, "aria-label": "Days computed", hidden: true });
  const says = element("p", { class: "what-if-says size-says", id: "size-says", role: "status" });
  const out = element("div", { class: "size-answer" });
  const use = element("button", { type: "button", class: "plain", id: "size-use", on: { click: () => putIn() } });
  const compare = element("button", { type: "button", class: "plain", id: "size-compare", text: "Compare with the day as it was", on: { click: () => keepBefore() } });
  const moves = element("div", { class: "moves", hidden: true }, use, compare);
  const caution = element("p", { class: "help", id: "size-caution", hidden: true, text: "That is where this aim ends, not what is wise: a long hold cooks the fluid in the converter. Put it in and look at Limits passed, and never hold longer than the makers and the track allow." });
  root.append(
    element("p", { class: "blanks" }, ...labelled("Which", find), ...labelled("does what", aim, true), minutes.element, launch.element, converter.element),
    held,
    rest,
    element("p", { class: "blanks" }, air.element),
    element("p", { class: "blanks" }, ...labelled("Draw it against", against)),
    element("div", { class: "moves" }, go, stop, progress),
    says, moves, caution, out,
  );
  const view = createSizeAnswer(out);
  let asksOf = null; // the text of the day that is asked of
  let before = null; // the day before the answer was put in

  function readKept(was) {
    const made = { ...FIRST };
    if (!was || typeof was !== "object") return made;
    for (const [key, options] of Object.entries(CHOICES)) if (options.some(([value]) => value === was[key])) made[key] = was[key];
    for (const key of ["minutes", "launch", "converter", "air"]) if (["string", "number"].includes(typeof was[key])) made[key] = was[key];
    if (["hottest", "last"].includes(was.after) || /^\d{1,4}$/.test(was.after)) made.after = was.after;
    if (/^\d{1,4}$/.test(was.hold_round)) made.hold_round = was.hold_round;
    return made;
  }

  function ask(patch) {
    if (Object.entries(patch).every(([key, value]) => asked[key] === value)) return;
    asked = { ...asked, ...patch };
    // A chart needs two different parameters.
    if (asked.find === asked.against) asked.against = asked.find === "pump" ? "cooler" : "pump";
    kept.set("size", asked);
    showInputs(store.state);
    show(null);
    // The same question with another chart; only where there is an answer to draw.
    if ("against" in patch && found) run();
  }

  const seconds = (text) => {
    const time = core.restate("time", text, "us");
    return time ? time.value * { s: 1, min: 60, h: 3600 }[time.unit] : undefined;
  };
  const launchText = () => asked.launch ?? `${store.state.result.summary.window[1]} ${store.state.result.summary.temperature_unit}`;

  /** The question for the core; a text that names what was not understood. */
  function question() {
    const made = { find: asked.find, aim: asked.aim, node: "pan_fluid" };
    const read = ({ key, name, dimension }, text, to) => {
      const value = dimension === "time" ? seconds(String(text)) : core.kelvin(String(text));
      if (value !== undefined) made[to] = value;
      return value === undefined ? `${name} “${text}” is not understood${asked[key] === null ? "" : `: type ${dimension === "time" ? "minutes, such as 12" : "a temperature, such as 165 or 74 °C"}`}.` : null;
    };
    if (asked.find === "hold" && asked.hold_round !== "") made.hold_round = Number(asked.hold_round);
    if (asked.aim === "back_in") Object.assign(made, { after: asked.after, route: asked.route });
    const wrong = [
      asked.aim === "back_in" && read(minutes, asked.minutes, "within_s"),
      asked.aim === "launch_at_most" && read(launch, launchText(), "temperature_k"),
      asked.aim === "converter_at_most" && read(converter, asked.converter, "temperature_k"),
      asked.air !== null && read(air, asked.air, "air_k"),
    ];
    return wrong.find(Boolean) || made;
  }
  const keyOf = (asks) => JSON.stringify([asks, asked.against, store.state.units]);

  function run() {
    const { state } = store;
    if (!state.result || state.problem?.stale) return;
    const asks = question();
    if (typeof asks === "string") {
      halt(asks);
      return;
    }
    const of = { key: keyOf(asks), text: textOf(state.scenario) };
    const width = Math.round(Math.min(640, Math.max(260, root.clientWidth - 16)));
    progress.value = 0;
    asksOf = of.text;
    job.start({ kind: "size", day: of.text, asked: asks, units: state.units, against: asked.against, cells: CELLS, width, height: Math.round(Math.max(300, width * 0.7)) }, {
      progress: (done, all) => {
        progress.max = all;
        progress.value = done;
      },
      finish: (result) => {
        [found, used] = [{ ...result, ...of, hold_round: asks.hold_round ?? null }, null];
        show(result.answer.sentence);
        view.show(result);
      },
      fail: (message) => halt(message),
    });
    show(null);
  }

  function halt(text) {
    job.cancel();
    found = null;
    view.show(null);
    show(text);
  }

  /** Whether the answer is not of the day and question that stand here. */
  function isOld() {
    const asks = question();
    return typeof asks === "string" || found.key !== keyOf(asks) || ![found.text, used].includes(textOf(store.state.scenario));
  }

  /** `text` null leaves the sentence, unless the answer is old. */
  function show(text) {
    const running = job.running();
    stop.hidden = progress.hidden = !running;
    go.disabled = Boolean(store.state.problem?.stale);
    const old = found !== null && !running && isOld();
    out.classList.toggle("old", old || running);
    says.classList.toggle("old", running);
    if (old) setText(says, `What was asked has changed: find it again. Before: ${found.answer.sentence}`);
    else if (text !== null) setText(says, text);
    else if (found && !running) setText(says, found.answer.sentence);
    const value = found?.answer.text;
    moves.hidden = !value || old || running;
    caution.hidden = moves.hidden || asked.find !== "hold";
    const isIn = used !== null && textOf(store.state.scenario) === used;
    // What is on the car is enough: nobody is asked to fit less.
    const verb = found?.answer.outcome === "met" && asked.find !== "hold" ? "Try" : "Use";
    const inRound = found?.hold_round ? ` in round ${found.hold_round}` : "";
    const inAir = asked.air === null ? "" : ` in air of ${asked.air}`;
    setText(use, isIn ? `${value}${inRound} is in the day` : `${verb} ${value ?? ""}${inRound}${inAir}`);
    use.disabled = isIn;
    compare.hidden = !isIn || before === null;
  }

  function putIn() {
    const { answer, hold_round: round } = found;
    const was = store.state.scenario;
    const [part, key] = answer.path?.split(".") ?? [];
    const change = (scenario) => {
      // The answer holds in the air that was asked for.
      if (asked.air !== null) ways.stateParameter(scenario, "air", "temperature", String(asked.air));
      if (key) ways.stateParameter(scenario, part, key, answer.text);
      else if (round) holdIn(scenario, round, answer.text);
      else holdAll(scenario, answer.text);
    };
    const name = FIND.find(([value]) => value === asked.find)[1];
    const said = attempt(change, null, `Size: ${name} ${answer.text}${round ? `, round ${round}` : ""}`);
    if (said) {
      show(`${answer.text} cannot be put into the day. ${said.advice}`);
      return;
    }
    [used, before] = [textOf(store.state.scenario), was];
    show(null);
  }

  /** Every hold on the brake lasts this long, in every round. */
  function holdAll(scenario, text) {
    for (const { event } of writtenEvents(scenario)) {
      if (event.event !== "brake_hold") continue;
      for (const end of ["until", "at_most"]) delete event[end];
      event.duration = text;
    }
    for (const one of scenario.timeline.filter(isRounds).flatMap((entry) => entry.rounds)) {
      for (const end of ["duration", "until", "at_most"]) delete one?.change?.brake_hold?.[end];
    }
  }

  /** The hold of one round lasts this long; those of the others stay. */
  function holdIn(scenario, round, text) {
    const item = scenario.timeline.findIndex((entry, at) => isRounds(entry) && round <= roundsBefore(scenario, at) + entry.rounds.length);
    const { rounds } = scenario.timeline[item];
    const place = round - roundsBefore(scenario, item) - 1;
    const whole = typeof rounds[place] === "object" ? rounds[place] : { turnaround: rounds[place] };
    const { until, at_most: atMost, ...others } = whole.change?.brake_hold ?? {};
    rounds[place] = { ...whole, change: { ...whole.change, brake_hold: { ...others, duration: text } } };
  }

  function keepBefore() {
    const list = store.state.compared;
    if (!list.includes(before)) store.set({ compared: [before, ...list].slice(0, 3) });
    before = null;
    show(null);
  }

  let listed = "";
  function showInputs(state) {
    if (!state.result) return;
    const { summary } = state.result;
    const rounds = [...new Set(summary.launches.map(({ round }) => round).filter(Boolean))];
    if (listed !== rounds.join() || after.options.length === 0) {
      listed = rounds.join();
      after.replaceChildren(
        element("option", { value: "hottest", text: "the hottest round" }), element("option", { value: "last", text: "the last round" }),
        ...rounds.map((round) => element("option", { value: round, text: `round ${round}` })),
      );
      holdRound.replaceChildren(
        element("option", { value: "", text: "every round" }),
        ...rounds.map((round) => element("option", { value: round, text: `round ${round} only` })),
      );
    }
    for (const [node, key] of [[find, "find"], [aim, "aim"], [route, "route"], [against, "against"], [after, "after"], [holdRound, "hold_round"]]) node.value = asked[key];
    // A round that this day does not have.
    if (after.value !== asked.after) after.value = asked.after = "hottest";
    if (holdRound.value !== asked.hold_round) holdRound.value = asked.hold_round = "";
    held.hidden = asked.find !== "hold";
    for (const option of against.options) option.disabled = option.value === asked.find;
    rest.hidden = minutes.element.hidden = asked.aim !== "back_in";
    launch.element.hidden = asked.aim !== "launch_at_most";
    converter.element.hidden = asked.aim !== "converter_at_most";
    const airNow = state.result.values[core.tables("us").parameters.findIndex((row) => row.part === "air" && row.key === "temperature")];
    for (const { key, input, unit, dimension } of numbers) {
      setText(unit, dimension === "time" ? "min" : summary.temperature_unit);
      const text = key === "launch" ? launchText() : asked[key];
      input.classList.toggle("unstated", asked[key] === null);
      if (document.activeElement === input) continue;
      const value = text === null ? airNow : dimension === "time" ? seconds(String(text)) / 60 : core.restate("temperature", String(text), state.units)?.value;
      input.value = Number.isFinite(value) ? shown(value) : String(text);
    }
  }

  let { units } = store.state;
  store.subscribe((state, changed) => {
    if ("baseline" in changed) ways.forget();
    if (!["units", "result", "problem"].some((key) => key in changed)) return;
    const otherUnits = state.units !== units;
    units = state.units;
    // What still runs is of the day, or in the units, before.
    const again = job.running() && otherUnits && textOf(state.scenario) === asksOf;
    if (job.running() && textOf(state.scenario) !== asksOf) halt("The day has changed: find it again.");
    showInputs(state);
    // In the other units it is drawn anew.
    if (again && !state.problem?.stale) {
      run();
      return;
    }
    if (found && otherUnits && !state.problem?.stale) run();
    else show(null);
  });
  showInputs(store.state);
  show("");

  return {
    /**
     * Fills the blanks in and finds the size: `find`, `minutes`, `air` (with or without its unit), `round`, `hold_round`. Gives
     * in words what is used besides.
     */
    ask({ find: what, minutes: within, air: of, round, hold_round: holdOf, launch: most, converter: mostInConverter }) {
      const unit = store.state.result?.summary.temperature_unit ?? "°F";
      const inUnit = (text) => (/[FC]$/.test(text) ? text : `${text} ${unit}`);
      ask({
        ...FIRST,
        find: what ?? asked.find,
        against: asked.against,
        aim: most ? "launch_at_most" : mostInConverter ? "converter_at_most" : what === "hold" ? "launches_in_window" : "back_in",
        ...(most ? { launch: inUnit(most) } : {}),
        ...(mostInConverter ? { converter: inUnit(mostInConverter) } : {}),
        ...(within ? { minutes: `${within} min` } : {}),
        ...(of ? { air: inUnit(of) } : {}),
        ...(round ? { after: String(round) } : {}),
        ...(holdOf ? { hold_round: String(holdOf) } : {}),
      });
      run();
      return [
        !what && FIND.find(([value]) => value === asked.find)[1],
        asked.find === "hold" && !holdOf && "the same hold in every round",
        asked.aim === "launches_in_window" && "no launch above the window",
        asked.aim === "back_in" && !within && `back in ${asked.minutes}, as no time was stated`,
        asked.aim === "back_in" && !round && "after the hottest round",
      ].filter(Boolean);
    },
  };
}
